/* Arrays of nodes and arcs, what conducts in them in one case, and the plain searches. */
#include "base/mem.h"
#include "scalar.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static uint32_t root_of(uint32_t *up, uint32_t i)
{
    while (up[i] != i)
        i = up[i] = up[up[i]];
    return i;
}

static bool edits_remove(const struct edits *edits, uint32_t element)
{
    for (uint32_t i = 0; edits && i < edits->n; i++)
        if (edits->rows[i].kind == EDIT_REMOVE && edits->rows[i].element.i == element)
            return true;
    return false;
}

static void nodes_number(const struct network *n, const struct edits *edits, struct grid *out)
{
    uint32_t n_passages = n->model->n_passages, *up = mem_alloc((n_passages + 1) * sizeof *up);
    for (uint32_t i = 0; i < n_passages; i++)
        up[i] = i;
    for (uint32_t k = 0; k < n->model->n_joints; k++) {
        const struct element *e = &n->elements[n->joint_element[k]];
        if (e->strength != STRENGTH_JOINED || edits_remove(edits, n->joint_element[k]))
            continue;
        uint32_t a = root_of(up, e->from.i), b = root_of(up, e->to.i);
        up[a > b ? a : b] = a > b ? b : a;
    }
    out->node_of = mem_alloc((n_passages + 1) * sizeof *out->node_of);
    for (uint32_t i = 0; i < n_passages; i++) {
        uint32_t r = root_of(up, i);
        out->node_of[i] = r == i ? out->n_nodes++ : out->node_of[r];
    }
    mem_free(up);
}

void grid_make(const struct network *n, const struct edits *edits, struct grid *out)
{
    *out = (struct grid){0};
    nodes_number(n, edits, out);
    out->edges = mem_alloc(((size_t)n->n_elements + n->n_seats + 1) * sizeof *out->edges);
    out->first_arc = mem_zero((size_t)out->n_nodes + 2, sizeof *out->first_arc);
    uint32_t n_edges = 0;
    for (uint32_t s = 0; s < LEVELS; s++) {
        out->first_edge[s] = n_edges;
        for (uint32_t i = 0; i < n->n_elements; i++) {
            const struct element *e = &n->elements[i];
            uint32_t a = out->node_of[e->from.i], b = out->node_of[e->to.i];
            if (e->strength != s || a == b)
                continue;
            bool seat = e->opens == OPENS_BY_SEAT;
            out->edges[n_edges++] = (struct grid_edge){a, b, i, e->one_way || seat};
            if (seat)
                out->edges[n_edges++] = (struct grid_edge){b, a, n->n_elements + e->mover, true};
        }
    }
    out->first_edge[LEVELS] = n_edges;
    for (uint32_t k = 0; k < n_edges; k++) {
        out->first_arc[out->edges[k].from + 1]++;
        out->first_arc[out->edges[k].to + 1]++;
    }
    for (uint32_t i = 0; i < out->n_nodes; i++)
        out->first_arc[i + 1] += out->first_arc[i];
    uint32_t *fill = mem_alloc(((size_t)out->n_nodes + 1) * sizeof *fill);
    memcpy(fill, out->first_arc, out->n_nodes * sizeof *fill);
    out->arcs = mem_alloc((2 * (size_t)n_edges + 1) * sizeof *out->arcs);
    for (uint32_t s = LEVELS; s-- > 0;)
        for (uint32_t k = out->first_edge[s]; k < out->first_edge[s + 1]; k++) {
            const struct grid_edge *e = &out->edges[k];
            uint8_t both = e->one_way ? 0 : WITH_FLOW | AGAINST_FLOW, strength = (uint8_t)s;
            out->arcs[fill[e->from]++] = (struct grid_arc){e->to, e->slot, strength, both | WITH_FLOW};
            out->arcs[fill[e->to]++] = (struct grid_arc){e->from, e->slot, strength, both | AGAINST_FLOW};
        }
    mem_free(fill);
}

void grid_free(struct grid *g)
{
    mem_free(g->node_of);
    mem_free(g->first_arc);
    mem_free(g->arcs);
    mem_free(g->edges);
    *g = (struct grid){0};
}

/* ---- edits and states */

