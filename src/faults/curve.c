#include "faults/curve.h"
#include "base/mem.h"
#include <math.h>
#include <string.h>

static double show_pressure(const struct curve_show *s, const struct model *m, const struct pressures *p)
{
    if (s->source.i != NONE)
        return p->pressure[m->feeds[s->source.i].passage.i];
    switch (s->part.kind) {
    case PART_PASSAGE:
        return p->pressure[s->part.i];
    case PART_TAP:
        return p->pressure[m->taps[s->part.i].on.i];
    case PART_SWITCH:
        return p->pressure[m->switches[s->part.i].on.i];
    case PART_ACTUATOR:
        return p->device_pressure[s->part.i];
    default: {
        double least = NAN;
        for (uint32_t i = 0; i < m->circuits[s->part.i].n_passages; i++)
            least = fmin(least, p->pressure[m->circuits[s->part.i].passages[i].i]); /* fmin() leaves NAN out */
        return least;
    }
    }
}

/* A limiting valve's word says its function; that it begins to limit is a change as well. */
static const char *valve_word(const struct trace *t, const struct pressures *p, state_ix s, valve_ix v)
{
    const struct valve *valve = &t->network->model->valves[v.i];
    if (valve->kind == VALVE_MANUAL)
        return valve->positions[trace_detent(t, trace_case(t, 0, s), v)].name;
    if (p->position[v.i] == POSITION_LIMITING && p->travel[v.i] >= 1)
        return "standing open";
    return position_word((enum valve_position)p->position[v.i]);
}

/* Copies what a row needs: the point is released afterwards. */
static void row_take(const struct curve *c, const struct model *m, state_ix s, const struct vary_point *p,
                     struct arena *a, struct curve_row *out)
{
    const struct pressures *now = &p->pressures;
    *out = (struct curve_row){.value = p->value, .solved = now->end.converged, .why = solve_why_words(now->end.why)};
    if (!out->solved)
        return;
    out->pressure = arena_rows(a, c->n_shows, sizeof *out->pressure);
    out->device = arena_rows(a, m->n_actuators, 1);
    out->valve = arena_rows(a, m->n_valves, sizeof *out->valve);
    out->limited = arena_rows(a, m->n_feeds, sizeof *out->limited);
    for (uint32_t k = 0; k < c->n_shows; k++)
        out->pressure[k] = show_pressure(&c->shows[k], m, now);
    memcpy(out->device, now->device, m->n_actuators);
    for (uint32_t i = 0; i < m->n_valves; i++)
        out->valve[i] = valve_word(&p->trace, now, s, (valve_ix){i});
    for (uint32_t i = 0; i < m->n_feeds; i++)
        out->limited[i] = now->sources[i].limited;
    out->gear = gear_word(m, now->gear.gear);
}

static void change_add(struct text *t, bool *some, const char *part, const char *now, const char *was)
{
    text_addf(t, "%s%s%s%s", *some ? "; " : "", part, *part ? " " : "", now);
    if (was)
        text_addf(t, ", was %s", was);
    *some = true;
}

/* An accumulator neither holds nor slips. */
static const char *stands(const struct model *m, uint32_t actuator, uint8_t device)
{
    bool fills = m->actuators[actuator].kind == ACTUATOR_ACCUMULATOR;
    return fills && device == DEVICE_SLIPPING ? "part-way" : device_word((enum device)device);
}

