/* Sweeps: fingerprints do not depend on how a network was built, and pairs that are left out unseen do what they are
 * said to do. That single faults and pairs have the effects told is held against the plain reference in tests/oracle.
 */
#include "base/mem.h"
#include "faults/sweep_inner.h"
#include "unit.h"
#include <string.h>

static struct sources files;
static struct diags diags;
static struct model *model;
static struct network network;
static struct trace healthy;
static struct edits none;
static state_ix states[64];

static void begin(const char *name)
{
    char path[512];
    snprintf(path, sizeof path, FEEDTRACE_SOURCE_DIR "/models/%s.yaml", name);
    sources_init(&files);
    diags_init(&diags);
    model = model_read(path, &files, &diags);
    CU_ASSERT_PTR_NOT_NULL_FATAL(model);
    CU_ASSERT_TRUE_FATAL(model->n_states <= 64);
    for (uint32_t i = 0; i < model->n_states; i++)
        states[i] = (state_ix){i};
    network_build(model, false, &network);
    trace_run(&network, &none, 1, NULL, &healthy);
}

static void end(void)
{
    trace_release(&healthy);
    network_release(&network);
    model_free(model);
    diags_release(&diags);
    sources_release(&files);
}

static struct sweep *open_sweep(bool pairs, unsigned kinds)
{
    struct sweep_wanted wanted = {.pairs = pairs, .kinds = kinds, .states = states, .n_states = model->n_states};
    return sweep_open(&network, &healthy, NULL, &wanted);
}

/* Every fault that both networks can hold has one fingerprint and the same changes in both. */
static void fingerprints_agree(void)
{
    begin("heron-4");
    struct sweep *s = open_sweep(false, 0);
    struct trace t[2];
    struct diffs d[2];
    struct edits *sets = mem_zero(s->n, sizeof *sets);
    CU_ASSERT_TRUE_FATAL(s->has_apart && s->n_whole > 500);
    for (uint32_t i = 0; i < s->n_whole; i++)
        sets[i] = s->singles[s->order[i]].fault->set.edits;
    for (int x = 0; x < 2; x++)
        sweep_trace(s, x, sets, s->n_whole, NULL, &t[x], &d[x]);
    unsigned n_other = 0, n_some = 0;
    for (uint32_t c = 0; c < s->n_whole * model->n_states; c++) {
        uint64_t effect[2][2] = {{0, 0}, {0, 0}};
        struct sweep_changes changes[2] = {{0}, {0}};
        enum sweep_rank rank[2];
        for (int x = 0; x < 2; x++) {
            const diff *rows = d[x].rows + d[x].first[c];
            size_t n_rows = d[x].first[c + 1] - d[x].first[c];
            sweep_fingerprint(&s->spaces[x], &t[x], c, rows, n_rows, NULL, 0, 0, effect[x]);
            rank[x] = sweep_changes(&s->spaces[x], &t[x], c, rows, n_rows, NULL, &changes[x]);
        }
        n_other +=
            memcmp(effect[0], effect[1], sizeof effect[0]) != 0 || rank[0] != rank[1] || changes[0].n != changes[1].n ||
            (changes[0].n && memcmp(changes[0].rows, changes[1].rows, changes[0].n * sizeof *changes->rows) != 0);
        n_some += changes[0].n > 0;
        mem_free(changes[0].rows);
        mem_free(changes[1].rows);
    }
    CU_ASSERT_EQUAL(n_other, 0);
    CU_ASSERT_TRUE(n_some > 1000);
    for (int x = 0; x < 2; x++) {
        diffs_release(&d[x]);
        trace_release(&t[x]);
    }
    mem_free(sets);
    sweep_close(s);
    end();
}

