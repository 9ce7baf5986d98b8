/* What a fault changes: one state healthy, the same state faulty, and their difference. */
#include "faults/effect.h"
#include "base/mem.h"
#include <math.h>
#include <string.h>

struct comparing {
    const struct trace *healthy, *faulty;
    const struct model *model;
    const struct edits *edits;
    uint32_t was, now;                     /* rows of the two cases */
    const struct pressures *p_was, *p_now; /* both, or NULL both: by structure */
    struct arena *arena;
    struct change_list changes;
};

struct change *change_list_add(struct change_list *l, enum change_what what, enum part_kind kind, uint32_t i,
                               const char *was, const char *now)
{
    MEM_GROW(l->rows, l->n, l->cap);
    struct change *row = &l->rows[l->n++];
    *row = (struct change){.what = what,
                           .subject = {kind, i},
                           .feed = {NONE},
                           .limiting = {NONE},
                           .hole = NONE,
                           .was = was,
                           .now = now,
                           .was_value = NAN,
                           .now_value = NAN};
    return row;
}

void change_list_take(struct change_list *l, struct arena *a, struct effect *out)
{
    out->n = (uint32_t)l->n;
    out->rows = arena_rows(a, l->n, sizeof *out->rows);
    if (l->n)
        memcpy(out->rows, l->rows, l->n * sizeof *l->rows);
    mem_free(l->rows);
    *l = (struct change_list){0};
}

/* ---- gear, devices, valves */

static bool same_gear(const struct gear_answer *a, const struct gear_answer *b)
{
    if (a->gear != b->gear)
        return false;
    if (a->gear != GEAR_ANSWER_UNSURE)
        return true;
    return a->n_possible == b->n_possible && memcmp(a->possible, b->possible, a->n_possible * sizeof *a->possible) == 0;
}

const char *gear_answer_words(const struct model *m, const struct gear_answer *g, struct arena *a)
{
    const char *word = gear_word(m, g->gear);
    if (g->gear != GEAR_ANSWER_UNSURE || !g->n_possible)
        return word;
    struct text t = {0};
    text_addf(&t, "%s (", word);
    for (uint32_t i = 0; i < g->n_possible; i++)
        text_addf(&t, "%s%s", i ? " or " : "", gear_word(m, g->possible[i]));
    text_add(&t, ")");
    word = arena_text(a, text_string(&t), t.n);
    text_release(&t);
    return word;
}

static void compare_devices(struct comparing *c)
{
    const struct trace_case *was = &c->healthy->cases[c->was], *now = &c->faulty->cases[c->now];
    const struct gear_answer *gear_was = counts_gear(was, c->p_was), *gear_now = counts_gear(now, c->p_now);
    if (!same_gear(gear_was, gear_now))
        change_list_add(&c->changes, CHANGE_GEAR, PART_NONE, NONE, gear_answer_words(c->model, gear_was, c->arena),
                        gear_answer_words(c->model, gear_now, c->arena));
    for (uint32_t i = 0; i < c->model->n_actuators; i++)
        if (counts_device(was, c->p_was, i) != counts_device(now, c->p_now, i)) {
            struct change *row =
                change_list_add(&c->changes, CHANGE_ACTUATOR, PART_ACTUATOR, i, counts_device_word(was, c->p_was, i),
                                counts_device_word(now, c->p_now, i));
            if (c->p_now) {
                row->was_value = c->p_was->device_pressure[i];
                row->now_value = c->p_now->device_pressure[i];
            }
        }
    for (uint32_t i = 0; i < c->model->n_valves; i++) {
        enum valve_kind kind = c->model->valves[i].kind;
        if (kind == VALVE_REGULATING || kind == VALVE_RELIEF)
            continue; /* structure gives them no position */
        const char *before = counts_valve_word(c->healthy, c->was, c->p_was, (valve_ix){i});
        const char *after = counts_valve_word(c->faulty, c->now, c->p_now, (valve_ix){i});
        if (strcmp(before, after) != 0)
            change_list_add(&c->changes, CHANGE_VALVE, PART_VALVE, i, before, after);
    }
}

