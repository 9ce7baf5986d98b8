/* What a solution says: pressures, flows, positions, devices and the gear. */
#include "pressure/answers.h"
#include "base/mem.h"
#include "trace/gear.h"
#include <assert.h>
#include <math.h>

#define AT_END        1e-6 /* of the travel: as good as at its end */
#define OUTLET_LEAST  1.0  /* Pa: less is what rounding leaves where there is no oil, and tells nothing */
#define REACTION_FED  0.5  /* of the outlet: less at the reaction end means that it is not fed */
#define REACTION_OVER 1.01 /* of the outlet: more means that something else feeds it */
#define SLIPS_FROM    0.5  /* of applies_at */

static_assert(DEVICE_RELEASED == (int)RELEASED && DEVICE_APPLIED == (int)APPLIED &&
                  DEVICE_SLIPPING == (int)APPLY_UNSURE,
              "a device that slips is one of which gear_find() is not sure");

static double *numbers(struct arena *a, uint32_t n)
{
    double *rows = arena_rows(a, n, sizeof *rows);
    for (uint32_t i = 0; i < n; i++)
        rows[i] = NAN;
    return rows;
}

void pressures_make(const struct problem *p, struct pressures *out)
{
    const struct model *m = p->network->model;
    out->pressure = numbers(&out->arena, m->n_passages);
    out->travel = numbers(&out->arena, m->n_valves);
    out->position = arena_rows(&out->arena, m->n_valves, 1);
    out->flow = arena_rows(&out->arena, p->network->n_elements, sizeof *out->flow);
    out->added_flow = arena_rows(&out->arena, p->n_added, sizeof *out->added_flow);
    out->n_added = p->n_added;
    out->sources = arena_rows(&out->arena, m->n_feeds, sizeof *out->sources);
    for (uint32_t i = 0; i < m->n_feeds; i++)
        out->sources[i] = (struct source_answer){NAN, NAN, NAN, NAN, false};
    out->device = arena_rows(&out->arena, m->n_actuators, 1);
    out->device_pressure = arena_rows(&out->arena, m->n_actuators, sizeof *out->device_pressure);
    out->fill = numbers(&out->arena, m->n_actuators);
    out->drain = numbers(&out->arena, m->n_actuators);
}

static double clamped(double u)
{
    return u < 0 ? 0 : u > 1 ? 1 : u;
}

static double valve_travel(const struct problem *p, uint32_t valve)
{
    uint32_t row = p->network->mover_of[valve];
    switch (p->network->model->valves[valve].kind) {
    case VALVE_SPOOL:
        return clamped(p->movers[p->spool_mover[row]].at);
    case VALVE_LIMITING:
        return clamped(p->movers[p->limit_mover[row]].at);
    case VALVE_REGULATING:
    case VALVE_RELIEF:
        return p->valve_mover[valve] == NONE ? NAN : clamped(p->movers[p->valve_mover[valve]].at);
    case VALVE_MANUAL:
        break;
    }
    return NAN;
}

void solution_take(const struct problem *p, double *pressure, double *travel)
{
    const struct model *m = p->network->model;
    uint8_t *closed = mem_zero((size_t)p->n_nodes + 1, 1);
    closed_find(p, closed);
    for (uint32_t i = 0; i < m->n_passages; i++) {
        uint32_t u = p->unknown_of[i];
        pressure[i] = u == NONE ? 0 : closed[u] ? NAN : p->x[u];
    }
    for (uint32_t i = 0; i < m->n_valves; i++)
        travel[i] = valve_travel(p, i);
    mem_free(closed);
}

/* ---- positions */

static enum valve_position limiting_position(const struct problem *p, uint32_t valve, const struct pressures *a)
{
    const struct valve *v = &p->network->model->valves[valve];
    const struct mover *m = &p->movers[p->limit_mover[p->network->mover_of[valve]]];
    if (m->never)
        return m->at > 0 ? POSITION_WIDE : POSITION_SHUT;
    double reaction = a->pressure[v->ports[v->reaction].passage.i], outlet = a->pressure[v->ports[v->outlet].passage.i];
    double open = a->travel[valve];
    bool unfed = outlet > OUTLET_LEAST && reaction < REACTION_FED * outlet;
    if (isnan(reaction) || end_is_blocked(p->scene, (valve_ix){valve}, v->reaction) || (open >= 1 && unfed))
        return POSITION_WIDE;
    if (open <= 0 && !(outlet * REACTION_OVER >= reaction))
        return POSITION_SHUT;
    return POSITION_LIMITING;
}

