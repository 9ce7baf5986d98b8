/* Findings about what limits pressure: over a limit, around a limiting valve, second feeds, relief valves, sizes that
 * disagree. */
#include "findings/check.h"
#include <math.h>

/* The answer for a circuit: does every passage of it stay behind its limiting valve? */
enum held { HELD, MAY_RISE, OVER };

static enum held circuit_held(const struct looking *l, uint32_t row, const struct circuit *c, passage_ix *first)
{
    uint32_t limit = l->network->mover_of[c->limited_by.i];
    bool wide = trace_valve(l->trace, row, c->limited_by) == MAY_WIDE;
    enum held worst = HELD;
    for (uint32_t i = 0; i < c->n_passages; i++) {
        enum certainty past = trace_past(l->trace, row, limit, c->passages[i]);
        enum held held = past == CERTAIN_NO ? HELD : wide && past == CERTAIN_YES ? OVER : MAY_RISE;
        if (held == MAY_RISE && !wide && l->model->valves[c->limited_by.i].exhaust != NONE &&
            trace_past_is_weak(l->trace, row, limit, c->passages[i]))
            continue; /* the valve's exhaust carries off more than comes around it */
        if (held > worst) {
            worst = held;
            *first = c->passages[i];
        }
    }
    return worst;
}

/* The highest pressure that a source is set to. */
static double highest_setting(const struct looking *l, uint32_t row)
{
    double most = 0;
    for (uint32_t f = 0; f < l->model->n_feeds; f++)
        if (l->model->feeds[f].is_source)
            most = fmax(most, trace_setting(l->trace, row, (feed_ix){f}));
    return most;
}

static void tell_limit(struct looking *l, uint32_t s, const struct circuit *c, enum held held, passage_ix first)
{
    const struct model *m = l->model;
    const struct valve *v = &m->valves[c->limited_by.i];
    const char *at = m->passages[first.i].part.id;
    if (held == MAY_RISE) {
        if (found(l, MAY_EXCEED, c->part.where, c->part.id, &m->states[s],
                  "oil gets around limiting valve %s into circuit %s (at %s)", v->part.id, c->part.id, at))
            diag_second(l->d, v->part.where, "limiting valve %s is here", v->part.id);
        return;
    }
    double highest = highest_setting(l, case_row(l, s));
    if (!found(l, OVER_LIMIT, c->part.where, c->part.id, &m->states[s],
               "limiting valve %s stands wide open, so circuit %s gets its supply without a limit (at %s)", v->part.id,
               c->part.id, at))
        return;
    diag_second(l->d, v->part.where, "limiting valve %s is here", v->part.id);
    if (highest > 0 && highest <= v->limit) {
        struct text t = {0};
        quantity_add(&t, highest, DIM_PRESSURE, &m->units);
        text_add(&t, " against a limit of ");
        quantity_add(&t, v->limit, DIM_PRESSURE, &m->units);
        diag_help(l->d, "in %s no source is set above the limit (%s): the harm shows at higher pressure",
                  m->states[s].part.id, text_string(&t));
        text_release(&t);
    }
}

void check_limits(struct looking *l)
{
    const struct model *m = l->model;
    for (uint32_t s = 0; s < m->n_states; s++) {
        if (!case_of(l, s)->settled)
            continue;
        for (uint32_t c = 0; c < m->n_circuits; c++) {
            const struct circuit *circuit = &m->circuits[c];
            passage_ix first = SUMP, above = SUMP;
            if (circuit->limited_by.i == NONE)
                continue;
            enum held held = circuit_held(l, case_row(l, s), circuit, &first);
            if (held == HELD)
                continue;
            /* A circuit under another of the same valve is told with that one. */
            const struct circuit *up = circuit->under.i == NONE ? NULL : &m->circuits[circuit->under.i];
            if (up && up->limited_by.i == circuit->limited_by.i && circuit_held(l, case_row(l, s), up, &above) == held)
                continue;
            tell_limit(l, s, circuit, held, first);
        }
    }
}

