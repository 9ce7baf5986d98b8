/* What a solve leaves for those of cases near it, and how these begin there. Rows are the model's passages and feeds,
 * so that a case whose passages are grouped in another way can read them. */
#include "pressure/problem.h"
#include <math.h>

#define SAME_WITHIN 1e-3 /* Pa: balances that shift no pressure by more than this are the same */

static double *rows_give(const struct problem *p, const double *from, struct arena *a)
{
    const struct model *m = p->network->model;
    double *to = arena_rows(a, (size_t)m->n_passages + m->n_feeds, sizeof *to);
    for (uint32_t i = 0; i < m->n_passages; i++)
        to[i] = p->unknown_of[i] == NONE ? 0 : from[p->unknown_of[i]];
    for (uint32_t i = 0; i < p->n_sources; i++)
        to[m->n_passages + p->sources[i].feed.i] = from[p->sources[i].unknown];
    return to;
}

struct warm_start *warm_give(const struct problem *p, const double *x, const double *rest, struct arena *a)
{
    struct warm_start *w = arena_alloc(a, sizeof *w);
    w->x = rows_give(p, x, a);
    w->rest = rest ? rows_give(p, rest, a) : NULL;
    return w;
}

static double kept(const struct problem *p, const double *rows, uint32_t unknown)
{
    uint32_t n_passages = p->network->model->n_passages;
    return unknown < p->n_nodes ? rows[p->passage[unknown].i]
                                : rows[n_passages + p->sources[unknown - p->n_nodes].feed.i];
}

void warm_take(struct problem *p, const struct warm_start *w)
{
    for (uint32_t i = 0; i < p->n; i++)
        p->x[i] = kept(p, w->x, i);
}

void warm_shift(struct problem *p, const struct warm_start *from, const struct warm_start *to, const double *x)
{
    for (uint32_t i = 0; i < p->n; i++)
        p->x[i] = fmax(0, x[i] + (kept(p, to->x, i) - kept(p, from->x, i)));
}

bool warm_holds(struct problem *p, const struct warm_start *w)
{
    if (!w->rest)
        return false;
    balance_find(p);
    for (uint32_t i = 0; i < p->n; i++) {
        double changed = fabs(p->rest[i] - kept(p, w->rest, i));
        if (!(changed <= (i < p->n_nodes ? SAME_WITHIN * p->leakdown : 0)))
            return false;
    }
    return true;
}
