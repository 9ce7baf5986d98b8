#include "base/mem.h"
#include "faults/sweep_inner.h"
#include <assert.h>
#include <math.h>
#include <string.h>

enum { SINGLES_A_JOB = 128, PRESSED_A_JOB = 8, PAIRS_A_JOB = 4096 };

/* ---- telling an effect once */

static bool told_find(struct sweep *s, const uint64_t effect[2], size_t *at)
{
    *at = effect[0] & (s->told_cap - 1);
    for (; s->told[*at][0] | s->told[*at][1]; *at = (*at + 1) & (s->told_cap - 1))
        if (s->told[*at][0] == effect[0] && s->told[*at][1] == effect[1])
            return true;
    return false;
}

/* True the first time. */
static bool told_add(struct sweep *s, const uint64_t effect[2])
{
    size_t at;
    if (2 * s->n_told >= s->told_cap) {
        uint64_t(*old)[2] = s->told;
        size_t n = s->told_cap;
        s->told_cap = n ? 2 * n : 256;
        s->told = mem_zero(s->told_cap, sizeof *s->told);
        for (size_t i = 0; i < n; i++) {
            if (!(old[i][0] | old[i][1]))
                continue;
            told_find(s, old[i], &at);
            memcpy(s->told[at], old[i], sizeof *s->told);
        }
        mem_free(old);
    }
    if (told_find(s, effect, &at))
        return false;
    memcpy(s->told[at], effect, sizeof *s->told);
    s->n_told++;
    return true;
}

/* ---- an answer under way */

struct answering {
    struct sweep *sweep;
    struct sweep_counts counts;
    struct text *out;
    struct sweep_state *states; /* [wanted.n_states] of the set at hand */
    uint32_t n_states;
    struct sweep_changes changes;
    uint64_t effect[2];
};

struct record_head {
    uint64_t effect[2];
    uint32_t first, second, n_states, n_changes;
};

static void put_bytes(struct text *t, const void *at, size_t n)
{
    text_add_bytes(t, at, n);
}

/* Ends the set at hand. An effect in which nothing can be told has no fingerprint, whatever moved unseen. */
static void put_record(struct answering *a, uint32_t first, uint32_t second)
{
    struct record_head head = {.first = first, .second = second};
    if (a->changes.n || second != NONE) {
        memcpy(head.effect, a->effect, sizeof head.effect);
        if (told_add(a->sweep, head.effect)) {
            head.n_states = a->n_states;
            head.n_changes = (uint32_t)a->changes.n;
        }
    }
    put_bytes(a->out, &head, sizeof head);
    put_bytes(a->out, a->states, head.n_states * sizeof *a->states);
    put_bytes(a->out, a->changes.rows, head.n_changes * sizeof *a->changes.rows);
}

static void set_begin(struct answering *a)
{
    a->n_states = 0;
    a->changes.n = 0;
    a->effect[0] = a->effect[1] = 0;
}

static const diff *alone_rows(const struct alone *x, size_t at, size_t *n)
{
    *n = x->first[at + 1] - x->first[at];
    return x->rows + x->first[at];
}

/* Is p the union of a and b, and do these not contradict each other? */
static bool is_union(const diff *a, size_t n_a, const diff *b, size_t n_b, const diff *p, size_t n_p)
{
    size_t i = 0, j = 0, k = 0;
    if (n_p > n_a + n_b || n_p < n_a || n_p < n_b)
        return false;
    for (; i < n_a || j < n_b; k++) {
        diff next;
        if (j == n_b || (i < n_a && DIFF_SUBJECT(a[i]) < DIFF_SUBJECT(b[j]))) {
            next = a[i++];
        } else if (i == n_a || DIFF_SUBJECT(b[j]) < DIFF_SUBJECT(a[i])) {
            next = b[j++];
        } else {
            if (a[i] != b[j++])
                return false;
            next = a[i++];
        }
        if (k == n_p || p[k] != next)
            return false;
    }
    return k == n_p;
}

static void state_add(struct answering *a, struct sweep_space *space, const struct trace *t, uint32_t c,
                      const diff *rows, size_t n, const struct pressed *p, const uint8_t *alone)
{
    size_t before = a->changes.n;
    enum sweep_rank rank = sweep_changes(space, t, c, rows, n, p, &a->changes);
    if (!alone && rank == SWEEP_NOTHING)
        return;
    enum sweep_news news = !alone || rank < *alone ? SWEEP_WORSE : rank == *alone ? SWEEP_OTHER : SWEEP_MILDER;
    sweep_fingerprint(space, t, c, rows, n, p ? &a->changes : NULL, before, news, a->effect);
    a->states[a->n_states++] = (struct sweep_state){c % t->n_states, rank, news, (uint32_t)(a->changes.n - before)};
}

