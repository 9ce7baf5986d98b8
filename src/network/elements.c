/* From the parts of a model to elements: one for each joint, hole, and each pair of ports that some position of a valve
 * or solenoid opens. Merging of nodes is left to network.c. */
#include "network/elements.h"
#include "base/mem.h"
#include <math.h>
#include <string.h>

struct growing { /* elements while they are being listed */
    struct element *rows;
    size_t n, cap;
};

static struct element *element_add(struct growing *g, enum element_kind kind, enum part_kind part, uint32_t row,
                                   passage_ix from, passage_ix to, enum strength strength, struct span where)
{
    MEM_GROW(g->rows, g->n, g->cap);
    struct element *e = &g->rows[g->n++];
    *e = (struct element){.from = from,
                          .to = to,
                          .strength = strength,
                          .diameter = NAN,
                          .kind = kind,
                          .part = {part, row},
                          .ports = {NONE, NONE},
                          .opens = OPENS_ALWAYS,
                          .mover = NONE,
                          .where = where};
    return e;
}

static void joints_list(const struct model *m, struct network *out, struct growing *g)
{
    for (uint32_t i = 0; i < m->n_joints; i++) {
        const struct joint *j = &m->joints[i];
        enum strength s = isnan(j->diameter) ? STRENGTH_JOINED : j->strength;
        out->joint_element[i] = (uint32_t)g->n;
        element_add(g, ELEMENT_JOINT, PART_JOINT, i, j->joins[0], j->joins[1], s, j->part.where)->diameter =
            j->diameter;
    }
}

/* A hole under a ball runs from its other side into the pocket; under a ball with one seat it passes that way only. */
static void hole_turn(const struct model *m, const struct hole *h, struct element *e)
{
    if (h->ball.i == NONE)
        return;
    const struct ball *b = &m->balls[h->ball.i];
    if (e->from.i == b->lies_in.i) {
        e->from = e->to;
        e->to = b->lies_in;
    }
    e->one_way = b->n_seats == 1;
}

static void holes_list(const struct model *m, struct network *out, struct growing *g)
{
    for (uint32_t i = 0; i < m->n_holes; i++) {
        const struct hole *h = &m->holes[i];
        out->hole_element[i] = (uint32_t)g->n;
        struct element *e =
            element_add(g, ELEMENT_HOLE, PART_HOLE, i, h->joins[0], h->joins[1], h->strength, h->part.where);
        e->diameter = hole_diameter(h);
        hole_turn(m, h, e);
        if (h->bridges.i != NONE) { /* opens into a second passage of one side as well */
            passage_ix side =
                m->passages[h->bridges.i].layer.i == m->passages[h->joins[0].i].layer.i ? h->joins[0] : h->joins[1];
            element_add(g, ELEMENT_HOLE, PART_HOLE, i, side, h->bridges, STRENGTH_OPEN, h->part.where)->diameter =
                hole_diameter(h);
        }
    }
}

/* One element a pair of ports, however many positions open it and in whichever order the pair is written. */
static void windows_list(const struct valve *v, uint32_t row, enum opens opens, uint32_t mover, struct growing *g)
{
    size_t first = g->n;
    for (uint32_t p = 0; p < v->n_positions; p++) {
        for (uint32_t i = 0; i < v->positions[p].n_windows; i++) {
            const struct window *w = &v->positions[p].windows[i];
            if (w->a == w->b || v->ports[w->a].passage.i == v->ports[w->b].passage.i)
                continue; /* joins nothing */
            struct element *e = NULL;
            for (size_t k = first; k < g->n && !e; k++) {
                const uint32_t *has = g->rows[k].ports;
                if ((has[0] == w->a && has[1] == w->b) || (has[0] == w->b && has[1] == w->a))
                    e = &g->rows[k];
            }
            if (!e) {
                e = element_add(g, ELEMENT_VALVE, PART_VALVE, row, v->ports[w->a].passage, v->ports[w->b].passage,
                                STRENGTH_OPEN, w->where);
                e->ports[0] = w->a;
                e->ports[1] = w->b;
                e->diameter = v->window_diameter;
                e->opens = opens;
                e->mover = mover;
            }
            e->when |= UINT64_C(1) << p;
        }
    }
}

static struct element *port_pair(const struct valve *v, uint32_t row, uint32_t a, uint32_t b, enum opens opens,
                                 struct growing *g)
{
    struct element *e = element_add(g, ELEMENT_VALVE, PART_VALVE, row, v->ports[a].passage, v->ports[b].passage,
                                    STRENGTH_OPEN, v->part.where);
    e->ports[0] = a;
    e->ports[1] = b;
    e->diameter = v->window_diameter;
    e->opens = opens;
    return e;
}

static void limit_list(const struct valve *v, uint32_t row, struct network *out, struct growing *g)
{
    struct limit *l = &out->limits[out->n_limits];
    l->valve = (valve_ix){row};
    l->window = (element_ix){(uint32_t)g->n};
    port_pair(v, row, v->supply, v->outlet, OPENS_UNLESS_SHUT, g)->mover = out->n_limits;
    l->exhaust = (element_ix){NONE};
    if (v->exhaust != NONE) {
        l->exhaust = (element_ix){(uint32_t)g->n};
        port_pair(v, row, v->outlet, v->exhaust, OPENS_NEVER, g)->mover = out->n_limits;
    }
    out->mover_of[row] = out->n_limits++;
}

