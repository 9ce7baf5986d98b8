/* How fast, as ratios: each piece of work is measured beside a baseline of the same run, in turn, and the medians are
 * compared, so that a slow or busy machine changes both. Times are processor time of this process. Nothing here fails
 * for being slow; the exit status is 1 only when results that must be equal differ, 2 when a model cannot be read.
 *
 *     bench ROUNDS SMALL MIDDLE LARGE UNIT
 *
 * SMALL, MIDDLE and LARGE are models by make_model.py, UNIT a shipped model for the scenarios. */
#include "base/mem.h"
#include "trace/trace.h"
#include <igraph/igraph.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>
#include <yaml.h>

#define ROUNDS_MAX  99
#define SAMPLE      0.02 /* s that a sample lasts at least; short work is repeated */
#define N_SCENARIOS 256
#define NO_GOAL     NAN

static double cpu_now(void)
{
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec + (double)t.tv_nsec * 1e-9;
}

/* ---- the table */

static void head_print(const char *title)
{
    printf("\n%s\n%-44s %11s %11s %9s  %s\n", title, "", "work", "baseline", "ratio", "goal");
}

/* One row. A load or a trace should cost at most so many baselines; of scenarios together, `more` is better. */
static void row_print(const char *what, double work, double baseline, const char *unit, bool more, double goal,
                      double stretch)
{
    double ratio = more ? baseline / work : work / baseline;
    printf("%-44s %8.5g %-2s %8.5g %-2s %7.2f x", what, work, unit, baseline, unit, ratio);
    if (isnan(goal)) {
        printf("\n");
        return;
    }
    bool met = more ? ratio >= goal : ratio <= goal, far = more ? ratio >= stretch : ratio <= stretch;
    printf("  at %s %g: %s", more ? "least" : "most", goal, met ? "met" : "missed");
    if (!isnan(stretch))
        printf(", stretch %g: %s", stretch, far ? "met" : "missed");
    printf("\n");
}

/* ---- measuring */

/* Does the work once and tells what it took, s; what only prepares or cleans up is left out. */
typedef double (*measured)(void *of);