/* ---- limits */

const char *const limit_answer_words[] = {"held", "may exceed", "over"};

enum limit_answer limit_answer(const struct trace *t, uint32_t row, const struct circuit *circuit)
{
    uint32_t limit = t->network->mover_of[circuit->limited_by.i];
    const struct valve *v = &t->network->model->valves[circuit->limited_by.i];
    bool wide = trace_valve(t, row, circuit->limited_by) == MAY_WIDE;
    enum limit_answer worst = LIMIT_HELD;
    for (uint32_t i = 0; i < circuit->n_passages; i++) {
        enum certainty past = trace_past(t, row, limit, circuit->passages[i]);
        if (past == CERTAIN_NO)
            continue;
        if (wide && past == CERTAIN_YES)
            return LIMIT_OVER;
        if (!wide && v->exhaust != NONE && trace_past_is_weak(t, row, limit, circuit->passages[i]))
            continue; /* the valve's exhaust carries off what comes around it */
        worst = LIMIT_MAY_EXCEED;
    }
    return worst;
}

static void compare_limits(struct comparing *c)
{
    for (uint32_t i = 0; i < c->model->n_circuits; i++) {
        const struct circuit *circuit = &c->model->circuits[i];
        if (circuit->limited_by.i == NONE)
            continue;
        enum limit_answer was = limit_answer(c->healthy, c->was, circuit),
                          now = limit_answer(c->faulty, c->now, circuit);
        if (was != now)
            change_list_add(&c->changes, CHANGE_LIMIT, PART_CIRCUIT, i, limit_answer_words[was],
                            limit_answer_words[now])
                ->limiting = circuit->limited_by;
    }
}

/* ---- cross-leaks */

/* An edit that puts back the hole of a lost ball is no leak. */
static bool is_the_hole(const struct model *m, const struct edit *e)
{
    if (e->part.kind != PART_HOLE)
        return false;
    const struct hole *h = &m->holes[e->part.i];
    return (h->joins[0].i == e->from.i && h->joins[1].i == e->to.i) ||
           (h->joins[0].i == e->to.i && h->joins[1].i == e->from.i);
}

bool leak_is_active(const struct trace *t, uint32_t c, const struct edit *e, passage_ix *fed, passage_ix *other)
{
    const uint32_t *node_of = t->network->node_of;
    if (e->kind != EDIT_ADD || is_the_hole(t->network->model, e) || node_of[e->from.i] == node_of[e->to.i])
        return false;
    bool from_fed = trace_condition(t, c, e->from) == FED, to_fed = trace_condition(t, c, e->to) == FED;
    *fed = from_fed ? e->from : e->to;
    *other = from_fed ? e->to : e->from;
    return from_fed != to_fed && !(e->one_way && to_fed);
}

static void compare_leaks(struct comparing *c)
{
    passage_ix fed, other;
    for (uint32_t i = 0; i < c->edits->n; i++) {
        if (!leak_is_active(c->faulty, c->now, &c->edits->rows[i], &fed, &other))
            continue;
        passage_ix subject = other.i == SUMP.i ? fed : other;
        change_list_add(&c->changes, CHANGE_CROSS_LEAK, PART_PASSAGE, subject.i, "tight",
                        arena_format(c->arena, "%s leaks into %s", c->model->passages[fed.i].part.id,
                                     c->model->passages[other.i].part.id));
    }
}

/* ---- pressures */

#define SHIFT_SHARE 0.05     /* of what it was: less is no shift */
#define SHIFT_LEAST 20684.27 /* Pa, 3 psi: nor is this */
#define RATE_SHARE  0.25     /* of the healthy rate */
#define NO_RATE     1e-6     /* of the healthy rate: not at all */
#define USELESS     20       /* times slower */
#define HARDLY      1000     /* times slower: not worth a figure */

