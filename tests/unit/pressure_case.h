/* A model from a text or a file, solved healthy and under faults. */
#ifndef PRESSURE_CASE_H
#define PRESSURE_CASE_H
#include "base/mem.h"
#include "faults/faults.h"
#include "pressure/pressure.h"
#include "unit_model.h"
#include <math.h>

#define PSI       6894.757293168361 /* Pa, exact definitions */
#define L_PER_MIN (1e-3 / 60)       /* m3/s */

struct unit_case {
    struct model *m;
    struct sources files;
    struct diags d;
    struct network network, apart;
    struct trace healthy_trace, trace; /* trace: of the fault last solved */
    bool has_trace;
    struct solver *solver, *solver_apart;
    struct pressures *healthy, *faulty; /* [n_states] */
    struct fault_set set;
    struct arena arena;
};

static inline struct pressures *unit_states(const struct model *m)
{
    struct pressures *p = mem_zero((size_t)m->n_states + 1, sizeof *p);
    for (uint32_t i = 0; i < m->n_states; i++)
        pressures_init(&p[i]);
    return p;
}

static inline void unit_states_release(const struct model *m, struct pressures *p)
{
    for (uint32_t i = 0; i < m->n_states; i++)
        pressures_release(&p[i]);
    mem_free(p);
}

/** Takes a model that was read and solves every state healthy. */
static inline void unit_case_solve(struct unit_case *c)
{
    static const struct edits none;
    arena_init(&c->arena);
    network_build(c->m, false, &c->network);
    network_build(c->m, true, &c->apart);
    trace_run(&c->network, &none, 1, NULL, &c->healthy_trace);
    c->has_trace = false;
    c->solver = solver_new(&c->network);
    c->solver_apart = solver_new(&c->apart);
    c->healthy = unit_states(c->m);
    c->faulty = unit_states(c->m);
    pressure_solve_states(c->solver, &c->healthy_trace, 0, SOLVE_FILL, NULL, NULL, c->healthy);
}

static inline void unit_case_text(struct unit_case *c, const char *text)
{
    struct read_text t = unit_good_model(text);
    c->m = t.m;
    c->files = t.files;
    c->d = t.d;
    unit_case_solve(c);
}

static inline void unit_case_file(struct unit_case *c, const char *path)
{
    sources_init(&c->files);
    diags_init(&c->d);
    c->m = model_read(path, &c->files, &c->d);
    CU_ASSERT_PTR_NOT_NULL_FATAL(c->m);
    unit_case_solve(c);
}

/** Solves every state under a fault, warm from the healthy solutions, into c->faulty. */
static inline void unit_case_fault(struct unit_case *c, const char *fault, unsigned how)
{
    bool read = faults_read(fault, &c->network, &c->arena, &c->set, &c->d);
    CU_ASSERT_TRUE_FATAL(read);
    bool apart = c->set.edits.splits_joint;
    if (c->has_trace)
        trace_release(&c->trace);
    trace_run(apart ? &c->apart : &c->network, &c->set.edits, 1, &c->healthy_trace, &c->trace);
    c->has_trace = true;
    pressure_solve_states(apart ? c->solver_apart : c->solver, &c->trace, 0, how, NULL, c->healthy, c->faulty);
}

static inline void unit_case_release(struct unit_case *c)
{
    if (c->has_trace)
        trace_release(&c->trace);
    unit_states_release(c->m, c->healthy);
    unit_states_release(c->m, c->faulty);
    solver_free(c->solver);
    solver_free(c->solver_apart);
    trace_release(&c->healthy_trace);
    network_release(&c->network);
    network_release(&c->apart);
    arena_release(&c->arena);
    model_free(c->m);
    diags_release(&c->d);
    sources_release(&c->files);
}

static inline uint32_t unit_row(const struct unit_case *c, enum part_kind kind, const char *id)
{
    struct part_ref ref = model_find(c->m, id, strlen(id));
    CU_ASSERT_EQUAL_FATAL(ref.kind, kind);
    return ref.i;
}

static inline uint32_t unit_state(const struct unit_case *c, const char *id)
{
    state_ix s = model_state(c->m, id, strlen(id));
    CU_ASSERT_NOT_EQUAL_FATAL(s.i, NONE);
    return s.i;
}

/** Pressure of a passage in psi; the state must have converged. */
static inline double unit_psi(const struct unit_case *c, const struct pressures *all, const char *state,
                              const char *passage)
{
    const struct pressures *p = &all[unit_state(c, state)];
    CU_ASSERT_TRUE_FATAL(p->end.converged);
    return p->pressure[unit_row(c, PART_PASSAGE, passage)] / PSI;
}

static inline enum valve_position unit_position(const struct unit_case *c, const struct pressures *all,
                                                const char *state, const char *valve)
{
    const struct pressures *p = &all[unit_state(c, state)];
    CU_ASSERT_TRUE_FATAL(p->end.converged);
    return p->position[unit_row(c, PART_VALVE, valve)];
}
#endif
