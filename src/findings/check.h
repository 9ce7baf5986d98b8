/* What every check sees, and how it says what it found. Inside findings/ only. */
#ifndef FINDINGS_CHECK_H
#define FINDINGS_CHECK_H
#include "findings/findings.h"

struct looking {
    const struct trace *trace;
    const struct pressed *pressed; /* NULL: by structure */
    const struct network *network;
    const struct model *model;
    uint32_t set; /* row in trace.sets */
    bool faulty;
    bool all_settled;
    bool *accept_used; /* [n_accepts] */
    bool *idle; /* [n_nodes] no feed reaches it in any state, and no oil drains through it; made by nodes_idle() */
    struct diags *d;
};

/** Adds one finding about part `at` (may be NULL) in state `state` (NULL: in the model as a whole), unless the model
 * accepts it.
 *  @return true when it was added: the last message may then be given a help line or a second place. */
bool found(struct looking *l, enum code code, struct span where, const char *at, const struct state *state,
           const char *format, ...) __attribute__((format(printf, 6, 7)));

/** The case of a state, and its row for the functions of trace.h. */
static inline uint32_t case_row(const struct looking *l, uint32_t state)
{
    return trace_case(l->trace, l->set, (state_ix){state});
}
static inline const struct trace_case *case_of(const struct looking *l, uint32_t state)
{
    return &l->trace->cases[case_row(l, state)];
}

/** The pressures that count in a state; NULL: structure does. */
static inline const struct pressures *pressures_of(const struct looking *l, uint32_t state)
{
    return pressed_state(l->pressed, state);
}

/** Nodes that no oil ever uses, found when first asked for; NULL when a state did not settle or there is none.
 * Borrowed. */
const bool *nodes_idle(struct looking *l);

/* check_oil.c */
void check_never_fed(struct looking *l);
void check_cannot_drain(struct looking *l);
void check_crossfeed(struct looking *l);
/* check_limits.c */
void check_limits(struct looking *l); /* over-limit and may-exceed */
void check_second_feed(struct looking *l);
void check_relief_reached(struct looking *l);
void check_limit_mismatch(struct looking *l);
void check_no_limit_on_line(struct looking *l);
/* check_gears.c */
void check_never_applies(struct looking *l);
void check_never_releases(struct looking *l);
void check_gear(struct looking *l); /* gear-not-obtained and tie-up */
void check_cannot_release(struct looking *l);
/* check_settling.c */
void check_not_settled(struct looking *l);
void check_restless(struct looking *l); /* race and hunting */
void check_undetermined_valve(struct looking *l);
/* check_parts.c */
void check_dead_end(struct looking *l);
void check_unused(struct looking *l);
void check_duplicate_hole(struct looking *l);
/* check_pressure.c */
void check_not_solved(struct looking *l);
void check_structure_size(struct looking *l);
void check_two_solutions(struct looking *l);
void check_assumed_sizes(struct looking *l);
void check_damping_lost(struct looking *l);
/* check_stack.c */
void check_lands_on_blank(struct looking *l);
void check_by_name_only(struct looking *l);
/* claims.c */
void check_expectations(struct looking *l); /* expectation-failed and undecided */
#endif
