/* Every single fault and every pair of faults of a unit in all states, beside the plain ways to settle one case after
 * another (scalar.h), with the results held against each other. */
#include "base/mem.h"
#include "bench.h"
#include "faults/sweep.h"
#include "scalar.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum {
    SETS_SCALAR = 1540, /* sampled for the scalar way; some 20,000 pairs with a state */
    SETS_IGRAPH = 154,  /* the first of them for the slower one; some 2,000 */
    ROUNDS_MOST = 5
};

struct subject { /* a unit, and what its sweeps need */
    struct unit unit;
    struct network apart;
    struct trace healthy, apart_healthy;
    struct edits none;
    struct sweep_wanted wanted;
    state_ix *states;
    struct sweep *singles; /* for the list of faults */
    struct scalar scalar, igraph;
    struct scalar_answer *healthy_answers, *answers;
};

struct sampled { /* sets of faults that the plain ways settle too */
    struct subject *of;
    struct arena arena;
    struct edits *sets;  /* [n] */
    uint32_t (*rows)[2]; /* [n] faults by the sweep's rows; NONE where there is no second */
    uint32_t n;
};

static void subject_open(struct subject *s, const char *path)
{
    *s = (struct subject){0};
    unit_open(&s->unit, path);
    const struct model *m = s->unit.model;
    network_build(m, true, &s->apart);
    trace_run(&s->unit.network, &s->none, 1, NULL, &s->healthy);
    trace_run(&s->apart, &s->none, 1, NULL, &s->apart_healthy);
    s->states = mem_alloc((m->n_states + 1) * sizeof *s->states);
    for (uint32_t i = 0; i < m->n_states; i++)
        s->states[i].i = i;
    s->wanted = (struct sweep_wanted){.states = s->states, .n_states = m->n_states};
    s->singles = sweep_open(&s->unit.network, &s->healthy, NULL, &s->wanted);
    scalar_open(&s->scalar, &s->unit.network, conditions_scalar);
    scalar_open(&s->igraph, &s->unit.network, conditions_igraph);
    s->healthy_answers = scalar_answers_make(&s->unit.network);
    s->answers = scalar_answers_make(&s->unit.network);
    scalar_run(&s->scalar, &s->none, s->healthy_answers);
    s->scalar.healthy = s->igraph.healthy = s->healthy_answers;
}

static void subject_close(struct subject *s)
{
    conditions_igraph_close(&s->igraph);
    scalar_close(&s->scalar);
    scalar_close(&s->igraph);
    scalar_answers_free(s->healthy_answers, s->unit.model->n_states);
    scalar_answers_free(s->answers, s->unit.model->n_states);
    sweep_close(s->singles);
    trace_release(&s->healthy);
    trace_release(&s->apart_healthy);
    network_release(&s->apart);
    mem_free(s->states);
    unit_close(&s->unit);
}

/* ---- samples */

static bool set_read(struct sampled *x, uint32_t first, uint32_t second)
{
    const struct subject *s = x->of;
    struct text words = {0};
    struct fault_set set;
    struct diags d;
    diags_init(&d);
    text_add(&words, sweep_fault_words(s->singles, first));
    if (second != NONE)
        text_addf(&words, " + %s", sweep_fault_words(s->singles, second));
    bool fine = faults_read(text_string(&words), &s->unit.network, &x->arena, &set, &d);
    if (fine) {
        x->sets[x->n] = set.edits;
        x->rows[x->n][0] = first;
        x->rows[x->n++][1] = second;
    }
    diags_release(&d);
    text_release(&words);
    return fine;
}

/* All single faults, in an order of chance so that the first are a sample too; or pairs by chance, those left out that
 * exclude each other. */
static void sample_make(struct sampled *x, struct subject *s, bool pairs)
{
    uint64_t state = 88172645463325252u;
    uint32_t faults = sweep_faults(s->singles), n = pairs ? SETS_SCALAR : faults;
    *x = (struct sampled){.of = s, .sets = mem_alloc((n + 1) * sizeof *x->sets)};
    x->rows = mem_alloc((n + 1) * sizeof *x->rows);
    arena_init(&x->arena);
    if (!pairs) {
        uint32_t *order = mem_alloc((n + 1) * sizeof *order);
        for (uint32_t i = 0; i < n; i++) {
            uint32_t k = pick(&state, i + 1);
            order[i] = order[k];
            order[k] = i;
        }
        for (uint32_t i = 0; i < n; i++)
            set_read(x, order[i], NONE);
        mem_free(order);
    }
    while (pairs && x->n < n) {
        uint32_t a = pick(&state, faults), b = pick(&state, faults);
        if (a != b)
            set_read(x, a < b ? a : b, a < b ? b : a);
    }
}

