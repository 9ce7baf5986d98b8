/* Findings about valves that find no position, more than one, or none that is known. */
#include "findings/check.h"

void check_not_settled(struct looking *l)
{
    const struct model *m = l->model;
    for (uint32_t s = 0; s < m->n_states; s++) {
        const struct state *state = &m->states[s];
        if (case_of(l, s)->settled)
            continue;
        if (state->after.i != NONE && !case_of(l, state->after.i)->settled)
            found(l, NOT_SETTLED, state->part.where, NULL, state, "state %s follows %s, which does not settle",
                  state->part.id, m->states[state->after.i].part.id);
        else
            found(l, NOT_SETTLED, state->part.where, NULL, state,
                  "no set of valve positions was found that holds in state %s", state->part.id);
    }
}

/* The part of row i of the positions: a valve, or the ball of a seat. */
static const struct part *mover_part(const struct looking *l, uint32_t i)
{
    const struct network *n = l->network;
    if (i < n->n_spools)
        return &l->model->valves[n->spools[i].valve.i].part;
    i -= n->n_spools;
    if (i < n->n_limits)
        return &l->model->valves[n->limits[i].valve.i].part;
    return &l->model->balls[n->seats[i - n->n_limits].ball.i].part;
}

static uint32_t n_movers(const struct looking *l)
{
    return l->network->n_spools + l->network->n_limits + l->network->n_seats;
}

/* Where pressures have the restless valves in the end: "shift part-way, 50 % of its travel". */
static void add_rest(const struct looking *l, uint32_t s, unsigned kind, const struct pressures *p, struct text *t)
{
    const struct network *n = l->network;
    for (uint32_t i = 0; i < n->n_spools + n->n_limits; i++) {
        valve_ix v = i < n->n_spools ? n->spools[i].valve : n->limits[i - n->n_spools].valve;
        if (case_of(l, s)->restless[i] != kind || !counts_by_pressure(l->trace, case_row(l, s), p, v))
            continue;
        enum valve_position at = counts_position(l->trace, case_row(l, s), p, v);
        text_addf(t, "%s%s %s", t->n ? ", " : "", l->model->valves[v.i].part.id, position_word(at));
        if (at == POSITION_PART_WAY)
            text_addf(t, ", %.0f %% of its travel", 100 * p->travel[v.i]);
        else if (at == POSITION_LIMITING)
            text_addf(t, ", %.0f %% open", 100 * p->travel[v.i]);
    }
}

enum { IN_RACE = 1, HUNTS = 2 }; /* as trace_case.restless has them */

static void restless(struct looking *l, uint32_t s, unsigned kind, enum code code, const char *one, const char *many)
{
    const struct trace_case *c = case_of(l, s);
    const struct pressures *p = pressures_of(l, s);
    const struct part *first = NULL, *last = NULL;
    struct text list = {0};
    for (uint32_t i = 0; i < n_movers(l); i++) {
        const struct part *part = mover_part(l, i);
        if (c->restless[i] != kind || part == last) /* the two seats of a ball stand together */
            continue;
        text_addf(&list, "%s%s", first ? ", " : "", part->id);
        first = first ? first : part;
        last = part;
    }
    if (first && found(l, code, first->where, first->id, &l->model->states[s], "%s: %s", text_string(&list),
                       first == last ? one : many)) {
        struct text rest = {0};
        if (p && kind == HUNTS)
            add_rest(l, s, kind, p, &rest);
        if (rest.n)
            diag_help(l->d, "so it is by structure; by steady pressures there is a place of rest: %s",
                      text_string(&rest));
        text_release(&rest);
    }
    text_release(&list);
}

void check_restless(struct looking *l)
{
    for (uint32_t s = 0; s < l->model->n_states; s++) {
        if (!case_of(l, s)->settled)
            continue;
        restless(l, s, IN_RACE, RACE, "whether it moves before the others decides where it ends",
                 "which of them moves first decides where they end");
        restless(l, s, HUNTS, HUNTING, "it moves to and fro and finds no rest",
                 "they move to and fro and find no rest");
    }
}

void check_undetermined_valve(struct looking *l)
{
    for (uint32_t s = 0; s < l->model->n_states; s++) {
        const struct trace_case *c = case_of(l, s);
        if (!c->settled)
            continue;
        for (uint32_t i = 0; i < l->network->n_spools + l->network->n_limits; i++) {
            const struct part *part = mover_part(l, i);
            bool one = !(c->positions[i] & (c->positions[i] - 1));
            bool by_pressure = pressures_of(l, s) && (i >= l->network->n_spools || l->network->spools[i].sized);
            if (!one && !c->restless[i] && !by_pressure)
                found(l, UNDETERMINED_VALVE, part->where, part->id, &l->model->states[s],
                      "structure alone does not tell where valve %s stands", part->id);
        }
    }
}
