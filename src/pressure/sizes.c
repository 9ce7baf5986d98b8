/* Which sizes a model has and which are assumed. */
#include "base/mem.h"
#include "pressure/problem.h"
#include <math.h>

bool network_is_sized(const struct network *n)
{
    for (uint32_t i = 0; i < n->n_elements; i++)
        if (!isnan(n->elements[i].diameter))
            return true;
    return false;
}

static bool element_is_bleed(const struct network *n, const struct element *e)
{
    return e->kind == ELEMENT_SOLENOID && n->model->solenoids[e->part.i].kind == SOLENOID_BLEED;
}

double element_size(const struct network *n, const struct element *e)
{
    if (!isnan(e->diameter))
        return e->diameter;
    return element_is_bleed(n, e) ? SIZE_BLEED : SIZE_WINDOW;
}

/* A worn valve without `clearance`: the wear gives the gap, the rest is assumed. Once for all its pairs of ports. */
static bool wears_first(const struct network *n, const struct edits *edits, uint32_t row)
{
    const struct edit *e = &edits->rows[row];
    bool wears = e->kind == EDIT_ADD && e->valve.i != NONE && !n->model->valves[e->valve.i].has_clearance;
    for (uint32_t i = 0; i < row && wears; i++)
        wears = edits->rows[i].kind != EDIT_ADD || edits->rows[i].valve.i != e->valve.i;
    return wears;
}

uint32_t sizes_assumed(const struct network *n, const struct edits *edits, struct assumed **rows)
{
    const struct model *m = n->model;
    *rows = mem_alloc(((size_t)n->n_elements + m->n_actuators + (edits ? edits->n : 0) + 1) * sizeof **rows);
    uint32_t count = 0;
    for (uint32_t i = 0; i < n->n_elements; i++) {
        const struct element *e = &n->elements[i];
        if (!isnan(e->diameter) || e->strength == STRENGTH_JOINED)
            continue;
        if (count && (*rows)[count - 1].part.kind == e->part.kind && (*rows)[count - 1].part.i == e->part.i)
            continue; /* the elements of a part stand together */
        (*rows)[count++] = (struct assumed){.what = element_is_bleed(n, e) ? ASSUMED_BLEED : ASSUMED_WINDOW,
                                            .part = e->part,
                                            .value = element_size(n, e)};
    }
    for (uint32_t i = 0; i < m->n_actuators; i++)
        if (isnan(m->actuators[i].applies_at))
            (*rows)[count++] = (struct assumed){ASSUMED_APPLIES_AT, {PART_ACTUATOR, i}, SIZE_APPLIES_AT};
    for (uint32_t i = 0; edits && i < edits->n; i++)
        if (wears_first(n, edits, i))
            (*rows)[count++] = (struct assumed){ASSUMED_CLEARANCE, {PART_VALVE, edits->rows[i].valve.i}, SIZE_BORE};
    return count;
}
