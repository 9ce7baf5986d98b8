#include "faults/sweep_effect.h"
#include "base/mem.h"
#include "faults/effect.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

void sweep_space_open(struct sweep_space *s, const struct network *n, const struct trace *healthy)
{
    const struct model *m = n->model;
    *s = (struct sweep_space){.network = n, .healthy = healthy};
    s->first_passage = mem_zero((size_t)n->n_nodes + 2, sizeof *s->first_passage);
    s->passages = mem_alloc((size_t)m->n_passages * sizeof *s->passages);
    for (uint32_t p = 0; p < m->n_passages; p++)
        s->first_passage[n->node_of[p] + 2]++;
    for (uint32_t i = 0; i < n->n_nodes; i++)
        s->first_passage[i + 2] += s->first_passage[i + 1];
    for (uint32_t p = 0; p < m->n_passages; p++)
        s->passages[s->first_passage[n->node_of[p] + 1]++] = (passage_ix){p};

    s->first_limited = mem_zero((size_t)n->n_limits + 2, sizeof *s->first_limited);
    s->limited = mem_alloc(((size_t)m->n_circuits + 1) * sizeof *s->limited);
    for (uint32_t i = 0; i < m->n_circuits; i++)
        if (m->circuits[i].limited_by.i != NONE)
            s->first_limited[n->mover_of[m->circuits[i].limited_by.i] + 2]++;
    for (uint32_t i = 0; i < n->n_limits; i++)
        s->first_limited[i + 2] += s->first_limited[i + 1];
    for (uint32_t i = 0; i < m->n_circuits; i++)
        if (m->circuits[i].limited_by.i != NONE)
            s->limited[s->first_limited[n->mover_of[m->circuits[i].limited_by.i] + 1]++] = i;
    s->in_gear = mem_zero((size_t)m->n_actuators + 1, sizeof *s->in_gear);
    for (uint32_t i = 0; i < m->n_gears; i++)
        for (uint32_t k = 0; k < m->gears[i].n_on; k++)
            s->in_gear[m->gears[i].on[k].i] = true;
    s->touched = mem_zero((size_t)m->n_circuits * (m->n_feeds + 1) + 1, sizeof *s->touched);
    s->judge = mem_zero((size_t)n->n_limits + 1, sizeof *s->judge);
}

void sweep_space_close(struct sweep_space *s)
{
    mem_free(s->first_passage);
    mem_free(s->passages);
    mem_free(s->first_limited);
    mem_free(s->limited);
    mem_free(s->in_gear);
    mem_free(s->touched);
    mem_free(s->marks);
    mem_free(s->judge);
    *s = (struct sweep_space){0};
}

/* ---- how bad */

static bool is_drive(const struct model *m, uint32_t gear)
{
    return gear < m->n_gears && m->gears[gear].n_on;
}

/* Against the gear asked for; a state that asks for none is held against what it gives healthy. */
static enum sweep_rank gear_rank(const struct model *m, uint32_t commanded, uint32_t was, uint32_t now)
{
    uint32_t wanted = commanded != NONE ? commanded : was;
    if (now == GEAR_ANSWER_TIE_UP)
        return SWEEP_TIE_UP;
    if (now == GEAR_ANSWER_UNSURE)
        return SWEEP_GEAR_UNSURE;
    if (now == wanted)
        return SWEEP_DEVICE;
    if (is_drive(m, wanted))
        return is_drive(m, now) ? SWEEP_WRONG_GEAR : SWEEP_NO_DRIVE;
    return is_drive(m, now) ? SWEEP_DRIVES_UNASKED : SWEEP_DEVICE;
}

/* ---- changes */

struct changing {
    struct sweep_space *space;
    const struct trace *t;
    uint32_t c, was;                       /* cases, faulty and healthy */
    const struct pressures *p_was, *p_now; /* both, or NULL both: by structure */
    struct sweep_changes *out;
    enum sweep_rank rank;
};

static void change_add(struct changing *g, enum change_what what, uint32_t subject, uint32_t of, uint32_t was,
                       uint32_t now, enum sweep_rank rank)
{
    MEM_GROW(g->out->rows, g->out->n, g->out->cap);
    g->out->rows[g->out->n++] =
        (struct sweep_change){.what = what, .subject = subject, .of = of, .was = was, .now = now};
    g->rank = rank < g->rank ? rank : g->rank;
}

