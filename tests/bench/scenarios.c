/* Many scenarios side by side, beside the same one at a time. */
#include "base/mem.h"
#include "bench.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

#define N_SCENARIOS 256

struct scenarios {
    struct unit *unit;
    struct edits sets[N_SCENARIOS];
    struct edit rows[N_SCENARIOS][2];
    struct trace healthy;
};

/* A passage of the same casting, as behind a land; near in the file too, as what lies side by side mostly is. Sump
 * where there is none. */
static passage_ix neighbour_pick(const struct model *m, passage_ix of, uint64_t *state)
{
    for (int tries = 0; tries < 1000; tries++) {
        uint32_t far = of.i + pick(state, 64), p = far < 32 ? 0 : far - 32;
        if (p < m->n_passages && p != of.i && p != SUMP.i && m->passages[p].layer.i == m->passages[of.i].layer.i)
            return (passage_ix){p};
    }
    return SUMP;
}

static struct edit edit_make(const struct network *n, bool leak, uint64_t *state)
{
    static const double sizes[] = {0.4e-3, 0.8e-3, 1.5e-3, 3e-3};
    const struct model *m = n->model;
    struct edit e = {.kind = leak ? EDIT_ADD : EDIT_REMOVE,
                     .element = {NONE},
                     .from = {NONE},
                     .to = {NONE},
                     .diameter = NAN,
                     .ball = {NONE},
                     .valve = {NONE},
                     .solenoid = {NONE},
                     .feed = {NONE},
                     .position = NONE,
                     .position2 = NONE,
                     .value = NAN};
    uint32_t hole = pick(state, m->n_holes);
    if (leak) {
        const struct hole *h = &m->holes[hole];
        e.from = h->joins[h->joins[0].i == SUMP.i];
        e.to = h->n_leaks_to ? h->leaks_to[pick(state, h->n_leaks_to)] : neighbour_pick(m, e.from, state);
        e.diameter = sizes[pick(state, 4)];
        e.strength = strength_of_size(e.diameter);
    } else {
        e.element.i = n->hole_element[hole];
    }
    return e;
}

/* Blocked holes, leaks from a hole into its neighbour, and two at once, in turn. */
static void scenarios_make(struct scenarios *s, struct unit *u)
{
    static const struct edits none = {0};
    uint64_t state = 88172645463325252u;
    s->unit = u;
    for (uint32_t i = 0; i < N_SCENARIOS; i++) {
        s->rows[i][0] = edit_make(&u->network, i % 4 > 1, &state);
        s->rows[i][1] = edit_make(&u->network, true, &state);
        s->sets[i] = (struct edits){.rows = s->rows[i], .n = i % 4 == 3 ? 2 : 1};
        if (i % 16 == 15) { /* a blocked hole with a leak */
            s->rows[i][0] = edit_make(&u->network, false, &state);
        }
    }
    trace_run(&u->network, &none, 1, NULL, &s->healthy);
}

static double together_measure(void *of)
{
    struct scenarios *s = of;
    struct trace t;
    double start = cpu_now();
    trace_run(&s->unit->network, s->sets, N_SCENARIOS, &s->healthy, &t);
    double seconds = cpu_now() - start;
    trace_release(&t);
    return seconds;
}

static double singly_measure(void *of)
{
    struct scenarios *s = of;
    double seconds = 0;
    for (uint32_t i = 0; i < N_SCENARIOS; i++) {
        struct trace t;
        double start = cpu_now();
        trace_run(&s->unit->network, &s->sets[i], 1, &s->healthy, &t);
        seconds += cpu_now() - start;
        trace_release(&t);
    }
    return seconds;
}

