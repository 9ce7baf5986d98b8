/* What a sweep knows before its jobs begin. Inner to sweeps. */
#ifndef FAULTS_SWEEP_INNER_H
#define FAULTS_SWEEP_INNER_H
#include "faults/list.h"
#include "faults/sweep_effect.h"
#include "trace/touch.h"

enum { SETS_A_CALL = 2048, CASES_A_CALL = 8192 }; /* more sets would fill the engine's words no better */

struct single {
    const struct listed_fault *fault;
    struct part_ref touches; /* faults that touch one thing are compiled together: a hole under a ball counts as it */
    bool chosen;             /* of the part asked for */
};

/* What each fault alone does, in the numbers of one network, for telling pairs that are no news. */
struct alone {
    size_t *first; /* [n * n_states + 1] */
    diff *rows;
    size_t n_cases, cap;
};

struct sweep {
    const struct network *network;
    const struct trace *healthy;
    const struct pressures *pressures; /* [n_states] of the healthy trace; NULL: by structure */
    struct solver *solvers[2];         /* of the two networks; made when first needed */
    struct pressures *solved;          /* [n_states] of the set at hand */
    uint8_t *is_wanted;                /* [n_states] */
    struct sweep_wanted wanted;
    struct fault_list list;
    struct single *singles; /* [n] in list order */
    uint32_t n;
    uint32_t *order;  /* [n] rows of singles: those that split no joint, then those that do */
    uint32_t n_whole; /* of the former */
    struct network apart;
    struct edits no_edits;
    struct trace apart_healthy;
    bool has_apart, has_touches;
    struct sweep_space spaces[2]; /* the network as given; with joints apart */
    struct alone alone[2];
    struct touches touches; /* of the network as given; sets that split a joint are empty there */
    uint8_t *alone_ranks;   /* [n * wanted.n_states] */
    uint64_t (*told)[2];    /* [told_cap] open addressing: effects whose changes are told already; {0, 0} is free */
    size_t n_told, told_cap;
};

/** Traces sets on one of the two networks, in the cases `wanted` (as trace_run_some() has it), and finds their
 * differences. Caller releases both. */
void sweep_trace(const struct sweep *s, int space, const struct edits *sets, uint32_t n, const uint8_t *wanted,
                 struct trace *t, struct diffs *d);
#endif
