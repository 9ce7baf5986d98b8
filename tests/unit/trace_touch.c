/* Pairs of faults that touches_apart() calls apart, settled in full: each must be the union of its two faults. A random
 * sample, seeded. */
#include "base/mem.h"
#include "faults/list.h"
#include "trace/diffs.h"
#include "trace/touch.h"
#include "unit.h"
#include <string.h>

struct sample {
    struct sources files;
    struct diags d;
    struct model *m;
    struct network merged, apart;
    struct fault_list faults;
    struct edits *sets; /* [n] the singles that need no joints apart */
    uint32_t n;
    struct trace healthy, singles;
    struct diffs alone;
    struct touches touches;
    struct edits none;
};

static void sample_init(struct sample *s, const char *path)
{
    memset(s, 0, sizeof *s);
    sources_init(&s->files);
    diags_init(&s->d);
    s->m = model_read(path, &s->files, &s->d);
    CU_ASSERT_PTR_NOT_NULL_FATAL(s->m);
    network_build(s->m, false, &s->merged);
    network_build(s->m, true, &s->apart);
    fault_list_make(&s->apart, 0, NULL, &s->faults);
    s->sets = mem_alloc((s->faults.n + 1) * sizeof *s->sets);
    for (uint32_t i = 0; i < s->faults.n; i++) {
        if (!s->faults.rows[i].splits_joint)
            s->sets[s->n++] = s->faults.rows[i].set.edits;
    }
    trace_run(&s->merged, &s->none, 1, NULL, &s->healthy);
    trace_run(&s->merged, s->sets, s->n, &s->healthy, &s->singles);
    diffs_find(&s->singles, &s->healthy, &s->alone);
    touches_find(&s->singles, &s->healthy, &s->touches);
}

static void sample_release(struct sample *s)
{
    touches_release(&s->touches);
    diffs_release(&s->alone);
    trace_release(&s->singles);
    trace_release(&s->healthy);
    mem_free(s->sets);
    fault_list_release(&s->faults);
    network_release(&s->merged);
    network_release(&s->apart);
    model_free(s->m);
    diags_release(&s->d);
    sources_release(&s->files);
}

/* True when the pair's list is exactly the two singles' lists joined. */
static bool is_union(const struct diffs *alone, size_t a, size_t b, const struct diffs *pairs, size_t c)
{
    size_t i = alone->first[a], k = alone->first[b], at = pairs->first[c];
    while (i < alone->first[a + 1] || k < alone->first[b + 1]) {
        diff x = i < alone->first[a + 1] ? alone->rows[i] : ~(diff)0,
             y = k < alone->first[b + 1] ? alone->rows[k] : ~(diff)0;
        diff next = x < y ? x : y;
        i += x == next;
        k += y == next;
        if (at == pairs->first[c + 1] || pairs->rows[at++] != next)
            return false;
    }
    return at == pairs->first[c + 1];
}

#define PAIRS 1500

static void sample_pairs(const char *path, uint32_t least)
{
    struct sample s;
    sample_init(&s, path);
    uint32_t(*of)[2] = mem_alloc(PAIRS * sizeof *of), seed = 12345, apart = 0, wrong = 0;
    struct edits *pairs = mem_zero(PAIRS, sizeof *pairs);
    struct trace t;
    struct diffs x;
    for (uint32_t i = 0; i < PAIRS; i++) {
        for (int k = 0; k < 2; k++)
            of[i][k] = (seed = seed * 1664525u + 1013904223u) / 7 % s.n; /* numbers of Knuth and Lewis, from memory */
        const struct edits *a = &s.sets[of[i][0]], *b = &s.sets[of[i][1]];
        pairs[i].n = a->n + b->n;
        pairs[i].rows = mem_zero((size_t)pairs[i].n + 1, sizeof *pairs[i].rows);
        for (uint32_t k = 0; k < pairs[i].n; k++)
            pairs[i].rows[k] = k < a->n ? a->rows[k] : b->rows[k - a->n];
    }
    trace_run(&s.merged, pairs, PAIRS, &s.healthy, &t);
    diffs_find(&t, &s.healthy, &x);
    for (uint32_t i = 0; i < PAIRS; i++) {
        for (uint32_t state = 0; state < s.m->n_states; state++) {
            if (of[i][0] == of[i][1] || !touches_apart(&s.touches, of[i][0], of[i][1], (state_ix){state}))
                continue;
            apart++;
            wrong += !is_union(&s.alone, (size_t)of[i][0] * s.m->n_states + state,
                               (size_t)of[i][1] * s.m->n_states + state, &x, (size_t)i * s.m->n_states + state);
        }
    }
    CU_ASSERT_EQUAL(wrong, 0);
    CU_ASSERT_TRUE(apart >= least); /* else the test would say nothing */
    diffs_release(&x);
    trace_release(&t);
    for (uint32_t i = 0; i < PAIRS; i++)
        mem_free(pairs[i].rows);
    mem_free(pairs);
    mem_free(of);
    sample_release(&s);
}

static void full_size(void)
{
    sample_pairs(FEEDTRACE_SOURCE_DIR "/models/heron-4.yaml", 5000);
}

static void trainer(void)
{
    sample_pairs(FEEDTRACE_SOURCE_DIR "/models/tern-l2.yaml", 500);
}

static const struct unit_test tests[] = {
    {"pairs apart are unions: the full-size unit", full_size},
    {"pairs apart are unions: the trainer", trainer},
};
UNIT_MAIN("trace: pairs apart", tests)
