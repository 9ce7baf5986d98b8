/* Newton steps on a balance whose laws are evaluated at points that follow the pressures (balance.c). */
#include "base/mem.h"
#include "pressure/problem.h"
#include <math.h>
#include <string.h>

#define BALANCE_SHARE  1e-9 /* of the larger of the total source flow and FLOW_LEAST: the statement of convergence */
#define BALANCE_LOOSE  1e-3
#define FLOW_LEAST     1e-4 /* m3/s */
#define STEP_CONVERGED 10.0 /* Pa */
#define STEP_LOOSE     1e3
#define STEP_POLISHED  1e-7 /* Pa: on the way there a few more steps cost little, and printed digits stay the same */
#define N_POLISH       4
#define N_FULL         8 /* steps that are always tried in full */
#define SHORTENED      0.5
#define BELOW_SUMP     1.0   /* Pa: rounding */
#define LEAKDOWN_LEAST 1e-19 /* m3/(s Pa): below it a closed group would have no pressure to solve for */

enum { PINNED_BY_CALLER = 1, PINNED_CLOSED = 2 };

/* Without leakdown the pressure of a closed group is no unknown: it pushes with nothing. */
static void closed_pin(struct problem *p, uint8_t *closed)
{
    if (p->leakdown >= LEAKDOWN_LEAST || p->capacitance > 0)
        return;
    closed_find(p, closed);
    for (uint32_t i = 0; i < p->n_nodes; i++) {
        if (p->pinned[i] == PINNED_BY_CALLER)
            continue;
        p->pinned[i] = closed[i] ? PINNED_CLOSED : 0;
        p->target[i] = 0;
    }
}

static void closed_release(struct problem *p)
{
    for (uint32_t i = 0; i < p->n_nodes; i++)
        if (p->pinned[i] == PINNED_CLOSED)
            p->pinned[i] = 0;
}

static double given_flow(const struct problem *p)
{
    double sum = 0;
    for (uint32_t i = 0; i < p->n_sources; i++)
        sum += fabs(p->x[p->sources[i].unknown]);
    return sum;
}

static void imbalance_find(const struct problem *p, struct newton_end *e)
{
    e->imbalance = 0;
    for (uint32_t i = 0; i < p->n; i++) {
        if (i < p->n_nodes && p->pinned[i])
            continue;
        double rest = fabs(p->rest[i]);
        if (!(rest <= e->imbalance)) { /* NAN: true */
            e->imbalance = rest;
            e->worst = i;
        }
    }
}

/* Goes a share of the step, but not out of bounds: nothing in a valve body lies below sump or above the highest source.
 * @return true: in full */
static bool step_go(struct problem *p, double share)
{
    bool full = share == 1;
    for (uint32_t i = 0; i < p->n; i++) {
        double to = p->x[i] + share * p->step[i];
        if (i < p->n_nodes && (to > p->bound || to < -BELOW_SUMP)) {
            to = to > 0 ? p->bound : 0;
            full = false;
        }
        p->x[i] = to;
    }
    return full;
}

/* Where the laws are evaluated, flows then movers. */
static void points_take(const struct problem *p, double *at)
{
    for (uint32_t i = 0; i < p->n_flows; i++)
        at[i] = p->flows[i].at;
    for (uint32_t i = 0; i < p->n_movers; i++)
        at[p->n_flows + i] = p->movers[i].at;
}

static void points_give(struct problem *p, const double *at)
{
    for (uint32_t i = 0; i < p->n_flows; i++)
        p->flows[i].at = at[i];
    for (uint32_t i = 0; i < p->n_movers; i++)
        p->movers[i].at = at[p->n_flows + i];
}

/* Goes the step; one that ends behind a corner of some law is shortened when steps have begun to run in circles.
 * @return true: in full, and all laws are evaluated at the new pressures */
static bool step_take(struct problem *p, bool shorten, double *before)
{
    if (shorten) {
        points_take(p, before);
        memcpy(before + p->n_flows + p->n_movers, p->x, p->n * sizeof *p->x);
    }
    bool there = step_go(p, 1);
    there = balance_follow(p, false) && there;
    if (!shorten || there)
        return there;
    points_give(p, before);
    memcpy(p->x, before + p->n_flows + p->n_movers, p->n * sizeof *p->x);
    step_go(p, SHORTENED);
    balance_follow(p, false);
    return false;
}

static double step_size(const struct problem *p)
{
    double most = 0;
    for (uint32_t i = 0; i < p->n_nodes; i++) {
        double size = fabs(p->step[i]);
        most = size > most ? size : most;
    }
    return most;
}

struct newton_end newton_run(struct problem *p, unsigned n_max, enum newton_care care)
{
    struct newton_end e = {.worst = NONE, .last_step = INFINITY, .stable = true};
    uint8_t *closed = mem_zero((size_t)p->n_nodes + 1, 1);
    double *before = mem_alloc(((size_t)p->n_flows + p->n_movers + p->n + 1) * sizeof *before);
    unsigned n_met = 0;
    bool there = balance_follow(p, false);
    for (unsigned i = 0; i < n_max; i++) {
        closed_pin(p, closed);
        balance_assemble(p);
        imbalance_find(p, &e);
        if (!matrix_solve(p->matrix, p->rest, p->step))
            break;
        p->n_steps++;
        e.last_step = step_size(p);
        double flow = fmax(given_flow(p), FLOW_LEAST);
        bool met = there && e.last_step < STEP_CONVERGED &&
                   e.imbalance < flow * (care == ROUGH ? BALANCE_LOOSE : BALANCE_SHARE);
        if (met && (care != POLISHED || e.last_step <= STEP_POLISHED || ++n_met > N_POLISH)) {
            e.converged = true;
            e.stable = matrix_sign(p->matrix) > 0;
            if (care == POLISHED)
                break;
        }
        there = step_take(p, i >= N_FULL, before);
        if (e.converged)
            break;
    }
    closed_release(p);
    mem_free(closed);
    mem_free(before);
    return e;
}
