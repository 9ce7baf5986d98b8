/* From where things stand to a stable solution. */
#include "pressure/problem.h"
#include <string.h>

#define STEPS_RELEASED 30

static bool mover_is_held(const struct mover *m)
{
    return !m->never && (m->kind == MOVER_SPOOL || m->kind == MOVER_SEAT);
}

static void movers_hold(struct problem *p, bool hold)
{
    for (uint32_t i = 0; i < p->n_movers; i++)
        if (mover_is_held(&p->movers[i]))
            p->movers[i].held = hold;
}

struct newton_end start_solve(struct problem *p, const struct start *s, bool warm, unsigned *tried)
{
    for (uint32_t i = 0; i < p->n_movers; i++)
        if (mover_is_held(&p->movers[i]))
            p->movers[i].at = s->at[i];
    movers_hold(p, true);
    held_solve(p, warm);
    memcpy(s->held, p->x, p->n * sizeof *p->x);
    movers_hold(p, false);
    struct newton_end e = newton_run(p, STEPS_RELEASED, false);
    *tried |= TRIED_HELD | TRIED_NEWTON;
    if (!e.converged || !e.stable) {
        memcpy(p->x, s->held, p->n * sizeof *p->x);
        *tried |= TRIED_STEPS;
        e = euler_solve(p);
    }
    return e;
}