void check_second_feed(struct looking *l)
{
    const struct model *m = l->model;
    for (uint32_t s = 0; s < m->n_states; s++) {
        const struct trace_case *c = case_of(l, s);
        for (uint32_t i = 0; c->settled && i < l->network->n_limits; i++) {
            const struct valve *v = &m->valves[l->network->limits[i].valve.i];
            if (c->second_feed[i])
                found(l, SECOND_FEED, v->ports[v->reaction].where, v->part.id, &m->states[s],
                      "%s, the reaction end of limiting valve %s, has a feed that does not come through its outlet %s",
                      m->passages[v->ports[v->reaction].passage.i].part.id, v->part.id,
                      m->passages[v->ports[v->outlet].passage.i].part.id);
        }
    }
}

void check_relief_reached(struct looking *l)
{
    const struct model *m = l->model;
    for (uint32_t s = 0; s < m->n_states; s++) {
        const struct trace_case *c = case_of(l, s);
        if (!c->settled || !c->relief_estimate)
            continue;
        for (uint32_t i = 0; i < m->n_valves; i++) {
            const struct valve *v = &m->valves[i];
            if (v->kind != VALVE_RELIEF || !(c->relief_estimate[i] > v->cracks_at))
                continue;
            struct text t = {0};
            quantity_add(&t, c->relief_estimate[i], DIM_PRESSURE, &m->units);
            text_addf(&t, ", and relief valve %s opens at ", v->part.id);
            quantity_add(&t, v->cracks_at, DIM_PRESSURE, &m->units);
            found(l, RELIEF_REACHED, v->part.where, v->part.id, &m->states[s], "%s can rise to %s",
                  m->passages[v->ports[0].passage.i].part.id, text_string(&t));
            text_release(&t);
        }
    }
}

/* Common practice, no source: springs and figures are rounded to about three digits, so this far apart is still one
 * figure. */
#define LIMIT_APART 0.02 /* of the limit */
#define DROOP_APART 0.01 /* share of the limit */

void check_limit_mismatch(struct looking *l)
{
    const struct model *m = l->model;
    for (uint32_t i = 0; i < m->n_valves; i++) {
        const struct valve *v = &m->valves[i];
        if (v->kind != VALVE_LIMITING || !v->has_spring || !(v->area > 0) || isnan(v->travel) || isnan(v->preload) ||
            isnan(v->rate))
            continue;
        double shut = v->preload + v->rate * v->travel; /* N, where the window is just shut */
        double limit = shut / v->area, droop = shut > 0 ? v->rate * v->travel / shut : 0;
        struct text t = {0};
        if (v->limit_given && fabs(limit - v->limit) > LIMIT_APART * v->limit) {
            text_add(&t, "limit is ");
            quantity_add(&t, v->limit, DIM_PRESSURE, &m->units);
            text_add(&t, ", but its spring, area and travel give ");
            quantity_add(&t, limit, DIM_PRESSURE, &m->units);
        } else if (v->droop_given && fabs(droop - v->droop) > DROOP_APART) {
            text_addf(&t, "droop is %.3g %%, but its spring and travel give %.3g %%", v->droop * 100, droop * 100);
        }
        if (t.n && found(l, LIMIT_MISMATCH, v->part.where, v->part.id, NULL, "limiting valve %s: %s", v->part.id,
                         text_string(&t)))
            diag_help(l->d,
                      "limit = (preload + rate x travel) / area; droop = rate x travel / (preload + rate x travel)");
        text_release(&t);
    }
}

void check_no_limit_on_line(struct looking *l)
{
    const struct edits *edits = &l->trace->sets[l->set];
    for (uint32_t i = 0; i < edits->n; i++) {
        const struct edit *e = &edits->rows[i];
        if (e->kind != EDIT_PIN || e->position != PIN_SHUT)
            continue;
        const struct valve *v = &l->model->valves[e->valve.i];
        if (v->kind == VALVE_REGULATING)
            found(l, NO_LIMIT_ON_LINE, v->part.where, v->part.id, NULL,
                  "regulator %s is stuck shut: nothing limits the pressure of %s", v->part.id,
                  l->model->feeds[v->source.i].part.id);
    }
}
