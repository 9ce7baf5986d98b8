/* What a fault changes, worst state first, a plain sentence a change. */
#include "base/mem.h"
#include "faults/effect.h"
#include "report/answer.h"
#include "report/text_state.h"
#include <stdlib.h>
#include <string.h>

/* One state's changes in words, for grouping states with the same ones. */
struct told {
    uint32_t rank; /* 0: worst */
    uint32_t row;  /* in answer.states */
    struct text head, body;
    bool changed, done, over, gauges; /* gauges: it tells what one reads */
    bool open;                        /* healthy or with the fault the state does not settle: nothing can be compared */
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
    RANK_PRESSURE,
    RANK_RATE,
    RANK_LEAK,
    RANK_OIL,
    RANK_NOTHING
};

static enum rank change_rank(const struct change *c, uint32_t gear)
{
    switch (c->what) {
    case CHANGE_SETTLED:
    case CHANGE_SOLVED:
        return RANK_SETTLED;
    case CHANGE_GEAR:
        return gear == GEAR_ANSWER_TIE_UP   ? RANK_TIE_UP
               : gear == GEAR_ANSWER_NONE   ? RANK_NONE
               : gear == GEAR_ANSWER_UNSURE ? RANK_UNSURE
                                            : RANK_GEAR;
    case CHANGE_ACTUATOR:
        return RANK_DEVICE;
    case CHANGE_LIMIT:
        return !strcmp(c->now, "over") ? RANK_OVER : RANK_LIMIT;
    case CHANGE_VALVE:
        return RANK_VALVE;
    case CHANGE_CROSS_LEAK:
        return RANK_LEAK;
    case CHANGE_PRESSURE:
        return RANK_PRESSURE;
    case CHANGE_FILL:
        return fill_is_useless(rate_factor(c->was_value, c->now_value)) ? RANK_DEVICE : RANK_RATE;
    case CHANGE_DRAIN:
    case CHANGE_DAMPING:
        return RANK_RATE;
    case CHANGE_REACH:
    case CHANGE_CONDITION:
        return RANK_OIL;
    }
    return RANK_OIL;
}

/* ---- devices, valves, limits, leaks: a sentence each */

/* Devices with the same change, in one sentence at the first of them. */
static void actuator_sentence(struct text *t, const struct model *m, const struct effect *e, const struct change *c)
{
    uint32_t n = 0;
    for (uint32_t i = 0; i < e->n; i++) {
        const struct change *o = &e->rows[i];
        if (o->what != CHANGE_ACTUATOR || strcmp(o->was, c->was) || strcmp(o->now, c->now))
            continue;
        if (o < c) { /* told already */
            text_clear(t);
            return;
        }
        say(t, "%s%s", n++ ? ", " : "", m->actuators[o->subject.i].part.id);
    }
    text_add(t, n > 1 ? ": " : " ");
    bool on = !strcmp(c->now, "applied"), off = !strcmp(c->now, "released");
    if ((on || off) && !strcmp(c->was, "slipping")) /* healthy it is neither on nor off: no word of what it should be */
        say(t, "%s%s (healthy: half on).", n > 1 ? "" : "is ", on ? "on" : "off");
    else if (on)
        text_add(t, n > 1 ? "on and should be off." : "is on and should be off.");
    else if (off)
        text_add(t, n > 1 ? "off and should be on." : "is off and should be on.");
    else if (!strcmp(c->now, "slipping"))
        say(t, !strcmp(c->was, "applied") ? n > 1 ? "slip under load (healthy: on)." : "slips under load (healthy: on)."
               : n > 1                    ? "drag: half on (healthy: off)."
                                          : "drags: half on (healthy: off).");
    else
        say(t, "may be on or off (healthy: %s).",
            !strcmp(c->was, "applied")    ? "on"
            : !strcmp(c->was, "released") ? "off"
                                          : c->was);
}

