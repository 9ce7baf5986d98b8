/* One engine: however cases are packed, each has the same answers. Every single fault of the full-size unit, all at
 * once against one by one, on the merged network against the one with its joints apart, and the differences against the
 * traces they are taken from. */
#include "base/mem.h"
#include "faults/list.h"
#include "trace/diffs.h"
#include "unit.h"
#include <string.h>

static struct sources files;
static struct diags d;
static struct model *m;
static struct network merged, apart;
static struct fault_list faults;
static struct trace healthy, healthy_apart;
static struct edits none;

static void begin(const char *path)
{
    sources_init(&files);
    diags_init(&d);
    m = model_read(path, &files, &d);
    CU_ASSERT_PTR_NOT_NULL_FATAL(m);
    network_build(m, false, &merged);
    network_build(m, true, &apart);
    fault_list_make(&apart, 0, NULL, &faults);
    trace_run(&merged, &none, 1, NULL, &healthy);
    trace_run(&apart, &none, 1, NULL, &healthy_apart);
}

static void end(void)
{
    trace_release(&healthy);
    trace_release(&healthy_apart);
    fault_list_release(&faults);
    network_release(&merged);
    network_release(&apart);
    model_free(m);
    diags_release(&d);
    sources_release(&files);
}

/* How many answers of two cases differ. */
static uint32_t differences(const struct trace *a, uint32_t ca, const struct trace *b, uint32_t cb)
{
    const struct trace_case *x = &a->cases[ca], *y = &b->cases[cb];
    uint32_t movers = merged.n_spools + merged.n_limits + merged.n_seats, n = x->settled != y->settled;
    n += memcmp(x->positions, y->positions, movers) != 0;
    n += memcmp(x->restless, y->restless, movers) != 0;
    n += memcmp(x->applied, y->applied, m->n_actuators) != 0;
    n += x->gear.gear != y->gear.gear || x->gear.n_possible != y->gear.n_possible;
    for (uint32_t i = 1; i < m->n_passages; i++) {
        passage_ix p = {i};
        n += trace_condition(a, ca, p) != trace_condition(b, cb, p);
        for (uint32_t f = 0; f < m->n_feeds; f++)
            n += trace_reach(a, ca, (feed_ix){f}, p) != trace_reach(b, cb, (feed_ix){f}, p);
        for (uint32_t l = 0; l < merged.n_limits; l++)
            n += trace_past(a, ca, l, p) != trace_past(b, cb, l, p);
    }
    return n;
}

static struct edits *sets_of(bool whole, uint32_t *n)
{
    struct edits *sets = mem_alloc((faults.n + 1) * sizeof *sets);
    *n = 0;
    for (uint32_t i = 0; i < faults.n; i++) {
        if (whole || !faults.rows[i].splits_joint)
            sets[(*n)++] = faults.rows[i].set.edits;
    }
    return sets;
}

static void together_as_alone(void)
{
    begin(FEEDTRACE_SOURCE_DIR "/models/heron-4.yaml");
    uint32_t n, differ = 0;
    struct edits *sets = sets_of(false, &n);
    struct trace all, one;
    trace_run(&merged, sets, n, &healthy, &all);
    for (uint32_t i = 0; i < n; i += 7) { /* a seventh of them alone: the others differ in nothing but their place */
        trace_run(&merged, &sets[i], 1, &healthy, &one);
        for (uint32_t s = 0; s < m->n_states; s++)
            differ += differences(&all, i * m->n_states + s, &one, s);
        trace_release(&one);
    }
    CU_ASSERT_TRUE(n > 500);
    CU_ASSERT_EQUAL(differ, 0);
    trace_release(&all);
    mem_free(sets);
    end();
}

static void apart_as_merged(void)
{
    begin(FEEDTRACE_SOURCE_DIR "/models/heron-4.yaml");
    uint32_t n, differ = 0;
    struct edits *sets = sets_of(false, &n);
    struct trace one, two;
    trace_run(&merged, sets, n, &healthy, &one);
    trace_run(&apart, sets, n, &healthy_apart, &two);
    for (uint32_t c = 0; c < n * m->n_states; c++)
        differ += differences(&one, c, &two, c);
    CU_ASSERT_EQUAL(differ, 0);
    trace_release(&one);
    trace_release(&two);
    mem_free(sets);
    end();
}

