/* The run: cases in waves (a state after those that it comes `after`), packs filled with lanes, rounds until all have
 * settled. */
#include "trace/trace.h"
#include "base/mem.h"
#include "trace/answers.h"
#include <string.h>

static void case_init(struct trace *t, struct trace_case *c)
{
    const struct network *n = t->network;
    const struct model *m = n->model;
    bool reliefs = false;
    for (uint32_t i = 0; i < m->n_valves; i++)
        reliefs |= m->valves[i].kind == VALVE_RELIEF;
    uint32_t movers = network_movers(n);
    uint8_t *bytes =
        arena_rows(&t->arena, 1, (size_t)2 * movers + n->n_limits + 2 * (size_t)m->n_actuators + n->n_spools + 1);
    c->positions = bytes;
    c->restless = c->positions + movers;
    c->second_feed = c->restless + movers;
    c->applied = c->second_feed + n->n_limits;
    c->locked = c->applied + m->n_actuators;
    c->relief_estimate = reliefs ? arena_rows(&t->arena, m->n_valves, sizeof(double)) : NULL;
    c->gear.gear = GEAR_ANSWER_NONE;
}

static void settling_init(struct trace *t, struct settling *s, uint32_t set, uint32_t state)
{
    const struct network *n = t->network;
    uint32_t c = set * t->n_states + state;
    state_ix after = n->model->states[state].after;
    scene_build(n, &n->model->states[state], &t->sets[set], &t->arena, &t->planes->scenes[c]);
    settling_make(s, &t->planes->scenes[c], after.i == NONE ? NULL : &t->cases[set * t->n_states + after.i],
                  &t->cases[c], &t->arena);
    s->c = c;
    s->healthy_c = state;
    s->bit = case_bit(t, c);
}

/* Cases that wait for a pack, by what they need: one queue for each kind, so that packs are full. */
enum queue { IN_BULK, WITH_CARE, WITH_DOUBT, N_QUEUES };
struct waiting {
    struct settling **rows;
    uint32_t first, n, cap;
};

static void queue_add(struct waiting *queues, struct settling *s)
{
    struct waiting *q = &queues[s->lanes > 1 ? WITH_DOUBT : s->careful ? WITH_CARE : IN_BULK];
    if (q->first && q->n == q->cap) { /* what was taken from the front makes room */
        memmove(q->rows, q->rows + q->first, (q->n - q->first) * sizeof *q->rows);
        q->n -= q->first;
        q->first = 0;
    }
    MEM_GROW(q->rows, q->n, q->cap);
    q->rows[q->n++] = s;
}

/* Fills the pack with the first cases of a queue that it can hold. */
static void pack_fill(struct pack *p, struct waiting *q)
{
    pack_clear(p);
    while (q->first < q->n && q->rows[q->first]->lanes <= 64 * p->width &&
           pack_place(p, q->rows[q->first], q->rows[q->first]->lanes))
        q->rows[q->first++]->waiting = false;
    pack_load(p);
}

/* Rounds on one pack until nothing is left to move, or so few cases move that the rest of the pending ones is worth
 * more. */
static void pack_run(struct trace *t, struct pack *p, const struct trace *healthy, uint32_t n_pending)
{
    t->n_words++;
    if (!p->groups[0].of->careful) {
        t->n_rounds += bulk_run(p, healthy, n_pending);
        answers_take(t, p, healthy);
        return;
    }
    if (p->doubt)
        t->n_expanded += p->n_groups;
    for (;;) {
        uint32_t left = settle_round(p, healthy);
        t->n_rounds++;
        if (p->fallback)
            t->n_fallbacks++;
        if (left == 0 || (2 * left <= p->n_groups && n_pending > p->n_groups))
            break;
    }
    answers_take(t, p, healthy);
}

#define N_WIDTHS 3 /* packs of a run: narrow, usual, widest; each made when first needed */

/* One wave: cases that wait for none of each other. */
static void wave_run(struct trace *t, struct settling *rows, uint32_t n, struct pack packs[N_WIDTHS],
                     const struct trace *healthy)
{
    static const unsigned widths[N_WIDTHS] = {WIDTH_FEW, WIDTH_MANY, WIDTH_MAX};
    struct waiting queues[N_QUEUES] = {{0}};
    for (uint32_t i = 0; i < n; i++) {
        if (!rows[i].answered)
            queue_add(queues, &rows[i]);
    }
    for (int k = 0; k < N_QUEUES;) {
        struct waiting *q = &queues[k];
        uint32_t pending = q->n - q->first;
        if (!pending) {
            k++;
            continue;
        }
        uint32_t lanes = q->rows[q->first]->lanes, kind = lanes > 64 * WIDTH_MANY     ? 2
                                                          : pending > 64 || lanes > 1 ? 1
                                                                                      : 0;
        struct pack *p = &packs[kind];
        if (!p->network)
            pack_init(p, t->network, widths[kind]);
        pack_fill(p, q);
        pack_run(t, p, healthy, pending);
        for (uint32_t i = 0; i < p->n_groups; i++) {
            if (p->groups[i].of->answered)
                continue;
            t->n_repacked++;
            queue_add(queues, p->groups[i].of);
        }
    }
    for (int k = 0; k < N_QUEUES; k++)
        mem_free(queues[k].rows);
}

