/* Which way oil runs: away from the sources through what is live, and down to sump through what drains. */
#include "draw/sketch.h"

struct walk {
    uint32_t *queue; /* boxes reached, in order */
    uint32_t n;
};

static void walk_reach(struct sketch *s, struct walk *w, uint32_t box, uint32_t rank)
{
    if (s->rank[box] != NONE)
        return;
    s->rank[box] = rank;
    w->queue[w->n++] = box;
}

/* Lists of lines at each box: heads and next, two entries a line. */
struct lists {
    uint32_t *head, *next;
};

static void lists_make(const struct sketch *s, struct lists *l, struct arena *a)
{
    l->head = arena_rows(a, s->model->n_passages, sizeof *l->head);
    l->next = arena_rows(a, 2 * (size_t)s->n_lines, sizeof *l->next);
    for (uint32_t i = 0; i < s->model->n_passages; i++)
        l->head[i] = NONE;
    for (uint32_t i = s->n_lines; i-- > 0;)
        for (int end = 1; end >= 0; end--) {
            const struct element *e = &s->lines[i].element;
            uint32_t at = s->box[end ? e->to.i : e->from.i];
            l->next[2 * i + (uint32_t)end] = l->head[at];
            l->head[at] = 2 * i + (uint32_t)end;
        }
}

/* From all boxes in the queue on through lines of at least a strength. `down`: with the oil; else against it. */
static void walk_on(struct sketch *s, struct walk *w, const struct lists *lists, enum strength least, bool down)
{
    for (uint32_t q = 0; q < w->n; q++) {
        uint32_t box = w->queue[q];
        for (uint32_t k = lists->head[box]; k != NONE; k = lists->next[k]) {
            const struct line *l = &s->lines[k / 2];
            bool at_to = k & 1;
            passage_ix other = at_to ? l->element.from : l->element.to;
            if (l->conducts == CERTAIN_NO || l->element.strength < least || (l->element.one_way && at_to == down))
                continue;
            if (other.i != SUMP.i && sketch_live(s, other) == down)
                walk_reach(s, w, s->box[other.i], s->rank[box] + 1);
        }
    }
}

/* A passage takes what reaches it by the strongest way, so the strongest lines are walked first. */
static void walk_all(struct sketch *s, struct walk *w, const struct lists *lists, bool down)
{
    for (int least = STRENGTH_JOINED; least >= STRENGTH_LEAK; least--)
        walk_on(s, w, lists, (enum strength)least, down);
}

static int flow_of(const struct sketch *s, const struct line *l)
{
    const struct element *e = &l->element;
    if (e->to.i == SUMP.i)
        return 1;
    if (e->from.i == SUMP.i)
        return -1;
    uint32_t a = s->rank[s->box[e->from.i]], b = s->rank[s->box[e->to.i]];
    bool from_live = sketch_live(s, e->from), to_live = sketch_live(s, e->to);
    if (from_live != to_live)
        return from_live ? 1 : -1; /* into what is emptier */
    if (a == b || a == NONE || b == NONE)
        return 0;
    return (a < b) == from_live ? 1 : -1; /* drains count their steps from sump */
}

void sketch_flow(struct sketch *s, struct arena *a)
{
    const struct model *m = s->model;
    struct walk w = {arena_rows(a, m->n_passages, sizeof *w.queue), 0};
    struct lists lists;
    lists_make(s, &lists, a);
    s->rank = arena_rows(a, m->n_passages, sizeof *s->rank);
    for (uint32_t i = 0; i < m->n_passages; i++)
        s->rank[i] = NONE;
    for (uint32_t f = 0; f < m->n_feeds; f++)
        if (m->feeds[f].is_source && (!s->settled || trace_setting(s->t, s->c, (feed_ix){f}) > 0))
            walk_reach(s, &w, s->box[m->feeds[f].passage.i], 0);
    walk_all(s, &w, &lists, true);
    if (s->settled) {
        w.n = 0;
        walk_reach(s, &w, SUMP.i, 0);
        walk_all(s, &w, &lists, false);
    }
    for (uint32_t i = 0; i < s->n_lines; i++)
        s->lines[i].flow = flow_of(s, &s->lines[i]);
}
