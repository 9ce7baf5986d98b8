/* How fast devices fill and drain: flow into an apply passage that is held at a pressure, with spools where the state's
 * solve left them. */
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

static bool is_good(struct newton_end e)
{
    return e.converged && e.stable;
}

struct fill {
    struct problem *p;
    const double *solution;                  /* [n] the state's */
    const struct warm_start *before, *after; /* of a case near this one: its solution, and with the same device held at
                                              * the same pressure; NULL: not known */
};

/* Solves with a node held. First from what holding it did to the case near this one, then from the state's solution.
 * There the node is put at its pressure before any law is evaluated: so the openings beside it pass what they do across
 * the whole difference, and not what their slopes at next to none would make of it, many times what any source gives.
 */
static bool held_near(const struct fill *f, uint32_t node)
{
    struct problem *p = f->p;
    if (f->before && f->after) {
        warm_take(p, f->after);
        if (warm_holds(p, f->after))
            return true;
        warm_shift(p, f->before, f->after, f->solution);
        p->x[node] = p->target[node];
        if (is_good(held_newton(p, FIRM)))
            return true;
    }
    memcpy(p->x, f->solution, p->n * sizeof *p->x);
    p->x[node] = p->target[node];
    return is_good(held_solve(p, true, FIRM));
}

/* @param keep out, or NULL: the solution */
static double flow_held(const struct fill *f, uint32_t node, double pressure, struct warm_start **keep, struct arena *a)
{
    struct problem *p = f->p;
    double q = NAN, bound = p->bound;
    p->pinned[node] = 1;
    p->target[node] = pressure;
    p->bound = fmax(bound, pressure + BOUND_MORE); /* a device may drain from a pressure that no source gives */
    if (held_near(f, node)) {
        balance_follow(p, true);
        q = flow_into(p, node);
        if (keep) {
            balance_find(p);
            *keep = warm_give(p, p->x, p->rest, a);
        }
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

static void device_take(struct fill *f, uint32_t actuator, const struct pressures *warm, struct pressures *out)
{
    const struct actuator *d = &f->p->network->model->actuators[actuator];
    uint32_t node = f->p->unknown_of[d->apply.i];
    double at = isnan(d->applies_at) ? SIZE_APPLIES_AT : d->applies_at;
    if (node == NONE || source_stands_at(f->p, node))
        return;
    bool released = out->device[actuator] == DEVICE_RELEASED;
    bool alike = warm && warm->warm_fill && (warm->device[actuator] == DEVICE_RELEASED) == released;
    f->after = alike ? warm->warm_fill[actuator] : NULL;
    double into = flow_held(f, node, released ? at : FILL_AT * at, out->warm_fill ? &out->warm_fill[actuator] : NULL,
                            &out->arena);
    if (released && into <= 0) /* else its apply side is fed all the same: its release side keeps it off */
        out->drain[actuator] = -into;
    if (!released && into >= 0)
        out->fill[actuator] = into;
}

void fill_take(struct problem *p, const struct pressures *warm, struct pressures *out)
{
    uint32_t n_actuators = p->network->model->n_actuators;
    struct fill f = {.p = p, .solution = memcpy(arena_rows(&p->arena, p->n, sizeof *p->x), p->x, p->n * sizeof *p->x)};
    movers_hold(p, true); /* a ball between two seats stays where it lies, too */
    if (warm) {
        f.before = warm->warm_end;
    } else { /* cases are near one that was not begun near another */
        out->warm_end = warm_give(p, p->x, NULL, &out->arena);
        out->warm_fill = arena_rows(&out->arena, n_actuators, sizeof *out->warm_fill);
    }
    for (uint32_t i = 0; i < n_actuators; i++)
        device_take(&f, i, warm, out);
}
