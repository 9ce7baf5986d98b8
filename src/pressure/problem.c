/* From a case of a trace to flows and sources. What moves is movers.c's. */
#include "pressure/problem.h"
#include "base/mem.h"
#include "pressure/build.h"
#include <math.h>
#include <string.h>

struct flow *flow_add(struct problem *p, passage_ix a, passage_ix b)
{
    MEM_GROW(p->flows, p->n_flows, p->cap_flows);
    struct flow *f = &p->flows[p->n_flows++];
    *f = (struct flow){
        .a = p->unknown_of[a.i], .b = p->unknown_of[b.i], .share = 1, .mover = NONE, .element = NONE, .added = NONE};
    return f;
}

static void flow_size(const struct problem *p, struct flow *f, double diameter, double cd)
{
    if (!(diameter > 0)) { /* a hole of no size */
        f->share = 0;
        diameter = SIZE_LEAK;
    }
    struct opening o = opening_make(diameter, cd, &p->oil);
    f->gain = o.gain;
    f->transition = o.transition;
}

static double part_cd(const struct model *m, struct part_ref part)
{
    switch (part.kind) {
    case PART_JOINT:
        return m->joints[part.i].part.cd;
    case PART_HOLE:
        return m->holes[part.i].part.cd;
    case PART_VALVE:
        return m->valves[part.i].part.cd;
    case PART_SOLENOID:
        return m->solenoids[part.i].part.cd;
    default:
        return NAN;
    }
}

/* Share of time in which a solenoid's window is open. Windows for part shares stand beside those for full ones: only
 * the first of the two counts. */
static double solenoid_share(const struct problem *p, const struct element *e)
{
    const struct solenoid *s = &p->network->model->solenoids[e->part.i];
    double on = p->scene->shares[e->part.i];
    if (e->when == 4) /* OPENS_IN_SHARE: in between only */
        return 0;
    double to_output = s->off_passes ? 1 - on : on;
    return s->kind == SOLENOID_BLEED || e->ports[0] == 0 ? to_output : 1 - to_output;
}

/* Lets positions and settings say how far an element of the network is open. */
static void flow_open(struct problem *p, struct flow *f, const struct element *e, element_ix row)
{
    const struct network *n = p->network;
    if (element_is_removed(p->scene, row)) {
        f->share = 0;
        return;
    }
    switch (e->opens) {
    case OPENS_ALWAYS:
        break;
    case OPENS_IN_DETENT:
        f->share = p->scene->detents[e->part.i] & e->when ? 1 : 0;
        break;
    case OPENS_IN_SHARE:
        f->share = solenoid_share(p, e);
        break;
    case OPENS_IN_POSITION:
        f->mover = p->spool_mover[e->mover];
        f->lap = n->model->valves[e->part.i].lap;
        f->share_by = e->when == 3 ? SHARE_ALWAYS : e->when == 1 ? SHARE_REST : SHARE_STROKED;
        break;
    case OPENS_UNLESS_SHUT:
        f->mover = p->limit_mover[e->mover];
        f->share_by = SHARE_OPENS;
        break;
    case OPENS_NEVER:
        f->mover = p->exhaust_mover[e->mover];
        f->share_by = SHARE_OPENS;
        break;
    case OPENS_WITH_SOURCE:
    case OPENS_IF_STUCK:
        f->mover = p->valve_mover[e->part.i];
        f->share_by = SHARE_OPENS;
        f->share = f->mover == NONE ? 0 : 1;
        break;
    case OPENS_BY_SEAT:
        f->mover = p->seat_mover[e->mover];
        f->share_by = f->mover == NONE ? SHARE_ALWAYS : SHARE_OUTWARD;
        break;
    }
    if (f->share_by == SHARE_ALWAYS)
        f->mover = NONE;
}

static const struct edit *resized(const struct problem *p, element_ix e)
{
    for (uint32_t i = 0; i < p->scene->edits->n; i++)
        if (p->scene->edits->rows[i].kind == EDIT_RESIZE && p->scene->edits->rows[i].element.i == e.i)
            return &p->scene->edits->rows[i];
    return NULL;
}

static void elements_add(struct problem *p)
{
    const struct network *n = p->network;
    for (uint32_t i = 0; i < n->n_elements; i++) {
        const struct element *e = &n->elements[i];
        if (e->strength == STRENGTH_JOINED)
            continue;
        const struct edit *size = resized(p, (element_ix){i});
        struct flow *f = flow_add(p, e->from, e->to);
        f->element = i;
        f->one_way = e->one_way;
        flow_size(p, f, size ? size->diameter : element_size(n, e), part_cd(n->model, e->part));
        flow_open(p, f, e, (element_ix){i});
    }
}

