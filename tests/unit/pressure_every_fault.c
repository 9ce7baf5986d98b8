/* Every state of every shipped model, healthy and under every single fault that it can have: each must converge, or it
 * is listed here with its reason; what converged must balance at every passage, and print the same from a warm and from
 * a cold start, and so must how fast devices fill and drain. The counts are part of the test, so that no solve is lost
 * unseen: who changes a model changes them here. Nothing from outside is needed: a balance is a balance. */
#include "faults/list.h"
#include "pressure_case.h"
#include <dirent.h>

#define BALANCE    1e-9   /* of the larger of the total source flow and LEAST_FLOW: what a solution promises */
#define LEAST_FLOW 1e-4   /* m3/s */
#define DIGITS     "%.6g" /* more than any output shows of a pressure in psi */
#define SHOWN      1e-3   /* psi: below, no output shows a digit */

struct tally {
    unsigned n_cases, n_failed, n_two, n_balances;
};

/* ---- balance */

static double flow_or_zero(double q)
{
    return isnan(q) ? 0 : q;
}

static bool is_removed(const struct edits *edits, uint32_t element)
{
    for (uint32_t i = 0; i < edits->n; i++)
        if (edits->rows[i].kind == EDIT_REMOVE && edits->rows[i].element.i == element)
            return true;
    return false;
}

/* Passages that are one under the faults. @param group out [n_nodes] the same number for each of them */
static void groups_find(const struct network *n, const struct edits *edits, uint32_t *group)
{
    for (uint32_t i = 0; i < n->n_nodes; i++)
        group[i] = i;
    for (bool moved = n->apart; moved;) {
        moved = false;
        for (uint32_t i = 0; i < n->n_elements; i++) {
            const struct element *e = &n->elements[i];
            uint32_t *a = &group[n->node_of[e->from.i]], *b = &group[n->node_of[e->to.i]];
            if (e->kind != ELEMENT_JOINT || !isnan(e->diameter) || *a == *b || is_removed(edits, i))
                continue;
            *a = *b = *a < *b ? *a : *b;
            moved = true;
        }
    }
}

/* Marks where oil goes that no element's flow tells of: through gaps, and what a regulator spills that is stuck open.
 */
static void untold_mark(const struct model *m, const struct network *n, const struct edits *edits,
                        const uint32_t *group, uint8_t *untold)
{
    for (uint32_t i = 0; i < m->n_valves; i++)
        for (uint32_t k = 0; m->valves[i].has_clearance && k < m->valves[i].n_ports; k++)
            untold[group[n->node_of[m->valves[i].ports[k].passage.i]]] = 1;
    for (uint32_t i = 0; i < edits->n; i++) {
        const struct edit *e = &edits->rows[i];
        if (e->kind == EDIT_PIN && m->valves[e->valve.i].kind == VALVE_REGULATING && e->position == PIN_OPEN)
            untold[group[n->node_of[m->feeds[m->valves[e->valve.i].source.i].passage.i]]] = 1;
    }
}

/* The largest imbalance of any group of passages, as a share of what is allowed. @param n_balances counts them */
static double balance_of(const struct network *n, const struct edits *edits, const struct pressures *p,
                         unsigned *n_balances)
{
    const struct model *m = n->model;
    uint32_t *group = mem_alloc(((size_t)n->n_nodes + 1) * sizeof *group), n_added = 0;
    double *into = mem_zero((size_t)n->n_nodes + 1, sizeof *into), sources = 0, worst = 0;
    uint8_t *untold = mem_zero((size_t)n->n_nodes + 1, 1);
    groups_find(n, edits, group);
    untold_mark(m, n, edits, group, untold);
    untold[group[n->node_of[SUMP.i]]] = 1;
#define INTO(PASSAGE) into[group[n->node_of[(PASSAGE).i]]]
    for (uint32_t i = 0; i < n->n_elements; i++) {
        INTO(n->elements[i].from) -= p->flow[i];
        INTO(n->elements[i].to) += p->flow[i];
    }
    for (uint32_t i = 0; i < edits->n; i++) { /* what is resized stands among the elements, too */
        const struct edit *e = &edits->rows[i];
        if (e->kind == EDIT_ADD) {
            INTO(e->from) -= p->added_flow[n_added];
            INTO(e->to) += p->added_flow[n_added];
        }
        n_added += e->kind == EDIT_ADD || e->kind == EDIT_RESIZE;
    }
    CU_ASSERT_EQUAL(n_added, p->n_added);
    for (uint32_t i = 0; i < m->n_feeds; i++) {
        INTO(m->feeds[i].passage) += flow_or_zero(p->sources[i].flow);
        sources += flow_or_zero(p->sources[i].flow);
    }
    for (uint32_t i = 0; i < m->n_passages; i++)
        INTO((passage_ix){i}) -= m->leakdown * flow_or_zero(p->pressure[i]);
    for (uint32_t i = 0; i < m->n_passages; i++) {
        passage_ix at = {i};
        if (untold[group[n->node_of[i]]] || isnan(p->pressure[i]))
            continue;
        worst = fmax(worst, fabs(INTO(at)) / (BALANCE * fmax(sources, LEAST_FLOW)));
        ++*n_balances;
    }
#undef INTO
    mem_free(into);
    mem_free(group);
    mem_free(untold);
    return worst;
}

