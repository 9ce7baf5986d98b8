/* Findings about devices and the gear that they give. */
#include "findings/check.h"

static void never(struct looking *l, enum applied wanted, enum code code, const char *words)
{
    const struct model *m = l->model;
    for (uint32_t i = 0; l->all_settled && i < m->n_actuators; i++) {
        bool ever = false;
        for (uint32_t s = 0; s < m->n_states && !ever; s++) {
            enum device d = counts_device(case_of(l, s), pressures_of(l, s), i);
            ever = d == (enum device)wanted || d == DEVICE_SLIPPING;
        }
        if (!ever && m->n_states)
            found(l, code, m->actuators[i].part.where, m->actuators[i].part.id, NULL, "no state %s %s", words,
                  m->actuators[i].part.id);
    }
}

void check_never_applies(struct looking *l)
{
    never(l, APPLIED, NEVER_APPLIES, "applies");
}

static bool gear_wants(const struct gear *g, uint32_t actuator)
{
    for (uint32_t i = 0; i < g->n_on; i++)
        if (g->on[i].i == actuator)
            return true;
    return false;
}

/* A device that every state's gear wants on has no occasion to release; an accumulator may live on oil that is always
 * there. */
static bool may_stay_on(const struct model *m, uint32_t actuator)
{
    bool wanted = m->n_states > 0;
    for (uint32_t s = 0; s < m->n_states; s++)
        wanted = wanted && m->states[s].gear.i != NONE && gear_wants(&m->gears[m->states[s].gear.i], actuator);
    return wanted || m->n_states < 2 || m->actuators[actuator].kind == ACTUATOR_ACCUMULATOR;
}

void check_never_releases(struct looking *l)
{
    const struct model *m = l->model;
    for (uint32_t i = 0; l->all_settled && i < m->n_actuators; i++) {
        bool ever = may_stay_on(m, i);
        for (uint32_t s = 0; s < m->n_states; s++)
            ever = ever || counts_device(case_of(l, s), pressures_of(l, s), i) != DEVICE_APPLIED;
        if (!ever)
            found(l, NEVER_RELEASES, m->actuators[i].part.where, m->actuators[i].part.id, NULL, "no state releases %s",
                  m->actuators[i].part.id);
    }
}

/* The clash that a tie-up comes from. */
static void tie_up(struct looking *l, uint32_t s)
{
    const struct model *m = l->model;
    const struct trace_case *c = case_of(l, s);
    for (uint32_t i = 0; i < m->n_clashes; i++) {
        const struct clash *k = &m->clashes[i];
        if (counts_device(c, pressures_of(l, s), k->pair[0].i) != DEVICE_APPLIED ||
            counts_device(c, pressures_of(l, s), k->pair[1].i) != DEVICE_APPLIED)
            continue;
        const char *one = m->actuators[k->pair[0].i].part.id, *two = m->actuators[k->pair[1].i].part.id;
        if (found(l, TIE_UP, m->states[s].part.where, one, &m->states[s], "%s and %s are on together: tie-up", one,
                  two))
            diag_second(l->d, k->where, "they must never be on together");
    }
}

/* "a, b are on". */
static void devices_on(const struct looking *l, uint32_t s, struct text *t)
{
    const struct model *m = l->model;
    uint32_t n = 0;
    for (uint32_t i = 0; i < m->n_actuators; i++)
        if (counts_device(case_of(l, s), pressures_of(l, s), i) == DEVICE_APPLIED)
            text_addf(t, "%s%s", n++ ? ", " : "", m->actuators[i].part.id);
    text_add(t, n == 0 ? "nothing is on" : n == 1 ? " is on" : " are on");
}

/* The devices that hold in part, and how far. */
static void help_slipping(struct looking *l, const struct pressures *p)
{
    const struct model *m = l->model;
    struct text t = {0};
    for (uint32_t i = 0; i < m->n_actuators; i++) {
        if (p->device[i] != DEVICE_SLIPPING)
            continue;
        text_addf(&t, "%s%s holds in part: ", t.n ? "; " : "", m->actuators[i].part.id);
        pressure_add(&t, p->device_pressure[i], &m->units);
        text_add(&t, ", needs ");
        pressure_add(&t, device_needs(&m->actuators[i], p), &m->units);
    }
    if (t.n)
        diag_help(l->d, "%s", text_string(&t));
    text_release(&t);
}

void check_gear(struct looking *l)
{
    const struct model *m = l->model;
    for (uint32_t s = 0; s < m->n_states; s++) {
        const struct trace_case *c = case_of(l, s);
        const struct gear_answer *gear = counts_gear(c, pressures_of(l, s));
        const struct state *state = &m->states[s];
        if (!c->settled)
            continue;
        if (gear->gear == GEAR_ANSWER_TIE_UP) {
            tie_up(l, s);
            continue;
        }
        if (state->gear.i == NONE || gear->gear == state->gear.i)
            continue;
        const char *wanted = m->gears[state->gear.i].part.id;
        struct text got = {0};
        bool open = false; /* the gear commanded is among the possible ones */
        if (gear->gear == GEAR_ANSWER_UNSURE) {
            for (uint32_t i = 0; i < gear->n_possible; i++) {
                open = open || gear->possible[i] == state->gear.i;
                text_addf(&got, "%s%s", i ? " or " : "", gear_word(m, gear->possible[i]));
            }
        } else {
            devices_on(l, s, &got);
            text_addf(&got, ": that is %s", gear->gear == GEAR_ANSWER_NONE ? "no gear" : gear_word(m, gear->gear));
        }
        struct span where = state->gear_where.line ? state->gear_where : state->part.where;
        if (open && !l->faulty) {
            if (found(l, UNDECIDED, where, NULL, state, "whether %s is obtained cannot be told%s: it is %s", wanted,
                      pressures_of(l, s) ? ", something slips" : " by structure", text_string(&got)) &&
                pressures_of(l, s))
                help_slipping(l, pressures_of(l, s));
        } else if (!open)
            found(l, GEAR_NOT_OBTAINED, where, NULL, state, "%s is commanded; %s", wanted, text_string(&got));
        text_release(&got);
    }
}

void check_cannot_release(struct looking *l)
{
    const struct model *m = l->model;
    for (uint32_t s = 0; s < m->n_states; s++) {
        const struct trace_case *c = case_of(l, s);
        if (!c->settled)
            continue;
        for (uint32_t i = 0; i < m->n_actuators; i++)
            if (c->locked[i])
                found(l, CANNOT_RELEASE, m->actuators[i].part.where, m->actuators[i].part.id, &m->states[s],
                      "%s cannot release for sure: %s drains when healthy and is closed off here",
                      m->actuators[i].part.id, m->passages[m->actuators[i].apply.i].part.id);
        for (uint32_t i = 0; i < l->network->n_spools; i++) {
            const struct valve *v = &m->valves[l->network->spools[i].valve.i];
            if (c->locked[m->n_actuators + i])
                found(l, CANNOT_RELEASE, v->part.where, v->part.id, &m->states[s],
                      "an end of valve %s drains when healthy and is closed off here: the spool may stay where it is",
                      v->part.id);
        }
    }
}
