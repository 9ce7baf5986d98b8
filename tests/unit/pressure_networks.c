/* Networks with known answers, each solved to its own tolerance. The answers are closed forms, manufactured or agreed
 * by independent solvers; tests/data/networks.yaml names which for each. */
#include "base/mem.h"
#include "pressure/pressure.h"
#include "unit_model.h"
#include <math.h>

#define PSI         6894.757293168361 /* Pa: 1 lbf/in2 by the exact definitions of pound, inch and standard gravity */
#define L_PER_MIN   (1e-3 / 60)       /* m3/s */
#define FLOW_AT_ALL 1.0               /* L/min: flows much below are compared with it */

struct solved {
    struct read_text text;
    struct network network;
    struct trace trace;
    struct solver *solver;
    struct pressures answer;
};

static void solve(const char *model, struct solved *s)
{
    static const struct edits none;
    s->text = unit_good_model(model);
    network_build(s->text.m, false, &s->network);
    trace_run(&s->network, &none, 1, NULL, &s->trace);
    s->solver = solver_new(&s->network);
    pressures_init(&s->answer);
    pressure_solve(s->solver, &s->trace, 0, 0, NULL, NULL, &s->answer);
}

static void solved_release(struct solved *s)
{
    pressures_release(&s->answer);
    solver_free(s->solver);
    trace_release(&s->trace);
    network_release(&s->network);
    unit_model_release(&s->text);
}

static double pressure_of(const struct solved *s, const char *passage)
{
    struct part_ref ref = model_find(s->text.m, passage, strlen(passage));
    CU_ASSERT_EQUAL_FATAL(ref.kind, PART_PASSAGE);
    return s->answer.pressure[ref.i] / PSI;
}

/* Flow of a part from its first to its second end; NAN: a part without an element of its own (a gap). */
static double flow_of(const struct solved *s, const char *part)
{
    struct part_ref ref = model_find(s->text.m, part, strlen(part));
    double q = NAN;
    for (uint32_t i = 0; i < s->network.n_elements; i++) {
        const struct element *e = &s->network.elements[i];
        if (e->part.kind != ref.kind || e->part.i != ref.i || s->answer.flow[i] == 0)
            continue;
        if (e->kind != ELEMENT_SOLENOID || e->ports[0] == 1) /* the generator uses the exhaust window */
            q = (isnan(q) ? 0 : q) + s->answer.flow[i] / L_PER_MIN;
    }
    if (isnan(q) && ref.kind != PART_VALVE)
        q = 0;
    return q;
}

static void wanted_check(const struct solved *s, const char *id, const char *wanted, double tolerance)
{
    char name[64];
    double value;
    if (sscanf(wanted, "%%p %63s %lf", name, &value) == 2) {
        double p = pressure_of(s, name);
        if (!(fabs(p - value) <= tolerance * fmax(fabs(value), 1e-3)))
            printf("\n%s: %s is %.10g psi, not %.10g\n", id, name, p, value);
        CU_ASSERT_TRUE(fabs(p - value) <= tolerance * fmax(fabs(value), 1e-3));
    } else if (sscanf(wanted, "%%q %63s %lf", name, &value) == 2) {
        double q = flow_of(s, name);
        if (isnan(q))
            return;
        if (!(fabs(q - value) <= tolerance * fmax(fabs(value), FLOW_AT_ALL)))
            printf("\n%s: %s passes %.10g L/min, not %.10g\n", id, name, q, value);
        CU_ASSERT_TRUE(fabs(q - value) <= tolerance * fmax(fabs(value), FLOW_AT_ALL));
    }
}

static void network_check(const char *id, double tolerance, const char *model, const char *wanted)
{
    struct solved s;
    solve(model, &s);
    CU_ASSERT_TRUE(s.answer.end.converged);
    CU_ASSERT_EQUAL(s.answer.n_solutions, 0);
    if (!s.answer.end.converged)
        printf("\n%s: %s\n", id, solve_why_words(s.answer.end.why));
    for (const char *line = wanted; *line && s.answer.end.converged; line = strchr(line, '\n') + 1)
        wanted_check(&s, id, line, tolerance);
    solved_release(&s);
}

static void test_networks(void)
{
    FILE *f = fopen(FEEDTRACE_SOURCE_DIR "/tests/data/network_models.txt", "r");
    CU_ASSERT_PTR_NOT_NULL_FATAL(f);
    char line[16384], id[64] = "";
    double tolerance = 0;
    unsigned n = 0;
    struct text model = {0}, wanted = {0};
    for (;;) {
        bool more = fgets(line, sizeof line, f);
        if (!more || !strncmp(line, "%network ", 9)) {
            if (*id)
                network_check(id, tolerance, text_string(&model), text_string(&wanted));
            n += *id != '\0';
            text_clear(&model);
            text_clear(&wanted);
            if (!more || sscanf(line, "%%network %63s %lf", id, &tolerance) != 2)
                break;
        } else if (*line == '%') {
            text_add(&wanted, line);
        } else {
            text_add(&model, line);
        }
    }
    CU_ASSERT_EQUAL(n, 45); /* 41 networks and 4 in thick oil */
    text_release(&model);
    text_release(&wanted);
    fclose(f);
}

static const struct unit_test tests[] = {
    {"networks with known answers", test_networks},
};
UNIT_MAIN("pressure_networks", tests)