static void spool_list(const struct valve *v, uint32_t row, struct network *out, struct growing *g)
{
    struct spool *s = &out->spools[out->n_spools];
    s->valve = (valve_ix){row};
    s->sized = valve_is_sized(v);
    double rate = isnan(v->rate) ? 0 : v->rate, travel = isnan(v->travel) ? 0 : v->travel;
    s->threshold = s->sized ? v->preload + rate * travel / 2 : 0.5;
    windows_list(v, row, OPENS_IN_POSITION, out->n_spools, g);
    out->mover_of[row] = out->n_spools++;
}

static void valves_list(const struct model *m, struct network *out, struct growing *g)
{
    for (uint32_t i = 0; i < m->n_valves; i++) {
        const struct valve *v = &m->valves[i];
        out->valve_element[i] = (uint32_t)g->n;
        out->mover_of[i] = NONE;
        switch (v->kind) {
        case VALVE_MANUAL:
            windows_list(v, i, OPENS_IN_DETENT, NONE, g);
            break;
        case VALVE_SPOOL:
            spool_list(v, i, out, g);
            break;
        case VALVE_LIMITING:
            limit_list(v, i, out, g);
            break;
        case VALVE_REGULATING:
            if (v->also_feeds)
                port_pair(v, i, 0, 1, OPENS_WITH_SOURCE, g);
            break;
        case VALVE_RELIEF:
            port_pair(v, i, 0, 1, OPENS_IF_STUCK, g);
            break;
        }
    }
    out->valve_element[m->n_valves] = (uint32_t)g->n;
}

#define SHARE_OFF     1u
#define SHARE_ON      2u
#define SHARE_BETWEEN 4u

static void solenoid_pair(const struct solenoid *s, uint32_t row, uint32_t a, uint32_t b, enum strength strength,
                          uint64_t when, struct growing *g)
{
    struct element *e = element_add(g, ELEMENT_SOLENOID, PART_SOLENOID, row, s->ports[a].passage, s->ports[b].passage,
                                    strength, s->part.where);
    e->ports[0] = a;
    e->ports[1] = b;
    e->diameter = s->diameter;
    e->opens = OPENS_IN_SHARE;
    e->when = when;
}

static void solenoids_list(const struct model *m, struct network *out, struct growing *g)
{
    for (uint32_t i = 0; i < m->n_solenoids; i++) {
        const struct solenoid *s = &m->solenoids[i];
        uint64_t passes = s->off_passes ? SHARE_OFF : SHARE_ON, drains = s->off_passes ? SHARE_ON : SHARE_OFF;
        enum strength open = s->strength_given ? s->strength : STRENGTH_OPEN;
        out->solenoid_element[i] = (uint32_t)g->n;
        if (s->kind == SOLENOID_BLEED) {
            solenoid_pair(s, i, 0, 1, open, passes, g);
            continue;
        }
        solenoid_pair(s, i, 0, 1, open, passes, g);
        solenoid_pair(s, i, 1, 2, open, drains, g);
        if (s->kind == SOLENOID_DUTY) { /* in proportion: both windows part open, weaker */
            enum strength part = s->strength_given ? s->strength : STRENGTH_ORIFICE;
            solenoid_pair(s, i, 0, 1, part, SHARE_BETWEEN, g);
            solenoid_pair(s, i, 1, 2, part, SHARE_BETWEEN, g);
        }
    }
    out->solenoid_element[m->n_solenoids] = (uint32_t)g->n;
}

static void seats_list(const struct model *m, struct network *out, struct growing *g)
{
    for (uint32_t i = 0; i < m->n_balls; i++) {
        const struct ball *b = &m->balls[i];
        if (b->n_seats != 2)
            continue;
        for (uint32_t k = 0; k < 2; k++) {
            uint32_t seat = out->n_seats++;
            struct element *e = &g->rows[out->hole_element[b->seats_on[k].i]];
            e->opens = OPENS_BY_SEAT;
            e->mover = seat;
            out->seats[seat] = (struct seat){.ball = {i},
                                             .element = {out->hole_element[b->seats_on[k].i]},
                                             .inlet = e->from,
                                             .pocket = b->lies_in,
                                             .other = k ? seat - 1 : seat + 1};
        }
    }
}

void elements_build(const struct model *m, struct network *out)
{
    struct growing g = {0};
    out->joint_element = mem_zero(m->n_joints + 1, sizeof *out->joint_element);
    out->hole_element = mem_zero(m->n_holes + 1, sizeof *out->hole_element);
    out->valve_element = mem_zero(m->n_valves + 1, sizeof *out->valve_element);
    out->solenoid_element = mem_zero(m->n_solenoids + 1, sizeof *out->solenoid_element);
    out->mover_of = mem_zero(m->n_valves + 1, sizeof *out->mover_of);
    out->spools = mem_zero(m->n_valves + 1, sizeof *out->spools);
    out->limits = mem_zero(m->n_valves + 1, sizeof *out->limits);
    out->seats = mem_zero(2 * (size_t)m->n_balls + 1, sizeof *out->seats);
    joints_list(m, out, &g);
    holes_list(m, out, &g);
    valves_list(m, out, &g);
    solenoids_list(m, out, &g);
    seats_list(m, out, &g);
    out->elements = g.rows;
    out->n_elements = (uint32_t)g.n;
}
