/* What a settled case answers: conditions, devices, gear, and how far each feed reaches. */
#include "base/mem.h"
#include "scalar.h"
#include <string.h>

/* ---- devices and gear */

static uint8_t device_find(const struct scalar *s, uint32_t state, const struct actuator *a, const uint8_t *cond)
{
    uint8_t apply = cond[s->grid->node_of[a->apply.i]];
    uint8_t release = a->release.i == NONE ? (uint8_t)EXHAUSTED : cond[s->grid->node_of[a->release.i]];
    if (passage_is_locked(s, state, a->apply, apply))
        return APPLY_UNSURE;
    if (cond_is_dead(apply) || release == FED)
        return RELEASED;
    return apply == FED && cond_is_dead(release) ? APPLIED : APPLY_UNSURE;
}

static bool listed(const actuator_ix *rows, uint32_t n, uint32_t device)
{
    for (uint32_t i = 0; i < n; i++)
        if (rows[i].i == device)
            return true;
    return false;
}

static bool named_in_gears(const struct model *m, uint32_t device)
{
    for (uint32_t i = 0; i < m->n_gears; i++)
        if (listed(m->gears[i].on, m->gears[i].n_on, device) ||
            listed(m->gears[i].either, m->gears[i].n_either, device))
            return true;
    return false;
}

static bool named_in_clash(const struct model *m, uint32_t device)
{
    for (uint32_t i = 0; i < m->n_clashes; i++)
        if (m->clashes[i].pair[0].i == device || m->clashes[i].pair[1].i == device)
            return true;
    return false;
}

static uint32_t gear_of(const struct model *m, const uint8_t *on)
{
    for (uint32_t i = 0; i < m->n_clashes; i++)
        if (on[m->clashes[i].pair[0].i] == APPLIED && on[m->clashes[i].pair[1].i] == APPLIED)
            return m->n_gears + 1;
    for (uint32_t i = 0; i < m->n_gears; i++) {
        const struct gear *g = &m->gears[i];
        bool equal = true;
        for (uint32_t k = 0; equal && k < m->n_actuators; k++) {
            bool wanted = listed(g->on, g->n_on, k), either = listed(g->either, g->n_either, k);
            equal = wanted ? on[k] == APPLIED : either || on[k] != APPLIED || !named_in_gears(m, k);
        }
        if (equal)
            return i;
    }
    return m->n_gears;
}

static void gears_mark(const struct model *m, const uint8_t *devices, uint8_t *possible)
{
    uint32_t unsure[16], n = 0;
    uint8_t *on = mem_alloc(m->n_actuators + 1);
    memcpy(on, devices, m->n_actuators);
    for (uint32_t i = 0; i < m->n_actuators; i++)
        if (devices[i] == APPLY_UNSURE && n < 16 && (named_in_gears(m, i) || named_in_clash(m, i)))
            unsure[n++] = i;
    for (uint32_t k = 0; k < n; k++)
        on[unsure[k]] = RELEASED;
    if (gear_of(m, on) == m->n_gears + 1) /* the others clash whatever these do */
        n = 0;
    for (uint32_t choice = 0; choice < 1u << n; choice++) {
        for (uint32_t k = 0; k < n; k++)
            on[unsure[k]] = choice >> k & 1 ? APPLIED : RELEASED;
        possible[gear_of(m, on)] = 1;
    }
    mem_free(on);
}

static void devices_take(const struct scalar *s, uint32_t state, const uint8_t *cond, bool first,
                         struct scalar_answer *out)
{
    const struct model *m = s->network->model;
    uint8_t *devices = mem_alloc(m->n_actuators + 1);
    for (uint32_t i = 0; i < m->n_actuators; i++) {
        devices[i] = device_find(s, state, &m->actuators[i], cond);
        out->applied[i] = first || out->applied[i] == devices[i] ? devices[i] : (uint8_t)APPLY_UNSURE;
    }
    gears_mark(m, devices, out->possible);
    mem_free(devices);
}

/* ---- reach */

enum { SURE_SO_FAR = 2, MAY_SO_FAR = 1 }; /* bits of a reach over the alternatives looked at */

/* Where oil is, with what conducts, and how often that was merged. */
struct run {
    struct scalar *s;
    const uint8_t *conduct, *live;
    const uint8_t *choice; /* one position of each mover; of the fallback: sets */
    bool sure, may;        /* counts for these sides */
    bool first;
};

static void reach_merge(const struct run *r, const uint8_t *reached, uint8_t *out)
{
    for (uint32_t i = 0; i < r->s->grid->n_nodes; i++) {
        if (r->sure)
            out[i] = reached[i] && (r->first || (out[i] & SURE_SO_FAR)) ? out[i] | SURE_SO_FAR
                                                                        : out[i] & (uint8_t)~SURE_SO_FAR;
        if (r->may && reached[i])
            out[i] |= MAY_SO_FAR;
    }
}