static void add_gear(struct changing *g)
{
    const struct model *m = g->space->network->model;
    uint32_t was = counts_gear(&g->space->healthy->cases[g->was], g->p_was)->gear;
    uint32_t now = counts_gear(&g->t->cases[g->c], g->p_now)->gear;
    if (was != now)
        change_add(g, CHANGE_GEAR, NONE, NONE, was, now, gear_rank(m, m->states[g->was].gear.i, was, now));
}

/* One position stays itself, several become "undetermined": as whatif has it, not which ones. */
static uint32_t place_word(uint32_t set)
{
    return set & (set - 1) ? SWEEP_MIXED : set;
}

static void add_valve(struct changing *g, uint32_t mover)
{
    const struct network *n = g->space->network;
    if (mover >= n->n_spools + n->n_limits)
        return; /* a shuttle's seat: what it does shows in the oil */
    uint32_t was = place_word(g->space->healthy->cases[g->was].positions[mover]);
    uint32_t now = place_word(g->t->cases[g->c].positions[mover]);
    uint32_t valve = mover < n->n_spools ? n->spools[mover].valve.i : n->limits[mover - n->n_spools].valve.i;
    if (was != now)
        change_add(g, CHANGE_VALVE, valve, NONE, was, now, SWEEP_VALVE);
}

/* ---- by pressure */

static void add_devices_pressed(struct changing *g)
{
    for (uint32_t i = 0; i < g->space->network->model->n_actuators; i++) {
        uint32_t was = g->p_was->device[i], now = g->p_now->device[i];
        enum sweep_rank rank = now != DEVICE_SLIPPING || !g->space->in_gear[i] ? SWEEP_DEVICE
                               : was == DEVICE_APPLIED                         ? SWEEP_SLIP
                                                                               : SWEEP_DRAG;
        if (was != now)
            change_add(g, CHANGE_ACTUATOR, i, NONE, SWEEP_PRESSED + was, SWEEP_PRESSED + now, rank);
    }
}

static uint32_t position_pressed(const struct trace *t, uint32_t c, const struct pressures *p, valve_ix v)
{
    return counts_by_pressure(t, c, p, v) ? SWEEP_PRESSED + counts_position(t, c, p, v)
                                          : place_word(trace_valve(t, c, v));
}

static void add_valves_pressed(struct changing *g)
{
    const struct model *m = g->space->network->model;
    for (valve_ix v = {0}; v.i < m->n_valves; v.i++) {
        if (m->valves[v.i].kind != VALVE_SPOOL && m->valves[v.i].kind != VALVE_LIMITING)
            continue;
        if (!strcmp(counts_valve_word(g->space->healthy, g->was, g->p_was, v),
                    counts_valve_word(g->t, g->c, g->p_now, v)))
            continue; /* the same word by structure and by pressure is no change */
        change_add(g, CHANGE_VALVE, v.i, NONE, position_pressed(g->space->healthy, g->was, g->p_was, v),
                   position_pressed(g->t, g->c, g->p_now, v), SWEEP_VALVE);
    }
}

/* Is the pressure above the limit of its circuit, by more than is no news, and was it not? */
static bool exceeds(const struct model *m, passage_ix p, double was, double now)
{
    uint32_t circuit = m->passages[p.i].circuit.i;
    valve_ix v = circuit == NONE ? (valve_ix){NONE} : m->circuits[circuit].limited_by;
    double limit = v.i == NONE ? NAN : m->valves[v.i].limit;
    return now > limit && pressure_shifted(limit, now) && !(was > limit && pressure_shifted(limit, was));
}

static enum sweep_rank figure_rank(const struct sweep_space *s, const struct change *c)
{
    const struct model *m = s->network->model;
    if (c->what == CHANGE_FILL && s->in_gear[c->subject.i] && fill_is_useless(rate_factor(c->was_value, c->now_value)))
        return SWEEP_SLIP;
    if (c->what != CHANGE_PRESSURE)
        return SWEEP_RATE;
    passage_ix p = c->subject.kind == PART_TAP ? m->taps[c->subject.i].on : m->actuators[c->subject.i].apply;
    return exceeds(m, p, c->was_value, c->now_value) ? SWEEP_OVER_LIMIT : SWEEP_PRESSURE;
}

