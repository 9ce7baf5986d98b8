/* The rule of conditions with a graph library, as somebody would who has one at hand: for each level a graph of the
 * elements that conduct and are at least that strong, and a search for feed and one for exhaust. */
#include "base/mem.h"
#include "scalar.h"
#include <igraph/igraph.h>
#include <string.h>

struct library {
    igraph_vector_int_t ends, roots, inside, order;
    uint8_t *feed, *exhaust, *fight, *feed_alone, *exhaust_alone; /* [n_nodes] */
    uint8_t *flags;
};

static struct library *library_of(struct scalar *s)
{
    if (s->library)
        return s->library;
    size_t n = s->network->model->n_passages + 1;
    struct library *l = s->library = mem_zero(1, sizeof *l);
    igraph_vector_int_t *vectors[] = {&l->ends, &l->roots, &l->inside, &l->order};
    for (size_t i = 0; i < sizeof vectors / sizeof *vectors; i++)
        igraph_vector_int_init(vectors[i], 0);
    l->flags = mem_zero(5, n);
    l->feed = l->flags;
    l->exhaust = l->feed + n;
    l->fight = l->exhaust + n;
    l->feed_alone = l->fight + n;
    l->exhaust_alone = l->feed_alone + n;
    return l;
}

void conditions_igraph_close(struct scalar *s)
{
    struct library *l = s->library;
    if (!l)
        return;
    igraph_vector_int_t *vectors[] = {&l->ends, &l->roots, &l->inside, &l->order};
    for (size_t i = 0; i < sizeof vectors / sizeof *vectors; i++)
        igraph_vector_int_destroy(vectors[i]);
    mem_free(l->flags);
    mem_free(l);
    s->library = NULL;
}

static void edge_put(struct library *l, const struct grid_edge *e)
{
    igraph_vector_int_push_back(&l->ends, e->from);
    igraph_vector_int_push_back(&l->ends, e->to);
    if (e->one_way)
        return;
    igraph_vector_int_push_back(&l->ends, e->to);
    igraph_vector_int_push_back(&l->ends, e->from);
}

static void level_graph(const struct scalar *s, struct library *l, const uint8_t *conduct, uint32_t least,
                        igraph_t *out)
{
    const struct grid *g = s->grid;
    igraph_vector_int_clear(&l->ends);
    for (uint32_t k = g->first_edge[least]; k < g->first_edge[LEVELS]; k++)
        if (conduct[g->edges[k].slot])
            edge_put(l, &g->edges[k]);
    for (uint32_t k = 0; k < s->n_extras; k++)
        if (s->extras[k].strength >= least && conduct[s->extras[k].edge.slot])
            edge_put(l, &s->extras[k].edge);
    igraph_create(out, &l->ends, g->n_nodes, IGRAPH_DIRECTED);
}

/* Marks the undecided nodes that a signal reaches. @param fights partial nodes hand it on too.  @param kept_out nodes
 * that it does not enter, or NULL. */
static void search(const struct scalar *s, struct library *l, const igraph_t *graph, igraph_neimode_t mode,
                   const uint8_t *cond, uint8_t word, bool fights, const uint8_t *kept_out, uint8_t *reached)
{
    uint32_t n = s->grid->n_nodes;
    memset(reached, 0, n);
    igraph_vector_int_clear(&l->roots);
    igraph_vector_int_clear(&l->inside);
    for (uint32_t i = 0; i < n; i++) {
        bool from = cond[i] == word || (fights && cond[i] == PARTIAL);
        if (from)
            igraph_vector_int_push_back(&l->roots, i);
        if (from || (cond[i] == UNDECIDED && !(kept_out && kept_out[i])))
            igraph_vector_int_push_back(&l->inside, i);
    }
    if (!igraph_vector_int_size(&l->roots))
        return;
    igraph_bfs(graph, 0, &l->roots, mode, false, &l->inside, &l->order, NULL, NULL, NULL, NULL, NULL, NULL, NULL);
    for (igraph_integer_t i = 0; i < igraph_vector_int_size(&l->order); i++) {
        igraph_integer_t node = VECTOR(l->order)[i];
        if (node >= 0 && cond[node] == UNDECIDED)
            reached[node] = 1;
    }
}

/* What feed and exhaust both reach, and what only these nodes let through. */
static void fights_find(const struct scalar *s, struct library *l, const igraph_t *graph, const uint8_t *cond)
{
    uint32_t n = s->grid->n_nodes;
    for (uint32_t i = 0; i < n; i++)
        l->fight[i] = l->feed[i] && l->exhaust[i];
    for (bool more = true; more;) {
        more = false;
        search(s, l, graph, IGRAPH_OUT, cond, FED, false, l->fight, l->feed_alone);
        search(s, l, graph, IGRAPH_IN, cond, EXHAUSTED, false, l->fight, l->exhaust_alone);
        for (uint32_t i = 0; i < n; i++)
            if ((l->feed[i] || l->exhaust[i]) && !l->fight[i] && !l->feed_alone[i] && !l->exhaust_alone[i])
                l->fight[i] = more = true;
    }
}

void conditions_igraph(struct scalar *s, const uint8_t *conduct, const uint8_t *gone, uint8_t *cond, uint8_t *level)
{
    struct library *l = library_of(s);
    uint32_t n = s->grid->n_nodes;
    bool fought = false;
    roots_take(s, gone, cond, level);
    for (uint32_t least = LEVELS; least-- > 0;) {
        igraph_t graph;
        bool meet = fought;
        level_graph(s, l, conduct, least, &graph);
        search(s, l, &graph, IGRAPH_OUT, cond, FED, true, NULL, l->feed);
        search(s, l, &graph, IGRAPH_IN, cond, EXHAUSTED, true, NULL, l->exhaust);
        for (uint32_t i = 0; !meet && i < n; i++)
            meet = l->feed[i] && l->exhaust[i];
        memset(l->fight, 0, n);
        if (meet)
            fights_find(s, l, &graph, cond);
        for (uint32_t i = 0; i < n; i++) {
            if (!l->feed[i] && !l->exhaust[i])
                continue;
            cond[i] = l->fight[i] ? PARTIAL : l->feed[i] ? FED : EXHAUSTED;
            level[i] = (uint8_t)(least + 1);
            fought |= l->fight[i];
        }
        igraph_destroy(&graph);
    }
    rest_take(s, cond);
}
