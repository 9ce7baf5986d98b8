/* The fault words: one row a word, with its form, for help texts and for usage errors. */
#ifndef FAULTS_KINDS_H
#define FAULTS_KINDS_H
#include <stddef.h>

enum fault_kind {
    FAULT_BLOCK,
    FAULT_LEAK,
    FAULT_RESIZE,
    FAULT_LOSE,
    FAULT_SEAT,
    FAULT_UNSEAT,
    FAULT_STICK,
    FAULT_WEAR,
    FAULT_BREAK,
    FAULT_UNPLUG,
    FAULT_WEAKEN,
    FAULT_MISADJUST,
    N_FAULT_KINDS
};

struct fault_kind_row {
    const char *word;  /* first word of the fault: "leak" */
    const char *form;  /* how it is written; several forms are parted by a line break */
    const char *what;  /* what it means on the bench */
    const char *needs; /* what a model must have for a sweep to try it */
};

/** The row of a kind. */
const struct fault_kind_row *fault_kind_row(enum fault_kind kind);

/** The kind with this first word, or N_FAULT_KINDS. */
enum fault_kind fault_kind_find(const char *word);
#endif
