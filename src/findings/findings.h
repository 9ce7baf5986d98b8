/* What is wrong with a model, in any state: one small function a finding, one table of all. */
#ifndef FINDINGS_FINDINGS_H
#define FINDINGS_FINDINGS_H
#include "model/claim.h"
#include "pressure/counts.h"

/** Runs every check on a model with its healthy trace (one set, empty), or on a faulty trace (`set` is the row looked
 * at; only checks that make sense under a fault run then). `p` (may be NULL: by structure) holds the pressures of that
 * set. Adds findings to d with place, part and state; accepted ones
 * (`accept:`) are left out, and an accept that matches nothing is a finding itself. */
void findings_run(const struct trace *t, const struct pressed *p, uint32_t set, bool faulty, struct diags *d);

/** The IDs of the checks that findings_run() runs, in order; *n their number. Static. */
const char *const *findings_checks(bool faulty, size_t *n);

enum verdict {
    VERDICT_NO,
    VERDICT_YES,
    VERDICT_CANNOT_TELL,
    VERDICT_NOT_JUDGED /* by structure: pressure, switch, rate; always: air */
};

/** Judges one line of claims in a state (set row `set`) by the answer that counts (`p` NULL: structure); `any` and
 * `every` lines over all states (state ignored). */
enum verdict claims_judge(const struct claims *c, const struct trace *t, const struct pressed *p, uint32_t set,
                          state_ix state);

struct expectations { /* lines of `expect` in the states that settled, by verdict */
    uint32_t n_met, n_failed, n_undecided, n_not_judged;
};

/** Counts the expectations of one state. Adds to *out. */
void expectations_count(const struct trace *t, const struct pressed *p, uint32_t set, state_ix state,
                        struct expectations *out);
#endif
