/* What is unknown: a pressure for each group of passages that are joined without loss, and the flow of each source; and
 * where each of them stands in the matrix. */
#include "base/mem.h"
#include "pressure/problem.h"
#include <math.h>
#include <string.h>

static uint32_t root_find(uint32_t *up, uint32_t i)
{
    while (up[i] != i)
        i = up[i] = up[up[i]];
    return i;
}

/* Groups of passages: the network's nodes, or, where lossless joints stand apart, all joints that no edit removes. */
static void groups_find(const struct problem *p, uint32_t *up)
{
    const struct network *n = p->network;
    const struct model *m = n->model;
    for (uint32_t i = 0; i < m->n_passages; i++)
        up[i] = i;
    for (uint32_t k = 0; k < m->n_joints; k++) {
        element_ix row = {n->joint_element[k]};
        const struct element *e = &n->elements[row.i];
        if (e->strength != STRENGTH_JOINED || (n->apart && element_is_removed(p->scene, row)))
            continue;
        uint32_t a = root_find(up, e->from.i), b = root_find(up, e->to.i);
        up[a > b ? a : b] = a > b ? b : a; /* sump, row 0, stays the root of its group */
    }
}

void unknowns_number(struct problem *p)
{
    const struct model *m = p->network->model;
    uint32_t *up = mem_alloc(((size_t)m->n_passages + 1) * sizeof *up);
    groups_find(p, up);
    p->unknown_of = arena_rows(&p->arena, m->n_passages, sizeof *p->unknown_of);
    p->weight = arena_rows(&p->arena, m->n_passages, sizeof *p->weight);
    p->passage = arena_rows(&p->arena, m->n_passages, sizeof *p->passage);
    for (uint32_t i = 0; i < m->n_passages; i++) {
        uint32_t root = root_find(up, i);
        if (root == i && i != SUMP.i)
            p->passage[p->n_nodes].i = i;
        p->unknown_of[i] = root == SUMP.i ? NONE : root == i ? p->n_nodes++ : p->unknown_of[root];
        if (p->unknown_of[i] != NONE)
            p->weight[p->unknown_of[i]]++;
    }
    mem_free(up);
    p->n = p->n_nodes;
    for (uint32_t i = 0; i < m->n_feeds; i++)
        p->n += m->feeds[i].is_source;
    p->x = arena_rows(&p->arena, p->n, sizeof *p->x);
    p->rest = arena_rows(&p->arena, p->n, sizeof *p->rest);
    p->step = arena_rows(&p->arena, p->n, sizeof *p->step);
    p->answer = arena_rows(&p->arena, p->n, sizeof *p->answer);
    p->x_before = arena_rows(&p->arena, p->n, sizeof *p->x_before);
    p->target = arena_rows(&p->arena, p->n, sizeof *p->target);
    p->pinned = arena_rows(&p->arena, p->n, 1);
    p->diagonal = arena_rows(&p->arena, p->n, sizeof *p->diagonal);
}

/* ---- entries of the matrix, in one order for listing and for looking up */

struct visit {
    struct entries *list;       /* listing */
    const struct matrix *found; /* looking up */
    struct problem *into;
    bool all;
};

static uint32_t visit_entry(struct visit *v, uint32_t row, uint32_t column)
{
    if (row == NONE || column == NONE)
        return NONE;
    if (v->list) {
        MEM_GROW(v->list->rows, v->list->n, v->list->cap);
        v->list->rows[v->list->n++] = (struct entry){row, column};
        return 0;
    }
    uint32_t slot = matrix_slot(v->found, row, column);
    v->all &= slot != NONE;
    return slot;
}

static void visit_slot(struct visit *v, uint32_t row, uint32_t column)
{
    uint32_t slot = visit_entry(v, row, column);
    if (v->list)
        return;
    MEM_GROW(v->into->slots, v->into->n_slots, v->into->cap_slots);
    v->into->slots[v->into->n_slots++] = slot;
}

static void visit_flow(struct visit *v, const struct problem *p, const struct flow *f)
{
    visit_slot(v, f->a, f->a);
    visit_slot(v, f->a, f->b);
    visit_slot(v, f->b, f->a);
    visit_slot(v, f->b, f->b);
    if (f->mover == NONE)
        return;
    const struct mover *m = &p->movers[f->mover];
    for (uint32_t t = 0; t < m->n_terms; t++) {
        visit_slot(v, f->a, p->terms[m->first_term + t].unknown);
        visit_slot(v, f->b, p->terms[m->first_term + t].unknown);
    }
}

void problem_entries(const struct problem *p, struct entries *out)
{
    struct visit v = {.list = out};
    for (uint32_t i = 0; i < p->n_flows; i++)
        visit_flow(&v, p, &p->flows[i]);
    for (uint32_t i = 0; i < p->n_sources; i++) {
        const struct source_row *s = &p->sources[i];
        visit_entry(&v, s->node, s->unknown);
        visit_entry(&v, s->unknown, s->node);
        for (uint32_t t = 0; t < s->n_terms; t++)
            visit_slot(&v, s->unknown, p->terms[s->first_term + t].unknown);
    }
}

bool problem_attach(struct problem *p, struct matrix *m)
{
    if (matrix_size(m) != p->n)
        return false;
    struct visit v = {.found = m, .into = p, .all = true};
    p->n_slots = 0;
    for (uint32_t i = 0; i < p->n_flows; i++) {
        p->flows[i].first_slot = p->n_slots;
        visit_flow(&v, p, &p->flows[i]);
    }
    for (uint32_t i = 0; i < p->n_sources; i++) {
        struct source_row *s = &p->sources[i];
        s->slots[0] = visit_entry(&v, s->node, s->unknown);
        s->slots[1] = visit_entry(&v, s->unknown, s->node);
        s->slots[2] = visit_entry(&v, s->unknown, s->unknown);
        s->first_slot = p->n_slots;
        for (uint32_t t = 0; t < s->n_terms; t++)
            visit_slot(&v, s->unknown, p->terms[s->first_term + t].unknown);
    }
    for (uint32_t i = 0; i < p->n; i++)
        p->diagonal[i] = visit_entry(&v, i, i);
    p->matrix = m;
    return v.all;
}