/* Valves with the same change, in one sentence at the first of them. */
static void valve_sentence(struct text *t, const struct model *m, const struct effect *e, const struct change *c)
{
    enum valve_kind kind = m->valves[c->subject.i].kind;
    uint32_t n = 0;
    for (uint32_t i = 0; i < e->n; i++) {
        const struct change *o = &e->rows[i];
        if (o->what != CHANGE_VALVE || strcmp(o->was, c->was) || strcmp(o->now, c->now) ||
            m->valves[o->subject.i].kind != kind)
            continue;
        if (o < c) { /* told already */
            text_clear(t);
            return;
        }
        say(t, "%s%s", n++ ? ", " : "", m->valves[o->subject.i].part.id);
    }
    text_add(t, n > 1 ? ": " : " ");
    bool one = n == 1;
    if (!strcmp(c->now, "undetermined"))
        say(t, "may stand in more than one position (healthy: %s).", c->was);
    else if (!strcmp(c->now, "wide"))
        say(t, "%s wide open, nothing limits what passes (healthy: %s).", one ? "stands" : "stand", c->was);
    else if (!strcmp(c->now, "shut"))
        say(t, "%s pushed shut, no oil comes through (healthy: %s).", one ? "is" : "are", c->was);
    else if (!strcmp(c->now, "limiting"))
        say(t, "%s (healthy: %s).", one ? "limits" : "limit", c->was);
    else
        say(t, "%s %s%s (healthy: %s).", one ? "stands" : "stand",
            strcmp(c->now, "rest") && kind == VALVE_SPOOL ? "" : "at ", c->now, c->was);
}

/* Circuits with the same change of one limit, in one sentence at the first of them. */
static void limit_sentence(struct text *t, const struct model *m, const struct effect *e, const struct change *c)
{
    const char *valve = m->valves[c->limiting.i].part.id;
    uint32_t n = 0;
    for (uint32_t i = 0; i < e->n; i++) {
        const struct change *o = &e->rows[i];
        if (o->what != CHANGE_LIMIT || o->limiting.i != c->limiting.i || strcmp(o->now, c->now) ||
            strcmp(o->was, c->was))
            continue;
        if (o < c) { /* told already */
            text_clear(t);
            return;
        }
        say(t, "%s%s", n++ ? ", " : "", m->circuits[o->subject.i].part.id);
    }
    text_add(t, n > 1 ? ": " : strcmp(c->now, "may exceed") ? " is " : " ");
    if (!strcmp(c->now, "over"))
        say(t, "without a limit, nothing holds the pressure back at %s.", valve);
    else if (!strcmp(c->now, "may exceed"))
        say(t, "may rise over the limit of %s, oil gets there around the valve.", valve);
    else
        say(t, "held by %s again (healthy: %s).", valve, c->was);
}

static void one_sentence(struct text *t, const struct model *m, const struct effect *e, const struct change *c,
                         bool solved)
{
    switch (c->what) {
    case CHANGE_SETTLED:
        say(t, "The state is %s (healthy: %s).", c->now, c->was);
        break;
    case CHANGE_SOLVED:
        say(t, "Its pressures are %s (healthy: %s): what stands here is by structure.", c->now, c->was);
        break;
    case CHANGE_ACTUATOR:
        actuator_sentence(t, m, e, c);
        break;
    case CHANGE_VALVE:
        valve_sentence(t, m, e, c);
        break;
    case CHANGE_LIMIT:
        limit_sentence(t, m, e, c);
        break;
    case CHANGE_CROSS_LEAK:
        say(t, solved ? "Oil crosses: %s." : "Oil crosses: %s. How much, the sizes decide.", c->now);
        break;
    case CHANGE_PRESSURE: /* said by say_shifts() and say_rates() */
    case CHANGE_FILL:
    case CHANGE_DRAIN:
    case CHANGE_DAMPING:
    case CHANGE_GEAR: /* the state's head says it */
    case CHANGE_REACH:
    case CHANGE_CONDITION:
        break;
    }
}

/* ---- states */

