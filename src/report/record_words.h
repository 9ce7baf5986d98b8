/* The words of a record's facts that both its writer and its reader must know. */
#ifndef REPORT_RECORD_WORDS_H
#define REPORT_RECORD_WORDS_H
#include <stdbool.h>

/* Between what the structure says and what pressures say otherwise: "first, by pressure second". */
#define BY_PRESSURE ", by pressure "

/** True when both say the same, the pressures perhaps with where: "applied" and "applied at 90 psi". */
bool record_agrees(const char *by_structure, const char *by_pressure);

/** Order of lines by their bytes, for qsort() over texts. */
int record_order(const void *a, const void *b);
#endif
