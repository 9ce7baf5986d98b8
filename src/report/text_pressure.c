/* Pressures for a person at the bench: what gauges read, what the pump gives, which device slips. Three digits: no size
 * is known better. */
#include "base/mem.h"
#include "faults/effect.h"
#include "report/answer.h"
#include "report/text_state.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

static const struct units *units(const struct view *v, const struct model *m)
{
    return v->other_units ? &v->units : &m->units;
}

void say_basis(struct text *t, const struct view *v, const struct answer *a)
{
    if (!a->pressed) {
        say_folded(t, v, 0, 0, "", PAINT_NONE,
                   "By structure: where oil goes and where it drains. Pressures named are settings, nothing is "
                   "calculated.");
        return;
    }
    say_folded(t, v, 0, 0, "", PAINT_NONE,
               "By pressure: steady pressures from the sizes decide valves, devices and the gear; by structure: where "
               "oil goes and where it drains. The flow law is that of thin plates (thickness under half the hole); "
               "through thicker ones flows are uncertain by up to a third, pressures between like holes are not.");
    for (size_t i = 0; i < a->diags->n; i++) {
        if (a->diags->rows[i].code != ASSUMED_SIZES)
            continue;
        struct text body = {0};
        say(&body, "In this model %s.", a->diags->rows[i].message);
        say_folded(t, v, 0, 0, "", PAINT_NONE, text_string(&body));
        text_release(&body);
    }
}

/* ---- lines of a state */

void say_sources(struct text *t, const struct view *v, const struct answer *a, state_ix s)
{
    const struct pressures *p = pressed_state(a->pressed, s.i);
    struct text body = {0};
    bool short_of = false;
    for (uint32_t f = 0; p && f < a->model->n_feeds; f++) {
        const struct source_answer *source = &p->sources[f];
        if (!a->model->feeds[f].is_source || isnan(source->flow))
            continue;
        say(&body, "%s%s gives ", body.n ? "; " : "", a->model->feeds[f].part.id);
        flow_rate_add(&body, source->flow, units(v, a->model));
        if (isfinite(source->capacity)) {
            text_add(&body, source->limited ? ", all it can" : " of ");
            if (!source->limited)
                quantity_add(&body, source->capacity, DIM_FLOW, units(v, a->model));
        }
        if (source->limited) {
            text_add(&body, ", and holds ");
            pressure_add(&body, source->pressure, units(v, a->model));
            if (isfinite(source->setting)) { /* a regulator stuck shut sets no limit */
                text_add(&body, " instead of ");
                pressure_add(&body, source->setting, units(v, a->model));
            }
            short_of = true;
        }
    }
    if (body.n)
        say_folded(t, v, 2, 12, "Pump", short_of ? PAINT_WARN : PAINT_NONE, text_string(&body));
    text_release(&body);
}

void say_devices(struct text *t, const struct view *v, const struct answer *a, state_ix s)
{
    static const enum device order[] = {DEVICE_APPLIED, DEVICE_SLIPPING, DEVICE_RELEASED};
    const struct pressures *p = pressed_state(a->pressed, s.i);
    const struct trace_case *c = &a->shown->cases[trace_case(a->shown, 0, s)];
    const char *const labels[] = {
        [DEVICE_APPLIED] = "On", [DEVICE_SLIPPING] = p ? "Slipping" : "On or off", [DEVICE_RELEASED] = "Off"};
    for (size_t k = 0; k < sizeof order / sizeof *order; k++) {
        struct text body = {0};
        for (uint32_t i = 0; i < a->model->n_actuators; i++) {
            const struct actuator *d = &a->model->actuators[i];
            if (counts_device(c, p, i) != order[k])
                continue;
            say(&body, "%s%s", body.n ? ", " : "", d->part.id);
            if (!p || order[k] == DEVICE_RELEASED)
                continue;
            text_add_char(&body, ' ');
            pressure_add(&body, p->pressure[d->apply.i], units(v, a->model));
            if (order[k] == DEVICE_SLIPPING) {
                text_add(&body, " (needs ");
                pressure_add(&body, device_needs(d, p), units(v, a->model));
                text_add_char(&body, ')');
            }
        }
        if (body.n)
            say_folded(t, v, 2, 12, labels[order[k]], order[k] == DEVICE_SLIPPING ? PAINT_WARN : PAINT_NONE,
                       text_string(&body));
        text_release(&body);
    }
}

