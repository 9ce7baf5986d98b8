/* One case after another, settled the plain way: what the program's lanes are measured against, and held against. This
 * is kept with the bench and never in the program. It goes by the rules of the trace alone: a worklist on arrays, each
 * combination of doubt evaluated by itself. From the program it takes the model, the network's elements and what
 * trace/conduct.h tells of a state under edits; none of the trace's own ways to spread, judge or estimate. */
#ifndef BENCH_SCALAR_H
#define BENCH_SCALAR_H
#include "trace/conduct.h"

#define LEVELS     ((uint32_t)STRENGTH_JOINED) /* leak, orifice, open, main */
#define LEVEL_ROOT (LEVELS + 1)                /* a passage decided at strength s has level s + 1, a trapped one 0 */
#define EXTRAS_MAX 128u                        /* elements that one set of edits adds */

enum { WITH_FLOW = 1, AGAINST_FLOW = 2 }; /* bits of an arc: oil may leave by it, may enter by it */

/* A slot says what conducts: elements, then the holes under shuttles outwards, then what edits add. */
struct grid_arc {
    uint32_t node, slot;
    uint8_t strength, ways;
};
struct grid_edge {
    uint32_t from, to, slot;
    bool one_way;
};
struct grid { /* passages merged to nodes, and what joins these */
    uint32_t n_nodes, *node_of;
    uint32_t *first_arc; /* [n_nodes + 1] strongest first */
    struct grid_arc *arcs;
    struct grid_edge *edges; /* by strength, weakest first */
    uint32_t first_edge[6];
};

struct extra { /* an element that edits add, or a resized one */
    struct grid_edge edge;
    uint8_t strength;
    uint32_t follows; /* element that it conducts with, or NONE: always */
    bool outward;     /* out of the pocket of a shuttle */
};

/* Where an extra leads from one of its nodes. */
static inline bool extra_leads(const struct extra *x, uint32_t node, unsigned ways, uint32_t *to)
{
    bool from = x->edge.from == node;
    if (!from && x->edge.to != node)
        return false;
    *to = from ? x->edge.to : x->edge.from;
    return ways & (!x->edge.one_way ? WITH_FLOW | AGAINST_FLOW : from ? WITH_FLOW : AGAINST_FLOW);
}

struct alternatives { /* of doubt: one position of each mover, what then conducts, and the conditions */
    uint32_t n, cap;
    uint8_t *choices; /* [n * n_movers] */
    uint8_t *conduct; /* [n * n_slots] */
    uint8_t *cond;    /* [n * n_nodes] */
};

struct scalar_answer {
    bool settled;
    const uint32_t *node_of;       /* borrowed */
    uint8_t *conditions;           /* [n_nodes] enum condition */
    uint8_t *positions, *restless; /* [n_movers] as of a trace_case */
    uint8_t *applied;              /* [n_actuators] enum applied */
    uint8_t *possible;             /* [n_gears + 2] gears, none, tie-up */
    uint8_t *reach;                /* [n_feeds * n_nodes] enum certainty */
    uint8_t *past;                 /* [n_limits * n_nodes] */
};

struct scalar;

/* Conditions of all nodes by what conducts. @param gone [n_nodes] taken out, or NULL.  @param level when each node was
 * decided. */
typedef void (*conditions_rule)(struct scalar *s, const uint8_t *conduct, const uint8_t *gone, uint8_t *cond,
                                uint8_t *level);

struct scalar {
    const struct network *network;
    conditions_rule rule;
    void *library;                       /* what the rule needs */
    const struct scalar_answer *healthy; /* [n_states] or NULL */
    struct grid whole, split;            /* lossless joints all merged; but those that the edits take out */
    const struct grid *grid;             /* the one in use */
    const struct edits *edits;
    uint32_t n_movers, n_slots;
    uint32_t *order;  /* [n_states] each state behind the one that it comes after */
    uint32_t *moving; /* [n_moving] elements that a mover opens */
    uint32_t n_moving;
    uint32_t *limit_of; /* [n_slots] limiting valve whose window it is, or NONE */

    /* the case at hand */
    struct arena arena;
    struct scene scene;
    uint8_t *still;   /* [n_slots] what conducts whatever moves */
    uint8_t *removed; /* [n_elements] */
    struct extra extras[EXTRAS_MAX];
    uint32_t n_extras;
    uint8_t *has_extra; /* [n_nodes] */
    uint32_t *sources;  /* [n_sources] feeds that are on */
    uint32_t n_sources;
    uint8_t *is_root; /* [n_nodes] a source that is on */