static void sample_free(struct sampled *x)
{
    arena_release(&x->arena);
    mem_free(x->sets);
    mem_free(x->rows);
}

/* ---- work: each returns s for one case */

static double plain_measure(struct sampled *x, struct scalar *how, uint32_t n)
{
    double start = cpu_now();
    for (uint32_t i = 0; i < n; i++)
        scalar_run(how, &x->sets[i], x->of->answers);
    return (cpu_now() - start) / n / x->of->wanted.n_states;
}

/* A sweep from its opening to its last answer, all that the command does but the printing. @param news [pairs] marks
 * the pairs that it tells, or NULL. */
static double sweep_measure(struct subject *s, bool pairs, struct sweep_counts *counts, uint8_t *news)
{
    struct sweep_wanted wanted = s->wanted;
    struct text answer = {0};
    double start = cpu_now();
    wanted.pairs = pairs;
    *counts = (struct sweep_counts){0};
    struct sweep *sweep = sweep_open(&s->unit.network, &s->healthy, NULL, &wanted);
    for (uint64_t job = 0; job < sweep_jobs(sweep); job++) {
        struct sweep_record record;
        answer.n = 0;
        sweep_job(sweep, job, &answer);
        size_t at = sweep_counts_read(answer.at, answer.n, counts);
        while (sweep_record_read(answer.at, answer.n, &at, &record))
            if (news)
                news[(size_t)record.second * (record.second - 1) / 2 + record.first] = 1;
    }
    double seconds = cpu_now() - start;
    sweep_close(sweep);
    text_release(&answer);
    return seconds / (double)counts->n_cases;
}

/* ---- equality */

static bool gear_equal(const struct model *m, const struct gear_answer *g, const uint8_t *possible)
{
    uint32_t n = 0;
    for (uint32_t i = 0; i < m->n_gears + 2; i++) {
        uint32_t gear = i < m->n_gears ? i : i == m->n_gears ? GEAR_ANSWER_NONE : GEAR_ANSWER_TIE_UP;
        if (!possible[i])
            continue;
        if (g->gear != GEAR_ANSWER_UNSURE)
            return g->gear == gear && ++n == 1 && !memchr(possible + i + 1, 1, m->n_gears + 1 - i);
        if (n == g->n_possible || g->possible[n++] != gear)
            return false;
    }
    return n > 0 && n == g->n_possible;
}

/* Is a case of a trace what the plain way answers? */
static bool answer_equal(const struct trace *t, uint32_t c, const struct scalar *s, const struct scalar_answer *a)
{
    const struct network *n = t->network;
    const struct model *m = n->model;
    const struct trace_case *x = &t->cases[c];
    uint32_t n_nodes = s->grid->n_nodes;
    if (!x->settled || !a->settled)
        return x->settled == a->settled;
    if (memcmp(x->positions, a->positions, s->n_movers) != 0 || memcmp(x->restless, a->restless, s->n_movers) != 0 ||
        memcmp(x->applied, a->applied, m->n_actuators) != 0 || !gear_equal(m, &x->gear, a->possible))
        return false;
    for (uint32_t i = 0; i < m->n_passages; i++) {
        passage_ix p = {i};
        uint32_t node = a->node_of[i];
        if (trace_condition(t, c, p) != (enum condition)a->conditions[node])
            return false;
        for (uint32_t f = 0; f < m->n_feeds; f++)
            if (trace_reach(t, c, (feed_ix){f}, p) != (enum certainty)a->reach[(size_t)f * n_nodes + node])
                return false;
        for (uint32_t v = 0; v < n->n_limits; v++)
            if (trace_past(t, c, v, p) != (enum certainty)a->past[(size_t)v * n_nodes + node])
                return false;
    }
    return true;
}