/* How many states each state comes after; no deep stack however long the chain is. */
static uint32_t *depths_find(const struct model *m, uint32_t *deepest)
{
    uint32_t *depth = mem_alloc(((size_t)m->n_states + 1) * sizeof *depth),
             *chain = mem_alloc(((size_t)m->n_states + 1) * sizeof *chain);
    memset(depth, 0xff, m->n_states * sizeof *depth);
    *deepest = 0;
    for (uint32_t i = 0; i < m->n_states; i++) {
        uint32_t n = 0;
        for (uint32_t s = i; s != NONE && depth[s] == NONE; s = m->states[s].after.i)
            chain[n++] = s;
        while (n--) {
            uint32_t after = m->states[chain[n]].after.i;
            depth[chain[n]] = after == NONE ? 0 : depth[after] + 1;
            *deepest = depth[chain[n]] > *deepest ? depth[chain[n]] : *deepest;
        }
    }
    mem_free(chain);
    return depth;
}

/* States in waves: *order lists them by depth, *start tells where each wave begins. */
static void waves_sort(const struct model *m, uint32_t **order, uint32_t **start, uint32_t *n_waves)
{
    uint32_t deepest, *depth = depths_find(m, &deepest);
    *n_waves = deepest + 1;
    *order = mem_alloc(((size_t)m->n_states + 1) * sizeof **order);
    *start = mem_zero((size_t)*n_waves + 2, sizeof **start);
    for (uint32_t i = 0; i < m->n_states; i++)
        (*start)[depth[i] + 1]++;
    for (uint32_t w = 0; w < *n_waves; w++)
        (*start)[w + 1] += (*start)[w];
    uint32_t *fill = mem_alloc((size_t)*n_waves * sizeof *fill);
    memcpy(fill, *start, *n_waves * sizeof *fill);
    for (uint32_t i = 0; i < m->n_states; i++)
        (*order)[fill[depth[i]]++] = i;
    mem_free(fill);
    mem_free(depth);
}

/* Marks the cases asked for, and those that they come after. */
static void cases_ask(struct trace *t, const uint8_t *wanted)
{
    const struct model *m = t->network->model;
    for (uint32_t c = 0; c < t->n_sets * t->n_states; c++) {
        for (uint32_t s = c % t->n_states; (!wanted || wanted[c]) && s != NONE; s = m->states[s].after.i) {
            struct trace_case *out = &t->cases[c - c % t->n_states + s];
            if (out->asked)
                break;
            out->asked = true;
            case_init(t, out);
        }
    }
}

void trace_run(const struct network *n, const struct edits *sets, uint32_t n_sets, const struct trace *healthy,
               struct trace *out)
{
    trace_run_some(n, sets, n_sets, NULL, healthy, out);
}

void trace_run_some(const struct network *n, const struct edits *sets, uint32_t n_sets, const uint8_t *wanted,
                    const struct trace *healthy, struct trace *out)
{
    struct pack packs[N_WIDTHS] = {{0}};
    const struct model *m = n->model;
    *out = (struct trace){.network = n, .sets = sets, .n_sets = n_sets, .n_states = m->n_states};
    arena_init(&out->arena);
    out->cases = arena_rows(&out->arena, (size_t)n_sets * m->n_states, sizeof *out->cases);
    cases_ask(out, wanted);
    answers_init(out);
    uint32_t *order, *start, n_waves;
    waves_sort(m, &order, &start, &n_waves);
    for (uint32_t wave = 0; wave < n_waves; wave++) {
        for (uint32_t k = start[wave]; k < start[wave + 1]; k++) {
            out->planes->wave_first[order[k]] = start[wave] * n_sets;
            out->planes->wave_size[order[k]] = start[wave + 1] - start[wave];
            out->planes->wave_row[order[k]] = k - start[wave];
        }
    }
    for (uint32_t wave = 0; wave < n_waves; wave++) {
        uint32_t in_wave = start[wave + 1] - start[wave], rows = 0;
        struct settling *settlings = mem_zero((size_t)n_sets * in_wave + 1, sizeof *settlings);
        for (uint32_t set = 0; set < n_sets; set++) {
            for (uint32_t k = 0; k < in_wave; k++) {
                if (out->cases[set * m->n_states + order[start[wave] + k]].asked)
                    settling_init(out, &settlings[rows++], set, order[start[wave] + k]);
            }
        }
        wave_run(out, settlings, rows, packs, healthy);
        mem_free(settlings);
    }
    mem_free(order);
    mem_free(start);
    for (int k = 0; k < N_WIDTHS; k++) {
        if (packs[k].network)
            pack_release(&packs[k]);
    }
}

void trace_release(struct trace *t)
{
    answers_release(t);
    arena_release(&t->arena);
    *t = (struct trace){0};
}