    /* a round */
    uint8_t *sets;   /* [n_movers] positions by which it judges */
    uint8_t *pinned; /* [n_movers] */
    bool beyond;     /* more doubt than is tried out */
    struct alternatives alts;
    uint8_t *cond, *level; /* [n_nodes] merged conditions */
    bool estimated;
    double *estimate; /* [n_nodes] */
    bool inward;

    /* scratch */
    uint8_t *conduct, *cond_own, *level_own, *gone, *mark, *live; /* [n_slots], [n_nodes] ... */
    uint32_t *queue;
    double *through; /* [n_nodes] */
    uint32_t *queues[2], *drawn_in;
    uint8_t *choice; /* [n_movers] */
};

/** Makes ready for the cases of one network (built with joints merged).  @param rule conditions_scalar(), or another
 * that answers the same.  Caller releases with scalar_close(). */
void scalar_open(struct scalar *s, const struct network *n, conditions_rule rule);
void scalar_close(struct scalar *s);

/** Settles one set of edits in every state. @param out [n_states] by scalar_answers_make(); holds until the next call.
 */
void scalar_run(struct scalar *s, const struct edits *edits, struct scalar_answer *out);

struct scalar_answer *scalar_answers_make(const struct network *n);
void scalar_answers_free(struct scalar_answer *a, uint32_t n_states);

/** The rule as a worklist on arrays. */
void conditions_scalar(struct scalar *s, const uint8_t *conduct, const uint8_t *gone, uint8_t *cond, uint8_t *level);

/** The same rule with a graph and two searches a level, by a graph library. */
void conditions_igraph(struct scalar *s, const uint8_t *conduct, const uint8_t *gone, uint8_t *cond, uint8_t *level);
void conditions_igraph_close(struct scalar *s);

/* Inner: scalar_grid.c */

/** Takes the edits: grid and extras. */
void grid_take(struct scalar *s, const struct edits *edits);
/** Takes a state under them: scene, what stands still, sources. */
void case_take(struct scalar *s, const struct state *state);
/** What conducts by sets of positions: at least surely (CERTAIN_YES) or maybe (CERTAIN_MAY). */
void conduct_fill(const struct scalar *s, const uint8_t *sets, bool inward, enum certainty least, uint8_t *conduct);
void grid_make(const struct network *n, const struct edits *edits, struct grid *out);
void grid_free(struct grid *g);
/** Goes on from the n nodes in s->queue, which are marked: along oil's flow, against it or both, through elements at
 * least that strong, not into nodes that are `closed`.  @return how many nodes then stand in s->queue, all marked; the
 * caller clears the marks. */
uint32_t spread(struct scalar *s, uint32_t n, const uint8_t *conduct, unsigned ways, uint32_t least,
                const uint8_t *closed);
void marks_clear(struct scalar *s, uint32_t n);
/** Widest paths from the sources. @param capping [n_limits] limiting valves that hold their limit. */
void widest(struct scalar *s, const uint8_t *conduct, const uint8_t *capping, const uint8_t *cond, double *best);

#define UNDECIDED ((uint8_t)(UNSURE + 1))
#define GONE      ((uint8_t)(UNSURE + 2))

/* Inner: scalar_conditions.c */

/** Sets what is decided before the first level: sources, sump; undecided and gone nodes. */
void roots_take(const struct scalar *s, const uint8_t *gone, uint8_t *cond, uint8_t *level);
/** Ends undecided and gone nodes as trapped. */
void rest_take(const struct scalar *s, uint8_t *cond);

/* Inner: scalar_settle.c */

/** Evaluates all alternatives of s->sets: s->alts and s->cond, or the fallback beyond them. */
void evaluate(struct scalar *s, bool inward);
/** The fallback: the first position of each set, and unsure where doubt comes. @param skip limiting valve whose window
 * is out, or NONE. */
void beyond_find(struct scalar *s, const uint8_t *sets, bool inward, uint32_t skip, const uint8_t *gone,
                 uint8_t *conduct, uint8_t *cond, uint8_t *level);

/* Inner: scalar_limits.c, scalar_answer.c */
uint8_t limit_judge(struct scalar *s, uint32_t row);
void answer_take(struct scalar *s, uint32_t state, struct scalar_answer *out);
/** Oil locked at a passage that drains when the unit is healthy. */
bool passage_is_locked(const struct scalar *s, uint32_t state, passage_ix p, enum condition now);

static inline bool cond_is_dead(uint8_t c)
{
    return c == TRAPPED || c == EXHAUSTED;
}
#endif
