/* From the differences of one case to changes, a rank and a fingerprint. Inner to sweeps. */
#ifndef FAULTS_SWEEP_EFFECT_H
#define FAULTS_SWEEP_EFFECT_H
#include "faults/sweep.h"
#include "trace/diffs.h"

struct touched { /* of a circuit's condition, or of the reach of a feed into it */
    uint32_t was, now;
    bool on;
};

/* A network with what reading differences from it needs. */
struct sweep_space {
    const struct network *network;
    const struct trace *healthy; /* of this network */
    uint32_t *first_passage;     /* [n_nodes + 1] */
    passage_ix *passages;        /* by node */
    uint32_t *first_limited;     /* [n_limits + 1] circuits by the limiting valve that they name */
    uint32_t *limited;
    bool *in_gear; /* [n_actuators] some gear needs it */
    /* Scratch; clean between calls. */
    struct touched *touched; /* [n_circuits * (n_feeds + 1)], conditions last */
    uint32_t *marks;         /* rows of `touched` in use */
    size_t n_marks, cap_marks;
    bool *judge; /* [n_limits] */
};

void sweep_space_open(struct sweep_space *s, const struct network *n, const struct trace *healthy);
void sweep_space_close(struct sweep_space *s);

struct sweep_changes { /* of several cases, one after the other */
    struct sweep_change *rows;
    size_t n, cap;
};

/** Appends the changes of case `c` of a trace, whose differences are given, in order of importance.
 *  @param p solutions of the case's set, or NULL: by structure
 *  @return how bad they are; SWEEP_NOTHING when nothing was appended. */
enum sweep_rank sweep_changes(struct sweep_space *s, const struct trace *t, uint32_t c, const diff *rows, size_t n,
                              const struct pressed *p, struct sweep_changes *out);

/** Mixes the state, its news and every difference, cross-leaks and detents into a fingerprint: the same for equal
 * effects whichever network they were found in.
 *  @param pressed NULL: by structure. By pressure: the case's changes, from row `from`, which count in place of the
 * structure's gears, devices and valves. */
void sweep_fingerprint(const struct sweep_space *s, const struct trace *t, uint32_t c, const diff *rows, size_t n,
                       const struct sweep_changes *pressed, size_t from, uint32_t news, uint64_t effect[2]);
#endif
