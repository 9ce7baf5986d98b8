/* Before the jobs of a sweep: the list of faults, the two networks, and for pairs what each fault does alone. */
#include "base/mem.h"
#include "faults/sweep_inner.h"
#include <stdlib.h>
#include <string.h>

void sweep_trace(const struct sweep *s, int space, const struct edits *sets, uint32_t n, const uint8_t *wanted,
                 struct trace *t, struct diffs *d)
{
    const struct sweep_space *x = &s->spaces[space];
    trace_run_some(x->network, sets, n, wanted, x->healthy, t);
    diffs_find(t, x->healthy, d);
}

/* Cases follow those that are there. */
static void alone_add(struct alone *x, const struct diffs *d)
{
    size_t n = d->first[d->n_cases];
    while (x->first[x->n_cases] + n > x->cap) {
        x->cap = x->cap ? 2 * x->cap : 1024;
        x->rows = mem_resize(x->rows, x->cap, sizeof *x->rows);
    }
    size_t base = x->first[x->n_cases];
    if (n)
        memcpy(x->rows + base, d->rows, n * sizeof *x->rows);
    for (uint32_t c = 0; c < d->n_cases; c++)
        x->first[++x->n_cases] = base + d->first[c + 1];
}

/* Every single fault in every state, in the numbers of one network. */
static void alone_find(struct sweep *s, int space, bool ranks)
{
    struct alone *x = &s->alone[space];
    uint32_t n_states = s->network->model->n_states, skip = space ? 0 : s->n - s->n_whole;
    struct edits *sets = mem_alloc(SETS_A_CALL * sizeof *sets), none = {0};
    struct sweep_changes changes = {0};
    x->first = mem_zero((size_t)s->n * n_states + 1, sizeof *x->first);
    for (uint32_t from = 0; from < s->n; from += SETS_A_CALL) {
        struct trace t;
        struct diffs d;
        uint32_t n = s->n - from < SETS_A_CALL ? s->n - from : SETS_A_CALL;
        for (uint32_t i = 0; i < n; i++) { /* what splits a joint is asked for in the other network only */
            const struct edits *e = &s->singles[from + i].fault->set.edits;
            sets[i] = skip && e->splits_joint ? none : *e;
        }
        sweep_trace(s, space, sets, n, NULL, &t, &d);
        alone_add(x, &d);
        for (uint32_t i = 0; i < n; i++)
            for (uint32_t k = 0; k < s->wanted.n_states; k++) {
                bool splits = s->singles[from + i].fault->set.edits.splits_joint;
                uint32_t c = trace_case(&t, i, s->wanted.states[k]);
                changes.n = 0;
                if (ranks ? !splits : splits)
                    s->alone_ranks[(size_t)(from + i) * s->wanted.n_states + k] = (uint8_t)sweep_changes(
                        &s->spaces[space], &t, c, d.rows + d.first[c], d.first[c + 1] - d.first[c], NULL, &changes);
            }
        diffs_release(&d);
        trace_release(&t);
    }
    mem_free(sets);
    mem_free(changes.rows);
}

/* The bits that say what each fault touches in each state; beyond them every pair is settled. */
#define TOUCHES_BITS_MAX (UINT64_C(1) << 31)

static void touches_take(struct sweep *s)
{
    const struct network *n = s->network;
    uint64_t bits =
        (uint64_t)s->n * n->model->n_states * ((uint64_t)n->n_nodes + n->n_spools + n->n_limits + n->n_seats);
    if (bits > TOUCHES_BITS_MAX)
        return;
    struct trace t;
    struct edits *sets = mem_zero((size_t)s->n + 1, sizeof *sets);
    for (uint32_t i = 0; i < s->n; i++)
        if (!s->singles[i].fault->splits_joint)
            sets[i] = s->singles[i].fault->set.edits;
    trace_run(n, sets, s->n, s->healthy, &t);
    touches_find(&t, s->healthy, &s->touches);
    trace_release(&t);
    mem_free(sets);
    s->has_touches = true;
}

/* Two holes may leak from one passage into one other: the same fault, listed once. */
static int by_words(const void *left, const void *right)
{
    const struct listed_fault *const *a = left, *const *b = right;
    int order = strcmp((*a)->words, (*b)->words);
    return order ? order : *a < *b ? -1 : *a > *b;
}

