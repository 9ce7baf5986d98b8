/* Findings that need no oil: dead ends, parts that nothing uses, holes that repeat or contradict each other. */
#include "base/mem.h"
#include "findings/check.h"
#include <math.h>
#include <stdlib.h>

/* How a passage is used. */
struct usage {
    uint32_t n_connections; /* elements that end here */
    bool used;              /* pushes something, is gauged, or is where a feed begins */
};

static bool port_in_window(const struct valve *v, uint32_t port)
{
    for (uint32_t i = 0; i < v->n_positions; i++)
        for (uint32_t k = 0; k < v->positions[i].n_windows; k++)
            if (v->positions[i].windows[k].a == port || v->positions[i].windows[k].b == port)
                return true;
    return false;
}

static void count_valve(struct usage *u, const struct valve *v)
{
    for (uint32_t p = 0; p < v->n_ports; p++) {
        struct usage *at = &u[v->ports[p].passage.i];
        if (v->kind == VALVE_SPOOL || v->kind == VALVE_MANUAL) {
            at->n_connections += port_in_window(v, p);
            at->used = at->used || valve_port_is_end(v, p);
        } else if (v->kind == VALVE_LIMITING && p == v->reaction) {
            at->used = true;
        } else {
            at->n_connections++;
        }
    }
    for (uint32_t i = 0; i < v->n_plus; i++)
        u[v->plus[i].from.i].used = true;
}

static struct usage *usage_count(const struct model *m)
{
    struct usage *u = mem_zero(m->n_passages, sizeof *u);
    for (uint32_t i = 0; i < m->n_joints; i++)
        for (int k = 0; k < 2; k++)
            u[m->joints[i].joins[k].i].n_connections++;
    for (uint32_t i = 0; i < m->n_holes; i++) {
        for (int k = 0; k < 2; k++)
            u[m->holes[i].joins[k].i].n_connections++;
        if (m->holes[i].bridges.i != NONE)
            u[m->holes[i].bridges.i].n_connections++;
    }
    for (uint32_t i = 0; i < m->n_valves; i++)
        count_valve(u, &m->valves[i]);
    for (uint32_t i = 0; i < m->n_solenoids; i++)
        for (uint32_t p = 0; p < m->solenoids[i].n_ports; p++)
            u[m->solenoids[i].ports[p].passage.i].n_connections++;
    for (uint32_t i = 0; i < m->n_actuators; i++) {
        u[m->actuators[i].apply.i].used = true;
        if (m->actuators[i].release.i != NONE)
            u[m->actuators[i].release.i].used = true;
    }
    for (uint32_t i = 0; i < m->n_taps; i++)
        u[m->taps[i].on.i].used = true;
    for (uint32_t i = 0; i < m->n_switches; i++)
        u[m->switches[i].on.i].used = true;
    for (uint32_t i = 0; i < m->n_feeds; i++)
        if (m->feeds[i].is_source)
            u[m->feeds[i].passage.i].used = true;
    return u;
}

void check_dead_end(struct looking *l)
{
    const struct model *m = l->model;
    struct usage *u = usage_count(m);
    for (uint32_t p = 1; p < m->n_passages; p++)
        if (u[p].n_connections == 1 && !u[p].used)
            found(l, DEAD_END, m->passages[p].part.where, m->passages[p].part.id, NULL,
                  "%s has one connection and nothing that uses its oil", m->passages[p].part.id);
    mem_free(u);
}

/* ---- unused */

static void unused_ports(struct looking *l)
{
    const struct model *m = l->model;
    for (uint32_t i = 0; i < m->n_valves; i++) {
        const struct valve *v = &m->valves[i];
        if (v->kind != VALVE_SPOOL && v->kind != VALVE_MANUAL)
            continue;
        for (uint32_t p = 0; p < v->n_ports; p++)
            if (!port_in_window(v, p) && !valve_port_is_end(v, p))
                found(l, UNUSED, v->ports[p].where, v->part.id, NULL,
                      "port %s of valve %s is in no window and pushes no end", v->ports[p].name, v->part.id);
    }
}

static void unused_circuits(struct looking *l)
{
    const struct model *m = l->model;
    bool *parent = mem_zero(m->n_circuits + 1, sizeof *parent);
    for (uint32_t i = 0; i < m->n_circuits; i++)
        if (m->circuits[i].under.i != NONE)
            parent[m->circuits[i].under.i] = true;
    for (uint32_t i = 0; i < m->n_circuits; i++)
        if (!parent[i] && !m->circuits[i].n_passages)
            found(l, UNUSED, m->circuits[i].part.where, m->circuits[i].part.id, NULL, "circuit %s has no passage",
                  m->circuits[i].part.id);
    mem_free(parent);
}

/* A gauge or switch that never sees pressure tells nothing; on a passage that is never fed, the passage is the finding.
 */
static bool never_tells(struct looking *l, passage_ix p)
{
    const bool *idle = nodes_idle(l);
    if (p.i == SUMP.i)
        return true;
    if (!idle || idle[l->network->node_of[p.i]])
        return false;
    for (uint32_t s = 0; s < l->model->n_states; s++) {
        enum condition c = trace_condition(l->trace, case_row(l, s), p);
        if (c != EXHAUSTED && c != TRAPPED)
            return false;
    }
    return true;
}

