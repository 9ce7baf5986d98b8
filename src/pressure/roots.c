/* From where things stand to a stable solution. */
#include "pressure/problem.h"
#include <math.h>
#include <string.h>

#define STEPS_RELEASED 30
#define ROUGH_WITHIN   100.0 /* Pa: ten times the last step of a rough solve */

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

/* The held solution of a start, everything still held. @return false: not found */
static bool start_hold(struct problem *p, const struct start *s, enum newton_care care)
{
    for (uint32_t i = 0; i < p->n_movers; i++)
        if (mover_is_held(&p->movers[i]))
            p->movers[i].at = s->at[i];
    movers_hold(p, true);
    bool found = false;
    if (s->warm) {
        warm_take(p, s->warm);
        found = warm_holds(p, s->warm);
        if (!found && s->first)
            warm_shift(p, s->first_warm, s->warm, s->first);
    }
    if (!found)
        found = held_solve(p, s->warm || s->begun, care).converged;
    memcpy(s->held, p->x, p->n * sizeof *p->x);
    if (s->rest) {
        balance_find(p);
        memcpy(s->rest, p->rest, p->n * sizeof *p->rest);
    }
    return found;
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
    start_hold(p, s, FIRM);
    return start_release(p, s, tried);
}

/* True when the pressures imply that every free spool stands at the end where it stands in `known`, and would if each
 * pressure were off by so many Pa. */
static bool spools_stand_as(struct problem *p, const struct start *known, double off)
{
    movers_update(p);
    for (uint32_t i = 0; i < p->n_movers; i++) {
        const struct mover *m = &p->movers[i];
        if (m->kind != MOVER_SPOOL || m->never)
            continue;
        double doubt = 0;
        for (uint32_t t = 0; t < m->n_terms; t++)
            doubt += off * fabs(p->terms[m->first_term + t].weight);
        bool rest = m->value <= -doubt && known->ends[i] <= 0;
        bool stroked = m->value >= 1 + doubt && known->ends[i] >= 1;
        if (!rest && !stroked)
            return false;
    }
    return true;
}

bool start_leads_to(struct problem *p, const struct start *s, const struct start *known)
{
    bool rough = !s->rest; /* else the solution is kept for others */
    bool found = start_hold(p, s, rough ? ROUGH : FIRM);
    if (rough && found && spools_stand_as(p, known, ROUGH_WITHIN))
        return true;
    if (rough) {
        found = held_solve(p, true, FIRM).converged;
        memcpy(s->held, p->x, p->n * sizeof *p->x);
    }
    return found && spools_stand_as(p, known, 0);
}