static void extra_add(struct scalar *s, passage_ix from, passage_ix to, enum strength strength, bool one_way,
                      uint32_t follows, bool outward)
{
    uint32_t a = s->grid->node_of[from.i], b = s->grid->node_of[to.i];
    if (a == b)
        return;
    if (s->n_extras == EXTRAS_MAX) {
        fprintf(stderr, "more than %u elements added by one set of faults\n", EXTRAS_MAX);
        exit(2);
    }
    uint32_t slot = s->network->n_elements + s->network->n_seats + s->n_extras;
    s->extras[s->n_extras++] = (struct extra){{a, b, slot, one_way}, (uint8_t)strength, follows, outward};
    s->has_extra[a] = s->has_extra[b] = 1;
}

static void edit_take(struct scalar *s, const struct edit *e)
{
    if (e->kind == EDIT_ADD) {
        extra_add(s, e->from, e->to, e->strength, e->one_way, NONE, false);
    } else if (e->kind == EDIT_REMOVE) {
        s->removed[e->element.i] = 1;
    } else if (e->kind == EDIT_RESIZE) {
        const struct element *was = &s->network->elements[e->element.i];
        bool seat = was->opens == OPENS_BY_SEAT;
        s->removed[e->element.i] = 1;
        extra_add(s, was->from, was->to, e->strength, was->one_way || seat, e->element.i, false);
        if (seat)
            extra_add(s, was->to, was->from, e->strength, true, e->element.i, true);
    }
}

void grid_take(struct scalar *s, const struct edits *edits)
{
    const struct network *n = s->network;
    for (uint32_t k = 0; k < s->n_extras; k++)
        s->has_extra[s->extras[k].edge.from] = s->has_extra[s->extras[k].edge.to] = 0;
    memset(s->removed, 0, n->n_elements);
    s->n_extras = 0;
    s->edits = edits;
    grid_free(&s->split);
    s->grid = &s->whole;
    if (edits->splits_joint) {
        grid_make(n, edits, &s->split);
        s->grid = &s->split;
    }
    for (uint32_t i = 0; i < edits->n; i++)
        edit_take(s, &edits->rows[i]);
}

void case_take(struct scalar *s, const struct state *state)
{
    const struct network *n = s->network;
    arena_release(&s->arena);
    scene_build(n, state, s->edits, &s->arena, &s->scene);
    memset(s->still, 0, s->n_slots);
    for (uint32_t i = 0; i < n->n_elements; i++) {
        const struct element *e = &n->elements[i];
        s->still[i] = e->mover == NONE && element_conducts(&s->scene, e, NULL) == CERTAIN_YES;
    }
    for (uint32_t k = 0; k < s->n_extras; k++) {
        const struct extra *x = &s->extras[k];
        s->still[x->edge.slot] = x->follows == NONE || s->still[x->follows];
    }
    for (uint32_t i = 0; i < s->edits->n; i++) {
        const struct edit *e = &s->edits->rows[i];
        if (e->kind == EDIT_REMOVE || e->kind == EDIT_RESIZE)
            s->still[e->element.i] = 0;
    }
    memset(s->is_root, 0, s->grid->n_nodes);
    s->n_sources = 0;
    for (uint32_t f = 0; f < n->model->n_feeds; f++)
        if (n->model->feeds[f].is_source && s->scene.settings[f] > 0) {
            s->sources[s->n_sources++] = f;
            s->is_root[s->grid->node_of[n->model->feeds[f].passage.i]] = 1;
        }
}

/* Does the hole of a seat pass oil out of the pocket? While the ball is asked where it would go, it does not. */
static bool seat_lets_out(const struct scalar *s, uint32_t seat, bool inward)
{
    return !inward || s->scene.fixed[s->network->n_spools + s->network->n_limits + seat];
}