const char *pressure_words(const struct model *m, double pressure, struct arena *a)
{
    struct text t = {0};
    pressure_add(&t, pressure, &m->units);
    const char *word = arena_text(a, text_string(&t), t.n);
    text_release(&t);
    return word;
}

bool pressure_shifted(double was, double now)
{
    double from = isnan(was) ? 0 : was, by = fabs((isnan(now) ? 0 : now) - from);
    return by > SHIFT_LEAST && by > SHIFT_SHARE * from;
}

void pressure_change_add(struct change_list *l, const struct model *m, enum part_kind kind, uint32_t i, double was,
                         double now, struct arena *a)
{
    if (!pressure_shifted(was, now))
        return;
    struct change *row =
        change_list_add(l, CHANGE_PRESSURE, kind, i, pressure_words(m, was, a), pressure_words(m, now, a));
    row->was_value = was;
    row->now_value = now;
}

bool tap_tells(const struct change_list *l, size_t first, const struct model *m, double was, double now,
               struct arena *a)
{
    const char *before = pressure_words(m, was, a), *after = pressure_words(m, now, a);
    for (size_t i = first; i < l->n; i++)
        if (l->rows[i].subject.kind == PART_TAP && !strcmp(l->rows[i].was, before) && !strcmp(l->rows[i].now, after))
            return true;
    return false;
}

static void compare_pressures(struct comparing *c)
{
    const struct model *m = c->model;
    const double *was = c->p_was->pressure, *now = c->p_now->pressure;
    size_t first = c->changes.n;
    for (uint32_t i = 0; i < m->n_taps; i++)
        pressure_change_add(&c->changes, m, PART_TAP, i, was[m->taps[i].on.i], now[m->taps[i].on.i], c->arena);
    for (uint32_t i = 0; i < m->n_actuators; i++) {
        uint32_t p = m->actuators[i].apply.i;
        if (!tap_tells(&c->changes, first, m, was[p], now[p], c->arena))
            pressure_change_add(&c->changes, m, PART_ACTUATOR, i, was[p], now[p], c->arena);
    }
}

double two_digits(double x)
{
    double digit = pow(10, floor(log10(x)) - 1);
    return round(x / digit) * digit;
}

double rate_factor(double was, double now)
{
    if (isnan(was) || isnan(now) || was < FLOW_SHOWN_LEAST || fabs(now - was) <= RATE_SHARE * was)
        return NAN;
    return now <= was * NO_RATE ? 0 : now > was ? two_digits(now / was) : -two_digits(was / now);
}

bool fill_is_useless(double factor)
{
    return factor == 0 || factor <= -USELESS;
}

const char *rate_words(double factor, struct arena *a)
{
    return factor == 0         ? "not at all"
           : factor <= -HARDLY ? "hardly at all"
                               : arena_format(a, fabs(factor) < 100 ? "%.2g times %s" : "%.0f times %s", fabs(factor),
                                              factor > 0 ? "faster" : "slower");
}

void rate_change_add(struct change_list *l, enum change_what what, uint32_t i, double was, double now,
                     const char *was_words, struct arena *a)
{
    double factor = rate_factor(was, now);
    if (isnan(factor))
        return;
    struct change *row = change_list_add(l, what, PART_ACTUATOR, i, was_words, rate_words(factor, a));
    row->was_value = was;
    row->now_value = factor == 0 ? 0 : now; /* what a solve leaves over is no figure */
}

static void compare_rates(struct comparing *c)
{
    for (uint32_t i = 0; i < c->model->n_actuators; i++) {
        rate_change_add(&c->changes, CHANGE_FILL, i, c->p_was->fill[i], c->p_now->fill[i], "healthy", c->arena);
        rate_change_add(&c->changes, CHANGE_DRAIN, i, c->p_was->drain[i], c->p_now->drain[i], "healthy", c->arena);
    }
}

