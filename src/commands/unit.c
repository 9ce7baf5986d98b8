/* A model with its traces. */
#include "base/mem.h"
#include "commands/command.h"
#include <string.h>
#include <sys/stat.h>

/* A fault may hold a `/` too (`8 L/min`), but then it is several words. */
static bool looks_like_a_file(const char *word)
{
    size_t n = strlen(word);
    return (strchr(word, '/') && !strchr(word, ' ')) || (n > 5 && !strcmp(word + n - 5, ".yaml")) ||
           (n > 4 && !strcmp(word + n - 4, ".yml"));
}

size_t run_models(const struct run *r)
{
    size_t n = 1;
    while (n < r->options.n_args && looks_like_a_file(r->options.args[n]))
        n++;
    return n < r->options.n_args ? n : r->options.n_args;
}

/* The states by name. */
static bool state_take(struct unit *u, const char *name, bool *wanted, struct diags *d)
{
    const struct model *m = u->model;
    state_ix s = model_state(m, name, strlen(name));
    if (s.i != NONE) {
        wanted[s.i] = true;
        return true;
    }
    diag(d, BAD_USAGE, NO_SPAN, "model %s has no state '%s'", m->id, name);
    const char **names = mem_alloc((m->n_states + 1) * sizeof *names);
    for (uint32_t i = 0; i < m->n_states; i++)
        names[i] = m->states[i].part.id;
    const char *near = text_nearest(name, names, m->n_states);
    struct text help = {0};
    if (near)
        text_addf(&help, "did you mean %s? ", near);
    text_add(&help, m->n_states ? "its states are " : "it has no states");
    for (uint32_t i = 0; i < m->n_states; i++) {
        if (i == 40) {
            text_addf(&help, " and %u more", m->n_states - i);
            break;
        }
        text_addf(&help, "%s%s", i ? ", " : "", names[i]);
    }
    diag_help(d, "%s", text_string(&help));
    text_release(&help);
    mem_free(names);
    return false;
}

static bool states_take(struct unit *u, const struct run *r, const char *const *states, size_t n_states,
                        struct diags *d)
{
    uint32_t n = u->model->n_states;
    bool *wanted = mem_zero(n + 1, sizeof *wanted), ok = true;
    for (size_t i = 0; i < n_states; i++)
        ok = state_take(u, states[i], wanted, d) && ok;
    for (size_t i = 0; i < r->options.in.n; i++)
        ok = state_take(u, r->options.in.rows[i], wanted, d) && ok;
    bool all = !n_states && !r->options.in.n;
    u->states = mem_alloc((n + 1) * sizeof *u->states);
    for (uint32_t i = 0; i < n; i++)
        if (all || wanted[i])
            u->states[u->n_states++] = (state_ix){i};
    mem_free(wanted);
    return ok;
}

/* Solves the states asked for, and those that they come after, each after the one that it follows. */
static struct pressures *states_solve(const struct unit *u, const struct network *n, const struct trace *t,
                                      const struct pressures *healthy)
{
    const struct model *m = u->model;
    uint8_t *wanted = mem_zero((size_t)m->n_states + 1, 1);
    struct pressures *rows = mem_zero((size_t)m->n_states + 1, sizeof *rows);
    for (uint32_t i = 0; i < m->n_states; i++)
        pressures_init(&rows[i]);
    for (uint32_t i = 0; i < u->n_states; i++)
        wanted[u->states[i].i] = 1;
    struct solver *solver = solver_new(n);
    pressure_solve_states(solver, t, 0, SOLVE_FILL, wanted, healthy, rows);
    solver_free(solver);
    mem_free(wanted);
    return rows;
}

static void unit_solve(struct unit *u)
{
    u->healthy_pressures = states_solve(u, &u->network, &u->healthy, NULL);
    if (u->has_faulty)
        u->faulty_pressures = states_solve(u, u->has_apart ? &u->apart : &u->network, &u->faulty, u->healthy_pressures);
    u->pressed = (struct pressed){u->has_faulty ? u->faulty_pressures : u->healthy_pressures, u->healthy_pressures};
    u->answer.pressed = &u->pressed;
}

