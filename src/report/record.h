/* The behaviour of a model as a text file to commit: sorted, one fact a line, so that a difference reads as a sentence.
 */
#ifndef REPORT_RECORD_H
#define REPORT_RECORD_H
#include "report/answer.h"
#include "report/jsonout.h"

/** Appends the record of a model, all states: the gear, devices, valves, and for each passage what it is and which
 * feeds reach it. Where the model is sized, also what pressures say of gear, devices and valves where that is not what
 * structure says, a part-way spool's share of its travel in tens of per cent, how fast devices fill and drain (solved
 * with SOLVE_FILL) to two digits of the model's unit, and pressures at taps and devices in steps of 1 psi or 0.1 bar,
 * and whether switches are closed.
 */
void record_add(struct text *t, const struct answer *a);

struct record_change { /* one fact that differs; NULL: not there */
    const char *state, *subject, *was, *now;
    bool told; /* inner */
};

/** The facts that differ between two records, state by state. Rows and texts lie in the arena.  @return their number.
 */
uint32_t record_changes(struct arena *a, const char *was, size_t n_was, const char *now, size_t n_now,
                        struct record_change **rows);

/** Compares two records and appends the difference as sentences, counts first; equal changes in several states are one
 * sentence.
 *  @param words the sentences by themselves, each a line, by state, for machine formats: appended to per_state
 * [n_states of the model] where not NULL.  @return the number of facts that differ; 0: nothing is appended. */
uint32_t record_compare(struct text *t, const struct view *v, const struct model *m, const char *was, size_t n_was,
                        const char *now, size_t n_now, struct text *per_state);

/** The object "states" of one model of `verify`: its changes by state. */
void json_record_changes(struct jsonout *j, const struct record_change *rows, uint32_t n);
#endif
