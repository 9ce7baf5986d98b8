/* The way oil takes, and what it depends on. The only folder that sees igraph. */
#ifndef ROUTES_ROUTES_H
#define ROUTES_ROUTES_H
#include "trace/trace.h"

struct step {               /* one element crossed */
    struct element element; /* from and to in the direction of this route */
    bool plate_hole;        /* crosses a plate */
    bool doubtful;          /* conducts only maybe */
};
struct route {
    struct step *steps; /* [n] */
    uint32_t n;
    uint32_t n_crossings; /* plate holes between two castings */
    uint32_t tightest;    /* row in steps: the weakest strength, then the smallest known diameter; NONE when n is 0 */
};
struct routes { /* all in an arena */
    bool reached;
    struct route best;    /* sure before doubtful, then strongest, then fewest elements, then file order */
    struct route *others; /* [n_others] alternatives, next best first */
    uint32_t n_others;
    bool only_best;                /* the circuit is too large to look for others */
    struct element *single_points; /* [n_single] elements on every route (dominators), in the order of flow */
    uint32_t n_single;
    struct element *cut; /* [n_cut] a smallest set of elements that cuts the consumer off */
    uint32_t n_cut;
};

#define ROUTES_OTHERS_MAX 3

/** Finds the routes from passage `from` to passage `to` in a case, along the flow, through live passages (fed, partial,
 * unsure) and conducting elements (lossless joints are elements too).  @return false: igraph failed; the reason in d.
 */
bool routes_find(const struct trace *t, uint32_t c, passage_ix from, passage_ix to, struct arena *a, struct routes *out,
                 struct diags *d);
#endif