/* Is case a of t all that case b of o is? */
static bool case_equal(const struct trace *t, uint32_t a, const struct trace *o, uint32_t b)
{
    const struct network *n = t->network;
    const struct model *m = n->model;
    const struct trace_case *x = &t->cases[a], *y = &o->cases[b];
    if (x->settled != y->settled)
        return false;
    if (!x->settled)
        return true;
    uint32_t movers = n->n_spools + n->n_limits + n->n_seats;
    bool same = !memcmp(x->positions, y->positions, movers) && !memcmp(x->restless, y->restless, movers) &&
                !memcmp(x->second_feed, y->second_feed, n->n_limits) &&
                !memcmp(x->applied, y->applied, m->n_actuators) &&
                !memcmp(x->locked, y->locked, m->n_actuators + n->n_spools) && x->gear.gear == y->gear.gear;
    for (uint32_t p = 0; same && p < m->n_passages; p++) {
        passage_ix at = {p};
        same = trace_condition(t, a, at) == trace_condition(o, b, at);
        for (uint32_t f = 0; same && f < m->n_feeds; f++)
            same = trace_reach(t, a, (feed_ix){f}, at) == trace_reach(o, b, (feed_ix){f}, at);
        for (uint32_t i = 0; same && i < n->n_limits; i++)
            same = trace_past(t, a, i, at) == trace_past(o, b, i, at);
    }
    return same;
}

static bool case_changed(const struct trace *t, uint32_t c, const struct trace *healthy, uint32_t state)
{
    for (uint32_t p = 0; p < t->network->model->n_passages; p++) {
        if (trace_condition(t, c, (passage_ix){p}) != trace_condition(healthy, state, (passage_ix){p}))
            return true;
    }
    return false;
}

/* Compares what both ways answer; @return cases that differ. */
static uint32_t scenarios_check(const struct scenarios *s)
{
    uint32_t differ = 0, changed = 0, unsettled = 0;
    struct trace all;
    trace_run(&s->unit->network, s->sets, N_SCENARIOS, &s->healthy, &all);
    for (uint32_t i = 0; i < N_SCENARIOS; i++) {
        struct trace one;
        trace_run(&s->unit->network, &s->sets[i], 1, &s->healthy, &one);
        for (uint32_t k = 0; k < one.n_states; k++) {
            uint32_t c = trace_case(&all, i, (state_ix){k});
            differ += !case_equal(&all, c, &one, k);
            unsettled += !all.cases[c].settled;
            changed += all.cases[c].settled && case_changed(&all, c, &s->healthy, k);
        }
        trace_release(&one);
    }
    printf("  %u cases, %u changed by their fault, %u not settled; %u words, %u rounds, %u repacked, %u expanded, %u "
           "beyond 8 doubtful; %u differ\n",
           N_SCENARIOS * all.n_states, changed, unsettled, (unsigned)all.n_words, (unsigned)all.n_rounds,
           (unsigned)all.n_repacked, (unsigned)all.n_expanded, (unsigned)all.n_fallbacks, differ);
    trace_release(&all);
    return differ;
}

/* Leaves the model one state only, the one that feeds most passages. */
static void states_narrow(struct unit *u)
{
    static const struct edits none = {0};
    struct trace t;
    uint32_t best = 0, most = 0;
    trace_run(&u->network, &none, 1, NULL, &t);
    for (uint32_t s = 0; s < t.n_states; s++) {
        uint32_t fed = 0;
        for (uint32_t p = 0; t.cases[s].settled && p < u->model->n_passages; p++)
            fed += trace_condition(&t, s, (passage_ix){p}) == FED;
        best = fed > most ? s : best;
        most = fed > most ? fed : most;
    }
    trace_release(&t);
    u->model->states[0] = u->model->states[best];
    u->model->states[0].after.i = NONE;
    u->model->n_states = 1;
}

uint32_t scenarios_report(char *path, unsigned rounds, bool narrow)
{
    struct unit u;
    struct scenarios *s = mem_zero(1, sizeof *s);
    char what[120];
    double both[2];
    unit_open(&u, path);
    if (narrow)
        states_narrow(&u);
    scenarios_make(s, &u);
    compare(rounds, together_measure, s, singly_measure, s, both);
    const char *name = strrchr(path, '/') ? strrchr(path, '/') + 1 : path;
    snprintf(what, sizeof what, "%s, %u x %u state%s", name, N_SCENARIOS, u.model->n_states,
             u.model->n_states == 1 ? "" : "s");
    row_print(what, both[0] * 1e3, both[1] * 1e3, "ms", true, narrow ? 8 : NO_GOAL, narrow ? 20 : NO_GOAL);
    uint32_t differ = scenarios_check(s);
    trace_release(&s->healthy);
    mem_free(s);
    unit_close(&u);
    return differ;
}
