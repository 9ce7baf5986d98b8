#include "trace/gear.h"
#include "base/mem.h"
#include <string.h>

#define UNSURE_DEVICES_MAX 12 /* beyond, every gear counts as possible: 2^12 combinations are tried, not more */
enum { NAMED_IN_GEAR = 1, NAMED_IN_CLASH = 2 };

enum applied device_applied(enum condition apply, enum condition release)
{
    bool release_dead = release == EXHAUSTED || release == TRAPPED;
    if (apply == FED && release_dead)
        return APPLIED;
    if (apply == EXHAUSTED || apply == TRAPPED || release == FED)
        return RELEASED;
    return APPLY_UNSURE;
}

void gear_names_find(const struct model *m, struct arena *a, struct gear_names *out)
{
    out->model = m;
    out->counts = arena_rows(a, m->n_actuators, 1);
    out->tried = arena_rows(a, (size_t)m->n_actuators + 1, 1);
    for (uint32_t i = 0; i < m->n_gears; i++) {
        for (uint32_t k = 0; k < m->gears[i].n_on; k++)
            out->counts[m->gears[i].on[k].i] |= NAMED_IN_GEAR;
        for (uint32_t k = 0; k < m->gears[i].n_either; k++)
            out->counts[m->gears[i].either[k].i] |= NAMED_IN_GEAR;
    }
    for (uint32_t i = 0; i < m->n_clashes; i++) {
        out->counts[m->clashes[i].pair[0].i] |= NAMED_IN_CLASH;
        out->counts[m->clashes[i].pair[1].i] |= NAMED_IN_CLASH;
    }
}

static bool clash_any(const struct model *m, const uint8_t *applied)
{
    for (uint32_t i = 0; i < m->n_clashes; i++) {
        if (applied[m->clashes[i].pair[0].i] == APPLIED && applied[m->clashes[i].pair[1].i] == APPLIED)
            return true;
    }
    return false;
}

static bool list_has(const actuator_ix *list, uint32_t n, uint32_t device)
{
    for (uint32_t i = 0; i < n; i++) {
        if (list[i].i == device)
            return true;
    }
    return false;
}

static bool gear_matches(const struct gear_names *g, const struct gear *gear, const uint8_t *applied)
{
    for (uint32_t i = 0; i < gear->n_on; i++) {
        if (applied[gear->on[i].i] != APPLIED)
            return false;
    }
    for (uint32_t i = 0; i < g->model->n_actuators; i++) {
        if ((g->counts[i] & NAMED_IN_GEAR) && applied[i] == APPLIED && !list_has(gear->on, gear->n_on, i) &&
            !list_has(gear->either, gear->n_either, i))
            return false;
    }
    return true;
}

/* The gear of devices that are all known. */
static uint32_t gear_of(const struct gear_names *g, const uint8_t *applied)
{
    const struct model *m = g->model;
    if (clash_any(m, applied))
        return m->n_gears + 1;
    for (uint32_t i = 0; i < m->n_gears; i++) {
        if (gear_matches(g, &m->gears[i], applied))
            return i;
    }
    return m->n_gears;
}

void gear_find(const struct gear_names *g, const uint8_t *applied, uint8_t *possible)
{
    const struct model *m = g->model;
    uint32_t unsure[UNSURE_DEVICES_MAX], n = 0;
    if (clash_any(m, applied)) {
        possible[m->n_gears + 1] = 1;
        return;
    }
    uint8_t *tried = g->tried;
    for (uint32_t i = 0; i < m->n_actuators; i++) {
        tried[i] = applied[i];
        if (applied[i] != APPLY_UNSURE || !g->counts[i])
            continue;
        if (n == UNSURE_DEVICES_MAX) {
            memset(possible, 1, (size_t)m->n_gears + 2);
            return;
        }
        unsure[n++] = i;
    }
    for (uint32_t mask = 0; mask < 1u << n; mask++) {
        for (uint32_t k = 0; k < n; k++)
            tried[unsure[k]] = mask >> k & 1 ? APPLIED : RELEASED;
        possible[gear_of(g, tried)] = 1;
    }
}

static uint32_t answer_of_row(const struct model *m, uint32_t row)
{
    return row < m->n_gears ? row : row == m->n_gears ? GEAR_ANSWER_NONE : GEAR_ANSWER_TIE_UP;
}

struct gear_answer gear_answer_make(const struct model *m, const uint8_t *possible, struct arena *a)
{
    struct gear_answer answer = {.gear = GEAR_ANSWER_UNSURE};
    uint32_t n = 0;
    for (uint32_t i = 0; i < m->n_gears + 2; i++) {
        if (possible[i] && n++ == 0)
            answer.gear = answer_of_row(m, i);
    }
    if (n < 2)
        return answer;
    answer.gear = GEAR_ANSWER_UNSURE;
    answer.possible = arena_rows(a, n, sizeof *answer.possible);
    for (uint32_t i = 0; i < m->n_gears + 2; i++) {
        if (possible[i])
            answer.possible[answer.n_possible++] = answer_of_row(m, i);
    }
    return answer;
}