/* What only pressures show, in the rounded figures that a reader sees: effects are equal when these are. */
static void add_figures(struct changing *g)
{
    const struct units *units = &g->space->network->model->units;
    struct change_list list = {0};
    struct arena arena;
    arena_init(&arena);
    effect_pressures(g->space->healthy, g->t, g->c, g->p_was, g->p_now, &arena, &list);
    for (size_t i = 0; i < list.n; i++) {
        const struct change *c = &list.rows[i];
        bool pressure = c->what == CHANGE_PRESSURE, damping = c->what == CHANGE_DAMPING;
        change_add(g, c->what, c->subject.i, damping ? c->hole : NONE, 0, 0, figure_rank(g->space, c));
        struct sweep_change *row = &g->out->rows[g->out->n - 1];
        if (pressure) {
            row->kind = c->subject.kind;
            row->was_value = pressure_rounded(c->was_value, units);
            row->now_value = pressure_rounded(c->now_value, units);
        } else if (!damping) {
            row->was_value = 1;
            row->now_value = rate_factor(c->was_value, c->now_value);
        }
    }
    mem_free(list.rows);
    arena_release(&arena);
}

/* ---- by structure, always */

/* Manual valves are moved by hand, or held by a fault. */
static void add_detents(struct changing *g)
{
    const struct edits *edits = &g->t->sets[g->c / g->t->n_states];
    for (uint32_t i = 0; i < edits->n; i++) {
        const struct edit *e = &edits->rows[i];
        if (e->kind != EDIT_PIN || g->space->network->model->valves[e->valve.i].kind != VALVE_MANUAL)
            continue;
        uint32_t was = trace_detent(g->space->healthy, g->was, e->valve), now = trace_detent(g->t, g->c, e->valve);
        if (was != now)
            change_add(g, CHANGE_VALVE, e->valve.i, NONE, was, now, SWEEP_VALVE);
    }
}

static void add_limits(struct changing *g)
{
    const struct sweep_space *s = g->space;
    for (uint32_t l = 0; l < s->network->n_limits; l++) {
        if (!s->judge[l])
            continue;
        s->judge[l] = false;
        for (uint32_t i = s->first_limited[l]; i < s->first_limited[l + 1]; i++) {
            const struct circuit *circuit = &s->network->model->circuits[s->limited[i]];
            enum limit_answer was = limit_answer(s->healthy, g->was, circuit), now = limit_answer(g->t, g->c, circuit);
            if (was != now)
                change_add(g, CHANGE_LIMIT, s->limited[i], circuit->limited_by.i, was, now,
                           now == LIMIT_OVER ? SWEEP_OVER_LIMIT : SWEEP_CIRCUIT);
        }
    }
}

static void add_leaks(struct changing *g)
{
    const struct edits *edits = &g->t->sets[g->c / g->t->n_states];
    passage_ix fed, other;
    for (uint32_t i = 0; i < edits->n; i++)
        if (leak_is_active(g->t, g->c, &edits->rows[i], &fed, &other))
            change_add(g, CHANGE_CROSS_LEAK, other.i, fed.i, 0, 1, SWEEP_CROSS_LEAK);
}

static void touch(struct sweep_space *s, uint32_t row, uint32_t was, uint32_t now)
{
    struct touched *t = &s->touched[row];
    if (!t->on) {
        MEM_GROW(s->marks, s->n_marks, s->cap_marks);
        s->marks[s->n_marks++] = row;
        *t = (struct touched){was, now, true};
    }
    t->was = t->was == was ? was : SWEEP_MIXED;
    t->now = t->now == now ? now : SWEEP_MIXED;
}

