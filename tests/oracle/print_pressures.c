/* Prints the pressures of every state of a model, as JSON with all digits: {"STATE": {"PASSAGE": Pa, ...}, ...}. A
 * state that did not converge is a text with the reason, a closed passage null. For the checks against other solvers,
 * which need more digits than a user.
 *
 *     print_pressures MODEL... */
#include "base/mem.h"
#include "pressure/pressure.h"
#include <jansson.h>
#include <math.h>
#include <stdio.h>

static json_t *state_value(const struct model *m, const struct pressures *p)
{
    if (!p->end.converged)
        return json_string(solve_why_words(p->end.why));
    json_t *row = json_object();
    for (uint32_t i = 0; i < m->n_passages; i++)
        if (i != SUMP.i)
            json_object_set_new(row, m->passages[i].part.id,
                                isnan(p->pressure[i]) ? json_null() : json_real(p->pressure[i]));
    return row;
}

static json_t *model_value(const struct model *m)
{
    static const struct edits none;
    struct network n;
    struct trace t;
    network_build(m, false, &n);
    trace_run(&n, &none, 1, NULL, &t);
    struct solver *solver = solver_new(&n);
    struct pressures *p = mem_zero((size_t)m->n_states + 1, sizeof *p);
    for (uint32_t i = 0; i < m->n_states; i++)
        pressures_init(&p[i]);
    pressure_solve_states(solver, &t, 0, 0, NULL, NULL, p);
    json_t *states = json_object();
    for (uint32_t i = 0; i < m->n_states; i++) {
        json_object_set_new(states, m->states[i].part.id, state_value(m, &p[i]));
        pressures_release(&p[i]);
    }
    mem_free(p);
    solver_free(solver);
    trace_release(&t);
    network_release(&n);
    return states;
}

int main(int argc, char **argv)
{
    for (int k = 1; k < argc; k++) {
        struct sources files;
        struct diags d;
        sources_init(&files);
        diags_init(&d);
        struct model *m = model_read(argv[k], &files, &d);
        for (size_t i = 0; !m && i < d.n; i++)
            fprintf(stderr, "%s:%u: %s\n", argv[k], d.rows[i].where.line, d.rows[i].message);
        if (!m)
            return 2;
        json_t *states = model_value(m);
        json_dumpf(states, stdout, JSON_REAL_PRECISION(17) | JSON_COMPACT);
        printf("\n");
        json_decref(states);
        model_free(m);
        diags_release(&d);
        sources_release(&files);
    }
    return 0;
}