static void singles_take(struct sweep *s, const char *chosen)
{
    const struct listed_fault **rows = mem_alloc((s->list.n + 1) * sizeof *rows);
    bool *again = mem_zero((size_t)s->list.n + 1, sizeof *again);
    const struct model *m = s->network->model;
    for (uint32_t i = 0; i < s->list.n; i++)
        rows[i] = &s->list.rows[i];
    qsort(rows, s->list.n, sizeof *rows, by_words);
    for (uint32_t i = 1; i < s->list.n; i++)
        again[rows[i] - s->list.rows] = !strcmp(rows[i]->words, rows[i - 1]->words);
    s->singles = mem_alloc((s->list.n + 1) * sizeof *s->singles);
    s->order = mem_alloc((s->list.n + 1) * sizeof *s->order);
    for (uint32_t i = 0; i < s->list.n; i++) {
        const struct listed_fault *f = &s->list.rows[i];
        if (again[i])
            continue;
        struct part_ref touches = model_find(m, f->part, strlen(f->part));
        if (touches.kind == PART_HOLE && m->holes[touches.i].ball.i != NONE)
            touches = (struct part_ref){PART_BALL, m->holes[touches.i].ball.i};
        s->singles[s->n++] = (struct single){f, touches, !chosen || !strcmp(chosen, f->part)};
    }
    for (int splits = 0; splits < 2; splits++) {
        uint32_t before = splits ? s->n_whole : 0, n = before;
        for (uint32_t i = 0; i < s->n; i++)
            if (s->singles[i].fault->splits_joint == splits)
                s->order[n++] = i;
        s->n_whole = splits ? s->n_whole : n;
    }
    mem_free(rows);
    mem_free(again);
}

/* Room for the solutions of a set. */
static void pressures_open(struct sweep *s)
{
    uint32_t n = s->network->model->n_states;
    s->solved = mem_zero((size_t)n + 1, sizeof *s->solved);
    s->is_wanted = mem_zero((size_t)n + 1, sizeof *s->is_wanted);
    for (uint32_t i = 0; i < n; i++)
        pressures_init(&s->solved[i]);
    for (uint32_t i = 0; i < s->wanted.n_states; i++)
        s->is_wanted[s->wanted.states[i].i] = 1;
}

static void pressures_close(struct sweep *s)
{
    for (uint32_t i = 0; s->solved && i < s->network->model->n_states; i++)
        pressures_release(&s->solved[i]);
    mem_free(s->solved);
    mem_free(s->is_wanted);
    solver_free(s->solvers[0]);
    solver_free(s->solvers[1]);
}

struct sweep *sweep_open(const struct network *n, const struct trace *healthy, const struct pressures *pressures,
                         const struct sweep_wanted *wanted)
{
    struct sweep *s = mem_zero(1, sizeof *s);
    s->network = n;
    s->healthy = healthy;
    s->pressures = pressures;
    s->wanted = *wanted;
    if (pressures)
        pressures_open(s);
    fault_list_make(n, wanted->kinds, wanted->pairs ? NULL : wanted->part, &s->list);
    singles_take(s, wanted->part);
    sweep_space_open(&s->spaces[0], n, healthy);
    if (s->n_whole < s->n) {
        network_build(n->model, true, &s->apart);
        trace_run(&s->apart, &s->no_edits, 1, NULL, &s->apart_healthy);
        sweep_space_open(&s->spaces[1], &s->apart, &s->apart_healthy);
        s->has_apart = true;
    }
    if (wanted->pairs) {
        s->alone_ranks = mem_zero((size_t)s->n * wanted->n_states + 1, sizeof *s->alone_ranks);
        alone_find(s, 0, true);
        if (s->has_apart)
            alone_find(s, 1, false);
        touches_take(s);
    }
    return s;
}

void sweep_close(struct sweep *s)
{
    pressures_close(s);
    sweep_space_close(&s->spaces[0]);
    if (s->has_apart) {
        sweep_space_close(&s->spaces[1]);
        trace_release(&s->apart_healthy);
        network_release(&s->apart);
    }
    for (int i = 0; i < 2; i++) {
        mem_free(s->alone[i].first);
        mem_free(s->alone[i].rows);
    }
    if (s->has_touches)
        touches_release(&s->touches);
    mem_free(s->alone_ranks);
    mem_free(s->told);
    mem_free(s->singles);
    mem_free(s->order);
    fault_list_release(&s->list);
    mem_free(s);
}
