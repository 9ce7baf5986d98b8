/* From a case of a trace to a plain graph, and back to elements. */
#include "routes/routes.h"
#include "base/mem.h"
#include "routes/graph.h"
#include <math.h>
#include <string.h>

/* What conducts in a case: ways of the graph and the elements that they stand for. */
struct conducting {
    struct way *ways;
    struct element *elements;
    uint32_t n;
};

static bool is_live(const struct trace *t, uint32_t c, passage_ix p, passage_ix to)
{
    if (p.i == to.i)
        return true; /* an end that is not live may still be asked for: the sump */
    if (p.i == SUMP.i)
        return false;
    enum condition now = trace_condition(t, c, p);
    return now == FED || now == PARTIAL || now == UNSURE;
}

static void conducting_add(struct conducting *g, const struct trace *t, uint32_t c, const struct element *e,
                           bool doubtful, passage_ix to)
{
    if (e->from.i == e->to.i || !is_live(t, c, e->from, to) || !is_live(t, c, e->to, to))
        return;
    g->elements[g->n] = *e;
    g->ways[g->n++] = (struct way){
        .from = e->from.i, .to = e->to.i, .one_way = e->one_way, .doubtful = doubtful, .strength = e->strength};
}

/* A resized hole under a shuttle that may be shut. */
static bool added_is_doubtful(const struct trace *t, uint32_t c, const struct element *e)
{
    const struct network *n = t->network;
    return e->opens == OPENS_BY_SEAT && t->cases[c].positions[n->n_spools + n->n_limits + e->mover] != SEAT_OPEN;
}

/* The hole of a lost ball comes as an added element; on a route it is the plate hole that it was. */
static void added_back_to_hole(const struct network *n, struct element *e)
{
    if (e->kind != ELEMENT_ADDED || e->part.kind != PART_HOLE)
        return;
    const struct element *hole = &n->elements[n->hole_element[e->part.i]];
    if (hole->from.i == e->from.i && hole->to.i == e->to.i) {
        e->kind = ELEMENT_HOLE;
        e->where = hole->where;
    }
}

static void conducting_list(const struct trace *t, uint32_t c, passage_ix to, struct conducting *g)
{
    const struct network *n = t->network;
    struct element *added;
    uint32_t n_added = trace_added(t, c, &added);
    size_t most = (size_t)n->n_elements + n_added + 1;
    *g = (struct conducting){mem_alloc(most * sizeof *g->ways), mem_alloc(most * sizeof *g->elements), 0};
    for (uint32_t i = 0; i < n->n_elements; i++) {
        enum certainty now = trace_conducts(t, c, (element_ix){i});
        if (now != CERTAIN_NO)
            conducting_add(g, t, c, &n->elements[i], now == CERTAIN_MAY, to);
    }
    for (uint32_t i = 0; i < n_added; i++) {
        added_back_to_hole(n, &added[i]);
        conducting_add(g, t, c, &added[i], added_is_doubtful(t, c, &added[i]), to);
    }
    mem_free(added);
}

static bool crosses_plate(const struct model *m, const struct element *e)
{
    return e->kind == ELEMENT_HOLE && m->passages[e->from.i].layer.i != m->passages[e->to.i].layer.i;
}

static bool is_casting(const struct model *m, passage_ix p)
{
    return p.i != SUMP.i && m->passages[p.i].layer.i != NONE;
}

static bool tighter(const struct element *a, const struct element *b)
{
    if (a->strength != b->strength)
        return a->strength < b->strength;
    return !isnan(a->diameter) && (isnan(b->diameter) || a->diameter < b->diameter);
}

static void route_fill(const struct model *m, const struct conducting *g, const struct path *path, passage_ix from,
                       struct arena *a, struct route *out)
{
    *out = (struct route){.steps = arena_rows(a, path->n, sizeof *out->steps), .n = path->n, .tightest = NONE};
    passage_ix at = from;
    for (uint32_t i = 0; i < path->n; i++) {
        struct step *s = &out->steps[i];
        s->element = g->elements[path->ways[i]];
        s->doubtful = g->ways[path->ways[i]].doubtful;
        if (s->element.from.i != at.i) { /* crossed against the way it is written */
            uint32_t port = s->element.ports[0];
            s->element.to = s->element.from;
            s->element.from = at;
            s->element.ports[0] = s->element.ports[1];
            s->element.ports[1] = port;
        }
        at = s->element.to;
        s->plate_hole = crosses_plate(m, &s->element);
        out->n_crossings += s->plate_hole && is_casting(m, s->element.from) && is_casting(m, s->element.to);
        if (out->tightest == NONE || tighter(&s->element, &out->steps[out->tightest].element))
            out->tightest = i;
    }
}

static struct element *elements_of(const struct conducting *g, const uint32_t *ways, uint32_t n, struct arena *a)
{
    struct element *out = arena_rows(a, n, sizeof *out);
    for (uint32_t i = 0; i < n; i++)
        out[i] = g->elements[ways[i]];
    return out;
}

bool routes_find(const struct trace *t, uint32_t c, passage_ix from, passage_ix to, struct arena *a, struct routes *out,
                 struct diags *d)
{
    *out = (struct routes){.best.tightest = NONE};
    if (!is_live(t, c, from, to) || (to.i != SUMP.i && !is_live(t, c, to, SUMP)))
        return true;
    const struct model *m = t->network->model;
    struct conducting g;
    conducting_list(t, c, to, &g);
    struct ways ways = {g.ways, g.n, m->n_passages};
    struct paths paths;
    bool ok = paths_find(&ways, from.i, to.i, 1 + ROUTES_OTHERS_MAX, a, &paths, d);
    if (ok && paths.reached) {
        out->reached = true;
        out->only_best = paths.only_best;
        route_fill(m, &g, &paths.rows[0], from, a, &out->best);
        out->n_others = paths.n - 1;
        out->others = arena_rows(a, out->n_others, sizeof *out->others);
        for (uint32_t i = 0; i < out->n_others; i++)
            route_fill(m, &g, &paths.rows[i + 1], from, a, &out->others[i]);
        out->n_single = paths.n_single;
        out->single_points = elements_of(&g, paths.single, paths.n_single, a);
        out->n_cut = paths.n_cut;
        out->cut = elements_of(&g, paths.cut, paths.n_cut, a);
    }
    mem_free(g.ways);
    mem_free(g.elements);
    return ok;
}
