/* The balance of a problem and its slopes. Each law is evaluated at a point of its own (flow.at, mover.at), which
 * follows the pressures but crosses one corner of a law at a time: so a Newton step never runs through a check ball
 * that shuts or a window that closes as if it were not there. Where all points stand at the present pressures, `rest`
 * is the true imbalance. The idea is that of circuit simulators, which limit the voltage at which a junction is
 * evaluated: L. W. Nagel, SPICE2, University of California memorandum ERL-M520, 1975, from memory. */
#include "base/mem.h"
#include "pressure/problem.h"
#include <math.h>
#include <string.h>

#define BEYOND 1e-9 /* of a corner's neighbourhood: where a point lands behind it */

static inline double pressure_at(const struct problem *p, uint32_t unknown)
{
    return unknown == NONE ? 0 : p->x[unknown];
}

static double setting_now(const struct problem *p, struct source_row *s)
{
    if (!s->regulated)
        return s->setting;
    double boost = 0;
    for (uint32_t t = 0; t < s->n_terms; t++)
        boost += p->terms[s->first_term + t].weight * p->x[p->terms[s->first_term + t].unknown];
    return s->setting = regulated_setting(s->base, boost, s->at_most, &s->clamped);
}

double mover_value(const struct problem *p, struct mover *m)
{
    if (m->kind == MOVER_ALSO_FEEDS) {
        const struct source_row *s = m->row == NONE ? NULL : &p->sources[m->row];
        if (!s || !m->n_terms || !(s->setting > 0) || !isfinite(s->setting))
            return 0;
        struct term *own = &p->terms[m->first_term];
        double by_setting, value = also_feeds_opening(p->x[s->node], s->setting, &own->weight, &by_setting);
        for (uint32_t t = 0; t < s->n_terms; t++)
            own[t + 1].weight = s->regulated && !s->clamped ? by_setting * p->terms[s->first_term + t].weight : 0;
        return value;
    }
    double value = m->offset;
    for (uint32_t t = 0; t < m->n_terms; t++)
        value += p->terms[m->first_term + t].weight * p->x[p->terms[m->first_term + t].unknown];
    return value;
}

void movers_update(struct problem *p)
{
    for (uint32_t i = 0; i < p->n_sources; i++)
        setting_now(p, &p->sources[i]);
    for (uint32_t i = 0; i < p->n_movers; i++)
        p->movers[i].value = mover_value(p, &p->movers[i]);
}

static bool mover_stays(const struct mover *m)
{
    return m->never || m->held;
}

static double share_by_mover(const struct problem *p, const struct flow *f, double *slope)
{
    const struct mover *m = &p->movers[f->mover];
    double share = 0;
    switch (f->share_by) {
    case SHARE_REST:
        share = share_rest(m->at, f->lap, slope);
        break;
    case SHARE_STROKED:
        share = share_stroked(m->at, f->lap, slope);
        break;
    case SHARE_WHILE_SHUT:
        share = 1 - share_open(m->at, slope);
        *slope = -*slope;
        break;
    case SHARE_OPENS:
    case SHARE_OUTWARD:
    case SHARE_ALWAYS:
        share = share_open(m->at, slope);
        break;
    }
    *slope = mover_stays(m) ? 0 : *slope * f->share;
    return share * f->share;
}

/* Share of a flow where it is evaluated, and its slope by the mover's opening. */
static inline double share_now(const struct problem *p, const struct flow *f, double *slope)
{
    *slope = 0;
    if (f->one_way && f->at < 0)
        return 0;
    if (f->share_by == SHARE_ALWAYS || (f->share_by == SHARE_OUTWARD && f->at >= 0))
        return f->share;
    return share_by_mover(p, f, slope);
}

static inline double transition_now(const struct problem *p, const struct flow *f)
{
    return f->transition > p->smoothing ? f->transition : p->smoothing;
}

static inline double law_now(const struct problem *p, const struct flow *f, double *slope)
{
    if (f->law == LAW_OPENING)
        return opening_flow(f->gain, transition_now(p, f), f->at, slope);
    *slope = f->gain;
    return f->gain * f->at;
}

double flow_now(const struct problem *p, const struct flow *f)
{
    double slope, by_opening;
    if (f->share == 0)
        return 0;
    return share_now(p, f, &by_opening) * law_now(p, f, &slope);
}