static enum valve_position valve_position(const struct problem *p, uint32_t valve, const struct pressures *a)
{
    double travel = a->travel[valve];
    switch (p->network->model->valves[valve].kind) {
    case VALVE_SPOOL:
        return travel <= AT_END ? POSITION_REST : travel >= 1 - AT_END ? POSITION_STROKED : POSITION_PART_WAY;
    case VALVE_LIMITING:
        return limiting_position(p, valve, a);
    case VALVE_RELIEF:
        return travel > 0 ? POSITION_OPEN : POSITION_SHUT;
    case VALVE_REGULATING:
        return p->scene->stuck_open[valve] ? POSITION_OPEN : POSITION_REGULATING;
    case VALVE_MANUAL:
        break;
    }
    return POSITION_DETENT;
}

/* ---- devices */

/* Do forces decide it, or the difference of pressures alone? */
static bool device_weighs_forces(const struct actuator *d)
{
    return d->apply_area > 0 && d->release_area > 0 && d->has_spring; /* NAN: false */
}

/* What pushes a device on, and from what it is on, both in Pa or both in N. */
static double device_push(const struct actuator *d, double apply, double release, double *needed)
{
    double at = isnan(d->applies_at) ? SIZE_APPLIES_AT : d->applies_at;
    if (device_weighs_forces(d)) {
        *needed = d->preload + at * d->apply_area;
        return apply * d->apply_area - release * d->release_area;
    }
    *needed = at;
    return apply - release;
}

static double open_pressure(const struct pressures *a, passage_ix passage)
{
    double at = passage.i == NONE ? 0 : a->pressure[passage.i];
    return isnan(at) ? 0 : at;
}

double device_needs(const struct actuator *d, const struct pressures *a)
{
    double needed, push = device_push(d, 0, open_pressure(a, d->release), &needed);
    return device_weighs_forces(d) ? (needed - push) / d->apply_area : needed - push;
}

static void devices_take(const struct problem *p, struct pressures *out)
{
    const struct model *m = p->network->model;
    for (uint32_t i = 0; i < m->n_actuators; i++) {
        const struct actuator *d = &m->actuators[i];
        double needed, push = device_push(d, open_pressure(out, d->apply), open_pressure(out, d->release), &needed);
        out->device_pressure[i] = open_pressure(out, d->apply);
        out->device[i] = push >= needed               ? DEVICE_APPLIED
                         : push < SLIPS_FROM * needed ? DEVICE_RELEASED
                                                      : DEVICE_SLIPPING;
    }
    struct gear_names names;
    gear_names_find(m, &out->arena, &names);
    uint8_t *possible = arena_rows(&out->arena, (size_t)m->n_gears + 2, 1);
    gear_find(&names, out->device, possible);
    out->gear = gear_answer_make(m, possible, &out->arena);
}

/* ---- flows and sources */

static void sources_take(const struct problem *p, struct pressures *out)
{
    for (uint32_t i = 0; i < p->n_sources; i++) {
        const struct source_row *s = &p->sources[i];
        if (!s->on)
            continue;
        double flow = p->x[s->unknown], at = p->x[s->node];
        enum source_mode mode;
        source_flow(flow, SOURCE_GAIN, s->setting, at, s->capacity, &mode);
        out->sources[s->feed.i] = (struct source_answer){.pressure = at,
                                                         .flow = flow,
                                                         .setting = s->setting,
                                                         .capacity = s->capacity,
                                                         .limited = mode == SOURCE_AT_CAPACITY};
    }
}

void pressures_take(struct problem *p, struct pressures *out)
{
    const struct model *m = p->network->model;
    balance_follow(p, true);
    solution_take(p, out->pressure, out->travel);
    for (uint32_t i = 0; i < p->n_flows; i++) {
        double q = flow_now(p, &p->flows[i]);
        if (p->flows[i].element != NONE)
            out->flow[p->flows[i].element] = q;
        if (p->flows[i].added != NONE)
            out->added_flow[p->flows[i].added] = q;
    }
    for (uint32_t i = 0; i < m->n_valves; i++)
        out->position[i] = valve_position(p, i, out);
    sources_take(p, out);
    devices_take(p, out);
}