static void tell(struct told *told, const struct view *v, const struct answer *a, state_ix s)
{
    const struct model *m = a->model;
    uint32_t c = trace_case(a->shown, 0, s);
    const struct trace_case *now = &a->shown->cases[c], *was = &a->healthy->cases[trace_case(a->healthy, 0, s)];
    const struct pressed healthy = {a->pressed ? a->pressed->healthy : NULL, NULL};
    const struct pressures *p_was = a->pressed ? pressed_state(&healthy, s.i) : NULL;
    const struct pressures *p_now = pressed_state(a->pressed, s.i);
    bool solved = p_was && p_now;
    const struct gear_answer *gear_was = counts_gear(was, solved ? p_was : NULL),
                             *gear_now = counts_gear(now, solved ? p_now : NULL);
    struct arena arena;
    arena_init(&arena);
    struct effect e;
    effect_find_pressed(a->healthy, a->shown, a->pressed, c, &arena, &e);
    told->open = !now->settled || !was->settled;
    told->rank = told->open ? RANK_SETTLED : RANK_NOTHING;
    told->changed = e.n > 0 || told->open;
    bool gear = false;
    for (uint32_t i = 0; i < e.n; i++) {
        uint32_t rank = change_rank(&e.rows[i], gear_now->gear);
        told->rank = rank < told->rank ? rank : told->rank;
        told->over = told->over || rank == RANK_OVER;
        told->gauges = told->gauges || (e.rows[i].what == CHANGE_PRESSURE && e.rows[i].subject.kind == PART_TAP);
        gear = gear || e.rows[i].what == CHANGE_GEAR;
        if (e.rows[i].what == CHANGE_GEAR)
            say(&told->head, "%s instead of %s", gear_word(m, gear_now->gear), e.rows[i].was);
    }
    if (!gear && now->settled && was->settled)
        say(&told->head, "gear %s, as healthy", gear_word(m, gear_now->gear));
    if (!now->settled)
        text_add(&told->head, "not settled: there is no answer");
    else if (!was->settled)
        text_add(&told->head, "nothing to compare with: healthy, no valve positions were found that hold");
    const char *road = gear ? gear_road(gear_was->gear, gear_now, m) : "";
    if (*road)
        say_folded(&told->body, v, 2, 2, "", PAINT_NONE, road);
    if (gear && gear_now->gear == GEAR_ANSWER_UNSURE)
        say_possible(&told->body, v, m, gear_now);
    for (uint32_t i = 0; i < e.n; i++) {
        struct text body = {0};
        one_sentence(&body, m, &e, &e.rows[i], solved);
        if (body.n)
            say_folded(&told->body, v, 2, 4, "-", PAINT_NONE, text_string(&body));
        text_release(&body);
    }
    say_shifts(&told->body, v, m, &e);
    say_rates(&told->body, v, m, &e);
    say_oil(&told->body, v, m, &e, false);
    if (e.n && now->settled)
        say_unsure(&told->body, v, a->shown, c, solved);
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

static bool same_text(const struct text *a, const struct text *b)
{
    return a->n == b->n && !strcmp(text_string(a), text_string(b));
}

/* States with the same changes: a line for each gear, the changes once. */
static void add_alike(struct text *t, const struct view *v, const struct answer *a, struct told *rows, uint32_t at)
{
    const struct text body = rows[at].body;
    text_add_char(t, '\n');
    for (uint32_t i = at; i < a->n_states; i++) {
        if (rows[i].done || !rows[i].changed || rows[i].rank != rows[at].rank || !same_text(&rows[i].body, &body))
            continue;
        struct text names = {0};
        for (uint32_t k = i; k < a->n_states; k++) {
            if (rows[k].done || !rows[k].changed || rows[k].rank != rows[at].rank || !same_text(&rows[k].body, &body) ||
                !same_text(&rows[k].head, &rows[i].head))
                continue;
            rows[k].done = true;
            say(&names, "%s%s", names.n ? ", " : "", state_id(a, &rows[k]));
        }
        text_add_char(&names, ':');
        enum paint paint = rows[at].rank < RANK_UNSURE  ? PAINT_BAD
                           : rows[at].rank <= RANK_OVER ? PAINT_WARN
                                                        : PAINT_HEAD;
        say_folded(t, v, 0, 0, text_string(&names), paint, text_string(&rows[i].head));
        text_release(&names);
    }
    text_add(t, text_string(&body));
}

/* True when the fault blocks an end whose valve feels it all the same: by structure every one, by pressure one without
 * areas or spring, which keeps the position that structure finds. */
static bool feels_blocked_end(const struct answer *a)
{
    for (uint32_t i = 0; a->fault && i < a->fault->edits.n; i++) {
        const struct edit *e = &a->fault->edits.rows[i];
        if (e->kind != EDIT_BLOCK_END)
            continue;
        const struct valve *v = &a->model->valves[e->valve.i];
        if (!a->pressed || (v->kind == VALVE_SPOOL && !valve_is_sized(v)))
            return true;
    }
    return false;
}

/* That nothing changes, and how far to trust it. */
static const char *nothing_words(const struct answer *a)
{
    bool feels = feels_blocked_end(a);
    if (a->pressed)
        return feels ? "This fault changes nothing here: a valve without areas or spring stands as structure has it, "
                       "where a blocked end still feels its passage. By pressure such an end pushes with nothing: give "
                       "the valve its areas and spring."
                     : "This fault changes nothing that a gauge, device or gear shows: no pressure at a tap or device "
                       "by more than 5 % and 3 psi, no fill or drain by more than 25 %.";
    return feels ? "By structure this fault changes nothing, for a blocked end still feels its passage there. By "
                   "pressure (a model with sizes, without --structure) it pushes with nothing, and its valve may stand "
                   "elsewhere."
                 : "By structure this fault changes nothing: no gauge, device or gear shows it. It may still slow a "
                   "shift or lower a pressure.";
}

/* The first sentences: how bad is it, and where? */
static void add_verdict(struct text *t, const struct view *v, const struct answer *a, const struct told *rows)
{
    uint32_t n_changed = 0, n_gear = 0, n_device = 0, n_over = 0, n_open = 0;
    for (uint32_t i = 0; i < a->n_states; i++) {
        n_open += rows[i].open;
        if (rows[i].open)
            continue;
        n_changed += rows[i].changed;
        n_gear += rows[i].rank <= RANK_UNSURE;
        n_device += rows[i].rank <= RANK_DEVICE;
        n_over += rows[i].over;
    }
    struct text body = {0};
    const char *states = a->n_states == 1 ? "state" : "states";
    if (n_open)
        text_addf(
            &body,
            "In %u of %u %s no valve positions were found that hold, healthy or with this fault: there is no answer.",
            n_open, a->n_states, states);
    if (n_open && n_changed)
        text_add_char(&body, ' ');
    if (n_gear)
        text_addf(&body, "The gear is lost, wrong or unsure in %u of %u %s.", n_gear, a->n_states, states);
    else if (n_device)
        text_addf(&body, "The gears are right; a device is not as it should be in %u of %u %s.", n_device, a->n_states,
                  states);
    else if (n_changed)
        text_addf(&body,
                  a->pressed ? "Gears and devices are as healthy; pressures, oil or valves change in %u of %u %s."
                             : "Gears and devices are as healthy; oil or valves change in %u of %u %s.",
                  n_changed, a->n_states, states);
    else if (!n_open)
        text_add(&body, nothing_words(a));
    if (n_over)
        text_add(&body,
                 " Pressure is without its limit somewhere: solenoids leak by or wear, shifts come harsh or at the "
                 "wrong time.");
    else if (n_changed && !n_gear)
        text_add(&body, " On the road it may show as slip, a harsh or late shift, or not at all.");
    say_folded(t, v, 0, 0, "", PAINT_NONE, text_string(&body));
    text_release(&body);
}

/* Findings that the changes above do not say by themselves. */
static void add_findings(struct text *t, const struct view *v, const struct answer *a)
{
    static const enum code worth[] = {CANNOT_RELEASE, SECOND_FEED, RELIEF_REACHED, NO_LIMIT_ON_LINE,
                                      RACE,           HUNTING,     NOT_SOLVED,     TWO_SOLUTIONS};
    struct diags some;
    diags_init(&some);
    for (size_t i = 0; i < a->diags->n; i++) {
        const struct diag *d = &a->diags->rows[i];
        bool keep = false;
        for (size_t k = 0; k < sizeof worth / sizeof *worth; k++)
            keep = keep || worth[k] == d->code;
        if (!keep)
            continue;
        diag_finding(&some, d->code, d->where, d->at, d->state, "%s", d->message);
        if (d->help)
            diag_help(&some, "%s", d->help);
    }
    if (some.n) {
        text_add_char(t, '\n');
        say_painted(t, v, PAINT_HEAD, "Findings with this fault");
        text_add_char(t, '\n');
        text_diags(t, v, &some, a->files, false);
    }
    diags_release(&some);
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
    if (a->pressed)
        say_basis(t, v, a);
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
    for (uint32_t i = 0; i < a->n_states; i++)
        if (rows[i].gauges) {
            say_caution_taps(t, v);
            break;
        }
    say_caution_model(t, v);
    text_release(&same);
    for (uint32_t i = 0; i < a->n_states; i++) {
        text_release(&rows[i].head);
        text_release(&rows[i].body);
    }
    mem_free(rows);
}
