/* What a fault changes, worst state first, a plain sentence a change. */
#include "base/mem.h"
#include "report/answer.h"
#include "report/text_state.h"
#include <stdlib.h>
#include <string.h>

/* One state's changes in words, for grouping states with the same ones. */
struct told {
    uint32_t rank; /* 0: worst */
    uint32_t row;  /* in answer.states */
    struct text head, body;
    bool changed, done;
};

enum rank {
    RANK_SETTLED,
    RANK_TIE_UP,
    RANK_NONE,
    RANK_GEAR,
    RANK_UNSURE,
    RANK_DEVICE,
    RANK_OVER,
    RANK_VALVE,
    RANK_LIMIT,
    RANK_LEAK,
    RANK_OIL,
    RANK_NOTHING
};

static enum rank change_rank(const struct change *c, const struct trace_case *now)
{
    switch (c->what) {
    case CHANGE_SETTLED:
        return RANK_SETTLED;
    case CHANGE_GEAR:
        return now->gear.gear == GEAR_ANSWER_TIE_UP   ? RANK_TIE_UP
               : now->gear.gear == GEAR_ANSWER_NONE   ? RANK_NONE
               : now->gear.gear == GEAR_ANSWER_UNSURE ? RANK_UNSURE
                                                      : RANK_GEAR;
    case CHANGE_ACTUATOR:
        return RANK_DEVICE;
    case CHANGE_LIMIT:
        return !strcmp(c->now, "over") ? RANK_OVER : RANK_LIMIT;
    case CHANGE_VALVE:
        return RANK_VALVE;
    case CHANGE_CROSS_LEAK:
        return RANK_LEAK;
    case CHANGE_REACH:
    case CHANGE_CONDITION:
        return RANK_OIL;
    }
    return RANK_OIL;
}

/* ---- devices, valves, limits, leaks: a sentence each */

static void actuator_sentence(struct text *t, const struct model *m, const struct change *c)
{
    static const char *const kinds[] = {"clutch", "band", "accumulator", "converter"};
    const struct actuator *a = &m->actuators[c->subject.i];
    say(t, "%s (%s) ", a->part.id, kinds[a->kind]);
    if (!strcmp(c->now, "applied"))
        text_add(t, "is on and should be off.");
    else if (!strcmp(c->now, "released"))
        text_add(t, "is off and should be on.");
    else
        say(t, "may be on or off (healthy: %s).",
            !strcmp(c->was, "applied")    ? "on"
            : !strcmp(c->was, "released") ? "off"
                                          : c->was);
}

static void valve_sentence(struct text *t, const struct model *m, const struct change *c)
{
    const struct valve *v = &m->valves[c->subject.i];
    say(t, "%s ", v->part.id);
    if (!strcmp(c->now, "undetermined"))
        say(t, "may stand in more than one position (healthy: %s).", c->was);
    else if (!strcmp(c->now, "wide"))
        say(t, "stands wide open: what it feeds gets its supply without a limit (healthy: %s).", c->was);
    else if (!strcmp(c->now, "shut"))
        say(t, "is pushed shut: what it feeds starves (healthy: %s).", c->was);
    else if (v->kind == VALVE_MANUAL)
        say(t, "stands at %s (healthy: %s).", c->now, c->was);
    else
        say(t, "is %s (healthy: %s).", c->now, c->was);
}

static void limit_sentence(struct text *t, const struct model *m, const struct change *c)
{
    const char *circuit = m->circuits[c->subject.i].part.id, *valve = m->valves[c->limiting.i].part.id;
    if (!strcmp(c->now, "over"))
        say(t, "%s is over its limit: nothing holds it back at %s.", circuit, valve);
    else if (!strcmp(c->now, "may exceed"))
        say(t, "%s may rise over the limit of %s: oil gets there around the valve.", circuit, valve);
    else
        say(t, "%s is held by %s again (healthy: %s).", circuit, valve, c->was);
}

static void one_sentence(struct text *t, const struct model *m, const struct change *c)
{
    switch (c->what) {
    case CHANGE_SETTLED:
        say(t, "The state is %s (healthy: %s).", c->now, c->was);
        break;
    case CHANGE_ACTUATOR:
        actuator_sentence(t, m, c);
        break;
    case CHANGE_VALVE:
        valve_sentence(t, m, c);
        break;
    case CHANGE_LIMIT:
        limit_sentence(t, m, c);
        break;
    case CHANGE_CROSS_LEAK:
        say(t, "Oil crosses: %s. How much, the sizes decide.", c->now);
        break;
    case CHANGE_GEAR: /* the state's head says it */
    case CHANGE_REACH:
    case CHANGE_CONDITION:
        break;
    }
}

/* ---- oil: passages with the same change, together by circuit */

static bool same_oil(const struct model *m, const struct change *a, const struct change *b)
{
    return a->what == b->what && a->feed.i == b->feed.i && !strcmp(a->was, b->was) && !strcmp(a->now, b->now) &&
           m->passages[a->subject.i].circuit.i == m->passages[b->subject.i].circuit.i;
}

static bool is(const char *word, const char *wanted)
{
    return !strcmp(word, wanted);
}