static int double_compare(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static double median(double *rows, unsigned n)
{
    qsort(rows, n, sizeof *rows, double_compare);
    return n % 2 ? rows[n / 2] : (rows[n / 2 - 1] + rows[n / 2]) / 2;
}

static double sample(measured work, void *of)
{
    double sum = 0;
    unsigned times = 0;
    while (sum < SAMPLE) {
        sum += work(of);
        times++;
    }
    return sum / times;
}

/* Medians of both over the rounds, s. */
static void compare(unsigned rounds, measured work, void *of_work, measured baseline, void *of_baseline, double out[2])
{
    double rows[2][ROUNDS_MAX];
    for (unsigned i = 0; i < rounds; i++) {
        rows[0][i] = sample(work, of_work);
        rows[1][i] = sample(baseline, of_baseline);
    }
    out[0] = median(rows[0], rounds);
    out[1] = median(rows[1], rounds);
}

/* ---- reading */

static double scan_measure(void *of)
{
    double start = cpu_now();
    const char *path = of;
    FILE *file = fopen(path, "rb");
    yaml_parser_t parser;
    if (!file || !yaml_parser_initialize(&parser)) {
        perror(path);
        exit(2);
    }
    yaml_parser_set_input_file(&parser, file);
    for (bool more = true; more;) {
        yaml_event_t event;
        if (!yaml_parser_parse(&parser, &event)) {
            fprintf(stderr, "%s: not YAML\n", path);
            exit(2);
        }
        more = event.type != YAML_STREAM_END_EVENT;
        yaml_event_delete(&event);
    }
    yaml_parser_delete(&parser);
    fclose(file);
    return cpu_now() - start;
}

static struct model *model_load(const char *path, struct sources *files, double *seconds)
{
    struct diags d;
    sources_init(files);
    diags_init(&d);
    double start = cpu_now();
    struct model *m = model_read(path, files, &d);
    *seconds = cpu_now() - start;
    for (size_t i = 0; !m && i < d.n && i < 10; i++)
        fprintf(stderr, "%s:%u: %s\n", path, d.rows[i].where.line, d.rows[i].message);
    if (!m)
        exit(2);
    diags_release(&d);
    return m;
}

static double load_measure(void *of)
{
    struct sources files;
    double seconds;
    model_free(model_load(of, &files, &seconds));
    sources_release(&files);
    return seconds;
}

/* Greatest memory that the work held, in bytes: of a child, started while this process itself is still small. */
static double peak_find(measured work, void *of)
{
    pid_t child = fork();
    if (child < 0) {
        perror("fork");
        exit(2);
    }
    if (child == 0) {
        work(of);
        _exit(0);
    }
    int status;
    struct rusage usage;
    if (wait4(child, &status, 0, &usage) < 0 || status != 0) {
        fprintf(stderr, "the child that measures memory failed\n");
        exit(2);
    }
    return (double)usage.ru_maxrss * 1024;
}

static void load_report(char *path, unsigned rounds, double peaks[2])
{
    double both[2];
    struct stat file;
    if (stat(path, &file) != 0) {
        perror(path);
        exit(2);
    }
    head_print("Reading the large model (names, places, references, all checks), against libyaml's bare events");
    compare(rounds, load_measure, path, scan_measure, path, both);
    row_print("time", both[0], both[1], "s", false, 3, 2);
    row_print("peak memory, against the file's size", peaks[0] / 1e6, (double)file.st_size / 1e6, "MB", false, 10,
              NO_GOAL);
    row_print("  of the bare scan, for comparison", peaks[1] / 1e6, (double)file.st_size / 1e6, "MB", false, NO_GOAL,
              NO_GOAL);
}

/* ---- tracing */

/* A model with its network, and the same network as a graph of the library's. */
struct unit {
    const char *path;
    struct sources files;
    struct model *model;
    struct network network;
    igraph_t graph;
    igraph_vector_int_t order, layers, parents;
    uint32_t root; /* node of the first source */
};

static void graph_make(struct unit *u)
{
    const struct network *n = &u->network;
    igraph_vector_int_t ends;
    igraph_vector_int_init(&ends, 0);
    igraph_vector_int_reserve(&ends, 2 * (igraph_integer_t)n->n_elements);
    for (uint32_t i = 0; i < n->n_elements; i++) {
        uint32_t a = n->node_of[n->elements[i].from.i], b = n->node_of[n->elements[i].to.i];
        if (a == b)
            continue;
        igraph_vector_int_push_back(&ends, a);
        igraph_vector_int_push_back(&ends, b);
    }
    igraph_create(&u->graph, &ends, n->n_nodes, IGRAPH_UNDIRECTED);
    igraph_vector_int_destroy(&ends);
    igraph_vector_int_init(&u->order, 0);
    igraph_vector_int_init(&u->layers, 0);
    igraph_vector_int_init(&u->parents, 0);
}

static void unit_open(struct unit *u, const char *path)
{
    double seconds;
    *u = (struct unit){.path = path};
    u->model = model_load(path, &u->files, &seconds);
    network_build(u->model, false, &u->network);
    u->root = u->network.node_of[u->model->feeds[0].passage.i];
    graph_make(u);
}

static void unit_close(struct unit *u)
{
    igraph_vector_int_destroy(&u->order);
    igraph_vector_int_destroy(&u->layers);
    igraph_vector_int_destroy(&u->parents);
    igraph_destroy(&u->graph);
    network_release(&u->network);
    model_free(u->model);
    sources_release(&u->files);
}

static double search_measure(void *of)
{
    struct unit *u = of;
    double start = cpu_now();
    igraph_bfs_simple(&u->graph, u->root, IGRAPH_ALL, &u->order, &u->layers, &u->parents);
    return cpu_now() - start;
}

static double network_measure(void *of)
{
    struct unit *u = of;
    struct network n;
    double start = cpu_now();
    network_build(u->model, false, &n);
    double seconds = cpu_now() - start;
    network_release(&n);
    return seconds;
}

static double trace_measure(void *of)
{
    struct unit *u = of;
    struct edits healthy = {0};
    struct trace t;
    double start = cpu_now();
    trace_run(&u->network, &healthy, 1, NULL, &t);
    double seconds = cpu_now() - start;
    trace_release(&t);
    return seconds;
}

/* What kind of work it was: a unit in which nothing moves or nothing is fed would be no measure. */
static void trace_describe(struct unit *u)
{
    const struct model *m = u->model;
    const struct network *n = &u->network;
    struct edits healthy = {0};
    struct trace t;
    uint64_t fed = 0, stroked = 0;
    uint32_t settled = 0;
    trace_run(n, &healthy, 1, NULL, &t);
    for (uint32_t s = 0; s < m->n_states; s++) {
        settled += t.cases[s].settled;
        for (uint32_t p = 1; p < m->n_passages; p++)
            fed += trace_condition(&t, s, (passage_ix){p}) == FED;
        for (uint32_t i = 0; i < n->n_spools; i++)
            stroked += t.cases[s].positions[i] == MAY_STROKED;
    }
    printf(
        "  %u passages, %u nodes, %u elements, %u spools; %u of %u states settled in %u rounds; fed %.0f %%, stroked "
        "%.0f %%; the search reaches %.0f %%\n",
        m->n_passages - 1, n->n_nodes, n->n_elements, n->n_spools, settled, m->n_states, (unsigned)t.n_rounds,
        100.0 * (double)fed / m->n_states / (m->n_passages - 1), 100.0 * (double)stroked / m->n_states / n->n_spools,
        100.0 * (double)igraph_vector_int_size(&u->order) / n->n_nodes);
    trace_release(&t);
}

/* States in a chain, four and four: each four start where the four before ended, and have to wait for them. */
static void states_chain(struct model *m, bool chained)
{
    for (uint32_t s = 0; s < m->n_states; s++)
        m->states[s].after.i = chained && s >= 4 ? s - 4 : NONE;
}

static void trace_report(char *paths[3], unsigned rounds)
{
    double ratio[3], both[2], building[2];
    char what[80];
    head_print("One trace of all states, against one breadth-first search by igraph on the same graph");
    for (int k = 0; k < 3; k++) {
        struct unit u;
        unit_open(&u, paths[k]);
        compare(rounds, trace_measure, &u, search_measure, &u, both);
        ratio[k] = both[0] / both[1];
        snprintf(what, sizeof what, "%u passages, %u states", u.model->n_passages - 1, u.model->n_states);
        row_print(what, both[0] * 1e3, both[1] * 1e3, "ms", false, 40, 20);
        compare(rounds, network_measure, &u, search_measure, &u, building);
        row_print("  building its network, not counted above", building[0] * 1e3, building[1] * 1e3, "ms", false,
                  NO_GOAL, NO_GOAL);
        if (k == 1) {
            states_chain(u.model, true);
            compare(rounds, trace_measure, &u, search_measure, &u, both);
            row_print("  the same, states `after` each other by four", both[0] * 1e3, both[1] * 1e3, "ms", false,
                      NO_GOAL, NO_GOAL);
            states_chain(u.model, false);
        }
        if (k == 2) {
            compare(rounds, trace_measure, &u, scan_measure, paths[k], both);
            row_print("  the same, against libyaml's bare events", both[0] * 1e3, both[1] * 1e3, "ms", false, 3, 1.5);
        }
        trace_describe(&u);
        unit_close(&u);
    }
    printf("  growth of that ratio: %.2f from small to middle, %.2f from middle to large\n", ratio[1] / ratio[0],
           ratio[2] / ratio[1]);
}

/* ---- many scenarios at once */

struct scenarios {
    struct unit *unit;
    struct edits sets[N_SCENARIOS];
    struct edit rows[N_SCENARIOS][2];
    struct trace healthy;
};

static uint32_t pick(uint64_t *state, uint32_t n)
{
    *state ^= *state << 13; /* xorshift, G. Marsaglia 2003 */
    *state ^= *state >> 7;
    *state ^= *state << 17;
    return (uint32_t)((*state >> 16) % n);
}

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

static uint32_t scenarios_report(char *path, unsigned rounds, bool narrow)
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

int main(int argc, char **argv)
{
    unsigned rounds = argc == 6 ? (unsigned)strtoul(argv[1], NULL, 10) : 0;
    if (rounds < 1 || rounds > ROUNDS_MAX) {
        fprintf(stderr, "usage: bench ROUNDS SMALL MIDDLE LARGE UNIT   (rounds: 1 to %d)\n", ROUNDS_MAX);
        return 2;
    }
    char **sizes = argv + 2, *unit = argv[5];
    double peaks[2] = {peak_find(load_measure, sizes[2]), peak_find(scan_measure, sizes[2])};
    setvbuf(stdout, NULL, _IOLBF, 0);
    printf("Medians of %u rounds, processor time. Only the ratios count.\n", rounds);
    load_report(sizes[2], rounds, peaks);
    trace_report(sizes, rounds);
    head_print(
        "256 scenarios side by side, against the same one at a time (goal: what a sweep must gain on a plain settle)");
    uint32_t differ = scenarios_report(unit, rounds, true);
    differ += scenarios_report(unit, rounds, false);
    differ += scenarios_report(sizes[0], rounds, true);
    printf("\n%s\n", differ ? "RESULTS DIFFER" : "All results that must be equal are equal.");
    return differ != 0;
}