/* Holds what lanes answer for the first n sets against one plain way; @return cases that differ. */
static uint32_t sample_check(struct sampled *x, struct scalar *how, uint32_t n)
{
    const struct subject *s = x->of;
    uint32_t differ = 0;
    for (uint32_t i = 0; i < n; i++) {
        struct trace t;
        bool splits = x->sets[i].splits_joint;
        trace_run(splits ? &s->apart : &s->unit.network, &x->sets[i], 1, splits ? &s->apart_healthy : &s->healthy, &t);
        scalar_run(how, &x->sets[i], s->answers);
        for (uint32_t k = 0; k < t.n_states; k++) {
            bool equal = answer_equal(&t, k, how, &s->answers[k]);
            if (!equal && differ < 3)
                printf("  differs: %s%s%s in %s\n", sweep_fault_words(s->singles, x->rows[i][0]),
                       x->rows[i][1] == NONE ? "" : " + ",
                       x->rows[i][1] == NONE ? "" : sweep_fault_words(s->singles, x->rows[i][1]),
                       s->unit.model->states[k].part.id);
            differ += !equal;
        }
        trace_release(&t);
    }
    return differ;
}

/* Everything that an answer says, byte by byte and passage by passage, so that cases of all sets can be compared. */
static size_t facts_size(const struct subject *s)
{
    const struct network *n = &s->unit.network;
    const struct model *m = n->model;
    return 2 + m->n_actuators + n->n_spools + n->n_limits + (size_t)m->n_passages * (1 + m->n_feeds + n->n_limits);
}

static void facts_take(const struct subject *s, const struct scalar_answer *a, uint32_t n_nodes, uint8_t *out)
{
    const struct network *n = &s->unit.network;
    const struct model *m = n->model;
    uint8_t gear = 0;
    memset(out, 0, facts_size(s));
    *out++ = a->settled;
    if (!a->settled)
        return;
    for (uint32_t i = 0; i < m->n_gears + 2; i++)
        if (a->possible[i])
            gear = gear ? 255 : (uint8_t)(i + 1);
    *out++ = gear;
    memcpy(out, a->applied, m->n_actuators);
    memcpy(out + m->n_actuators, a->positions, n->n_spools + n->n_limits);
    out += m->n_actuators + n->n_spools + n->n_limits;
    for (uint32_t i = 0; i < m->n_passages; i++) {
        *out++ = a->conditions[a->node_of[i]];
        for (uint32_t f = 0; f < m->n_feeds; f++)
            *out++ = a->reach[(size_t)f * n_nodes + a->node_of[i]];
        for (uint32_t v = 0; v < n->n_limits; v++)
            *out++ = a->past[(size_t)v * n_nodes + a->node_of[i]];
    }
}

/* Are the facts of a pair those of its two faults, one beside the other? */
static bool facts_are_union(const uint8_t *healthy, const uint8_t *a, const uint8_t *b, const uint8_t *pair, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        bool by_a = a[i] != healthy[i], by_b = b[i] != healthy[i];
        if ((by_a && by_b && a[i] != b[i]) || pair[i] != (by_a ? a[i] : b[i]))
            return false;
    }
    return true;
}

/* Does the sweep tell just those pairs of the sample that are news by the plain way? @param news by sweep_measure().
 * @return pairs for which it does not. */
