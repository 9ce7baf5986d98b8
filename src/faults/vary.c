#include "faults/vary.h"
#include <string.h>

/* A copy whose states are its own. A setting or the temperature changes in all of them, for a state comes after another
 * one; a solenoid only in the state asked for, whose command it is. */
static struct model *model_copy(const struct vary *v, const struct model *m, state_ix state, double value,
                                struct arena *a)
{
    struct model *copy = arena_alloc(a, sizeof *copy);
    *copy = *m;
    copy->states = arena_rows(a, m->n_states, sizeof *copy->states);
    for (uint32_t i = 0; i < m->n_states; i++) {
        struct state *s = &copy->states[i];
        *s = m->states[i];
        if (v->what == VARY_TEMPERATURE)
            s->temperature = value;
        if (v->what == VARY_DUTY && i == state.i) {
            s->shares = arena_rows(a, m->n_solenoids, sizeof *s->shares);
            memcpy(s->shares, m->states[i].shares, m->n_solenoids * sizeof *s->shares);
            s->shares[v->solenoid] = value;
        }
        if (v->what != VARY_SETTING || !(s->sources[v->feed.i].pressure > 0))
            continue;
        s->sources = arena_rows(a, m->n_feeds, sizeof *s->sources);
        memcpy(s->sources, m->states[i].sources, m->n_feeds * sizeof *s->sources);
        s->sources[v->feed.i].pressure = value;
        s->sources[v->feed.i].regulated = false;
    }
    return copy;
}

static const char *fault_at(const struct vary *v, const char *fault, double value, struct arena *a)
{
    const char *unit = v->dim == DIM_FLOW ? "L/min" : "mm";
    double scale = v->dim == DIM_FLOW ? 60000 : 1000;
    if (v->what != VARY_FAULT)
        return fault;
    const char *one = arena_format(a, "%s %.12g %s", v->fault, value * scale, unit);
    return fault ? arena_format(a, "%s + %s", fault, one) : one;
}

/* The state asked for and those that it comes after, first to last. */
static void chain_solve(struct vary_point *p, state_ix state)
{
    const struct model *m = p->model;
    uint32_t n = 0, *chain = arena_rows(&p->arena, m->n_states, sizeof *chain);
    struct solver *solver = solver_new(&p->network);
    struct pressures before;
    for (uint32_t s = state.i; s != NONE; s = m->states[s].after.i)
        chain[n++] = s;
    pressures_init(&before);
    for (uint32_t k = n; k-- > 0;) {
        struct pressures now;
        pressures_init(&now);
        pressure_solve(solver, &p->trace, trace_case(&p->trace, 0, (state_ix){chain[k]}), SOLVE_ONE_START, NULL,
                       k + 1 < n ? &before : NULL, &now);
        pressures_release(&before);
        before = now;
    }
    p->pressures = before;
    solver_free(solver);
}

bool vary_solve(const struct vary *v, const struct model *m, state_ix state, const char *fault, double value,
                struct vary_point *out, struct diags *d)
{
    static const struct edits none = {0};
    struct fault_set *set;
    memset(out, 0, sizeof *out);
    arena_init(&out->arena);
    pressures_init(&out->pressures);
    out->value = value;
    out->model = model_copy(v, m, state, value, &out->arena);
    const char *words = fault_at(v, fault, value, &out->arena);
    set = arena_alloc(&out->arena, sizeof *set);
    network_build(out->model, false, &out->network);
    if (words && !faults_read(words, &out->network, &out->arena, set, d))
        return false;
    if (set->edits.splits_joint) {
        network_release(&out->network);
        network_build(out->model, true, &out->network);
    }
    uint8_t *wanted = arena_rows(&out->arena, m->n_states, 1);
    wanted[state.i] = 1;
    if (words) {
        trace_run_some(&out->network, &none, 1, wanted, NULL, &out->healthy);
        out->has_healthy = true;
    }
    trace_run_some(&out->network, words ? &set->edits : &none, 1, wanted, words ? &out->healthy : NULL, &out->trace);
    chain_solve(out, state);
    return true;
}

void vary_release(struct vary_point *p)
{
    pressures_release(&p->pressures);
    if (p->trace.network)
        trace_release(&p->trace);
    if (p->has_healthy)
        trace_release(&p->healthy);
    network_release(&p->network);
    arena_release(&p->arena);
}
