/* Which answer counts. */
#include "pressure/counts.h"
#include "base/mem.h"
#include <math.h>
#include <string.h>

const struct pressures *pressed_state(const struct pressed *p, uint32_t state)
{
    return p && p->now[state].end.converged ? &p->now[state] : NULL;
}

bool pressed_failed(const struct pressed *p, uint32_t state)
{
    return p && !p->now[state].end.converged && p->now[state].end.why != SOLVE_CONVERGED;
}

const struct gear_answer *counts_gear(const struct trace_case *c, const struct pressures *p)
{
    return p ? &p->gear : &c->gear;
}

enum device counts_device(const struct trace_case *c, const struct pressures *p, uint32_t actuator)
{
    return (enum device)(p ? p->device[actuator] : c->applied[actuator]);
}

const char *counts_device_word(const struct trace_case *c, const struct pressures *p, uint32_t actuator)
{
    return p ? device_word((enum device)p->device[actuator]) : applied_word((enum applied)c->applied[actuator]);
}

enum valve_position counts_position(const struct trace *t, uint32_t row, const struct pressures *p, valve_ix v)
{
    enum valve_position at = (enum valve_position)p->position[v.i];
    return at == POSITION_LIMITING && p->travel[v.i] <= 0 && trace_valve(t, row, v) == MAY_SHUT ? POSITION_SHUT : at;
}

bool counts_by_pressure(const struct trace *t, uint32_t row, const struct pressures *p, valve_ix v)
{
    const struct network *n = t->network;
    unsigned set = trace_valve(t, row, v);
    bool guessed = n->model->valves[v.i].kind == VALVE_SPOOL && !n->spools[n->mover_of[v.i]].sized && set & (set - 1);
    return p && p->position[v.i] != POSITION_DETENT && !guessed; /* no forces: the solve took it at rest */
}

const char *counts_valve_word(const struct trace *t, uint32_t row, const struct pressures *p, valve_ix v)
{
    return counts_by_pressure(t, row, p, v) ? position_word(counts_position(t, row, p, v))
                                            : trace_valve_word(t, row, v);
}

double pressure_rounded(double pressure, const struct units *u)
{
    double unit = 1;
    quantity_read("1", 1, DIM_PRESSURE, u, &unit, NULL);
    double shown = pressure / unit, digit = 0.01;
    while (fabs(shown) >= 1000 * digit && digit < 1e12)
        digit *= 10;
    shown = round(shown / digit) * digit;
    return shown == 0 ? 0 : shown * unit;
}

#define SHOWN_LEAST 689.0 /* Pa, just under 0.1 psi, the last digit of a fine gauge: common practice, no source */

void pressure_add(struct text *t, double pressure, const struct units *u)
{
    if (isnan(pressure)) {
        text_add(t, "closed off");
        return;
    }
    quantity_add(t, fabs(pressure) < SHOWN_LEAST ? 0 : pressure_rounded(pressure, u), DIM_PRESSURE, u);
}

/* The place of a number's n-th digit: 0.01 for the third one of 4.71. */
static double digit_place(double value, int n)
{
    return pow(10, floor(log10(fabs(value))) - (n - 1));
}

void flow_rate_add(struct text *t, double flow, const struct units *u)
{
    if (fabs(flow) < FLOW_SHOWN_LEAST) {
        text_add(t, "next to nothing");
        return;
    }
    double unit = 1;
    quantity_read("1", 1, DIM_FLOW, u, &unit, NULL);
    double shown = flow / unit, digit = digit_place(shown, 3);
    quantity_add(t, round(shown / digit) * digit * unit, DIM_FLOW, u);
}

double device_seconds(const struct actuator *d, double flow)
{
    if (isnan(d->volume) || isnan(flow))
        return NAN;
    return flow < FLOW_SHOWN_LEAST ? INFINITY : d->volume / flow;
}