static inline void add(double *values, uint32_t slot, double by)
{
    if (slot != NONE)
        values[slot] += by;
}

/* Adds d(flow)/d(unknown) = slope to the two rows: the matrix holds minus the slopes of what flows in. */
static void add_slope(const struct problem *p, const struct flow *f, double *values, const uint32_t *slots,
                      double slope)
{
    if (f->a != NONE && !p->pinned[f->a])
        add(values, slots[0], slope);
    if (f->b != NONE && !p->pinned[f->b])
        add(values, slots[1], -slope);
}

static inline void flow_assemble(struct problem *p, const struct flow *f, double *values)
{
    if (f->share == 0 || f->a == f->b)
        return;
    double by_opening, by_dp;
    double share = share_now(p, f, &by_opening);
    if (share == 0 && by_opening == 0)
        return;
    double law = law_now(p, f, &by_dp);
    double dp = pressure_at(p, f->a) - pressure_at(p, f->b);
    double q = share * (law + by_dp * (dp - f->at));
    const uint32_t *slots = &p->slots[f->first_slot];
    double slope = share * by_dp;
    if (f->a != NONE && !p->pinned[f->a]) {
        add(values, slots[0], slope);
        add(values, slots[1], -slope);
    }
    if (f->b != NONE && !p->pinned[f->b]) {
        add(values, slots[2], -slope);
        add(values, slots[3], slope);
    }
    if (by_opening != 0) {
        const struct mover *m = &p->movers[f->mover];
        q += by_opening * law * (m->value - m->at);
        for (uint32_t t = 0; t < m->n_terms; t++)
            add_slope(p, f, values, slots + 4 + 2 * t, by_opening * law * p->terms[m->first_term + t].weight);
    }
    if (f->a != NONE)
        p->rest[f->a] -= q;
    if (f->b != NONE)
        p->rest[f->b] += q;
}

/* One source's rule. Inside a time step its flow runs after the setting, as a regulator's spool would, so that a boost
 * that feeds on its own line ends at the capacity and not at a pressure that cannot last. */
static void source_assemble(struct problem *p, struct source_row *s, double *values)
{
    double q = p->x[s->unknown];
    if (!s->on) {
        add(values, s->slots[2], 1);
        p->rest[s->unknown] = -q;
        return;
    }
    bool paced = p->pace > 0;
    double gain = paced ? p->pace : SOURCE_GAIN;
    enum source_mode mode;
    p->rest[s->unknown] =
        source_flow(paced ? p->x_before[s->unknown] : q, gain, s->setting, p->x[s->node], s->capacity, &mode) - q;
    if (!p->pinned[s->node]) {
        p->rest[s->node] += q;
        add(values, s->slots[0], -1);
    }
    if (paced || mode != SOURCE_HOLDS)
        add(values, s->slots[2], 1);
    if (mode != SOURCE_HOLDS)
        return;
    add(values, s->slots[1], gain);
    for (uint32_t t = 0; s->regulated && !s->clamped && t < s->n_terms; t++)
        add(values, p->slots[s->first_slot + t], -gain * p->terms[s->first_term + t].weight);
}

void balance_assemble(struct problem *p)
{
    double *values = matrix_values(p->matrix);
    matrix_clear(p->matrix);
    for (uint32_t i = 0; i < p->n_nodes; i++) {
        double leak = p->leakdown * p->weight[i], hold = p->capacitance * p->weight[i];
        p->rest[i] = -leak * p->x[i] - hold * (p->x[i] - p->x_before[i]);
        if (!p->pinned[i])
            values[p->diagonal[i]] = leak + hold;
    }
    for (uint32_t i = 0; i < p->n_flows; i++)
        flow_assemble(p, &p->flows[i], values);
    for (uint32_t i = 0; i < p->n_sources; i++)
        source_assemble(p, &p->sources[i], values);
    for (uint32_t i = 0; i < p->n_nodes; i++) {
        if (!p->pinned[i])
            continue;
        values[p->diagonal[i]] = 1;
        p->rest[i] = p->target[i] - p->x[i];
    }
}

/* ---- points of evaluation */

#define SMALL 1e-2 /* of the laminar range: there the law is as good as a line */