bool curve_change(struct text *t, const struct model *m, const struct curve_row *was, const struct curve_row *now)
{
    bool some = false;
    if (was->solved != now->solved)
        change_add(t, &some, "", now->solved ? "solved again, gear" : "no solution was found", NULL);
    if (now->solved && !was->solved)
        text_addf(t, " %s", now->gear);
    if (!was->solved || !now->solved)
        return some;
    if (strcmp(was->gear, now->gear) != 0)
        change_add(t, &some, "gear", now->gear, was->gear);
    for (uint32_t i = 0; i < m->n_actuators; i++) {
        if (was->device[i] != now->device[i])
            change_add(t, &some, m->actuators[i].part.id, stands(m, i, now->device[i]), stands(m, i, was->device[i]));
    }
    for (uint32_t i = 0; i < m->n_valves; i++) {
        if (strcmp(was->valve[i], now->valve[i]) != 0)
            change_add(t, &some, m->valves[i].part.id, now->valve[i], was->valve[i]);
    }
    for (uint32_t i = 0; i < m->n_feeds; i++) {
        if (was->limited[i] != now->limited[i])
            change_add(t, &some, m->feeds[i].part.id,
                       now->limited[i] ? "gives all that it can and no longer holds its setting" : "holds its setting",
                       NULL);
    }
    return some;
}

struct walk {
    struct curve *c;
    const struct model *m;
    state_ix state;
    struct arena *arena;
    struct diags *d;
    struct curve_event *events;
    size_t cap;
};

static bool row_solve(struct walk *w, double value, struct curve_row *out)
{
    struct vary_point p;
    bool ok = vary_solve(w->c->vary, w->m, w->state, w->c->fault, value, &p, w->d);
    if (ok)
        row_take(w->c, w->m, w->state, &p, w->arena, out);
    vary_release(&p);
    return ok;
}

static bool differs(const struct walk *w, const struct curve_row *a, const struct curve_row *b)
{
    struct text t = {0};
    bool some = curve_change(&t, w->m, a, b);
    text_release(&t);
    return some;
}

/* Halves what lies between a row and the next until each change stands alone in its place. Halves are looked at in the
 * order of the values, so events come in that order. */
static bool events_find(struct walk *w, uint32_t row)
{
    struct {
        struct curve_row from, to;
    } open[CURVE_SOLVES_MOST + 1];
    uint32_t n = 0, n_solves = 0;
    double step = fabs(w->c->rows[row + 1].value - w->c->rows[row].value);
    open[n].from = w->c->rows[row];
    open[n++].to = w->c->rows[row + 1];
    while (n) {
        struct curve_row from = open[--n].from, to = open[n].to, middle;
        if (!differs(w, &from, &to))
            continue;
        double apart = fabs(to.value - from.value);
        double size = w->c->vary->dim == DIM_SHARE ? 1 : fmax(from.value, to.value); /* a share may be 0 */
        bool near = apart <= CURVE_STEP_SHARE * step && apart <= CURVE_VALUE_SHARE * size;
        if (near || n_solves == CURVE_SOLVES_MOST) {
            MEM_GROW(w->events, w->c->n_events, w->cap);
            w->events[w->c->n_events++] = (struct curve_event){from, to, row, near};
            continue;
        }
        if (!row_solve(w, (from.value + to.value) / 2, &middle))
            return false;
        n_solves++;
        open[n].from = middle;
        open[n++].to = to;
        open[n].from = from;
        open[n++].to = middle;
    }
    return true;
}

bool curve_solve(struct curve *c, const struct model *m, state_ix s, uint32_t n_rows, struct arena *a, struct diags *d)
{
    struct walk w = {.c = c, .m = m, .state = s, .arena = a, .d = d};
    struct curve_row *rows = arena_rows(a, n_rows, sizeof *rows);
    bool ok = true;
    c->state = m->states[s.i].part.id;
    c->rows = rows;
    c->n_rows = n_rows;
    c->n_events = 0;
    for (uint32_t i = 0; ok && i < n_rows; i++) {
        double share = (double)i / (n_rows - 1);
        ok = row_solve(&w, i + 1 < n_rows ? c->vary->from + (c->vary->to - c->vary->from) * share : c->vary->to,
                       &rows[i]);
    }
    for (uint32_t i = 0; ok && i + 1 < n_rows; i++)
        ok = events_find(&w, i);
    struct curve_event *events = arena_rows(a, c->n_events, sizeof *events);
    for (uint32_t i = 0; i < c->n_events; i++)
        events[i] = w.events[i];
    c->events = events;
    mem_free(w.events);
    return ok;
}