/* The solutions of a set in the states wanted; false: the sweep goes by structure. */
static bool set_solve(struct sweep *s, int space, const struct trace *t, uint32_t set, struct pressed *out)
{
    if (!s->pressures)
        return false;
    if (!s->solvers[space])
        s->solvers[space] = solver_new(s->spaces[space].network);
    pressure_solve_states(s->solvers[space], t, set, SOLVE_FILL, s->is_wanted, s->pressures, s->solved);
    *out = (struct pressed){s->solved, s->pressures};
    return true;
}

/* One set: a single fault, or a pair with what is known of its faults alone. */
static void set_answer(struct answering *a, int space, const struct trace *t, const struct diffs *d,
                       const uint8_t *wanted, uint32_t set, uint32_t first, uint32_t second)
{
    struct sweep *s = a->sweep;
    bool pair = second != NONE, news = false;
    struct pressed pressed;
    const struct pressed *p = set_solve(s, space, t, set, &pressed) ? &pressed : NULL;
    set_begin(a);
    for (uint32_t i = 0; i < s->wanted.n_states; i++) {
        state_ix state = s->wanted.states[i];
        uint32_t c = trace_case(t, set, state);
        const diff *rows = d->rows + d->first[c];
        size_t n = d->first[c + 1] - d->first[c];
        a->counts.n_cases++;
        if (!wanted[c]) { /* known to be the union of both */
            a->counts.n_apart++;
            continue;
        }
        a->counts.n_not_settled += !t->cases[c].settled;
        a->counts.n_not_solved += t->cases[c].settled && pressed_failed(p, state.i);
        if (!pair) {
            state_add(a, &s->spaces[space], t, c, rows, n, p, NULL);
            continue;
        }
        size_t n_a, n_b;
        const struct alone *x = &s->alone[space];
        const diff *one = alone_rows(x, (size_t)first * t->n_states + state.i, &n_a);
        const diff *other = alone_rows(x, (size_t)second * t->n_states + state.i, &n_b);
        if (is_union(one, n_a, other, n_b, rows, n))
            continue;
        uint8_t r_a = s->alone_ranks[(size_t)first * s->wanted.n_states + i];
        uint8_t r_b = s->alone_ranks[(size_t)second * s->wanted.n_states + i], worse = r_a < r_b ? r_a : r_b;
        news = true;
        a->counts.n_news_cases++;
        state_add(a, &s->spaces[space], t, c, rows, n, NULL, &worse);
    }
    a->counts.n_sets++;
    a->counts.n_news_sets += news;
    if (!pair || news)
        put_record(a, first, second);
}

/* ---- running sets */

struct batch { /* sets of one network, up to SETS_A_CALL */
    struct edits sets[SETS_A_CALL];
    uint32_t first[SETS_A_CALL], second[SETS_A_CALL];
    uint32_t n, n_cases;
    uint8_t *wanted;    /* [SETS_A_CALL * n_states] by trace_case() */
    struct arena arena; /* edits of pairs */
};

static void batch_flush(struct answering *a, struct batch *b, int space)
{
    struct trace t;
    struct diffs d;
    if (!b->n)
        return;
    sweep_trace(a->sweep, space, b->sets, b->n, b->wanted, &t, &d);
    for (uint32_t i = 0; i < b->n; i++)
        set_answer(a, space, &t, &d, b->wanted, i, b->first[i], b->second[i]);
    a->counts.n_rounds += t.n_rounds;
    a->counts.n_words += t.n_words;
    a->counts.n_repacked += t.n_repacked;
    a->counts.n_expanded += t.n_expanded;
    a->counts.n_fallbacks += t.n_fallbacks;
    diffs_release(&d);
    trace_release(&t);
    arena_release(&b->arena);
    memset(b->wanted, 0, (size_t)b->n * t.n_states);
    b->n = 0;
    b->n_cases = 0;
}

static bool batch_is_full(const struct batch *b)
{
    return b->n == SETS_A_CALL || b->n_cases >= CASES_A_CALL;
}

static void batch_add(const struct sweep *s, struct batch *b, uint32_t first, uint32_t second)
{
    b->first[b->n] = first;
    b->second[b->n++] = second;
    for (uint32_t i = 0; i < s->wanted.n_states; i++)
        b->n_cases += b->wanted[(size_t)(b->n - 1) * s->network->model->n_states + s->wanted.states[i].i];
}

static bool touch_each_other(const struct single *a, const struct single *b)
{
    if (a->fault->kind == FAULT_WEAKEN && b->fault->kind == FAULT_WEAKEN) /* sources are no parts of the network */
        return strcmp(a->fault->part, b->fault->part) == 0;
    return a->touches.kind != PART_NONE && a->touches.kind == b->touches.kind && a->touches.i == b->touches.i;
}

