/* Implicit Euler steps in time: the pressures run as they would in the unit, with every passage a little elastic, until
 * nothing changes any more. Slow and sure. A step that is long against the growth of a disturbance would damp it, and
 * the pressures would stay on a solution that they cannot keep: such a step has a determinant of the wrong sign and is
 * made shorter. */
#include "base/mem.h"
#include "pressure/problem.h"
#include <string.h>

#define ELASTICITY   1e-14 /* m3 per Pa: 10 cm3 of oil in each passage */
#define TIME_FIRST   1e-6  /* s */
#define TIME_LAST    1e6
#define TIME_LEAST   1e-13
#define TIME_GROWS   4.0
#define TIME_LEAPS   64.0 /* when hardly anything moves */
#define N_QUIET      2
#define TIME_SHRINKS 8.0
#define SOURCE_PACE  1e-6 /* m3/s per s and Pa */
#define TRIES_MAX    400
#define STEPS_INSIDE 20
#define STEPS_AFTER  60

struct newton_end euler_solve(struct problem *p, bool paced)
{
    double h = TIME_FIRST;
    balance_follow(p, true);
    for (unsigned i = 0; i < TRIES_MAX && h <= TIME_LAST && h >= TIME_LEAST; i++) {
        memcpy(p->x_before, p->x, p->n * sizeof *p->x);
        p->capacitance = ELASTICITY / h;
        p->pace = paced ? SOURCE_PACE * h : 0;
        uint32_t n_before = p->n_steps;
        struct newton_end e = newton_run(p, STEPS_INSIDE, ROUGH);
        if (e.converged && e.stable) {
            h *= p->n_steps - n_before <= N_QUIET ? TIME_LEAPS : TIME_GROWS;
            continue;
        }
        memcpy(p->x, p->x_before, p->n * sizeof *p->x);
        balance_follow(p, true);
        h /= TIME_SHRINKS;
    }
    p->capacitance = p->pace = 0;
    return newton_run(p, STEPS_AFTER, POLISHED);
}
