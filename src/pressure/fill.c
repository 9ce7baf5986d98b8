/* How fast devices fill and drain: flow into an apply passage that is held at a pressure, with spools where the state's
 * solve left them. */
#include "base/mem.h"
#include "pressure/answers.h"
#include <math.h>
#include <string.h>

#define FILL_AT 0.5 /* of applies_at */

static double flow_into(const struct problem *p, uint32_t node)
{
    double sum = 0;
    for (uint32_t i = 0; i < p->n_flows; i++) {
        const struct flow *f = &p->flows[i];
        if (f->a == node)
            sum -= flow_now(p, f);
        if (f->b == node)
            sum += flow_now(p, f);
    }
    return sum;
}

static double flow_held(struct problem *p, uint32_t node, double pressure, const double *from)
{
    double q = NAN, bound = p->bound;
    memcpy(p->x, from, p->n * sizeof *from);
    p->pinned[node] = 1;
    p->target[node] = pressure;
    p->bound = fmax(bound, pressure + BOUND_MORE); /* a device may drain from a pressure that no source gives */
    struct newton_end e = held_solve(p, true, FIRM);
    if (e.converged && e.stable) {
        balance_follow(p, true);
        q = flow_into(p, node);
    }
    p->bound = bound;
    p->pinned[node] = 0;
    return q;
}

static bool source_stands_at(const struct problem *p, uint32_t node)
{
    for (uint32_t i = 0; i < p->n_sources; i++)
        if (p->sources[i].on && p->sources[i].node == node)
            return true;
    return false;
}

void fill_take(struct problem *p, struct pressures *out)
{
    const struct model *m = p->network->model;
    double *from = mem_alloc(((size_t)p->n + 1) * sizeof *from);
    memcpy(from, p->x, p->n * sizeof *from);
    movers_hold(p, true); /* a ball between two seats stays where it lies, too */
    for (uint32_t i = 0; i < m->n_actuators; i++) {
        const struct actuator *d = &m->actuators[i];
        uint32_t node = p->unknown_of[d->apply.i];
        double at = isnan(d->applies_at) ? SIZE_APPLIES_AT : d->applies_at;
        if (node == NONE || source_stands_at(p, node))
            continue;
        bool released = out->device[i] == DEVICE_RELEASED;
        double into = flow_held(p, node, released ? at : FILL_AT * at, from);
        if (released && into <= 0) /* else its apply side is fed all the same: its release side keeps it off */
            out->drain[i] = -into;
        if (!released && into >= 0)
            out->fill[i] = into;
    }
    mem_free(from);
}