/* By pressure the joints that stand apart make other balances; to the digits shown an effect stays the same. */
static void fingerprints_agree_by_pressure(void)
{
    static const char *const names[] = {"tern-l2", "heron-4"};
    static const uint32_t every[] = {1, 12}; /* all faults, or a sample */
    for (int m = 0; m < 2; m++) {
        begin(names[m]);
        struct pressures *solved[3]; /* healthy; the fault in each network */
        for (int x = 0; x < 3; x++) {
            solved[x] = mem_zero(model->n_states, sizeof *solved[x]);
            for (uint32_t i = 0; i < model->n_states; i++)
                pressures_init(&solved[x][i]);
        }
        struct solver *solvers[2] = {solver_new(&network), NULL};
        pressure_solve_states(solvers[0], &healthy, 0, SOLVE_FILL, NULL, NULL, solved[0]);
        struct sweep *s = open_sweep(false, 0);
        CU_ASSERT_TRUE_FATAL(s->has_apart);
        solvers[1] = solver_new(&s->apart);
        unsigned n_other = 0, n_figures = 0;
        for (uint32_t k = 0; k < s->n_whole; k += every[m]) {
            uint64_t effect[2][2] = {{0, 0}, {0, 0}};
            struct sweep_changes changes[2] = {{0}, {0}};
            for (int x = 0; x < 2; x++) {
                struct trace t;
                struct diffs d;
                sweep_trace(s, x, &s->singles[s->order[k]].fault->set.edits, 1, NULL, &t, &d);
                pressure_solve_states(solvers[x], &t, 0, SOLVE_FILL, NULL, solved[0], solved[x + 1]);
                struct pressed p = {solved[x + 1], solved[0]};
                for (uint32_t c = 0; c < model->n_states; c++) {
                    const diff *rows = d.rows + d.first[c];
                    size_t n_rows = d.first[c + 1] - d.first[c], from = changes[x].n;
                    sweep_changes(&s->spaces[x], &t, c, rows, n_rows, &p, &changes[x]);
                    sweep_fingerprint(&s->spaces[x], &t, c, rows, n_rows, &changes[x], from, 0, effect[x]);
                }
                diffs_release(&d);
                trace_release(&t);
            }
            for (size_t i = 0; i < changes[0].n; i++)
                n_figures += changes[0].rows[i].what == CHANGE_PRESSURE || changes[0].rows[i].what == CHANGE_FILL;
            n_other += changes[0].n != changes[1].n || memcmp(effect[0], effect[1], sizeof effect[0]) != 0;
            mem_free(changes[0].rows);
            mem_free(changes[1].rows);
        }
        CU_ASSERT_EQUAL(n_other, 0);
        CU_ASSERT_TRUE(n_figures > 20);
        sweep_close(s);
        for (int x = 0; x < 3; x++) {
            for (uint32_t i = 0; i < model->n_states; i++)
                pressures_release(&solved[x][i]);
            mem_free(solved[x]);
        }
        solver_free(solvers[0]);
        solver_free(solvers[1]);
        end();
    }
}

/* All records of all jobs as one text, and what they count. */
static struct sweep_counts run_all(struct sweep *s, struct text *out)
{
    struct sweep_counts sum = {0};
    for (uint64_t job = 0; job < sweep_jobs(s); job++) {
        struct text answer = {0};
        struct sweep_record r;
        sweep_job(s, job, &answer);
        size_t at = sweep_counts_read(answer.at, answer.n, &sum);
        while (sweep_record_read(answer.at, answer.n, &at, &r)) {
            text_addf(out, "%u %u %llx %llx:", r.first, r.second, (unsigned long long)r.effect[0],
                      (unsigned long long)r.effect[1]);
            for (uint32_t i = 0; i < r.n_states; i++)
                text_addf(out, " %u %u %u", r.states[i].state, r.states[i].rank, r.states[i].news);
            text_add_char(out, '\n');
        }
        text_release(&answer);
    }
    return sum;
}

/* Pairs that are not settled, for nothing that one fault touches meets the other, are settled here all the same. */
static void left_out_are_unions(void)
{
    static const char *const names[] = {"tern-l2", "heron-4"};
    static const unsigned kinds[] = {0,
                                     1u << FAULT_LOSE | 1u << FAULT_BREAK | 1u << FAULT_MISADJUST | 1u << FAULT_WEAR};
    for (int m = 0; m < 2; m++) {
        begin(names[m]);
        struct text with = {0}, without = {0};
        struct sweep *s = open_sweep(true, kinds[m]);
        struct sweep_counts a = run_all(s, &with);
        sweep_close(s);
        s = open_sweep(true, kinds[m]);
        CU_ASSERT_TRUE_FATAL(s->has_touches);
        touches_release(&s->touches);
        s->has_touches = false;
        struct sweep_counts b = run_all(s, &without);
        sweep_close(s);
        CU_ASSERT_TRUE(a.n_apart > 0 && b.n_apart == 0);
        CU_ASSERT_EQUAL(a.n_cases, b.n_cases);
        CU_ASSERT_EQUAL(a.n_news_cases, b.n_news_cases);
        CU_ASSERT_EQUAL(a.n_sets, b.n_sets);
        CU_ASSERT_STRING_EQUAL(text_string(&with), text_string(&without));
        text_release(&with);
        text_release(&without);
        end();
    }
}

/* Each pair stands in one job, whatever the size of the sweep; those that exclude each other are counted apart. */
static void pairs_are_all(void)
{
    begin("tern-l2");
    struct sweep *s = open_sweep(true, 1u << FAULT_STICK);
    struct text out = {0};
    struct sweep_counts c = run_all(s, &out);
    uint64_t n = sweep_faults(s);
    CU_ASSERT_EQUAL(n, 8); /* a limiting valve wide, shut; a spool rest, stroked; two solenoids on, off */
    CU_ASSERT_EQUAL(c.n_excluded, 4);
    CU_ASSERT_EQUAL(c.n_sets, n * (n - 1) / 2 - 4);
    CU_ASSERT_EQUAL(c.n_cases, c.n_sets * model->n_states);
    text_release(&out);
    sweep_close(s);
    end();
}

static const struct unit_test tests[] = {
    {"fingerprints agree between networks", fingerprints_agree},
    {"fingerprints agree between networks by pressure", fingerprints_agree_by_pressure},
    {"pairs left out are unions", left_out_are_unions},
    {"pairs are all there", pairs_are_all},
};
UNIT_MAIN("sweeps", tests)