/* ---- gaps of spools in their bores */

static void gap_add(struct problem *p, const struct valve *v, passage_ix a, passage_ix b, double gap)
{
    struct flow *f = flow_add(p, a, b);
    f->law = LAW_GAP;
    double bore = v->has_clearance ? v->bore : SIZE_BORE, land = v->has_clearance ? v->land : SIZE_LAND;
    f->gain = gap_conductance(bore, gap, v->has_clearance ? v->eccentricity : 0, land, &p->oil);
    f->transition = 1;
}

static bool gap_is_worn(const struct problem *p, uint32_t valve, uint32_t a, uint32_t b)
{
    for (uint32_t i = 0; i < p->scene->edits->n; i++) {
        const struct edit *e = &p->scene->edits->rows[i];
        if (e->kind == EDIT_ADD && e->valve.i == valve && e->position == a && e->position2 == b)
            return true;
    }
    return false;
}

/* The end port that pushes a valve towards stroked (a limiting valve: towards shut). */
static uint32_t stroking_port(const struct valve *v)
{
    if (v->kind == VALVE_LIMITING)
        return v->reaction;
    for (uint32_t i = 0; i < v->n_ends; i++)
        if (v->ends[i].pushes > 0)
            return v->ends[i].port;
    return NONE;
}

/* The spring pocket lies beyond the end away from the stroking end; it is drained where the valve has a port to sump.
 */
static void pocket_add(struct problem *p, const struct valve *v)
{
    uint32_t stroking = stroking_port(v), at = NONE;
    bool drained = false;
    for (uint32_t i = 0; i < v->n_along; i++)
        at = v->along[i] == stroking ? i : at;
    for (uint32_t i = 0; i < v->n_ports; i++)
        drained |= v->ports[i].passage.i == SUMP.i;
    if (!drained || at == NONE || v->n_along < 2 || !v->has_spring)
        return;
    uint32_t last = v->along[2 * at > v->n_along - 1 ? 0 : v->n_along - 1];
    if (!valve_port_is_end(v, last)) /* else that port is the pocket */
        gap_add(p, v, v->ports[last].passage, SUMP, v->gap);
}

static void gaps_add(struct problem *p)
{
    const struct model *m = p->network->model;
    for (uint32_t i = 0; i < m->n_valves; i++) {
        const struct valve *v = &m->valves[i];
        if (!v->has_clearance || !(v->gap > 0))
            continue;
        for (uint32_t k = 0; k + 1 < v->n_along; k++) {
            uint32_t a = v->along[k], b = v->along[k + 1];
            if (v->ports[a].passage.i == v->ports[b].passage.i)
                continue;
            gap_add(p, v, v->ports[a].passage, v->ports[b].passage, v->gap);
            if (gap_is_worn(p, i, a, b)) /* the edit's gap replaces it */
                p->flows[p->n_flows - 1].share = 0;
        }
        pocket_add(p, v);
    }
}

/* ---- what edits add */

/* A hole that lost its ball stands again as an addition: it keeps its size and coefficient. */
static const struct element *added_hole(const struct network *n, const struct edit *e)
{
    if (e->part.kind != PART_HOLE)
        return NULL;
    const struct element *hole = &n->elements[n->hole_element[e->part.i]];
    return hole->from.i == e->from.i && hole->to.i == e->to.i ? hole : NULL;
}

static void addition_size(struct problem *p, struct flow *f, const struct edit *e)
{
    const struct element *hole = added_hole(p->network, e);
    double d = e->diameter, cd = hole ? part_cd(p->network->model, e->part) : NAN;
    if (isnan(d))
        d = hole ? element_size(p->network, hole) : e->strength == STRENGTH_LEAK ? SIZE_LEAK : SIZE_WINDOW;
    flow_size(p, f, d, cd);
}

/* The seat that an addition leaks past: out of the pocket of a shuttle. */
static uint32_t worn_seat(const struct network *n, const struct edit *e)
{
    for (uint32_t k = 0; k < n->n_seats; k++)
        if (e->part.kind == PART_BALL && e->one_way && n->seats[k].ball.i == e->part.i &&
            n->seats[k].inlet.i == e->to.i)
            return k;
    return NONE;
}

static void addition_add(struct problem *p, const struct edit *e)
{
    if (e->valve.i != NONE) { /* wear */
        gap_add(p, &p->network->model->valves[e->valve.i], e->from, e->to, isnan(e->value) ? SIZE_WORN_GAP : e->value);
    } else {
        struct flow *f = flow_add(p, e->from, e->to);
        f->one_way = e->one_way;
        addition_size(p, f, e);
        uint32_t seat = worn_seat(p->network, e);
        if (seat != NONE && p->seat_mover[seat] != NONE) {
            f->mover = p->seat_mover[seat];
            f->share_by = SHARE_WHILE_SHUT;
        }
    }
    p->flows[p->n_flows - 1].added = p->n_added++;
}

