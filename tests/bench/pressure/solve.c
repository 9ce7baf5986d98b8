/* How fast pressures are solved, as ratios to a baseline of the same run: one numerical factorisation with the pivots
 * known, and one solve, by KLU alone on the very matrix that the solver ends with. Times are processor time of this
 * process, medians over the rounds. Nothing fails for being slow; exit status 1: a state that must converge did not, 2:
 * a model cannot be read.
 *
 *     solve ROUNDS UNIT SIZE...     the table; UNIT is swept, of each SIZE some states are solved
 *     solve --export UNIT STATE     the balances of one state as JSON, for others.py */
#include "base/mem.h"
#include "faults/list.h"
#include "pressure/problem.h"
#include <jansson.h>
#include <klu.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#define ROUNDS_MAX  99
#define SAMPLE      0.05 /* s that the baseline runs at least */
#define GOAL        40.0
#define STRETCH     15.0
#define STATES_MOST 3     /* of a large model */
#define LARGE       20000 /* passages: measured once only */

static double now(void)
{
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec + (double)t.tv_nsec * 1e-9;
}

static int double_order(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static double median(double *rows, unsigned n)
{
    qsort(rows, n, sizeof *rows, double_order);
    return n % 2 ? rows[n / 2] : (rows[n / 2 - 1] + rows[n / 2]) / 2;
}

/* ---- a model, solved healthy */

struct unit {
    struct sources files;
    struct diags d;
    struct model *m;
    struct network network, apart;
    struct trace healthy_trace;
    struct solver *solver, *solver_apart;
    struct pressures *healthy; /* [n_states] */
    unsigned n_failed;
};
static const struct edits none;

static struct pressures *states_new(const struct model *m)
{
    struct pressures *p = mem_zero((size_t)m->n_states + 1, sizeof *p);
    for (uint32_t i = 0; i < m->n_states; i++)
        pressures_init(&p[i]);
    return p;
}

static void states_free(const struct model *m, struct pressures *p)
{
    for (uint32_t i = 0; i < m->n_states; i++)
        pressures_release(&p[i]);
    mem_free(p);
}

static void unit_open(struct unit *u, const char *path)
{
    *u = (struct unit){0};
    sources_init(&u->files);
    diags_init(&u->d);
    u->m = model_read(path, &u->files, &u->d);
    for (size_t i = 0; !u->m && i < u->d.n && i < 10; i++)
        fprintf(stderr, "%s:%u: %s\n", path, u->d.rows[i].where.line, u->d.rows[i].message);
    if (!u->m)
        exit(2);
    network_build(u->m, false, &u->network);
    network_build(u->m, true, &u->apart);
    trace_run(&u->network, &none, 1, NULL, &u->healthy_trace);
    u->solver = solver_new(&u->network);
    u->solver_apart = solver_new(&u->apart);
    u->healthy = states_new(u->m);
}

static void unit_close(struct unit *u)
{
    states_free(u->m, u->healthy);
    solver_free(u->solver);
    solver_free(u->solver_apart);
    trace_release(&u->healthy_trace);
    network_release(&u->network);
    network_release(&u->apart);
    model_free(u->m);
    diags_release(&u->d);
    sources_release(&u->files);
}

/* Solves the first so many states cold. @return s */
static double healthy_solve(struct unit *u, uint32_t n_states, unsigned how)
{
    double start = now();
    for (uint32_t i = 0; i < n_states; i++) {
        pressure_solve(u->solver, &u->healthy_trace, i, how, NULL, NULL, &u->healthy[i]);
        u->n_failed += !u->healthy[i].end.converged;
    }
    return now() - start;
}

/* ---- the baseline */

struct bare { /* a matrix as KLU alone sees it */
    int n, *first, *row;
    double *values, *right;
    size_t n_entries;
};

/* The problem of a healthy state at its solution. */
static void problem_open(const struct unit *u, uint32_t state, struct arena *arena, struct scene *scene,
                         struct problem *p, struct matrix **matrix)
{
    struct entries e = {0};
    arena_init(arena);
    scene_build(&u->network, &u->m->states[state], &none, arena, scene);
    problem_build(&u->healthy_trace, state, scene, p);
    problem_entries(p, &e);
    *matrix = matrix_new(p->n, &e, 0);
    mem_free(e.rows);
    problem_attach(p, *matrix);
    const struct pressures *solved = &u->healthy[state];
    for (uint32_t i = 0; i < p->n_nodes; i++)
        p->x[i] = isnan(solved->pressure[p->passage[i].i]) ? 0 : solved->pressure[p->passage[i].i];
    for (uint32_t i = 0; i < p->n_sources; i++)
        p->x[p->sources[i].unknown] =
            isnan(solved->sources[p->sources[i].feed.i].flow) ? 0 : solved->sources[p->sources[i].feed.i].flow;
    movers_update(p);
    balance_follow(p, true);
    balance_assemble(p);
}

static void bare_make(const struct unit *u, uint32_t state, struct bare *b)
{
    struct arena arena;
    struct scene scene;
    struct problem p;
    struct matrix *m;
    struct entries e = {0};
    problem_open(u, state, &arena, &scene, &p, &m);
    problem_entries(&p, &e);
    b->n = (int)p.n;
    b->first = mem_zero((size_t)p.n + 1, sizeof *b->first);
    b->right = mem_zero((size_t)p.n + 1, sizeof *b->right);
    uint8_t *seen = mem_zero(e.n + p.n + 1, 1); /* by slot: entries repeat */
    size_t n = 0;
    for (size_t i = 0; i < e.n + p.n; i++) {
        struct entry at = i < e.n ? e.rows[i] : (struct entry){(uint32_t)(i - e.n), (uint32_t)(i - e.n)};
        uint32_t slot = matrix_slot(m, at.row, at.column);
        n += !seen[slot];
        seen[slot] = 1;
    }
    b->n_entries = n;
    b->row = mem_zero(n + 1, sizeof *b->row);
    b->values = mem_zero(n + 1, sizeof *b->values);
    memcpy(b->values, matrix_values(m), n * sizeof *b->values);
    for (size_t i = 0; i < e.n + p.n; i++) {
        struct entry at = i < e.n ? e.rows[i] : (struct entry){(uint32_t)(i - e.n), (uint32_t)(i - e.n)};
        uint32_t slot = matrix_slot(m, at.row, at.column);
        b->row[slot] = (int)at.row; /* slots count up column by column */
        if (seen[slot])
            b->first[at.column + 1]++;
        seen[slot] = 0;
    }
    for (uint32_t i = 0; i < p.n; i++) {
        b->first[i + 1] += b->first[i];
        b->right[i] = 1;
    }
    mem_free(seen);
    mem_free(e.rows);
    problem_release(&p);
    matrix_free(m);
    arena_release(&arena);
}

static void bare_free(struct bare *b)
{
    mem_free(b->first);
    mem_free(b->row);
    mem_free(b->values);
    mem_free(b->right);
}

/* One refactorisation and one solve, s. */
static double bare_measure(const struct bare *b)
{
    klu_common common;
    klu_defaults(&common);
    common.scale = 2;
    klu_symbolic *symbolic = klu_analyze(b->n, b->first, b->row, &common);
    klu_numeric *numeric = klu_factor(b->first, b->row, b->values, symbolic, &common);
    if (common.status != KLU_OK) {
        fprintf(stderr, "the matrix of a solution is singular\n");
        exit(1);
    }
    double *x = mem_alloc(((size_t)b->n + 1) * sizeof *x), start = now(), spent = 0;
    unsigned times = 0;
    while (spent < SAMPLE) {
        klu_refactor(b->first, b->row, b->values, symbolic, numeric, &common);
        memcpy(x, b->right, (size_t)b->n * sizeof *x);
        klu_solve(symbolic, numeric, b->n, 1, x, &common);
        times++;
        spent = now() - start;
    }
    mem_free(x);
    klu_free_numeric(&numeric, &common);
    klu_free_symbolic(&symbolic, &common);
    return spent / times;
}

/* ---- the table */

static void row_print(const char *what, double work, double baseline, double goal, double stretch)
{
    printf("%-56s %10.5g us %9.5g us %8.1f x", what, work * 1e6, baseline * 1e6, work / baseline);
    if (!isnan(goal))
        printf("  at most %g: %s, stretch %g: %s", goal, work <= goal * baseline ? "met" : "missed", stretch,
               work <= stretch * baseline ? "met" : "missed");
    printf("\n");
}

struct swept {
    double solving, tracing; /* s, all fault-states */
    uint64_t n_cases, n_steps, n_failed;
};

/* Every single fault in every state, warm from the healthy solutions. */
static struct swept sweep_measure(struct unit *u, const struct fault_list *list, unsigned how)
{
    struct swept s = {0};
    struct pressures *p = states_new(u->m);
    uint64_t steps = solver_n_steps(u->solver) + solver_n_steps(u->solver_apart);
    for (uint32_t i = 0; i < list->n; i++) {
        const struct listed_fault *f = &list->rows[i];
        struct trace t;
        double start = now();
        trace_run(f->splits_joint ? &u->apart : &u->network, &f->set.edits, 1, &u->healthy_trace, &t);
        double traced = now();
        pressure_solve_states(f->splits_joint ? u->solver_apart : u->solver, &t, 0, how, NULL, u->healthy, p);
        s.solving += now() - traced;
        s.tracing += traced - start;
        for (uint32_t k = 0; k < u->m->n_states; k++)
            s.n_failed += !p[k].end.converged;
        s.n_cases += u->m->n_states;
        trace_release(&t);
    }
    s.n_steps = solver_n_steps(u->solver) + solver_n_steps(u->solver_apart) - steps;
    states_free(u->m, p);
    return s;
}

/* Mean over the states of what the baseline takes on each one's matrix. */
static double baseline_measure(const struct unit *u, uint32_t n_states)
{
    double sum = 0;
    for (uint32_t i = 0; i < n_states; i++) {
        struct bare b;
        bare_make(u, i, &b);
        sum += bare_measure(&b);
        bare_free(&b);
    }
    return sum / n_states;
}

static uint64_t sweep_report(const char *path, unsigned rounds)
{
    static const struct {
        unsigned how;
        const char *what;
    } rows[] = {{0, "a fault-state, three starts"},
                {SOLVE_ONE_START, "the same, one start"},
                {SOLVE_FILL, "three starts, fill and drain too"}};
    struct unit u;
    struct fault_list list;
    double work[3][ROUNDS_MAX], base[ROUNDS_MAX], tracing = 0;
    struct swept s[3] = {0};
    uint64_t failed = 0;
    unit_open(&u, path);
    pressure_solve_states(u.solver, &u.healthy_trace, 0, SOLVE_FILL, NULL, NULL, u.healthy);
    fault_list_make(&u.network, 0, NULL, &list);
    for (unsigned i = 0; i < rounds; i++) {
        for (unsigned k = 0; k < 3; k++) {
            s[k] = sweep_measure(&u, &list, rows[k].how);
            work[k][i] = s[k].solving / (double)s[k].n_cases;
        }
        base[i] = baseline_measure(&u, u.m->n_states);
        tracing = s[0].tracing / (double)s[0].n_cases;
    }
    struct bare b;
    bare_make(&u, 0, &b);
    double baseline = median(base, rounds);
    printf("\nSingle-fault sweep of %s, warm; mean time a fault-state, against one KLU refactor and solve\n"
           "  %u faults x %u states = %u fault-states; matrix of %d rows and %u entries\n",
           u.m->id, list.n, u.m->n_states, (unsigned)s[0].n_cases, b.n, (unsigned)b.n_entries);
    for (unsigned k = 0; k < 3; k++) {
        row_print(rows[k].what, median(work[k], rounds), baseline, k ? NAN : GOAL, STRETCH);
        printf("  %.1f linear systems each; %u did not converge\n", (double)s[k].n_steps / (double)s[k].n_cases,
               (unsigned)s[k].n_failed);
        failed += s[k].n_failed;
    }
    row_print("  tracing each fault alone, not counted above", tracing, baseline, NAN, NAN);
    bare_free(&b);
    fault_list_release(&list);
    unit_close(&u);
    return failed;
}

static uint64_t size_report(const char *path, unsigned rounds, double *time_a_passage)
{
    struct unit u;
    double work[ROUNDS_MAX], one[ROUNDS_MAX], base[ROUNDS_MAX];
    char what[120];
    unit_open(&u, path);
    uint32_t n = u.m->n_states < STATES_MOST ? u.m->n_states : STATES_MOST, passages = u.m->n_passages - 1;
    uint64_t failed = 0, steps = 0;
    rounds = passages > LARGE ? 1 : rounds;
    for (unsigned i = 0; i < rounds; i++) {
        one[i] = healthy_solve(&u, n, SOLVE_ONE_START) / n;
        uint64_t before = solver_n_steps(u.solver);
        work[i] = healthy_solve(&u, n, 0) / n;
        steps = solver_n_steps(u.solver) - before;
        failed = u.n_failed;
        base[i] = failed ? NAN : baseline_measure(&u, n);
    }
    snprintf(what, sizeof what, "%u passages, a healthy state, cold, three starts", passages);
    double each = median(work, rounds);
    row_print(what, each, median(base, rounds), NAN, NAN);
    row_print("  one start", median(one, rounds), median(base, rounds), NAN, NAN);
    printf("  %.2f us a passage (%.2f times the size before); %.1f linear systems a state; %u did not converge\n",
           each / passages * 1e6, *time_a_passage > 0 ? each / passages / *time_a_passage : 1, (double)steps / n,
           (unsigned)failed);
    for (uint32_t i = 0; i < n; i++)
        if (!u.healthy[i].end.converged)
            printf("  %s: %s\n", u.m->states[i].part.id, solve_why_words(u.healthy[i].end.why));
    *time_a_passage = each / passages;
    unit_close(&u);
    return failed;
}

/* ---- export */

static json_t *mover_value_of(const struct problem *p, const struct mover *m)
{
    json_t *terms = json_array();
    double offset = m->value; /* what is left of it without its terms: the weights of some follow the pressures */
    for (uint32_t i = 0; i < m->n_terms; i++) {
        const struct term *t = &p->terms[m->first_term + i];
        json_array_append_new(terms, json_pack("[i,f]", (int)t->unknown, t->weight));
        offset -= t->weight * p->x[t->unknown];
    }
    return json_pack("{s:b,s:f,s:f,s:o}", "never", m->never, "at", m->at, "offset", offset, "terms", terms);
}

/* Everything that a balance is made of; pressures in Pa, flows in m3/s; node -1: sump. */
static int state_export(const char *path, const char *state)
{
    struct unit u;
    struct arena arena;
    struct scene scene;
    struct problem p;
    struct matrix *matrix;
    unit_open(&u, path);
    uint32_t s = model_state(u.m, state, strlen(state)).i;
    if (s == NONE) {
        fprintf(stderr, "%s has no state %s\n", path, state);
        return 2;
    }
    double start = now();
    unsigned times = 0;
    do {
        pressure_solve(u.solver, &u.healthy_trace, s, SOLVE_ONE_START, NULL, NULL, &u.healthy[s]);
        times++;
    } while (now() - start < SAMPLE);
    double each = (now() - start) / times;
    if (!u.healthy[s].end.converged)
        return 1;
    problem_open(&u, s, &arena, &scene, &p, &matrix);
    json_t *flows = json_array(), *movers = json_array(), *sources = json_array(), *nodes = json_array();
    for (uint32_t i = 0; i < p.n_flows; i++) {
        const struct flow *f = &p.flows[i];
        json_array_append_new(flows, json_pack("{s:i,s:i,s:b,s:b,s:i,s:i,s:f,s:f,s:f,s:f}", "a", (int)f->a, "b",
                                               (int)f->b, "gap", f->law == LAW_GAP, "one_way", f->one_way, "share_by",
                                               (int)f->share_by, "mover", (int)f->mover, "lap", f->lap, "share",
                                               f->share, "gain", f->gain, "transition", f->transition));
    }
    for (uint32_t i = 0; i < p.n_movers; i++)
        json_array_append_new(movers, mover_value_of(&p, &p.movers[i]));
    for (uint32_t i = 0; i < p.n_sources; i++)
        if (p.sources[i].on && p.sources[i].node != NONE)
            json_array_append_new(sources, json_pack("{s:i,s:b,s:f,s:f}", "node", (int)p.sources[i].node, "limited",
                                                     u.healthy[s].sources[p.sources[i].feed.i].limited, "pressure",
                                                     p.x[p.sources[i].node], "flow", p.x[p.sources[i].unknown]));
    for (uint32_t i = 0; i < p.n_nodes; i++)
        json_array_append_new(nodes, json_pack("{s:f,s:f}", "pressure", p.x[i], "weight", p.weight[i]));
    json_t *all = json_pack("{s:f,s:f,s:o,s:o,s:o,s:o}", "seconds", each, "leakdown", p.leakdown, "nodes", nodes,
                            "flows", flows, "movers", movers, "sources", sources);
    json_dumpf(all, stdout, JSON_REAL_PRECISION(17) | JSON_COMPACT);
    json_decref(all);
    problem_release(&p);
    matrix_free(matrix);
    arena_release(&arena);
    unit_close(&u);
    return 0;
}

int main(int argc, char **argv)
{
    if (argc == 4 && strcmp(argv[1], "--export") == 0)
        return state_export(argv[2], argv[3]);
    unsigned rounds = argc >= 3 ? (unsigned)strtoul(argv[1], NULL, 10) : 0;
    if (rounds < 1 || rounds > ROUNDS_MAX) {
        fprintf(stderr, "usage: solve ROUNDS UNIT SIZE... | --export UNIT STATE   (rounds: 1 to %d)\n", ROUNDS_MAX);
        return 2;
    }
    setvbuf(stdout, NULL, _IOLBF, 0);
    uint64_t failed = sweep_report(argv[2], rounds);
    double time_a_passage = 0;
    printf("\nGrowth: a healthy state, cold, against one KLU refactor and solve of its matrix\n");
    for (int i = 3; i < argc; i++)
        failed += size_report(argv[i], rounds, &time_a_passage);
    return failed != 0;
}
