/* Which plate hole of one model is which of the other. */
#include "base/mem.h"
#include "compare/compare.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

#define FIT_USUAL                                                                                                      \
    0.3e-3 /* m: a part sits or was measured so far off its place (layout's `fit` when it is not given)                \
            */

struct near { /* an old and a new hole at one place */
    double distance;
    uint32_t was, now;
    bool same_id;
};
struct placed {
    double x;
    uint32_t row;
};

static int by_x(const void *a, const void *b)
{
    const struct placed *p = a, *q = b;
    return p->x != q->x ? (p->x < q->x ? -1 : 1) : p->row < q->row ? -1 : p->row > q->row;
}

static int by_distance(const void *a, const void *b)
{
    const struct near *p = a, *q = b;
    if (p->distance != q->distance)
        return p->distance < q->distance ? -1 : 1;
    if (p->same_id != q->same_id)
        return p->same_id ? -1 : 1;
    return p->now != q->now ? (p->now < q->now ? -1 : 1) : p->was < q->was ? -1 : p->was > q->was;
}

static const char *plate_of(const struct model *m, const struct hole *h)
{
    return m->layers[h->plate.i].part.id;
}

/* Pairs of holes no farther apart than `fit`, on plates of one name. */
static struct near *pairs_find(const struct model *was, const struct model *now, double fit, size_t *n)
{
    struct placed *old = mem_zero((size_t)was->n_holes + 1, sizeof *old);
    struct near *pairs = NULL;
    size_t n_old = 0, cap = 0;
    *n = 0;
    for (uint32_t i = 0; i < was->n_holes; i++)
        if (!isnan(was->holes[i].at[0]))
            old[n_old++] = (struct placed){was->holes[i].at[0], i};
    qsort(old, n_old, sizeof *old, by_x);
    for (uint32_t i = 0; i < now->n_holes; i++) {
        const struct hole *h = &now->holes[i];
        size_t low = 0, high = n_old;
        if (isnan(h->at[0]))
            continue;
        while (low < high) { /* the first that is not too far to the left */
            size_t middle = low + (high - low) / 2;
            if (old[middle].x < h->at[0] - fit)
                low = middle + 1;
            else
                high = middle;
        }
        for (; low < n_old && old[low].x <= h->at[0] + fit; low++) {
            const struct hole *o = &was->holes[old[low].row];
            double distance = hypot(o->at[0] - h->at[0], o->at[1] - h->at[1]);
            if (distance > fit || strcmp(plate_of(was, o), plate_of(now, h)) != 0)
                continue;
            MEM_GROW(pairs, *n, cap);
            pairs[(*n)++] = (struct near){distance, old[low].row, i, !strcmp(o->part.id, h->part.id)};
        }
    }
    mem_free(old);
    if (*n)
        qsort(pairs, *n, sizeof *pairs, by_distance);
    return pairs;
}

uint32_t *holes_match(const struct model *was, const struct model *now)
{
    uint32_t *match = mem_alloc(((size_t)now->n_holes + 1) * sizeof *match);
    bool *taken = mem_zero((size_t)was->n_holes + 1, sizeof *taken);
    size_t n;
    struct near *pairs = pairs_find(was, now, isnan(now->fit) ? FIT_USUAL : now->fit, &n);
    for (uint32_t i = 0; i < now->n_holes; i++)
        match[i] = NONE;
    for (size_t i = 0; i < n; i++) {
        if (match[pairs[i].now] != NONE || taken[pairs[i].was])
            continue;
        match[pairs[i].now] = pairs[i].was;
        taken[pairs[i].was] = true;
    }
    for (uint32_t i = 0; i < now->n_holes; i++) {
        const char *id = now->holes[i].part.id;
        struct part_ref old = model_find(was, id, strlen(id));
        if (match[i] != NONE || old.kind != PART_HOLE || taken[old.i])
            continue;
        match[i] = old.i;
        taken[old.i] = true;
    }
    mem_free(pairs);
    mem_free(taken);
    return match;
}