void conduct_fill(const struct scalar *s, const uint8_t *sets, bool inward, enum certainty least, uint8_t *conduct)
{
    const struct network *n = s->network;
    memcpy(conduct, s->still, s->n_slots);
    for (uint32_t k = 0; k < s->n_moving; k++) {
        uint32_t i = s->moving[k];
        const struct element *e = &n->elements[i];
        bool on = !s->removed[i] && element_conducts(&s->scene, e, sets) >= least;
        conduct[i] = on;
        if (e->opens == OPENS_BY_SEAT)
            conduct[n->n_elements + e->mover] = on && seat_lets_out(s, e->mover, inward);
    }
    for (uint32_t k = 0; k < s->n_extras; k++) {
        const struct extra *x = &s->extras[k];
        const struct element *e = x->follows == NONE ? NULL : &n->elements[x->follows];
        if (e && e->mover != NONE)
            conduct[x->edge.slot] =
                element_conducts(&s->scene, e, sets) >= least && (!x->outward || seat_lets_out(s, e->mover, inward));
    }
}

/* ---- searches */

uint32_t spread(struct scalar *s, uint32_t n, const uint8_t *conduct, unsigned ways, uint32_t least,
                const uint8_t *closed)
{
    const struct grid *g = s->grid;
    for (uint32_t at = 0; at < n; at++) {
        uint32_t node = s->queue[at], to;
        for (uint32_t k = g->first_arc[node]; k < g->first_arc[node + 1] && g->arcs[k].strength >= least; k++) {
            const struct grid_arc *a = &g->arcs[k];
            if ((a->ways & ways) && conduct[a->slot] && !s->mark[a->node] && !closed[a->node]) {
                s->mark[a->node] = 1;
                s->queue[n++] = a->node;
            }
        }
        for (uint32_t k = 0; s->has_extra[node] && k < s->n_extras; k++) {
            const struct extra *x = &s->extras[k];
            if (x->strength >= least && conduct[x->edge.slot] && extra_leads(x, node, ways, &to) && !s->mark[to] &&
                !closed[to]) {
                s->mark[to] = 1;
                s->queue[n++] = to;
            }
        }
    }
    return n;
}

void marks_clear(struct scalar *s, uint32_t n)
{
    for (uint32_t i = 0; i < n; i++)
        s->mark[s->queue[i]] = 0;
}

/* Oil with pressure `p` comes to a node: is that more than was known? */
static bool widen(double *best, uint32_t to, double p)
{
    if (p <= best[to])
        return false;
    best[to] = p;
    return true;
}

/* A worklist that goes over a node again when more comes to it; few do, for sources and limits are few. */
void widest(struct scalar *s, const uint8_t *conduct, const uint8_t *capping, const uint8_t *cond, double *best)
{
    const struct grid *g = s->grid;
    const struct network *n = s->network;
    uint32_t first = 0, waiting = 0, size = g->n_nodes;
    memset(best, 0, size * sizeof *best);
    for (uint32_t i = 0; i < s->n_sources; i++) {
        uint32_t node = g->node_of[n->model->feeds[s->sources[i]].passage.i];
        if (!cond_is_dead(cond[node]) && widen(best, node, s->scene.settings[s->sources[i]]) && !s->mark[node]) {
            s->mark[node] = 1;
            s->queue[waiting++] = node;
        }
    }
    while (waiting) {
        uint32_t node = s->queue[first], to;
        first = first + 1 == size ? 0 : first + 1;
        waiting--;
        s->mark[node] = 0;
        for (uint32_t k = g->first_arc[node]; k < g->first_arc[node + 1]; k++) {
            const struct grid_arc *a = &g->arcs[k];
            if (!(a->ways & WITH_FLOW) || !conduct[a->slot] || cond_is_dead(cond[a->node]) || s->is_root[a->node])
                continue;
            uint32_t limit = s->limit_of[a->slot];
            double p = best[node];
            if (limit != NONE && capping[limit])
                p = fmin(p, n->model->valves[n->limits[limit].valve.i].limit);
            if (widen(best, a->node, p) && !s->mark[a->node]) {
                s->mark[a->node] = 1;
                s->queue[(first + waiting++) % size] = a->node;
            }
        }
        for (uint32_t k = 0; s->has_extra[node] && k < s->n_extras; k++) {
            const struct extra *x = &s->extras[k];
            if (!conduct[x->edge.slot] || !extra_leads(x, node, WITH_FLOW, &to) || cond_is_dead(cond[to]) ||
                s->is_root[to])
                continue;
            if (widen(best, to, best[node]) && !s->mark[to]) {
                s->mark[to] = 1;
                s->queue[(first + waiting++) % size] = to;
            }
        }
    }
}