static uint32_t news_check(struct sampled *x, const uint8_t *news)
{
    struct subject *s = x->of;
    size_t n = facts_size(s), a_set = n * s->wanted.n_states;
    uint32_t differ = 0, told = 0, faults = sweep_faults(s->singles);
    struct sampled singles;
    sample_make(&singles, s, false);
    uint8_t *facts = mem_alloc(((size_t)faults + 2) * a_set), *healthy = facts + faults * a_set,
            *pair = healthy + a_set;
    for (uint32_t i = 0; i < singles.n; i++) {
        scalar_run(&s->scalar, &singles.sets[i], s->answers);
        for (uint32_t k = 0; k < s->wanted.n_states; k++)
            facts_take(s, &s->answers[k], s->scalar.grid->n_nodes, facts + singles.rows[i][0] * a_set + k * n);
    }
    for (uint32_t k = 0; k < s->wanted.n_states; k++)
        facts_take(s, &s->healthy_answers[k], s->scalar.whole.n_nodes, healthy + k * n);
    for (uint32_t i = 0; i < x->n; i++) {
        uint32_t a = x->rows[i][0], b = x->rows[i][1];
        bool is_news = false;
        scalar_run(&s->scalar, &x->sets[i], s->answers);
        for (uint32_t k = 0; k < s->wanted.n_states; k++) {
            facts_take(s, &s->answers[k], s->scalar.grid->n_nodes, pair);
            is_news |= !facts_are_union(healthy + k * n, facts + a * a_set + k * n, facts + b * a_set + k * n, pair, n);
        }
        bool said = news[(size_t)b * (b - 1) / 2 + a];
        if (is_news != said && differ < 3)
            printf("  %s: %s + %s\n", said ? "told though no news" : "news but not told",
                   sweep_fault_words(s->singles, a), sweep_fault_words(s->singles, b));
        differ += is_news != said;
        told += said;
    }
    printf("  of %u pairs by chance the sweep tells %u as news; by the plain way %u are otherwise\n", x->n, told,
           differ);
    mem_free(facts);
    sample_free(&singles);
    return differ;
}

/* ---- reports */

static uint32_t sweep_report(struct subject *s, bool pairs, unsigned rounds)
{
    double rows[3][ROUNDS_MOST], medians[3];
    struct sampled x;
    struct sweep_counts counts;
    uint32_t faults = sweep_faults(s->singles);
    uint8_t *news = mem_zero((size_t)faults * faults / 2 + 1, 1);
    sample_make(&x, s, pairs);
    uint32_t few = x.n < SETS_IGRAPH ? x.n : SETS_IGRAPH;
    for (unsigned i = 0; i < rounds; i++) {
        rows[0][i] = sweep_measure(s, pairs, &counts, pairs ? news : NULL);
        rows[1][i] = plain_measure(&x, &s->igraph, few);
        rows[2][i] = plain_measure(&x, &s->scalar, x.n);
    }
    for (int k = 0; k < 3; k++)
        medians[k] = median(rows[k], rounds) * 1e6;
    const char *what = pairs ? "a pair in a state" : "a single fault in a state";
    char line[80];
    snprintf(line, sizeof line, "%s, against igraph", what);
    row_print(line, medians[0], medians[1], "us", true, pairs ? 300 : NO_GOAL, pairs ? 1000 : NO_GOAL);
    snprintf(line, sizeof line, "%s, against the scalar way", what);
    row_print(line, medians[0], medians[2], "us", true, pairs ? 8 : NO_GOAL, pairs ? 20 : NO_GOAL);
    printf("  %llu cases of %llu sets in %.2f s; %.0f %% of the cases not settled, their faults being apart; %llu "
           "words, %llu rounds, "
           "%llu repacked, %llu expanded, %llu beyond 8 doubtful\n",
           (unsigned long long)counts.n_cases, (unsigned long long)counts.n_sets,
           medians[0] * 1e-6 * (double)counts.n_cases, 100.0 * (double)counts.n_apart / (double)counts.n_cases,
           (unsigned long long)counts.n_words, (unsigned long long)counts.n_rounds,
           (unsigned long long)counts.n_repacked, (unsigned long long)counts.n_expanded,
           (unsigned long long)counts.n_fallbacks);
    uint32_t by_scalar = sample_check(&x, &s->scalar, x.n), by_igraph = sample_check(&x, &s->igraph, few);
    printf("  held against: %u cases the scalar way, %u differ; %u by igraph, %u differ\n", x.n * s->wanted.n_states,
           by_scalar, few * s->wanted.n_states, by_igraph);
    uint32_t differ = by_scalar + by_igraph + (pairs ? news_check(&x, news) : 0);
    mem_free(news);
    sample_free(&x);
    return differ;
}

uint32_t sweeps_report(char *path, unsigned rounds)
{
    struct subject s;
    rounds = rounds < ROUNDS_MOST ? rounds : ROUNDS_MOST;
    subject_open(&s, path);
    head_print("Sweeps of the full-size unit in all states, a case, against the same cases settled one at a time");
    uint32_t differ = sweep_report(&s, true, rounds);
    differ += sweep_report(&s, false, rounds);
    subject_close(&s);
    return differ;
}