void say_valves(struct text *t, const struct view *v, const struct answer *a, state_ix s)
{
    const struct pressures *p = pressed_state(a->pressed, s.i);
    uint32_t c = trace_case(a->shown, 0, s);
    struct text body = {0};
    for (uint32_t i = 0; i < a->model->n_valves; i++) {
        enum valve_kind kind = a->model->valves[i].kind;
        bool relieves = kind == VALVE_RELIEF && p && p->position[i] == POSITION_OPEN;
        if (kind != VALVE_SPOOL && kind != VALVE_LIMITING && !relieves)
            continue;
        say(&body, "%s%s %s", body.n ? ", " : "", a->model->valves[i].part.id,
            counts_valve_word(a->shown, c, p, (valve_ix){i}));
        if (p && p->position[i] == POSITION_PART_WAY)
            text_addf(&body, " (%.0f %% of its travel)", 100 * p->travel[i]);
        if (p && counts_position(a->shown, c, p, (valve_ix){i}) == POSITION_LIMITING)
            text_addf(&body, p->travel[i] >= 1 ? " (stands open)" : " (%.0f %% open)", 100 * p->travel[i]);
    }
    if (body.n)
        say_folded(t, v, 2, 12, "Valves", PAINT_NONE, text_string(&body));
    text_release(&body);
}

void say_taps(struct text *t, const struct view *v, const struct answer *a, state_ix s)
{
    static const char *const words[] = {
        [FED] = "pressure", [EXHAUSTED] = "none", [PARTIAL] = "some", [TRAPPED] = "closed off", [UNSURE] = "unsure"};
    const struct pressures *p = pressed_state(a->pressed, s.i);
    uint32_t c = trace_case(a->shown, 0, s);
    struct text body = {0};
    for (uint32_t i = 0; i < a->model->n_taps; i++) {
        say(&body, "%s%s ", body.n ? ", " : "", a->model->taps[i].part.id);
        if (p)
            pressure_add(&body, p->pressure[a->model->taps[i].on.i], units(v, a->model));
        else
            text_add(&body, words[trace_condition(a->shown, c, a->model->taps[i].on)]);
    }
    if (body.n)
        say_folded(t, v, 2, 12, "Taps", PAINT_NONE, text_string(&body));
    text_release(&body);
}

#define RANGE_LEAST 3000.0 /* Pa: less in a drained circuit is not worth a figure */

void add_range(struct text *t, const struct view *v, const struct answer *a, state_ix s, const passage_ix *passages,
               uint32_t n)
{
    const struct pressures *p = pressed_state(a->pressed, s.i);
    double low = INFINITY, high = -INFINITY;
    for (uint32_t i = 0; p && i < n; i++) {
        double at = p->pressure[passages[i].i];
        if (isnan(at))
            continue;
        low = fmin(low, at);
        high = fmax(high, at);
    }
    bool drained = n && trace_condition(a->shown, trace_case(a->shown, 0, s), passages[0]) == EXHAUSTED;
    if (high < low || (drained && high <= RANGE_LEAST)) /* nothing has a pressure */
        return;
    struct text from = {0}, to = {0};
    pressure_add(&from, low, units(v, a->model));
    pressure_add(&to, high, units(v, a->model));
    if (strcmp(text_string(&from), text_string(&to)) != 0)
        text_addf(t, " %.*s to", (int)strcspn(text_string(&from), " "), text_string(&from));
    text_addf(t, " %s", text_string(&to));
    text_release(&from);
    text_release(&to);
}

/* ---- what a fault shifts */

static double share_shifted(const struct change *c)
{
    double was = isnan(c->was_value) ? 0 : c->was_value, now = isnan(c->now_value) ? 0 : c->now_value;
    return fabs(now - was) / fmax(fmax(fabs(was), fabs(now)), 1);
}

static int by_share(const void *left, const void *right)
{
    const struct change *a = *(const struct change *const *)left, *b = *(const struct change *const *)right;
    double x = share_shifted(a), y = share_shifted(b);
    if (x != y)
        return x > y ? -1 : 1;
    return a < b ? -1 : a > b;
}

