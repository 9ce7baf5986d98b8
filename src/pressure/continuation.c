/* A problem whose spools and seats are held: smoothed until it is nearly linear, and sharpened level by level. */
#include "pressure/problem.h"
#include <string.h>

static const double levels[] = {1e6, 1e4, 1e2}; /* Pa, then each opening's own transition */
#define N_LEVELS    (sizeof levels / sizeof *levels)
#define STEPS_LEVEL 40
#define STEPS_SHARP 60
#define STEPS_WARM  16 /* those that arrive have arrived in 12 */

static void points_forget(struct problem *p)
{
    memset(p->x, 0, p->n * sizeof *p->x);
    for (uint32_t i = 0; i < p->n_flows; i++)
        p->flows[i].at = 0;
    movers_update(p);
    for (uint32_t i = 0; i < p->n_movers; i++)
        if (!p->movers[i].never && !p->movers[i].held)
            p->movers[i].at = p->movers[i].value;
}

struct newton_end held_newton(struct problem *p, enum newton_care care)
{
    balance_follow(p, true);
    return newton_run(p, STEPS_WARM, care);
}

struct newton_end held_solve(struct problem *p, bool warm, enum newton_care care)
{
    if (warm) {
        struct newton_end e = held_newton(p, care);
        if (e.converged)
            return e;
    }
    points_forget(p);
    for (size_t i = 0; i < N_LEVELS; i++) {
        p->smoothing = levels[i];
        newton_run(p, STEPS_LEVEL, ROUGH); /* a level that is not quite reached is still nearer than where it began */
    }
    p->smoothing = 0;
    struct newton_end e = newton_run(p, STEPS_SHARP, care);
    if (e.converged)
        return e;
    points_forget(p);
    return euler_solve(p, false);
}