void seconds_add(struct text *t, double seconds)
{
    if (isinf(seconds)) {
        text_add(t, "hardly at all");
        return;
    }
    double digit = seconds > 0 ? digit_place(seconds, 2) : 1, shown = round(seconds / digit) * digit;
    int decimals = shown > 0 ? 1 - (int)floor(log10(shown)) : 0;
    text_addf(t, "in %.*f s", decimals > 0 ? decimals : 0, shown);
}

void shuttle_drains_find(const struct network *n, uint8_t *nodes)
{
    uint32_t *todo = mem_alloc(((size_t)n->n_nodes + 1) * sizeof *todo), n_todo = 0;
    memset(nodes, 0, n->n_nodes);
    for (uint32_t i = 0; i < n->n_seats; i++) {
        uint32_t pocket = n->node_of[n->seats[i].pocket.i];
        if (pocket && !nodes[pocket]) /* sump leads anywhere */
            todo[n_todo++] = pocket;
        nodes[pocket] = pocket != 0;
    }
    while (n_todo) { /* against the oil */
        uint32_t x = todo[--n_todo];
        for (uint32_t i = n->first_arc[x]; i < n->first_arc[x + 1]; i++) {
            uint32_t mask = ARC_MASK(n->arcs[i]), from = n->arcs[i].node;
            if (mask >= n->n_elements || n->elements[mask].opens != OPENS_ALWAYS || !ARC_ENTERS(n->arcs[i]) || !from ||
                nodes[from])
                continue;
            nodes[from] = 1;
            todo[n_todo++] = from;
        }
    }
    mem_free(todo);
}

/* The one element by which oil gets to a passage, or NONE: there are more, or none. */
static uint32_t only_way(const struct network *n, passage_ix to)
{
    uint32_t node = n->node_of[to.i], found = NONE;
    for (uint32_t i = 0; i < n->n_elements; i++) {
        const struct element *e = &n->elements[i];
        bool from_here = n->node_of[e->from.i] == node, to_here = n->node_of[e->to.i] == node;
        if (from_here == to_here)
            continue;
        if (found != NONE)
            return NONE;
        found = i;
    }
    return found;
}

static bool edit_touches(const struct network *n, const struct edit *e, uint32_t node)
{
    const struct element *resized = e->kind == EDIT_RESIZE ? &n->elements[e->element.i] : NULL;
    if (e->kind != EDIT_RESIZE && e->kind != EDIT_ADD) /* the others name no passages */
        return false;
    return n->node_of[(resized ? resized->from : e->from).i] == node ||
           n->node_of[(resized ? resized->to : e->to).i] == node;
}

/* True when the orifice is the only way to the passage and the edit opens it, or another way across it. */
static bool opens_damper(const struct network *n, const struct edit *e, passage_ix end, uint32_t *hole)
{
    if (!edit_touches(n, e, n->node_of[end.i])) /* before all elements are looked at */
        return false;
    uint32_t i = only_way(n, end);
    if (i == NONE || n->elements[i].kind != ELEMENT_HOLE || n->elements[i].strength != STRENGTH_ORIFICE)
        return false;
    const struct element *damper = &n->elements[i];
    *hole = damper->part.i;
    if (e->kind == EDIT_RESIZE)
        return e->element.i == i && e->diameter > damper->diameter; /* NAN: false */
    uint32_t a = n->node_of[e->from.i], b = n->node_of[e->to.i], c = n->node_of[damper->from.i],
             d = n->node_of[damper->to.i];
    return (a == c && b == d) || (a == d && b == c);
}

bool damping_lost(const struct network *n, const struct edit *e, uint32_t *hole, valve_ix *valve)
{
    const struct model *m = n->model;
    for (uint32_t i = 0; i < m->n_valves; i++) {
        const struct valve *v = &m->valves[i];
        *valve = (valve_ix){i};
        if (v->kind == VALVE_LIMITING && opens_damper(n, e, v->ports[v->reaction].passage, hole))
            return true;
        for (uint32_t k = 0; v->kind == VALVE_SPOOL && k < v->n_ends; k++)
            if (opens_damper(n, e, v->ports[v->ends[k].port].passage, hole))
                return true;
    }
    return false;
}