static void feeds_follow(const struct run *r, struct scalar_answer *out)
{
    struct scalar *s = r->s;
    const struct model *m = s->network->model;
    uint32_t n_nodes = s->grid->n_nodes;
    uint8_t *closed = s->cond_own, *taken = mem_zero(n_nodes, 1);
    for (uint32_t f = 0; f < m->n_feeds; f++) {
        uint32_t start = s->grid->node_of[m->feeds[f].passage.i], n = 0;
        bool source = m->feeds[f].is_source;
        for (uint32_t i = 0; i < n_nodes; i++)
            closed[i] = !r->live[i] || (!source && taken[i]);
        for (uint32_t later = source ? 0 : f + 1; later < m->n_feeds; later++)
            if (!m->feeds[later].is_source)
                closed[s->grid->node_of[m->feeds[later].passage.i]] = 1;
        if (!closed[start] && (!source || s->scene.settings[f] > 0)) {
            s->queue[0] = start;
            s->mark[start] = 1;
            n = spread(s, 1, r->conduct, WITH_FLOW, 0, closed);
        }
        reach_merge(r, s->mark, out->reach + (size_t)f * n_nodes);
        for (uint32_t i = 0; i < n; i++)
            taken[s->queue[i]] = 1;
        marks_clear(s, n);
    }
    mem_free(taken);
}

static void limits_follow(const struct run *r, uint8_t *conduct, struct scalar_answer *out)
{
    struct scalar *s = r->s;
    const struct network *n = s->network;
    uint8_t *closed = s->cond_own;
    for (uint32_t i = 0; i < s->grid->n_nodes; i++)
        closed[i] = !r->live[i];
    for (uint32_t v = 0; v < n->n_limits; v++) {
        uint32_t window = n->limits[v].window.i, count = 0;
        uint8_t set = r->choice[n->n_spools + v], kept = conduct[window];
        if (!(r->may ? set & MAY_WIDE : set == MAY_WIDE))
            conduct[window] = 0;
        for (uint32_t k = 0; k < s->n_sources; k++) {
            uint32_t node = s->grid->node_of[n->model->feeds[s->sources[k]].passage.i];
            if (!s->mark[node] && !closed[node]) {
                s->mark[node] = 1;
                s->queue[count++] = node;
            }
        }
        count = spread(s, count, conduct, WITH_FLOW, 0, closed);
        reach_merge(r, s->mark, out->past + (size_t)v * s->grid->n_nodes);
        marks_clear(s, count);
        conduct[window] = kept;
    }
}

static void certainties_make(uint8_t *rows, size_t n)
{
    for (size_t i = 0; i < n; i++)
        rows[i] = rows[i] & SURE_SO_FAR ? CERTAIN_YES : rows[i] & MAY_SO_FAR ? CERTAIN_MAY : CERTAIN_NO;
}

static void fallback_follow(struct scalar *s, struct scalar_answer *out)
{
    for (int may = 0; may < 2; may++) {
        struct run r = {s, s->conduct, s->live, s->sets, !may, may, true};
        for (uint32_t i = 0; i < s->grid->n_nodes; i++)
            s->live[i] = !cond_is_dead(s->cond[i]) && (may || s->cond[i] != UNSURE);
        conduct_fill(s, s->sets, false, may ? CERTAIN_MAY : CERTAIN_YES, s->conduct);
        feeds_follow(&r, out);
        limits_follow(&r, s->conduct, out);
    }
}

void answer_take(struct scalar *s, uint32_t state, struct scalar_answer *out)
{
    const struct network *n = s->network;
    size_t n_reach = (size_t)n->model->n_feeds * s->grid->n_nodes, n_past = (size_t)n->n_limits * s->grid->n_nodes;
    memcpy(out->conditions, s->cond, s->grid->n_nodes);
    memset(out->possible, 0, n->model->n_gears + 2);
    memset(out->reach, 0, n_reach);
    memset(out->past, 0, n_past);
    if (s->beyond) {
        devices_take(s, state, s->cond, true, out);
        fallback_follow(s, out);
    }
    for (uint32_t k = 0; !s->beyond && k < s->alts.n; k++) {
        const uint8_t *cond = s->alts.cond + (size_t)k * n->model->n_passages;
        uint8_t *conduct = s->alts.conduct + (size_t)k * s->n_slots;
        struct run r = {s, conduct, s->live, s->alts.choices + (size_t)k * s->n_movers, true, true, k == 0};
        devices_take(s, state, cond, k == 0, out);
        for (uint32_t i = 0; i < s->grid->n_nodes; i++)
            s->live[i] = !cond_is_dead(cond[i]);
        feeds_follow(&r, out);
        limits_follow(&r, conduct, out);
    }
    certainties_make(out->reach, n_reach);
    certainties_make(out->past, n_past);
}

struct scalar_answer *scalar_answers_make(const struct network *n)
{
    const struct model *m = n->model;
    size_t passages = m->n_passages + 1, movers = network_movers(n) + 1;
    struct scalar_answer *rows = mem_zero((size_t)m->n_states + 1, sizeof *rows);
    for (uint32_t i = 0; i < m->n_states; i++) {
        rows[i].conditions = mem_zero(passages, 1);
        rows[i].positions = mem_zero(2 * movers, 1);
        rows[i].restless = rows[i].positions + movers;
        rows[i].applied = mem_zero((size_t)m->n_actuators + 1, 1);
        rows[i].possible = mem_zero((size_t)m->n_gears + 2, 1);
        rows[i].reach = mem_zero(m->n_feeds + 1, passages);
        rows[i].past = mem_zero((size_t)n->n_limits + 1, passages);
    }
    return rows;
}

void scalar_answers_free(struct scalar_answer *a, uint32_t n_states)
{
    for (uint32_t i = 0; i < n_states; i++) {
        void *owned[] = {a[i].conditions, a[i].positions, a[i].applied, a[i].possible, a[i].reach, a[i].past};
        for (size_t k = 0; k < sizeof owned / sizeof *owned; k++)
            mem_free(owned[k]);
    }
    mem_free(a);
}
