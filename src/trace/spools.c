/* Step 4 of a round: spools. The forces of all ends against the spring, from what the conditions and estimates say. */
#include "base/mem.h"
#include "trace/settle.h"
#include <math.h>
#include <string.h>

/* fmin() and fmax() of numbers that are no NAN, which is quicker. */
static inline double least_of(double a, double b)
{
    return a < b ? a : b;
}
static inline double most_of(double a, double b)
{
    return a > b ? a : b;
}

struct force { /* what the net force can be, N (an unsized spool: counts of ends) */
    double low, high;
};

/* The same while pressures are known only by their bounds: where the ends of the interval can lie. */
struct bounds {
    double low_least, low_most, high_least, high_most;
};

static enum condition end_condition(const struct pack *p, const struct group *g, const struct valve *v,
                                    const struct end *e)
{
    return group_condition(p, p->cond, p->network->node_of[v->ports[e->port].passage.i], g);
}

/* True when oil is locked at an end that drains when the unit is healthy: the spool may then stay where it was. */
static bool end_is_locked(const struct group *g, const struct valve *v, const struct end *e, enum condition now,
                          const struct trace *healthy)
{
    return healthy && now == TRAPPED && healthy->cases[g->of->healthy_c].settled &&
           trace_condition(healthy, g->of->healthy_c, v->ports[e->port].passage) == EXHAUSTED;
}

/* Adds one end, whose passage has a pressure between `low` and `high` when it is live. */
static void force_add(struct force *f, const struct end *e, bool sized, enum condition now, double low, double high)
{
    if (now == TRAPPED || now == EXHAUSTED)
        return;
    double area = sized ? e->area : 1;
    if (!sized)
        low = high = 1;
    if (now == PARTIAL || now == UNSURE)
        low = 0;
    f->low += e->pushes > 0 ? area * low : -area * high;
    f->high += e->pushes > 0 ? area * high : -area * low;
}

/* Adds one end whose passage, when it is live, has a pressure between `least` and `most`. A passage in doubt may have
 * none at all; nor has one in a fight that oil can only leave, as through the ball of a passage that fights. */
static void bounds_add(struct bounds *b, const struct end *e, bool sized, enum condition now, double least, double most)
{
    struct force at_least = {0, 0}, at_most = {0, 0};
    if (now == UNSURE || now == PARTIAL)
        least = 0;
    force_add(&at_least, e, sized, now, least, least);
    force_add(&at_most, e, sized, now, most, most);
    b->low_least += least_of(at_least.low, at_most.low);
    b->low_most += most_of(at_least.low, at_most.low);
    b->high_least += least_of(at_least.high, at_most.high);
    b->high_most += most_of(at_least.high, at_most.high);
}

static uint8_t force_verdict(const struct force *f, double threshold, bool broken)
{
    if (broken)
        return f->low > 0 ? MAY_STROKED : f->high < 0 ? MAY_REST : MAY_REST | MAY_STROKED;
    return f->low > threshold ? MAY_STROKED : f->high <= threshold ? MAY_REST : MAY_REST | MAY_STROKED;
}

/* The verdict that holds wherever the pressures lie within their bounds, or 0. */
static uint8_t bounds_verdict(const struct bounds *b, double threshold, bool broken)
{
    uint8_t least = force_verdict(&(struct force){b->low_least, b->high_least}, threshold, broken);
    uint8_t most = force_verdict(&(struct force){b->low_most, b->high_most}, threshold, broken);
    uint8_t narrow = force_verdict(&(struct force){b->low_most, b->high_least}, threshold, broken);
    uint8_t wide = force_verdict(&(struct force){b->low_least, b->high_most}, threshold, broken);
    return least == most && least == narrow && least == wide ? least : 0;
}

void setting_bounds(const struct network *n, const struct settling *s, double *low, double *high)
{
    *low = INFINITY;
    *high = 0;
    for (uint32_t f = 0; f < n->model->n_feeds; f++) {
        double p = s->scene.settings[f];
        if (p > 0) {
            *low = least_of(*low, p);
            *high = most_of(*high, p);
        }
    }
    for (uint32_t i = 0; i < n->n_limits; i++)
        *low = least_of(*low, n->model->valves[n->limits[i].valve.i].limit);
}

