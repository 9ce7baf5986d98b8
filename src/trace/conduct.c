#include "trace/conduct.h"
#include <math.h>
#include <string.h>

static void scene_take_state(const struct network *n, struct scene *s)
{
    const struct model *m = n->model;
    for (uint32_t i = 0; i < m->n_valves; i++)
        s->detents[i] =
            m->valves[i].kind == VALVE_MANUAL && s->state->detents[i] != NONE ? UINT64_C(1) << s->state->detents[i] : 0;
    memcpy(s->shares, s->state->shares, m->n_solenoids * sizeof *s->shares);
    for (uint32_t i = 0; i < m->n_feeds; i++) {
        double p = m->feeds[i].is_source ? s->state->sources[i].pressure : 0;
        s->settings[i] = p > 0 ? p : 0;
    }
}

static void scene_pin(const struct network *n, struct scene *s, const struct edit *e)
{
    const struct valve *v = &n->model->valves[e->valve.i];
    uint32_t mover = n->mover_of[e->valve.i];
    switch (v->kind) {
    case VALVE_MANUAL:
        s->detents[e->valve.i] = UINT64_C(1) << e->position;
        break;
    case VALVE_SPOOL:
        s->fixed[mover] = e->position == SPOOL_STROKED ? MAY_STROKED : MAY_REST;
        break;
    case VALVE_LIMITING:
        s->fixed[n->n_spools + mover] = e->position == PIN_OPEN ? MAY_WIDE : MAY_SHUT;
        break;
    case VALVE_REGULATING:
    case VALVE_RELIEF:
        s->stuck_open[e->valve.i] = e->position == PIN_OPEN;
        break;
    }
}

static bool edit_is_plain(const struct model *m, const struct edit *e)
{
    if (e->kind == EDIT_PIN || e->kind == EDIT_BREAK_SPRING)
        return m->valves[e->valve.i].kind == VALVE_SPOOL || m->valves[e->valve.i].kind == VALVE_LIMITING;
    return e->kind != EDIT_SOLENOID && e->kind != EDIT_BOTH_DETENTS;
}

static void scene_take_edit(const struct network *n, struct scene *s, const struct edit *e)
{
    const struct model *m = n->model;
    s->plain &= edit_is_plain(m, e);
    switch (e->kind) {
    case EDIT_PIN:
        scene_pin(n, s, e);
        break;
    case EDIT_BREAK_SPRING:
        s->broken[e->valve.i] = 1;
        if (m->valves[e->valve.i].kind == VALVE_REGULATING && m->valves[e->valve.i].source.i != NONE)
            s->settings[m->valves[e->valve.i].source.i] = 0;
        break;
    case EDIT_SOLENOID:
        s->shares[e->solenoid.i] = e->value;
        break;
    case EDIT_BOTH_DETENTS: {
        uint64_t both = UINT64_C(1) << e->position | UINT64_C(1) << e->position2;
        if (s->detents[e->valve.i] & both)
            s->detents[e->valve.i] |= both;
        break;
    }
    case EDIT_FREE_BALL:
        for (uint32_t k = 0; k < n->n_seats; k++) {
            if (n->seats[k].ball.i == e->ball.i)
                s->fixed[n->n_spools + n->n_limits + k] = SEAT_OPEN;
        }
        break;
    case EDIT_REMOVE:
    case EDIT_RESIZE:
    case EDIT_ADD:
    case EDIT_WEAKEN:
    case EDIT_BLOCK_END:
        break; /* elements: the pack's; capacity, blocked ends: the pressures' */
    }
}

void scene_build(const struct network *n, const struct state *state, const struct edits *edits, struct arena *a,
                 struct scene *out)
{
    const struct model *m = n->model;
    *out = (struct scene){.network = n, .state = state, .edits = edits, .plain = true};
    out->detents = arena_rows(a, m->n_valves, sizeof *out->detents);
    out->shares = arena_rows(a, m->n_solenoids, sizeof *out->shares);
    out->settings = arena_rows(a, m->n_feeds, sizeof *out->settings);
    out->fixed = arena_rows(a, network_movers(n), 1);
    out->broken = arena_rows(a, m->n_valves, 1);
    out->stuck_open = arena_rows(a, m->n_valves, 1);
    scene_take_state(n, out);
    for (uint32_t i = 0; i < edits->n; i++)
        scene_take_edit(n, out, &edits->rows[i]);
}

bool element_is_removed(const struct scene *s, element_ix e)
{
    for (uint32_t i = 0; i < s->edits->n; i++) {
        if (s->edits->rows[i].kind == EDIT_REMOVE && s->edits->rows[i].element.i == e.i)
            return true;
    }
    return false;
}

bool end_is_blocked(const struct scene *s, valve_ix valve, uint32_t port)
{
    for (uint32_t i = 0; i < s->edits->n; i++) {
        const struct edit *e = &s->edits->rows[i];
        if (e->kind == EDIT_BLOCK_END && e->valve.i == valve.i && e->position == port)
            return true;
    }
    return false;
}

static enum certainty in_set(uint64_t possible, uint64_t conducting)
{
    return !(possible & conducting) ? CERTAIN_NO : possible & ~conducting ? CERTAIN_MAY : CERTAIN_YES;
}

enum certainty element_conducts(const struct scene *s, const struct element *e, const uint8_t *positions)
{
    const struct network *n = s->network;
    switch (e->opens) {
    case OPENS_ALWAYS:
        return CERTAIN_YES;
    case OPENS_IN_DETENT:
        return s->detents[e->part.i] & e->when ? CERTAIN_YES : CERTAIN_NO;
    case OPENS_IN_POSITION:
        return in_set(positions[e->mover], e->when); /* MAY_REST is bit 0, MAY_STROKED bit 1, as `when` */
    case OPENS_UNLESS_SHUT:
        return in_set(positions[n->n_spools + e->mover], MAY_WIDE | MAY_LIMIT);
    case OPENS_NEVER:
        return CERTAIN_NO;
    case OPENS_WITH_SOURCE: {
        feed_ix source = n->model->valves[e->part.i].source;
        return source.i != NONE && s->settings[source.i] > 0 ? CERTAIN_YES : CERTAIN_NO;
    }
    case OPENS_IF_STUCK:
        return s->stuck_open[e->part.i] ? CERTAIN_YES : CERTAIN_NO;
    case OPENS_IN_SHARE: {
        double share = s->shares[e->part.i];
        return e->when & (share <= 0 ? 1u : share >= 1 ? 2u : 4u) ? CERTAIN_YES : CERTAIN_NO;
    }
    case OPENS_BY_SEAT:
        return in_set(positions[n->n_spools + n->n_limits + e->mover], SEAT_OPEN);
    }
    return CERTAIN_NO;
}