/* A pressure difference on its way from one side of zero to the other stops there first. A ball that opens by a small
 * one does not: where many have next to nothing across them, rounding would stop some of them at every step. */
static inline double difference_follow(const struct problem *p, const struct flow *f, double to)
{
    if ((to < 0) == (f->at < 0) || f->law == LAW_GAP)
        return to;
    double near = transition_now(p, f);
    bool valve = f->one_way || f->share_by == SHARE_OUTWARD;
    if (f->at > near && to < 0)
        return 0;
    if (to > (valve ? SMALL * near : 0) && f->at < (valve ? 0 : -near))
        return 0;
    return to;
}

static double opening_follow(const struct mover *m, double to)
{
    bool flies = m->kind == MOVER_SPOOL && ((m->at <= 0 && to >= 1) || (m->at >= 1 && to <= 0));
    if (flies) /* from one end to the other: what lies between matters only to a spool that stays there */
        return to;
    if (to > m->at) {
        for (uint32_t i = 0; i < m->n_kinks; i++)
            if (m->at < m->kinks[i] && to > m->kinks[i] + BEYOND)
                return m->kinks[i] + BEYOND;
    } else {
        for (uint32_t i = m->n_kinks; i-- > 0;)
            if (m->at > m->kinks[i] && to < m->kinks[i] - BEYOND)
                return m->kinks[i] - BEYOND;
    }
    return to;
}

bool balance_follow(struct problem *p, bool exact)
{
    bool there = true;
    movers_update(p);
    for (uint32_t i = 0; i < p->n_movers; i++) {
        struct mover *m = &p->movers[i];
        if (mover_stays(m))
            continue;
        m->at = exact ? m->value : opening_follow(m, m->value);
        there = there && m->at == m->value;
    }
    for (uint32_t i = 0; i < p->n_flows; i++) {
        struct flow *f = &p->flows[i];
        double dp = pressure_at(p, f->a) - pressure_at(p, f->b);
        f->at = exact ? dp : difference_follow(p, f, dp);
        there = there && f->at == dp;
    }
    return there;
}

void balance_find(struct problem *p)
{
    balance_follow(p, true);
    balance_assemble(p);
}

/* ---- closed groups */

#define SEATED                                                                                                         \
    1e-9 /* of the pressures at its two sides: a ball with less across it is neither pressed shut nor lifted */
#define LIFTED 1e-12 /* Pa: nor is a shuttle's by less than this, which rounding leaves between empty passages */

bool flow_conducts(const struct problem *p, const struct flow *f)
{
    double slope, dp = pressure_at(p, f->a) - pressure_at(p, f->b);
    double least = SEATED * (fabs(pressure_at(p, f->a)) + fabs(pressure_at(p, f->b)));
    if (f->share == 0 || f->a == f->b)
        return false;
    if (f->one_way && dp < -least)
        return false;
    struct flow open = *f;
    open.one_way = false;
    if (f->share_by == SHARE_OUTWARD && dp <= least + LIFTED)
        open.at = -1; /* it stays on the seat where it lies */
    return share_now(p, &open, &slope) > 0;
}

static uint32_t root_find(uint32_t *up, uint32_t i)
{
    while (up[i] != i)
        i = up[i] = up[up[i]];
    return i;
}

void closed_find(const struct problem *p, uint8_t *closed)
{
    uint32_t *up = mem_alloc(((size_t)p->n_nodes + 1) * sizeof *up); /* the last row stands for sump and sources */
    for (uint32_t i = 0; i <= p->n_nodes; i++)
        up[i] = i;
    for (uint32_t i = 0; i < p->n_flows; i++) {
        const struct flow *f = &p->flows[i];
        if (flow_conducts(p, f))
            up[root_find(up, f->a == NONE ? p->n_nodes : f->a)] = root_find(up, f->b == NONE ? p->n_nodes : f->b);
    }
    for (uint32_t i = 0; i < p->n_sources; i++)
        if (p->sources[i].on)
            up[root_find(up, p->sources[i].node)] = root_find(up, p->n_nodes);
    for (uint32_t i = 0; i < p->n_nodes; i++)
        closed[i] = root_find(up, i) != root_find(up, p->n_nodes);
    mem_free(up);
}
