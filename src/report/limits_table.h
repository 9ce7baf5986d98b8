/* Reports of how far sizes may go. */
#ifndef REPORT_LIMITS_TABLE_H
#define REPORT_LIMITS_TABLE_H
#include "faults/limits.h"
#include "report/answer.h"

void text_limits(struct text *t, const struct view *v, const struct answer *a, const struct limits_table *l);
void json_limits(struct text *t, const struct view *v, const struct answer *a, const struct limits_table *l);
void csv_limits(struct text *t, const struct view *v, const struct answer *a, const struct limits_table *l);
#endif