static void compare_damping(struct comparing *c)
{
    uint32_t hole;
    valve_ix valve;
    for (uint32_t i = 0; i < c->edits->n; i++)
        if (damping_lost(c->healthy->network, &c->edits->rows[i], &hole, &valve))
            change_list_add(&c->changes, CHANGE_DAMPING, PART_VALVE, valve.i, c->model->holes[hole].part.id,
                            "damping lost")
                ->hole = hole;
}

static struct comparing comparing_make(const struct trace *healthy, const struct trace *faulty, uint32_t row,
                                       struct arena *a)
{
    return (struct comparing){.healthy = healthy,
                              .faulty = faulty,
                              .model = faulty->network->model,
                              .edits = &faulty->sets[row / faulty->n_states],
                              .was = row % faulty->n_states,
                              .now = row,
                              .arena = a};
}

void effect_pressures(const struct trace *healthy, const struct trace *faulty, uint32_t row,
                      const struct pressures *was, const struct pressures *now, struct arena *a,
                      struct change_list *out)
{
    struct comparing c = comparing_make(healthy, faulty, row, a);
    c.p_was = was;
    c.p_now = now;
    c.changes = *out;
    compare_pressures(&c);
    compare_rates(&c);
    compare_damping(&c);
    *out = c.changes;
}

/* ---- passages */

static void compare_passages(struct comparing *c)
{
    static const char *const reach_words[] = {[CERTAIN_NO] = "no", [CERTAIN_MAY] = "may", [CERTAIN_YES] = "sure"};
    for (uint32_t p = SUMP.i + 1; p < c->model->n_passages; p++)
        for (uint32_t f = 0; f < c->model->n_feeds; f++) {
            enum certainty was = trace_reach(c->healthy, c->was, (feed_ix){f}, (passage_ix){p});
            enum certainty now = trace_reach(c->faulty, c->now, (feed_ix){f}, (passage_ix){p});
            if (was != now)
                change_list_add(&c->changes, CHANGE_REACH, PART_PASSAGE, p, reach_words[was], reach_words[now])
                    ->feed.i = f;
        }
    for (uint32_t p = SUMP.i + 1; p < c->model->n_passages; p++) {
        enum condition was = trace_condition(c->healthy, c->was, (passage_ix){p});
        enum condition now = trace_condition(c->faulty, c->now, (passage_ix){p});
        if (was != now)
            change_list_add(&c->changes, CHANGE_CONDITION, PART_PASSAGE, p, condition_word(was), condition_word(now));
    }
}

void effect_find_pressed(const struct trace *healthy, const struct trace *faulty, const struct pressed *p, uint32_t row,
                         struct arena *a, struct effect *out)
{
    struct comparing c = comparing_make(healthy, faulty, row, a);
    bool was = healthy->cases[c.was].settled, now = faulty->cases[c.now].settled;
    bool solved_was = p && p->healthy[c.was].end.converged, solved_now = pressed_state(p, c.was) != NULL;
    if (solved_was && solved_now) {
        c.p_was = &p->healthy[c.was];
        c.p_now = &p->now[c.was];
    }
    if (was != now)
        change_list_add(&c.changes, CHANGE_SETTLED, PART_NONE, NONE, was ? "settled" : "not settled",
                        now ? "settled" : "not settled");
    else if (solved_was != solved_now)
        change_list_add(&c.changes, CHANGE_SOLVED, PART_NONE, NONE, solved_was ? "solved" : "not solved",
                        solved_now ? "solved" : "not solved");
    if (was && now) {
        compare_devices(&c);
        compare_limits(&c);
        compare_leaks(&c);
        if (c.p_now)
            effect_pressures(healthy, faulty, row, c.p_was, c.p_now, a, &c.changes);
        compare_passages(&c);
    }
    change_list_take(&c.changes, a, out);
}

void effect_find(const struct trace *healthy, const struct trace *faulty, uint32_t row, struct arena *a,
                 struct effect *out)
{
    effect_find_pressed(healthy, faulty, NULL, row, a, out);
}
