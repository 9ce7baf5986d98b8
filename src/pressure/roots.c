/* From where things stand to a stable solution. */
#include "pressure/problem.h"
#include <string.h>

#define STEPS_RELEASED 30

static bool mover_is_held(const struct mover *m)
{
    return !m->never && (m->kind == MOVER_SPOOL || m->kind == MOVER_SEAT);
}

void movers_hold(struct problem *p, bool hold)
{
    for (uint32_t i = 0; i < p->n_movers; i++)
        if (mover_is_held(&p->movers[i]))
            p->movers[i].held = hold;
}

/* The held solution of a start, everything still held. */
static void start_hold(struct problem *p, const struct start *s)
{
    for (uint32_t i = 0; i < p->n_movers; i++)
        if (mover_is_held(&p->movers[i]))
            p->movers[i].at = s->at[i];
    movers_hold(p, true);
    if (s->warm)
        warm_take(p, s->warm);
    if (!s->warm || !warm_holds(p, s->warm))
        held_solve(p, s->warm || s->begun, FIRM);
    memcpy(s->held, p->x, p->n * sizeof *p->x);
    if (!s->rest)
        return;
    balance_find(p);
    memcpy(s->rest, p->rest, p->n * sizeof *p->rest);
}

struct newton_end start_release(struct problem *p, const struct start *s, unsigned *tried)
{
    movers_hold(p, false);
    struct newton_end e = newton_run(p, STEPS_RELEASED, POLISHED);
    *tried |= TRIED_HELD | TRIED_NEWTON;
    for (int paced = 0; paced < 2 && !(e.converged && e.stable); paced++) {
        memcpy(p->x, s->held, p->n * sizeof *p->x);
        *tried |= TRIED_STEPS;
        e = euler_solve(p, paced);
    }
    for (uint32_t i = 0; i < p->n_movers; i++)
        s->ends[i] = p->movers[i].at;
    return e;
}

struct newton_end start_solve(struct problem *p, const struct start *s, unsigned *tried)
{
    start_hold(p, s);
    return start_release(p, s, tried);
}

bool start_leads_to(struct problem *p, const struct start *s, const struct start *known)
{
    start_hold(p, s);
    movers_update(p);
    for (uint32_t i = 0; i < p->n_movers; i++) {
        const struct mover *m = &p->movers[i];
        if (m->kind != MOVER_SPOOL || m->never)
            continue;
        bool rest = m->value <= 0 && known->ends[i] <= 0, stroked = m->value >= 1 && known->ends[i] >= 1;
        if (!rest && !stroked)
            return false;
    }
    return true;
}