bool unit_open(struct unit *u, struct run *r, const char *path, const char *fault, const char *const *states,
               size_t n_states)
{
    *u = (struct unit){.path = path};
    sources_init(&u->files);
    diags_init(&u->diags);
    arena_init(&u->arena);
    u->model = model_read(path, &u->files, &u->diags);
    run_inputs(r, &u->files);
    u->answer = (struct answer){.path = path, .files = &u->files, .model = u->model, .diags = &u->diags};
    diags_sort(&u->diags);
    if (u->diags.n)
        run_complain(r, &u->diags, &u->files);
    if (!u->model) {
        run_status(r, STATUS_INPUT);
        return true;
    }
    struct diags usage;
    diags_init(&usage);
    network_build(u->model, false, &u->network);
    u->has_network = true;
    bool ok = states_take(u, r, states, n_states, &usage);
    if (fault)
        ok = faults_read(fault, &u->network, &u->arena, &u->fault, &usage) && ok;
    if (!ok) {
        run_complain(r, &usage, NULL);
        diags_release(&usage);
        run_status(r, STATUS_INPUT);
        unit_release(u);
        return false;
    }
    diags_release(&usage);
    trace_run(&u->network, &u->no_edits, 1, NULL, &u->healthy);
    u->has_healthy = true;
    if (fault) {
        if (u->fault.edits.splits_joint) {
            network_build(u->model, true, &u->apart);
            u->has_apart = true;
        }
        trace_run(u->has_apart ? &u->apart : &u->network, &u->fault.edits, 1, &u->healthy, &u->faulty);
        u->has_faulty = true;
        u->answer.fault = &u->fault;
    }
    u->answer.healthy = &u->healthy;
    u->answer.shown = fault ? &u->faulty : &u->healthy;
    u->answer.states = u->states;
    u->answer.n_states = u->n_states;
    if (!r->options.structure && network_is_sized(&u->network))
        unit_solve(u);
    return true;
}

void unit_status(const struct unit *u, struct run *r, bool healthy)
{
    const struct trace *t = healthy ? &u->healthy : u->answer.shown;
    const struct pressed of_healthy = {u->healthy_pressures, u->healthy_pressures};
    const struct pressed *pressed = u->answer.pressed && healthy ? &of_healthy : u->answer.pressed;
    for (uint32_t i = 0; i < u->n_states; i++)
        if (!t->cases[trace_case(t, 0, u->states[i])].settled || pressed_failed(pressed, u->states[i].i))
            run_status(r, STATUS_RESULT);
}

void unit_findings(struct unit *u, struct run *r)
{
    struct answer *a = &u->answer;
    if (!u->model)
        return;
    struct diags all;
    diags_init(&all);
    findings_run(a->shown, a->pressed, 0, a->fault != NULL, &all);
    diags_sort(&all);
    a->checks = findings_checks(a->fault != NULL, &a->n_checks);
    bool *wanted = mem_zero(u->model->n_states + 1, sizeof *wanted);
    for (uint32_t i = 0; i < u->n_states; i++)
        wanted[u->states[i].i] = true;
    if (u->n_states == u->model->n_states) { /* the usual case, and the one that may have to count more than it keeps */
        diags_release(&u->diags);
        u->diags = all;
    } else {
        for (size_t i = 0; i < all.n; i++) {
            const struct diag *f = &all.rows[i];
            state_ix s = f->state ? model_state(u->model, f->state, strlen(f->state)) : (state_ix){NONE};
            if (s.i != NONE && !wanted[s.i])
                continue;
            diag_finding(&u->diags, f->code, f->where, f->at, f->state, "%s", f->message);
            if (f->help)
                diag_help(&u->diags, "%s", f->help);
            if (f->second_text)
                diag_second(&u->diags, f->second, "%s", f->second_text);
        }
        diags_release(&all);
    }
    mem_free(wanted);
    unit_status(u, r, false);
    for (uint32_t i = 0; i < u->n_states; i++)
        expectations_count(a->shown, a->pressed, 0, u->states[i], &a->expectations);
}

static void pressures_drop(struct pressures *rows, uint32_t n)
{
    for (uint32_t i = 0; rows && i < n; i++)
        pressures_release(&rows[i]);
    mem_free(rows);
}

void unit_release(struct unit *u)
{
    if (u->model) {
        pressures_drop(u->faulty_pressures, u->model->n_states);
        pressures_drop(u->healthy_pressures, u->model->n_states);
    }
    if (u->has_faulty)
        trace_release(&u->faulty);
    if (u->has_healthy)
        trace_release(&u->healthy);
    if (u->has_apart)
        network_release(&u->apart);
    if (u->has_network)
        network_release(&u->network);
    if (u->model)
        model_free(u->model);
    mem_free(u->states);
    arena_release(&u->arena);
    diags_release(&u->diags);
    sources_release(&u->files);
}