/* Every gauge that reads otherwise, the largest shift first, in one sentence; then devices that no gauge told. */
void say_shifts(struct text *t, const struct view *v, const struct model *m, const struct effect *e)
{
    const struct change **rows = mem_alloc(((size_t)e->n + 1) * sizeof *rows);
    for (int taps = 1; taps >= 0; taps--) {
        uint32_t n = 0;
        for (uint32_t i = 0; i < e->n; i++)
            if (e->rows[i].what == CHANGE_PRESSURE && (e->rows[i].subject.kind == PART_TAP) == taps)
                rows[n++] = &e->rows[i];
        qsort(rows, n, sizeof *rows, by_share);
        struct text body = {0};
        for (uint32_t i = 0; i < n; i++) {
            const struct change *c = rows[i];
            say(&body, i ? ", %s " : taps ? "Gauges: %s " : "Devices: %s ", model_id(m, c->subject));
            pressure_add(&body, c->now_value, units(v, m));
            text_add(&body, " (healthy: ");
            pressure_add(&body, c->was_value, units(v, m));
            text_add_char(&body, ')');
        }
        if (body.n) {
            text_add_char(&body, '.');
            say_folded(t, v, 2, 4, "-", PAINT_NONE, text_string(&body));
        }
        text_release(&body);
    }
    mem_free(rows);
}

static const char *rate_meaning(const struct change *c)
{
    bool faster = c->now_value > c->was_value;
    if (c->what == CHANGE_FILL && fill_is_useless(rate_factor(c->was_value, c->now_value)))
        return "too slow for a shift, as good as off";
    if (c->what == CHANGE_FILL)
        return faster ? "harsh engagement" : "late, soft engagement; it slips and burns";
    return faster ? "early release, flare between two gears" : "late release, it drags into the next gear";
}

/* " (in 0.24 s, healthy: in 0.091 s)", of a device with a volume; of a drain only the ratio is told. */
static void times_add(struct text *t, const struct model *m, const struct change *c)
{
    const struct actuator *d = &m->actuators[c->subject.i];
    double was = device_seconds(d, c->was_value), now = device_seconds(d, c->now_value);
    if (c->what != CHANGE_FILL || !isfinite(was) || !isfinite(now))
        return;
    text_add(t, " (");
    seconds_add(t, now);
    text_add(t, ", healthy: ");
    seconds_add(t, was);
    text_add_char(t, ')');
}

/* Devices with the same change of rate, in one sentence at the first of them. A drain through a ball between two seats
 * depends on where the ball rests, so that only the ratio to healthy is told. */
static void rate_sentence(struct text *t, const struct model *m, const struct effect *e, const struct change *c)
{
    uint32_t n = 0;
    for (uint32_t i = 0; i < e->n; i++) {
        const struct change *o = &e->rows[i];
        if (o->what != c->what || strcmp(o->now, c->now) != 0)
            continue;
        if (o < c) { /* told already */
            text_clear(t);
            return;
        }
        say(t, "%s%s", n++ ? ", " : "", m->actuators[o->subject.i].part.id);
    }
    const char *verb = c->what == CHANGE_FILL ? "fill" : "drain";
    struct text times = {0};
    if (n == 1)
        times_add(&times, m, c);
    if (!strcmp(c->now, "not at all"))
        say(t, "%s not %s: %s.", n > 1 ? ": do" : " does", verb, rate_meaning(c));
    else if (!strcmp(c->now, "hardly at all"))
        say(t, "%s hardly %s%s: %s.", n > 1 ? ":" : "", verb, n > 1 ? "" : "s", rate_meaning(c));
    else
        say(t, "%s %s%s %s%s: %s.", n > 1 ? ":" : "", verb, n > 1 ? "" : "s", c->now, text_string(&times),
            rate_meaning(c));
    text_release(&times);
}

void say_rates(struct text *t, const struct view *v, const struct model *m, const struct effect *e)
{
    for (uint32_t i = 0; i < e->n; i++) {
        const struct change *c = &e->rows[i];
        struct text body = {0};
        if (c->what == CHANGE_FILL || c->what == CHANGE_DRAIN)
            rate_sentence(&body, m, e, c);
        else if (c->what == CHANGE_DAMPING)
            say(&body, "%s calms %s no more: damping lost, not visible in steady pressures; it follows every spike.",
                c->was, m->valves[c->subject.i].part.id);
        if (body.n)
            say_folded(t, v, 2, 4, "-", PAINT_NONE, text_string(&body));
        text_release(&body);
    }
}