/* ---- one fault */

#define RATES_SAME 1e-6
#define LEAST_RATE 1e-9 /* m3/s: slower than any device that is not closed off fills or drains */

static void rates_check(const struct model *m, const char *words, uint32_t state, const double *warm,
                        const double *cold)
{
    for (uint32_t i = 0; i < m->n_actuators; i++) {
        bool same = isnan(warm[i]) ? isnan(cold[i]) : fabs(warm[i] - cold[i]) <= RATES_SAME * fmax(cold[i], LEAST_RATE);
        if (!same)
            printf("\n%s: %s, %s, %s: warm %.10g, cold %.10g m3/s\n", m->id, words, m->states[state].part.id,
                   m->actuators[i].part.id, warm[i], cold[i]);
        CU_ASSERT_TRUE(same);
    }
}

static void same_check(const struct model *m, const char *words, uint32_t state, const struct pressures *warm,
                       const struct pressures *cold)
{
    CU_ASSERT_EQUAL(warm->end.why, cold->end.why);
    CU_ASSERT_EQUAL(warm->n_solutions, cold->n_solutions);
    for (uint32_t i = 0; warm->end.converged && cold->end.converged && i < m->n_passages; i++) {
        double a = warm->pressure[i] / PSI, b = cold->pressure[i] / PSI;
        char digits[2][32];
        snprintf(digits[0], sizeof digits[0], DIGITS, a);
        snprintf(digits[1], sizeof digits[1], DIGITS, b);
        bool same = strcmp(digits[0], digits[1]) == 0 || fmax(fabs(a), fabs(b)) < SHOWN;
        if (!same)
            printf("\n%s: %s, %s, %s: warm %.10g, cold %.10g psi\n", m->id, words, m->states[state].part.id,
                   m->passages[i].part.id, a, b);
        CU_ASSERT_TRUE(same);
    }
    if (!warm->end.converged || !cold->end.converged)
        return;
    rates_check(m, words, state, warm->fill, cold->fill);
    rates_check(m, words, state, warm->drain, cold->drain);
}

static void case_check(const struct network *n, const struct edits *edits, const char *words, uint32_t state,
                       const struct pressures *p, struct tally *t)
{
    const char *in = n->model->states[state].part.id;
    t->n_cases++;
    if (!p->end.converged) {
        t->n_failed++;
        printf("\n%s: %s, %s: %s\n", n->model->id, words, in, solve_why_words(p->end.why));
        CU_ASSERT_EQUAL(p->end.why, SOLVE_NO_LIMIT); /* the one reason that a model may give */
        return;
    }
    t->n_two += p->n_solutions > 0;
    double balance = balance_of(n, edits, p, &t->n_balances);
    if (!(balance <= 1))
        printf("\n%s: %s, %s: imbalance %.3g of what is allowed\n", n->model->id, words, in, balance);
    CU_ASSERT_TRUE(balance <= 1);
}

static void fault_check(struct unit_case *c, const struct listed_fault *f, bool also_cold, struct tally *t)
{
    const struct network *n = f->splits_joint ? &c->apart : &c->network;
    struct solver *solver = f->splits_joint ? c->solver_apart : c->solver;
    struct trace trace;
    struct pressures *warm = unit_states(c->m), *cold = unit_states(c->m);
    trace_run(n, &f->set.edits, 1, &c->healthy_trace, &trace);
    pressure_solve_states(solver, &trace, 0, SOLVE_FILL, NULL, c->healthy, warm);
    if (also_cold)
        pressure_solve_states(solver, &trace, 0, SOLVE_FILL, NULL, NULL, cold);
    for (uint32_t s = 0; s < c->m->n_states; s++) {
        case_check(n, &f->set.edits, f->words, s, &warm[s], t);
        if (also_cold)
            same_check(c->m, f->words, s, &warm[s], &cold[s]);
    }
    unit_states_release(c->m, warm);
    unit_states_release(c->m, cold);
    trace_release(&trace);
}

/* ---- a model */

struct expected {
    const char *path;
    unsigned n_faults, n_cases, n_failed, n_two;
};

