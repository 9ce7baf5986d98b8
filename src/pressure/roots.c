/* From where things stand to a stable solution. */
#include "base/mem.h"
#include "pressure/problem.h"
#include <string.h>

#define STEPS_RELEASED 60

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
    double *held = mem_alloc((size_t)(p->n + 1) * sizeof *held);
    for (uint32_t i = 0; i < p->n_movers; i++)
        if (mover_is_held(&p->movers[i]))
            p->movers[i].at = s->at[i];
    movers_hold(p, true);
    held_solve(p, warm);
    memcpy(held, p->x, p->n * sizeof *held);
    movers_hold(p, false);
    struct newton_end e = newton_run(p, STEPS_RELEASED, false);
    *tried |= TRIED_HELD | TRIED_NEWTON;
    if (!e.converged || !e.stable) {
        memcpy(p->x, held, p->n * sizeof *held);
        *tried |= TRIED_STEPS;
        e = euler_solve(p);
    }
    mem_free(held);
    return e;
}