static void condition_sentence(struct text *t, const struct change *c)
{
    if (is(c->now, "unsure"))
        say(t, "unsure whether it is fed (healthy: %s)", c->was);
    else if (is(c->now, "fed"))
        say(t, "%s (healthy: %s)", is(c->was, "exhausted") ? "gets oil and should drain" : "fed", c->was);
    else if (is(c->now, "exhausted"))
        say(t, "%s (healthy: %s)", is(c->was, "fed") ? "loses its oil to the pan" : "drains", c->was);
    else if (is(c->now, "partial"))
        say(t, "fed and drained at once; sizes decide what arrives (healthy: %s)", c->was);
    else
        say(t, "%s (healthy: %s)",
            is(c->was, "fed") ? "cut off, no feed and no drain" : "cannot drain, oil is locked in", c->was);
}

enum { NAMED = 3 };

static void oil_sentence(struct text *t, const struct model *m, const struct change *rows, const uint32_t *at,
                         uint32_t n)
{
    const struct change *c = &rows[at[0]];
    const struct circuit *circuit = &m->circuits[m->passages[c->subject.i].circuit.i];
    say(t, "%s", circuit->part.id);
    if (n < circuit->n_passages) {
        text_add(t, " (only ");
        for (uint32_t i = 0; i < n && i < NAMED; i++)
            say(t, "%s%s", i ? ", " : "", m->passages[rows[at[i]].subject.i].part.id);
        if (n > NAMED)
            text_addf(t, " and %u more", n - NAMED);
        text_add_char(t, ')');
    }
    text_add(t, ": ");
    if (c->what == CHANGE_CONDITION)
        condition_sentence(t, c);
    else if (is(c->now, "no"))
        say(t, "no oil of %s any more", m->feeds[c->feed.i].part.id);
    else
        say(t, "%s oil of %s (healthy: %s)", is(c->now, "may") ? "perhaps" : "gets", m->feeds[c->feed.i].part.id,
            is(c->was, "no")    ? "none"
            : is(c->was, "may") ? "perhaps"
                                : "surely");
    text_add_char(t, '.');
}

/* A passage that loses its feed because it is fed no more needs no second sentence. */
static bool told_by_condition(const struct effect *e, const struct change *c)
{
    if (c->what != CHANGE_REACH || !is(c->now, "no"))
        return false;
    for (uint32_t i = 0; i < e->n; i++)
        if (e->rows[i].what == CHANGE_CONDITION && e->rows[i].subject.i == c->subject.i &&
            (is(e->rows[i].now, "exhausted") || is(e->rows[i].now, "trapped")))
            return true;
    return false;
}

static void add_oil(struct text *t, const struct view *v, const struct model *m, const struct effect *e)
{
    bool *done = mem_zero(e->n + 1, sizeof *done);
    uint32_t *at = mem_alloc((e->n + 1) * sizeof *at);
    static const enum change_what order[] = {CHANGE_CONDITION, CHANGE_REACH};
    for (size_t k = 0; k < 2; k++) {
        for (uint32_t i = 0; i < e->n; i++) {
            const struct change *c = &e->rows[i];
            if (c->what != order[k] || done[i] || told_by_condition(e, c))
                continue;
            uint32_t n = 0;
            for (uint32_t o = i; o < e->n; o++) {
                if (done[o] || !(e->rows[o].what == c->what && same_oil(m, c, &e->rows[o])) ||
                    told_by_condition(e, &e->rows[o]))
                    continue;
                done[o] = true;
                at[n++] = o;
            }
            struct text body = {0};
            oil_sentence(&body, m, e->rows, at, n);
            say_folded(t, v, 2, 4, "-", PAINT_NONE, text_string(&body));
            text_release(&body);
        }
    }
    mem_free(at);
    mem_free(done);
}

/* ---- states */

static void tell(struct told *told, const struct view *v, const struct answer *a, state_ix s)
{
    const struct model *m = a->model;
    uint32_t c = trace_case(a->shown, 0, s);
    const struct trace_case *now = &a->shown->cases[c], *was = &a->healthy->cases[trace_case(a->healthy, 0, s)];
    struct arena arena;
    arena_init(&arena);
    struct effect e;
    effect_find(a->healthy, a->shown, c, &arena, &e);
    told->rank = RANK_NOTHING;
    told->changed = e.n > 0;
    bool gear = false;
    for (uint32_t i = 0; i < e.n; i++) {
        uint32_t rank = change_rank(&e.rows[i], now);
        told->rank = rank < told->rank ? rank : told->rank;
        gear = gear || e.rows[i].what == CHANGE_GEAR;
        if (e.rows[i].what == CHANGE_GEAR)
            say(&told->head, "%s instead of %s", e.rows[i].now, e.rows[i].was);
    }
    if (!gear && now->settled && was->settled)
        say(&told->head, "gear %s, as healthy", gear_word(m, now->gear.gear));
    if (!now->settled)
        text_add(&told->head, "not settled: there is no answer");
    const char *road = gear ? gear_road(was->gear.gear, &now->gear, m) : "";
    if (*road)
        say_folded(&told->body, v, 2, 2, "", PAINT_NONE, road);
    for (uint32_t i = 0; i < e.n; i++) {
        struct text body = {0};
        one_sentence(&body, m, &e.rows[i]);
        if (body.n)
            say_folded(&told->body, v, 2, 4, "-", PAINT_NONE, text_string(&body));
        text_release(&body);
    }
    add_oil(&told->body, v, m, &e);
    if (e.n && now->settled)
        say_unsure(&told->body, v, a->shown, c);
    arena_release(&arena);
}