/* Marks the states in which a pair must be settled: elsewhere nothing that one fault touches meets what the other does,
 * and the pair is their union without looking. @return how many are marked. */
static uint32_t mark_wanted(const struct sweep *s, int space, uint32_t first, uint32_t second, uint8_t *wanted)
{
    bool look = space || !s->has_touches || touch_each_other(&s->singles[first], &s->singles[second]);
    uint32_t n = 0;
    for (uint32_t i = 0; i < s->wanted.n_states; i++) {
        state_ix state = s->wanted.states[i];
        n += wanted[state.i] = look || !touches_apart(&s->touches, first, second, state);
    }
    return n;
}

/* Both faults in one set, in the order of their words. False: they exclude each other. */
static bool pair_edits(const struct sweep *s, uint32_t first, uint32_t second, struct arena *arena, struct edits *out)
{
    const struct single *a = &s->singles[first], *b = &s->singles[second];
    if (touch_each_other(a, b)) { /* read as a user's words are: there they may clash, or change each other's meaning */
        struct text words = {0};
        struct fault_set set;
        struct diags d;
        diags_init(&d);
        text_addf(&words, "%s + %s", a->fault->words, b->fault->words);
        bool fine = faults_read(text_string(&words), s->network, arena, &set, &d);
        diags_release(&d);
        text_release(&words);
        if (fine)
            *out = set.edits;
        return fine;
    }
    if (strcmp(a->fault->words, b->fault->words) > 0) {
        const struct single *swap = a;
        a = b;
        b = swap;
    }
    const struct edits *x = &a->fault->set.edits, *y = &b->fault->set.edits;
    *out = (struct edits){.n = x->n + y->n, .splits_joint = x->splits_joint || y->splits_joint};
    out->rows = arena_rows(arena, out->n, sizeof *out->rows);
    memcpy(out->rows, x->rows, x->n * sizeof *x->rows);
    memcpy(out->rows + x->n, y->rows, y->n * sizeof *y->rows);
    return true;
}

/* ---- jobs */

static uint64_t n_pairs(uint64_t n)
{
    return n ? n * (n - 1) / 2 : 0;
}

static uint64_t sweep_sets(const struct sweep *s)
{
    return s->wanted.pairs ? n_pairs(s->n) : s->n;
}

static uint64_t job_sets(const struct sweep *s)
{
    return s->wanted.pairs ? PAIRS_A_JOB : s->pressures ? PRESSED_A_JOB : SINGLES_A_JOB;
}

uint64_t sweep_jobs(const struct sweep *s)
{
    return (sweep_sets(s) + job_sets(s) - 1) / job_sets(s);
}

/* Pair k of all: (0,1), (0,2), (1,2), (0,3) ... as places in `order`, so that pairs without a split joint come first.
 */
static void pair_at(uint64_t k, uint32_t *a, uint32_t *b)
{
    uint64_t row = (uint64_t)((1 + sqrt(1 + 8 * (double)k)) / 2);
    while (n_pairs(row) > k)
        row--;
    while (n_pairs(row + 1) <= k)
        row++;
    *b = (uint32_t)row;
    *a = (uint32_t)(k - n_pairs(row));
}

static void pair_add(struct answering *a, struct batch *b, int space, uint32_t first, uint32_t second)
{
    const struct sweep *s = a->sweep;
    uint8_t *wanted = b->wanted + (size_t)b->n * s->network->model->n_states;
    if (!s->singles[first].chosen && !s->singles[second].chosen)
        return;
    if (!mark_wanted(s, space, first, second, wanted)) {
        a->counts.n_sets++;
        a->counts.n_cases += s->wanted.n_states;
        a->counts.n_apart += s->wanted.n_states;
    } else if (pair_edits(s, first, second, &b->arena, &b->sets[b->n])) {
        batch_add(s, b, first, second);
    } else {
        a->counts.n_excluded++;
        memset(wanted, 0, s->network->model->n_states);
    }
}

static void pairs_job(struct answering *a, struct batch *batch, uint64_t from, uint64_t to)
{
    struct sweep *s = a->sweep;
    uint32_t i, j;
    pair_at(from, &i, &j);
    for (uint64_t k = from; k < to; k++) {
        int space = j >= s->n_whole;
        uint32_t first = s->order[i], second = s->order[j];
        pair_add(a, batch, space, first < second ? first : second, first < second ? second : first);
        if (++i == j) {
            i = 0;
            j++;
        }
        if (batch_is_full(batch) || k + 1 == to || (i == 0 && j == s->n_whole))
            batch_flush(a, batch, space);
    }
}