static void touch_node(struct changing *g, diff d)
{
    struct sweep_space *s = g->space;
    const struct model *m = s->network->model;
    for (uint32_t i = s->first_passage[DIFF_ROW(d)]; i < s->first_passage[DIFF_ROW(d) + 1]; i++) {
        passage_ix p = s->passages[i];
        uint32_t circuit = m->passages[p.i].circuit.i;
        feed_ix f = {DIFF_OF(d)};
        if (circuit == NONE)
            continue;
        if (DIFF_KIND(d) == DIFF_CONDITION)
            touch(s, m->n_feeds * m->n_circuits + circuit, trace_condition(s->healthy, g->was, p),
                  trace_condition(g->t, g->c, p));
        else
            touch(s, f.i * m->n_circuits + circuit, trace_reach(s->healthy, g->was, f, p),
                  trace_reach(g->t, g->c, f, p));
    }
}

static int rising(const void *left, const void *right)
{
    const uint32_t *a = left, *b = right;
    return *a < *b ? -1 : *a > *b;
}

static void add_circuits(struct changing *g)
{
    struct sweep_space *s = g->space;
    const struct model *m = s->network->model;
    if (s->n_marks)
        qsort(s->marks, s->n_marks, sizeof *s->marks, rising);
    for (size_t i = 0; i < s->n_marks; i++) {
        struct touched *t = &s->touched[s->marks[i]];
        uint32_t circuit = s->marks[i] % m->n_circuits, feed = s->marks[i] / m->n_circuits;
        bool condition = feed == m->n_feeds;
        change_add(g, condition ? CHANGE_CONDITION : CHANGE_REACH, circuit, condition ? NONE : feed, t->was, t->now,
                   SWEEP_CIRCUIT);
        t->on = false;
    }
    s->n_marks = 0;
}

/* Whether the state settles, and whether its pressures are known; an answer where a healthy unit has none is no harm.
 */
static void add_answers(struct changing *g, const struct pressed *p)
{
    bool was = g->space->healthy->cases[g->was].settled, now = g->t->cases[g->c].settled;
    const struct pressed healthy = {p ? p->healthy : NULL, NULL};
    const struct pressures *p_was = p ? pressed_state(&healthy, g->was) : NULL, *p_now = pressed_state(p, g->was);
    if (was != now)
        change_add(g, CHANGE_SETTLED, NONE, NONE, was, now, now ? SWEEP_VALVE : SWEEP_NO_ANSWER);
    else if (!p_was != !p_now)
        change_add(g, CHANGE_SOLVED, NONE, NONE, p_was != NULL, p_now != NULL,
                   p_now ? SWEEP_PRESSURE : SWEEP_NO_ANSWER);
    if (p_was && p_now) {
        g->p_was = p_was;
        g->p_now = p_now;
    }
}

enum sweep_rank sweep_changes(struct sweep_space *s, const struct trace *t, uint32_t c, const diff *rows, size_t n,
                              const struct pressed *p, struct sweep_changes *out)
{
    uint32_t state = c % t->n_states;
    const struct trace_case *was = &s->healthy->cases[state], *now = &t->cases[c];
    struct changing g = {.space = s, .t = t, .c = c, .was = state, .out = out, .rank = SWEEP_NOTHING};
    add_answers(&g, p);
    bool both = was->settled && now->settled, pressed = g.p_now != NULL;
    if (both)
        add_gear(&g);
    if (both && pressed) {
        add_devices_pressed(&g);
        add_valves_pressed(&g);
    }
    for (size_t i = 0; both && i < n; i++) {
        uint32_t row = DIFF_ROW(rows[i]);
        switch (DIFF_KIND(rows[i])) {
        case DIFF_DEVICE:
            if (!pressed)
                change_add(&g, CHANGE_ACTUATOR, row, NONE, was->applied[row], now->applied[row], SWEEP_DEVICE);
            break;
        case DIFF_VALVE:
            if (!pressed)
                add_valve(&g, row);
            if (row >= s->network->n_spools && row < s->network->n_spools + s->network->n_limits)
                s->judge[row - s->network->n_spools] = true;
            break;
        case DIFF_PAST:
            s->judge[DIFF_OF(rows[i])] = true;
            break;
        case DIFF_CONDITION:
        case DIFF_REACH:
            touch_node(&g, rows[i]);
            break;
        case DIFF_SETTLED:
        case DIFF_GEAR:
            break;
        }
    }
    if (both) {
        add_detents(&g);
        add_limits(&g);
        add_leaks(&g);
        if (pressed)
            add_figures(&g);
        add_circuits(&g);
    }
    return g.rank;
}