static int by_rank(const void *left, const void *right)
{
    const struct told *a = left, *b = right;
    if (a->rank != b->rank)
        return a->rank < b->rank ? -1 : 1;
    return a->row < b->row ? -1 : a->row > b->row;
}

static const char *state_id(const struct answer *a, const struct told *told)
{
    return a->model->states[a->states[told->row].i].part.id;
}

/* States with the same words, under one head. */
static void add_alike(struct text *t, const struct view *v, const struct answer *a, struct told *rows, uint32_t at)
{
    struct text names = {0};
    for (uint32_t i = at; i < a->n_states; i++) {
        if (rows[i].done || rows[i].changed != rows[at].changed ||
            strcmp(text_string(&rows[i].body), text_string(&rows[at].body)) ||
            strcmp(text_string(&rows[i].head), text_string(&rows[at].head)))
            continue;
        say(&names, "%s%s", names.n ? ", " : "", state_id(a, &rows[i]));
        rows[i].done = true;
    }
    text_add(&names, ":");
    text_add_char(t, '\n');
    enum paint paint = rows[at].rank < RANK_UNSURE ? PAINT_BAD : rows[at].rank <= RANK_OVER ? PAINT_WARN : PAINT_HEAD;
    say_folded(t, v, 0, 0, text_string(&names), paint, text_string(&rows[at].head));
    text_add(t, text_string(&rows[at].body));
    text_release(&names);
}

/* The first sentences: how bad is it, and where? */
static void add_verdict(struct text *t, const struct view *v, const struct answer *a, const struct told *rows)
{
    uint32_t n_changed = 0, n_gear = 0, n_device = 0;
    for (uint32_t i = 0; i < a->n_states; i++) {
        n_changed += rows[i].changed;
        n_gear += rows[i].rank <= RANK_UNSURE;
        n_device += rows[i].rank <= RANK_DEVICE;
    }
    struct text body = {0};
    const char *states = a->n_states == 1 ? "state" : "states";
    if (n_gear)
        text_addf(&body, "The gear is lost, wrong or open in %u of %u %s.", n_gear, a->n_states, states);
    else if (n_device)
        text_addf(&body, "The gears are right; a device is not as it should be in %u of %u %s.", n_device, a->n_states,
                  states);
    else if (n_changed)
        text_addf(&body, "Gears and devices are as healthy; oil or valves change in %u of %u %s.", n_changed,
                  a->n_states, states);
    else
        text_add(&body,
                 "By structure this fault changes nothing: no gauge, device or gear shows it. It may still slow a "
                 "shift or lower a pressure.");
    if (n_changed && !n_gear)
        text_add(&body, " On the road it may show as slip, a harsh or late shift, or not at all.");
    say_folded(t, v, 0, 0, "", PAINT_NONE, text_string(&body));
    text_release(&body);
}

/* Findings that only the fault brings and that the changes above do not say by themselves. */
static void add_findings(struct text *t, const struct view *v, const struct answer *a)
{
    if (!a->diags->n)
        return;
    text_add_char(t, '\n');
    say_painted(t, v, PAINT_HEAD, "Findings with this fault");
    text_add_char(t, '\n');
    text_diags(t, v, a->diags, NULL, false);
}

void text_whatif(struct text *t, const struct view *v, const struct answer *a)
{
    if (!a->model)
        return;
    struct told *rows = mem_zero(a->n_states + 1, sizeof *rows);
    for (uint32_t i = 0; i < a->n_states; i++) {
        rows[i].row = i;
        tell(&rows[i], v, a, a->states[i]);
    }
    qsort(rows, a->n_states, sizeof *rows, by_rank);
    say_heading(t, v, a);
    add_verdict(t, v, a, rows);
    if (states_with_wrong_gear(a))
        say_caution_gear(t, v);
    struct text same = {0};
    for (uint32_t i = 0; i < a->n_states; i++) {
        if (rows[i].changed && !rows[i].done)
            add_alike(t, v, a, rows, i);
        if (!rows[i].changed)
            say(&same, "%s%s", same.n ? ", " : "", state_id(a, &rows[i]));
    }
    if (same.n) {
        text_add_char(t, '\n');
        say_folded(t, v, 0, 0, "No change in", PAINT_GOOD, text_string(&same));
    }
    add_findings(t, v, a);
    text_add_char(t, '\n');
    say_caution_model(t, v);
    text_release(&same);
    for (uint32_t i = 0; i < a->n_states; i++) {
        text_release(&rows[i].head);
        text_release(&rows[i].body);
    }
    mem_free(rows);
}