/* Marks the states wanted; their pressures need those of the states that they follow, too. */
static void mark_followed(const struct sweep *s, uint8_t *wanted)
{
    for (uint32_t i = 0; i < s->wanted.n_states; i++) {
        state_ix k = s->wanted.states[i];
        wanted[k.i] = 1;
        while (s->pressures && (k = s->network->model->states[k.i].after).i != NONE)
            wanted[k.i] = 1;
    }
}

static void singles_job(struct answering *a, struct batch *batch, uint64_t from, uint64_t to)
{
    struct sweep *s = a->sweep;
    for (uint64_t k = from; k < to; k++) {
        batch->sets[batch->n] = s->singles[s->order[k]].fault->set.edits;
        mark_followed(s, batch->wanted + (size_t)batch->n * s->network->model->n_states);
        batch_add(s, batch, s->order[k], NONE);
        if (batch_is_full(batch) || k + 1 == to || k + 1 == s->n_whole)
            batch_flush(a, batch, k >= s->n_whole);
    }
}

void sweep_job(struct sweep *s, uint64_t job, struct text *out)
{
    struct answering a = {.sweep = s, .out = out};
    struct batch *batch = mem_zero(1, sizeof *batch);
    uint64_t from = job * job_sets(s), to = from + job_sets(s) < sweep_sets(s) ? from + job_sets(s) : sweep_sets(s);
    size_t at = out->n;
    arena_init(&batch->arena);
    batch->wanted = mem_zero((size_t)SETS_A_CALL * s->network->model->n_states + 1, 1);
    a.states = mem_alloc((s->wanted.n_states + 1) * sizeof *a.states);
    put_bytes(out, &a.counts, sizeof a.counts);
    if (s->wanted.pairs)
        pairs_job(&a, batch, from, to);
    else
        singles_job(&a, batch, from, to);
    memcpy(out->at + at, &a.counts, sizeof a.counts);
    arena_release(&batch->arena);
    mem_free(batch->wanted);
    mem_free(batch);
    mem_free(a.states);
    mem_free(a.changes.rows);
}

void sweep_job_words(const struct sweep *s, uint64_t job, struct text *out)
{
    uint64_t from = job * job_sets(s), to = from + job_sets(s) < sweep_sets(s) ? from + job_sets(s) : sweep_sets(s);
    if (!s->wanted.pairs) {
        text_addf(out, "the faults from `%s` to `%s`", sweep_fault_words(s, s->order[from]),
                  sweep_fault_words(s, s->order[to - 1]));
        return;
    }
    uint32_t a, b;
    pair_at(from, &a, &b);
    text_addf(out, "%llu pairs from `%s + %s`", (unsigned long long)(to - from), sweep_fault_words(s, s->order[a]),
              sweep_fault_words(s, s->order[b]));
    pair_at(to - 1, &a, &b);
    text_addf(out, " to `%s + %s`", sweep_fault_words(s, s->order[a]), sweep_fault_words(s, s->order[b]));
}

/* ---- reading answers */

size_t sweep_counts_read(const char *answer, size_t n, struct sweep_counts *sum)
{
    struct sweep_counts c;
    assert(n >= sizeof c);
    (void)n;
    memcpy(&c, answer, sizeof c);
    sum->n_sets += c.n_sets;
    sum->n_excluded += c.n_excluded;
    sum->n_cases += c.n_cases;
    sum->n_not_settled += c.n_not_settled;
    sum->n_not_solved += c.n_not_solved;
    sum->n_news_sets += c.n_news_sets;
    sum->n_news_cases += c.n_news_cases;
    sum->n_apart += c.n_apart;
    sum->n_rounds += c.n_rounds;
    sum->n_words += c.n_words;
    sum->n_repacked += c.n_repacked;
    sum->n_expanded += c.n_expanded;
    sum->n_fallbacks += c.n_fallbacks;
    return sizeof c;
}

/* Every piece is a multiple of eight bytes, so all rows are aligned. */
bool sweep_record_read(const char *answer, size_t n, size_t *at, struct sweep_record *out)
{
    struct record_head head;
    if (*at + sizeof head > n)
        return false;
    memcpy(&head, answer + *at, sizeof head);
    *at += sizeof head;
    *out = (struct sweep_record){.first = head.first, .second = head.second, .n_states = head.n_states};
    memcpy(out->effect, head.effect, sizeof head.effect);
    out->states = (const void *)(answer + *at);
    *at += head.n_states * sizeof *out->states;
    out->changes = (const void *)(answer + *at);
    *at += head.n_changes * sizeof *out->changes;
    return true;
}

uint32_t sweep_faults(const struct sweep *s)
{
    return s->n;
}

const char *sweep_fault_words(const struct sweep *s, uint32_t row)
{
    return s->singles[row].fault->words;
}

const struct network *sweep_network(const struct sweep *s)
{
    return s->network;
}