/* ---- fingerprint */

/* A bijection that spreads every bit (the finaliser of splitmix64: S. Vigna's public-domain code). */
static uint64_t spread(uint64_t x)
{
    x = (x ^ x >> 30) * UINT64_C(0xbf58476d1ce4e5b9);
    x = (x ^ x >> 27) * UINT64_C(0x94d049bb133111eb);
    return x ^ x >> 31;
}

struct mixing {
    uint64_t sum[2];
};

/* Sums do not mind the order, which differs between networks. */
static void mix(struct mixing *x, uint64_t kind, uint64_t of, uint32_t row, uint32_t value)
{
    uint64_t what = spread(kind << 32 | of) + UINT64_C(0x9e3779b97f4a7c15);
    uint64_t word = spread(what ^ ((uint64_t)row << 32 | value));
    x->sum[0] += word;
    x->sum[1] += spread(word ^ UINT64_C(0xd1b54a32d192ed03));
}

enum { MIX_LEAK = DIFF_PAST + 1, MIX_DETENT, MIX_CHANGE };

static void mix_change(struct mixing *x, const struct sweep_change *c)
{
    uint64_t figure;
    double now = isnan(c->now_value) ? NAN : c->now_value == 0 ? 0 : c->now_value; /* one NAN, one zero */
    memcpy(&figure, &now, sizeof figure);
    uint64_t value = spread(figure ^ (uint64_t)c->of << 32) ^ c->now;
    mix(x, MIX_CHANGE + c->what, c->kind, c->subject, (uint32_t)(value ^ value >> 32));
}

/* What pressures tell in the structure's place. */
static bool is_pressed(enum diff_kind kind)
{
    return kind == DIFF_SETTLED || kind == DIFF_GEAR || kind == DIFF_DEVICE || kind == DIFF_VALVE;
}

void sweep_fingerprint(const struct sweep_space *s, const struct trace *t, uint32_t c, const diff *rows, size_t n,
                       const struct sweep_changes *pressed, size_t from, uint32_t news, uint64_t effect[2])
{
    const struct network *network = s->network;
    uint32_t state = c % t->n_states;
    struct mixing x = {{0, 0}};
    for (size_t k = 0; k < n; k++) {
        enum diff_kind kind = DIFF_KIND(rows[k]);
        uint32_t row = DIFF_ROW(rows[k]), of = DIFF_OF(rows[k]), value = DIFF_VALUE(rows[k]);
        if (pressed && is_pressed(kind))
            continue;
        if (kind != DIFF_CONDITION && kind != DIFF_REACH && kind != DIFF_PAST) {
            if (kind != DIFF_VALVE || row < network->n_spools + network->n_limits)
                mix(&x, kind, of, row, value);
            continue;
        }
        for (uint32_t i = s->first_passage[row]; i < s->first_passage[row + 1]; i++)
            mix(&x, kind, of, s->passages[i].i, value);
    }
    for (size_t i = from; pressed && i < pressed->n; i++)
        if (pressed->rows[i].what != CHANGE_REACH && pressed->rows[i].what != CHANGE_CONDITION) /* they are above */
            mix_change(&x, &pressed->rows[i]);
    const struct edits *edits = &t->sets[c / t->n_states];
    passage_ix fed, other;
    for (uint32_t i = 0; t->cases[c].settled && s->healthy->cases[state].settled && i < edits->n; i++) {
        const struct edit *e = &edits->rows[i];
        if (leak_is_active(t, c, e, &fed, &other))
            mix(&x, MIX_LEAK, 0, fed.i, other.i);
        if (e->kind == EDIT_PIN && network->model->valves[e->valve.i].kind == VALVE_MANUAL &&
            trace_detent(s->healthy, state, e->valve) != trace_detent(t, c, e->valve))
            mix(&x, MIX_DETENT, 0, e->valve.i, trace_detent(t, c, e->valve));
    }
    for (int i = 0; i < 2; i++)
        effect[i] = spread(effect[i] + x.sum[i] + ((uint64_t)state << 8 | news) * UINT64_C(0xa0761d6478bd642f) + 1);
}