static void unused_sensor(struct looking *l, const struct part *part, const char *kind, passage_ix on)
{
    if (never_tells(l, on))
        found(l, UNUSED, part->where, part->id, NULL, "%s %s sits on %s, which only drains in every state", kind,
              part->id, l->model->passages[on.i].part.id);
}

void check_unused(struct looking *l)
{
    const struct model *m = l->model;
    unused_ports(l);
    unused_circuits(l);
    for (uint32_t i = 0; i < m->n_taps; i++)
        unused_sensor(l, &m->taps[i].part, "tap", m->taps[i].on);
    for (uint32_t i = 0; i < m->n_switches; i++)
        unused_sensor(l, &m->switches[i].part, "switch", m->switches[i].on);
    for (uint32_t i = 0; i < m->n_solenoids; i++) {
        bool on = false;
        for (uint32_t s = 0; s < m->n_states; s++)
            on = on || m->states[s].shares[i] > 0;
        if (!on && m->n_states)
            found(l, UNUSED, m->solenoids[i].part.where, m->solenoids[i].part.id, NULL,
                  "no state switches solenoid %s on", m->solenoids[i].part.id);
    }
}

/* ---- holes */

struct hole_key {
    const struct hole *hole;
    uint32_t low, high; /* the passages in order */
};

static int by_passages_and_size(const void *left, const void *right)
{
    const struct hole_key *a = left, *b = right;
    if (a->hole->plate.i != b->hole->plate.i)
        return a->hole->plate.i < b->hole->plate.i ? -1 : 1;
    if (a->low != b->low)
        return a->low < b->low ? -1 : 1;
    if (a->high != b->high)
        return a->high < b->high ? -1 : 1;
    double one = hole_diameter(a->hole), two = hole_diameter(b->hole);
    if (isnan(one) != isnan(two))
        return isnan(one) ? 1 : -1;
    if (one != two && !isnan(one))
        return one < two ? -1 : 1;
    return a->hole < b->hole ? -1 : a->hole > b->hole;
}

static int by_place(const void *left, const void *right)
{
    const struct hole_key *a = left, *b = right;
    if (a->hole->plate.i != b->hole->plate.i)
        return a->hole->plate.i < b->hole->plate.i ? -1 : 1;
    for (int k = 0; k < 2; k++)
        if (a->hole->at[k] != b->hole->at[k])
            return a->hole->at[k] < b->hole->at[k] ? -1 : 1;
    return a->hole < b->hole ? -1 : a->hole > b->hole;
}

static bool has_place(const struct hole *h)
{
    return !isnan(h->at[0]) && !isnan(h->at[1]);
}

static bool same_size(const struct hole *a, const struct hole *b)
{
    double one = hole_diameter(a), two = hole_diameter(b);
    return one == two || (isnan(one) && isnan(two));
}

/* Two holes at one place of a plate are one hole; that they differ then is a contradiction. */
static void check_places(struct looking *l, struct hole_key *keys, uint32_t n)
{
    qsort(keys, n, sizeof *keys, by_place);
    for (uint32_t i = 1; i < n; i++) {
        const struct hole *a = keys[i - 1].hole, *b = keys[i].hole;
        if (a->plate.i != b->plate.i || a->at[0] != b->at[0] || a->at[1] != b->at[1])
            continue;
        bool same = keys[i - 1].low == keys[i].low && keys[i - 1].high == keys[i].high && same_size(a, b);
        if (found(l, DUPLICATE_HOLE, b->part.where, b->part.id, NULL,
                  same ? "plate hole %s is the same as %s" : "plate hole %s lies where %s lies and says something else",
                  b->part.id, a->part.id))
            diag_second(l->d, a->part.where, "%s is here", a->part.id);
    }
}

/* Side by side two holes are fine (an orifice beside a ball's hole); alike in all, without a place, the second is
 * likely a repeat. */
static bool alike(const struct hole_key *a, const struct hole_key *b)
{
    const struct hole *x = a->hole, *y = b->hole;
    return x->plate.i == y->plate.i && a->low == b->low && a->high == b->high && same_size(x, y) &&
           x->orifice == y->orifice && x->strength == y->strength && x->ball.i == NONE && y->ball.i == NONE &&
           !(has_place(x) && has_place(y));
}

void check_duplicate_hole(struct looking *l)
{
    const struct model *m = l->model;
    struct hole_key *keys = mem_alloc((m->n_holes + 1) * sizeof *keys);
    uint32_t n = 0;
    for (uint32_t i = 0; i < m->n_holes; i++) {
        uint32_t a = m->holes[i].joins[0].i, b = m->holes[i].joins[1].i;
        keys[i] = (struct hole_key){&m->holes[i], a < b ? a : b, a < b ? b : a};
    }
    qsort(keys, m->n_holes, sizeof *keys, by_passages_and_size);
    for (uint32_t i = 1; i < m->n_holes; i++) {
        if (!alike(&keys[i - 1], &keys[i]))
            continue;
        const struct hole *a = keys[i - 1].hole, *b = keys[i].hole;
        if (found(l, DUPLICATE_HOLE, b->part.where, b->part.id, NULL,
                  "plate hole %s joins the same passages as %s, with the same size", b->part.id, a->part.id))
            diag_second(l->d, a->part.where, "%s is here", a->part.id);
    }
    for (uint32_t i = 0; i < m->n_holes; i++)
        if (has_place(keys[i].hole))
            keys[n++] = keys[i];
    check_places(l, keys, n);
    mem_free(keys);
}