/* @param cold_every of so many faults one is solved cold, too */
static void model_check(const struct expected *want, uint32_t cold_every)
{
    static const struct edits none;
    struct unit_case c;
    struct tally t = {0};
    struct fault_list list;
    char path[512];
    snprintf(path, sizeof path, FEEDTRACE_SOURCE_DIR "/models/%s", want->path);
    unit_case_file(&c, path);
    for (uint32_t s = 0; s < c.m->n_states; s++)
        case_check(&c.network, &none, "healthy", s, &c.healthy[s], &t);
    fault_list_make(&c.network, 0, NULL, &list);
    for (uint32_t i = 0; i < list.n; i++)
        fault_check(&c, &list.rows[i], i % cold_every == 0, &t);
    bool same = list.n == want->n_faults && t.n_cases == want->n_cases && t.n_failed == want->n_failed &&
                t.n_two == want->n_two;
    if (!same)
        printf("\n    {\"%s\", %u, %u, %u, %u},\n", want->path, list.n, t.n_cases, t.n_failed, t.n_two);
    CU_ASSERT_TRUE(same);
    CU_ASSERT_TRUE(t.n_balances > t.n_cases - t.n_failed); /* most passages are far from any gap */
    fault_list_release(&list);
    unit_case_release(&c);
}

/* Model, faults, states times faults and healthy, those that do not converge, those with a second solution. What does
 * not converge: with the regulator of `crossfeed` stuck shut nothing limits line, for that model has no relief valve.
 */
static const struct expected large[] = {
    {"heron-4.yaml", 611, 7956, 0, 7},
    {"heron-4-late.yaml", 619, 8060, 0, 13},
};
static const struct expected small[] = {
    {"tern-l2.yaml", 77, 468, 0, 0},
    {"plover-early.yaml", 55, 224, 0, 0},
    {"plover-late.yaml", 55, 280, 0, 0},
    {"faulty/cannot-drain.yaml", 22, 46, 0, 0},
    {"faulty/crossfeed.yaml", 31, 64, 2, 0},
    {"faulty/dead-end.yaml", 6, 7, 0, 0},
    {"faulty/duplicate-hole.yaml", 6, 7, 0, 0},
    {"faulty/expectation-failed.yaml", 24, 50, 0, 0},
    {"faulty/gear-not-obtained.yaml", 32, 66, 0, 0},
    {"faulty/hunting.yaml", 20, 42, 0, 0},
    {"faulty/limit-mismatch.yaml", 17, 18, 0, 0},
    {"faulty/may-exceed.yaml", 20, 21, 0, 0},
    {"faulty/never-applies.yaml", 20, 42, 0, 0},
    {"faulty/never-fed.yaml", 7, 8, 0, 0},
    {"faulty/never-releases.yaml", 17, 36, 0, 0},
    {"faulty/over-limit.yaml", 20, 21, 0, 0},
    {"faulty/plover-mixed.yaml", 44, 180, 0, 0},
    {"faulty/race.yaml", 29, 60, 0, 0},
    {"faulty/relief-reached.yaml", 8, 18, 0, 0},
    {"faulty/second-feed.yaml", 20, 21, 0, 0},
    {"faulty/structure-size.yaml", 11, 24, 0, 0},
    {"faulty/tie-up.yaml", 27, 84, 0, 0},
    {"faulty/two-solutions.yaml", 16, 34, 0, 15},
    {"faulty/undecided.yaml", 15, 48, 0, 0},
    {"faulty/undetermined-valve.yaml", 27, 84, 0, 0},
    {"faulty/unused.yaml", 21, 44, 0, 0},
};

#define N_OF(ROWS) (sizeof(ROWS) / sizeof *(ROWS))

static void test_large(void)
{
    for (size_t i = 0; i < N_OF(large); i++)
        model_check(&large[i], 5);
}

static void test_small(void)
{
    for (size_t i = 0; i < N_OF(small); i++)
        model_check(&small[i], 1);
}

static bool is_listed(const char *path)
{
    for (size_t i = 0; i < N_OF(large); i++)
        if (strcmp(large[i].path, path) == 0)
            return true;
    for (size_t i = 0; i < N_OF(small); i++)
        if (strcmp(small[i].path, path) == 0)
            return true;
    return false;
}

/* The tables above leave none out. */
static void test_all_listed(void)
{
    static const char *const folders[] = {"", "faulty/"};
    for (size_t k = 0; k < N_OF(folders); k++) {
        char path[512];
        snprintf(path, sizeof path, FEEDTRACE_SOURCE_DIR "/models/%s", folders[k]);
        DIR *dir = opendir(path);
        CU_ASSERT_PTR_NOT_NULL_FATAL(dir);
        unsigned n = 0;
        for (const struct dirent *d = readdir(dir); d; d = readdir(dir)) {
            const char *dot = strrchr(d->d_name, '.');
            if (!dot || strcmp(dot, ".yaml") != 0)
                continue;
            n++;
            snprintf(path, sizeof path, "%s%s", folders[k], d->d_name);
            if (is_listed(path))
                continue;
            printf("\n%s stands in no table of this test; its row:", path);
            model_check(&(struct expected){.path = path}, 1); /* fails, and prints it */
        }
        closedir(dir);
        CU_ASSERT_TRUE(n > 0);
    }
}

static const struct unit_test tests[] = {
    {"all models are listed", test_all_listed},
    {"the full-size unit and its variant", test_large},
    {"small models", test_small},
};
UNIT_MAIN("pressure_every_fault", tests)