/* Some cases alone, with what they come after, against the whole run. */
static void some_as_all(void)
{
    begin(FEEDTRACE_SOURCE_DIR "/models/heron-4.yaml");
    uint32_t n, differ = 0, asked = 0;
    struct edits *sets = sets_of(false, &n);
    uint8_t *wanted = mem_zero((size_t)n * m->n_states, 1);
    struct trace all, some;
    for (uint32_t c = 0; c < n * m->n_states; c += 5)
        wanted[c] = 1;
    trace_run(&merged, sets, n, &healthy, &all);
    trace_run_some(&merged, sets, n, wanted, &healthy, &some);
    for (uint32_t c = 0; c < n * m->n_states; c++) {
        asked += some.cases[c].asked;
        differ += wanted[c] && !some.cases[c].asked;
        differ += some.cases[c].asked ? differences(&all, c, &some, c) : 0;
    }
    CU_ASSERT_EQUAL(differ, 0);
    CU_ASSERT_TRUE(asked < n * m->n_states);
    trace_release(&some);
    trace_release(&all);
    mem_free(wanted);
    mem_free(sets);
    end();
}

/* The lists of differences against the answers, one by one. */
static void diffs_are_the_differences(void)
{
    begin(FEEDTRACE_SOURCE_DIR "/models/heron-4.yaml");
    uint32_t n, wrong = 0, *passage_of = mem_zero(apart.n_nodes, sizeof *passage_of);
    struct edits *sets = sets_of(true, &n);
    struct trace t;
    struct diffs x;
    for (uint32_t i = 0; i < m->n_passages; i++)
        passage_of[apart.node_of[i]] = i;
    trace_run(&apart, sets, n, &healthy_apart, &t);
    diffs_find(&t, &healthy_apart, &x);
    for (uint32_t c = 0; c < x.n_cases; c++) {
        uint32_t conditions = 0, reaches = 0, s = c % m->n_states;
        for (size_t k = x.first[c]; k < x.first[c + 1]; k++) {
            passage_ix p = {passage_of[DIFF_KIND(x.rows[k]) >= DIFF_CONDITION ? DIFF_ROW(x.rows[k]) : 0]};
            wrong += k > x.first[c] && x.rows[k] <= x.rows[k - 1];
            if (DIFF_KIND(x.rows[k]) == DIFF_CONDITION) {
                conditions++;
                wrong += trace_condition(&t, c, p) != (enum condition)DIFF_VALUE(x.rows[k]);
            }
            if (DIFF_KIND(x.rows[k]) == DIFF_REACH) {
                reaches++;
                wrong += trace_reach(&t, c, (feed_ix){DIFF_OF(x.rows[k])}, p) != (enum certainty)DIFF_VALUE(x.rows[k]);
            }
        }
        for (uint32_t i = 0; i < m->n_passages; i++) {
            conditions -=
                trace_condition(&t, c, (passage_ix){i}) != trace_condition(&healthy_apart, s, (passage_ix){i});
            for (uint32_t f = 0; f < m->n_feeds; f++)
                reaches -= trace_reach(&t, c, (feed_ix){f}, (passage_ix){i}) !=
                           trace_reach(&healthy_apart, s, (feed_ix){f}, (passage_ix){i});
        }
        wrong += conditions != 0 || reaches != 0;
    }
    CU_ASSERT_EQUAL(wrong, 0);
    diffs_release(&x);
    trace_release(&t);
    mem_free(passage_of);
    mem_free(sets);
    end();
}

static const struct unit_test tests[] = {
    {"cases together answer as each alone", together_as_alone},
    {"joints apart answer as joints merged", apart_as_merged},
    {"some cases answer as in the whole run", some_as_all},
    {"lists of differences are the differences", diffs_are_the_differences},
};
UNIT_MAIN("trace: lanes", tests)