/* Judges one spool of one group; with estimate NULL only by the bounds. 0: the bounds do not tell. */
static uint8_t spool_judge(const struct pack *p, const struct group *g, uint32_t row, const struct trace *healthy,
                           const double *const *estimate)
{
    const struct network *n = p->network;
    const struct spool *s = &n->spools[row];
    const struct valve *v = &n->model->valves[s->valve.i];
    bool broken = g->of->scene.broken[s->valve.i];
    struct force f = {0, 0};
    struct bounds loose = {0, 0, 0, 0};
    if (!g->of->bounded) {
        setting_bounds(n, g->of, &g->of->low, &g->of->high);
        g->of->bounded = true;
    }
    double low = g->of->low, high = g->of->high;
    if (!v->n_ends && !broken)
        return MAY_REST;
    for (uint32_t i = 0; i < v->n_ends; i++) {
        enum condition now = end_condition(p, g, v, &v->ends[i]);
        if (end_is_locked(g, v, &v->ends[i], now, healthy))
            return MAY_REST | MAY_STROKED;
        double e = estimate ? estimate[i][g->lane] : 0;
        force_add(&f, &v->ends[i], s->sized, now, e, e);
        bounds_add(&loose, &v->ends[i], s->sized, now, low, high);
    }
    if (estimate)
        return force_verdict(&f, s->threshold, broken);
    return bounds_verdict(&loose, s->threshold, broken);
}

uint8_t spool_bounded(const struct pack *p, const struct group *g, uint32_t row, const struct trace *healthy)
{
    return spool_judge(p, g, row, healthy, NULL);
}

static bool spool_asked(const struct group *g, uint32_t row)
{
    return settle_asked(g) && !g->of->scene.fixed[row] && !g->of->pinned[row];
}

/* Ends of all spools, one after the other, as nodes. */
static uint32_t ends_list(const struct network *n, uint32_t **nodes)
{
    uint32_t count = 0;
    for (uint32_t i = 0; i < n->n_spools; i++)
        count += n->model->valves[n->spools[i].valve.i].n_ends;
    *nodes = mem_alloc(((size_t)count + 1) * sizeof **nodes);
    count = 0;
    for (uint32_t i = 0; i < n->n_spools; i++) {
        const struct valve *v = &n->model->valves[n->spools[i].valve.i];
        for (uint32_t k = 0; k < v->n_ends; k++)
            (*nodes)[count++] = n->node_of[v->ports[v->ends[k].port].passage.i];
    }
    return count;
}

void spools_by_estimate(struct pack *p, const struct trace *healthy)
{
    const struct network *n = p->network;
    uint32_t *nodes, n_nodes = ends_list(n, &nodes), at = 0;
    double *estimates = mem_alloc(((size_t)n_nodes + 1) * 64 * p->width * sizeof *estimates);
    uint64_t *capped = mem_zero((size_t)n->n_limits * p->width + 1, sizeof *capped);
    size_t stride;
    const uint64_t *live = live_find(p, &stride);
    capped_find(p, capped);
    estimate_find(p, live, stride, MASKS_SURE, capped, nodes, n_nodes, estimates);
    if (p->doubt) { /* a live passage that no sure route reaches takes the best route through doubt */
        double *through = mem_alloc(((size_t)n_nodes + 1) * 64 * p->width * sizeof *through);
        estimate_find(p, live, stride, MASKS_MAY, capped, nodes, n_nodes, through);
        for (size_t i = 0; i < (size_t)n_nodes * 64 * p->width; i++)
            estimates[i] = estimates[i] > 0 ? estimates[i] : through[i];
        mem_free(through);
    }
    for (uint32_t i = 0; i < n->n_spools; i++) {
        const struct valve *v = &n->model->valves[n->spools[i].valve.i];
        const double **of = mem_alloc(((size_t)v->n_ends + 1) * sizeof *of);
        for (uint32_t k = 0; k < v->n_ends; k++)
            of[k] = estimates + (size_t)(at + k) * 64 * p->width;
        at += v->n_ends;
        for (uint32_t k = 0; k < p->n_groups; k++) {
            const struct group *g = &p->groups[k];
            if (spool_asked(g, i) && g->of->next[i] == 0)
                g->of->next[i] = spool_judge(p, g, i, healthy, of);
        }
        mem_free(of);
    }
    mem_free(capped);
    mem_free(estimates);
    mem_free(nodes);
}

void spools_judge(struct pack *p, const struct trace *healthy)
{
    bool more = false;
    for (uint32_t k = 0; k < p->n_groups; k++) {
        const struct group *g = &p->groups[k];
        for (uint32_t i = 0; i < p->network->n_spools; i++) {
            if (spool_asked(g, i))
                more |= (g->of->next[i] = spool_judge(p, g, i, healthy, NULL)) == 0;
        }
    }
    if (more)
        spools_by_estimate(p, healthy);
}
