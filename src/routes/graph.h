/* Routes in a plain directed graph, worked out by igraph. Inside routes/ only (and its test). Places are passages, ways
 * are elements; a way is a vertex too, so that a dominator or a cut can be one, and a two-way element counts once. */
#ifndef ROUTES_GRAPH_H
#define ROUTES_GRAPH_H
#include "base/arena.h"
#include "base/diag.h"
#include "model/model.h"

struct way {
    uint32_t from, to; /* places; also to -> from unless one_way */
    bool one_way, doubtful;
    enum strength strength;
};
struct ways {
    const struct way *rows;
    uint32_t n, n_places;
};
struct path {
    uint32_t *ways; /* [n] rows, in the order of flow */
    uint32_t n;
};
struct paths {
    bool reached;
    struct path *rows; /* [n] best first: sure before doubtful, then strongest, then fewest ways, then row order */
    uint32_t n;
    bool only_best;   /* the graph is too large to look for others */
    uint32_t *single; /* [n_single] ways that every route takes, in the order of flow */
    uint32_t n_single;
    uint32_t *cut; /* [n_cut] a smallest set of ways without which there is no route; ascending */
    uint32_t n_cut;
};

/** Finds up to `most` simple paths between two places, and what they all depend on. Rows lie in the arena.
 *  from = to: reached, with nothing in between.  @return false: igraph failed; the reason in d (CANNOT_COMPUTE). */
bool paths_find(const struct ways *g, uint32_t from, uint32_t to, uint32_t most, struct arena *a, struct paths *out,
                struct diags *d);
#endif