/* A resized element is the network's own row here; its flow is reported among the additions as well. */
static void additions_add(struct problem *p)
{
    p->n_base_flows = p->n_flows;
    for (uint32_t i = 0; i < p->scene->edits->n; i++) {
        const struct edit *e = &p->scene->edits->rows[i];
        if (e->kind == EDIT_ADD)
            addition_add(p, e);
        for (uint32_t k = 0; e->kind == EDIT_RESIZE && k < p->n_base_flows; k++)
            if (p->flows[k].element == e->element.i)
                p->flows[k].added = p->n_added++;
    }
}

/* ---- sources */

/* m3/s; a weak source gives no more than the state lets it. */
static double source_capacity(const struct problem *p, uint32_t feed)
{
    double capacity = p->scene->state->sources[feed].capacity;
    if (isnan(capacity))
        capacity = INFINITY;
    for (uint32_t i = 0; i < p->scene->edits->n; i++)
        if (p->scene->edits->rows[i].kind == EDIT_WEAKEN && p->scene->edits->rows[i].feed.i == feed)
            capacity = fmin(capacity, p->scene->edits->rows[i].value);
    return capacity;
}

static void source_regulate(struct problem *p, struct source_row *s, uint32_t valve)
{
    const struct valve *v = &p->network->model->valves[valve];
    s->regulated = s->on && p->scene->state->sources[s->feed.i].regulated && v->sets;
    for (uint32_t k = 0; v->sets && k < v->n_plus; k++) {
        if (p->unknown_of[v->plus[k].from.i] != NONE)
            term_add(p, p->unknown_of[v->plus[k].from.i], v->plus[k].gain);
    }
    s->n_terms = p->n_terms - s->first_term;
    s->base = s->setting;
    s->at_most = v->at_most;
    if (s->on && valve_pin(p, valve) == PIN_SHUT) {
        s->setting = INFINITY;
        s->regulated = false;
    }
}

static void sources_add(struct problem *p)
{
    const struct model *m = p->network->model;
    p->sources = arena_rows(&p->arena, m->n_feeds, sizeof *p->sources);
    for (uint32_t i = 0; i < m->n_feeds; i++) {
        if (!m->feeds[i].is_source)
            continue;
        struct source_row *s = &p->sources[p->n_sources];
        s->feed.i = i;
        s->node = p->unknown_of[m->feeds[i].passage.i];
        s->unknown = p->n_nodes + p->n_sources++;
        s->setting = p->scene->settings[i];
        s->on = s->setting > 0 && s->node != NONE;
        s->capacity = source_capacity(p, i);
        s->first_term = p->n_terms;
        for (uint32_t v = 0; v < m->n_valves; v++)
            if (m->valves[v].kind == VALVE_REGULATING && m->valves[v].source.i == i)
                source_regulate(p, s, v);
    }
}

/* Pressures that bound all others, to keep wild steps in. */
static void bounds_find(struct problem *p)
{
    const struct model *m = p->network->model;
    double most = 0;
    for (uint32_t i = 0; i < p->n_sources; i++) {
        const struct source_row *s = &p->sources[i];
        double setting = s->regulated ? fmax(s->base, isnan(s->at_most) ? 1e7 : s->at_most) : s->setting;
        if (s->on && isfinite(setting))
            p->highest = fmax(p->highest, setting);
        if (s->on && !isfinite(setting))
            most = 1e9;
    }
    for (uint32_t i = 0; most > 0 && i < m->n_valves; i++)
        if (m->valves[i].kind == VALVE_RELIEF)
            p->highest = fmax(p->highest, m->valves[i].cracks_at);
    p->bound = fmax(most, p->highest + BOUND_MORE);
}

void problem_build(const struct trace *t, uint32_t c, const struct scene *scene, struct problem *out)
{
    const struct network *n = scene->network;
    *out = (struct problem){.network = n, .scene = scene, .trace = t, .c = c, .leakdown = n->model->leakdown};
    arena_init(&out->arena);
    out->oil = oil_at(&n->model->fluid, scene->state->temperature);
    unknowns_number(out);
    sources_add(out);
    movers_add(out);
    elements_add(out);
    gaps_add(out);
    additions_add(out);
    bounds_find(out);
}

void problem_release(struct problem *p)
{
    mem_free(p->flows);
    mem_free(p->movers);
    mem_free(p->terms);
    mem_free(p->slots);
    arena_release(&p->arena);
}
