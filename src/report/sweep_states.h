/* What a group of a sweep does, state by state, in words. Inner to the text of sweeps. */
#ifndef REPORT_SWEEP_STATES_H
#define REPORT_SWEEP_STATES_H
#include "report/sweep_table.h"

/** Appends a group's states; those of which the same is to be said share a line, with the range of their figures. */
void sweep_states_add(struct text *t, const struct view *v, const struct sweep_table *table,
                      const struct sweep_group *g);
#endif
