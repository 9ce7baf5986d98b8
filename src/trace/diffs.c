#include "trace/diffs.h"
#include "base/mem.h"
#include "trace/answers.h"
#include <string.h>

struct found {
    uint32_t c;
    diff row;
};
struct finding_diffs {
    const struct trace *faulty, *healthy;
    uint32_t words;        /* of a plane of the faulty trace */
    uint64_t *of_state;    /* [n_states * words] bits of each state's cases */
    uint64_t *counts;      /* [words] cases that settled, healthy and faulty: others have no answers to compare */
    uint64_t *differs;     /* [words] of the plane or planes being compared */
    uint32_t *case_of_bit; /* [64 * words] */
    struct found *rows;
    size_t n, cap;
};

static diff diff_make(enum diff_kind kind, uint32_t of, uint32_t row, uint32_t value)
{
    return (uint64_t)kind << 60 | (uint64_t)of << 44 | (uint64_t)row << 16 | value;
}

static void found_add(struct finding_diffs *f, uint32_t c, diff row)
{
    MEM_GROW(f->rows, f->n, f->cap);
    f->rows[f->n++] = (struct found){c, row};
}

static void states_find(struct finding_diffs *f)
{
    const struct trace *t = f->faulty;
    f->of_state = mem_zero((size_t)t->n_states * f->words + 1, sizeof *f->of_state);
    f->counts = mem_zero((size_t)f->words + 1, sizeof *f->counts);
    f->differs = mem_zero((size_t)f->words + 1, sizeof *f->differs);
    f->case_of_bit = mem_zero((size_t)f->words * 64 + 1, sizeof *f->case_of_bit);
    for (uint32_t c = 0; c < t->n_sets * t->n_states; c++) {
        uint32_t b = case_bit(t, c), state = c % t->n_states;
        f->case_of_bit[b] = c;
        bit_set(f->of_state + (size_t)state * f->words, b, true);
        bit_set(f->counts, b, t->cases[c].asked && t->cases[c].settled && f->healthy->cases[state].settled);
    }
}

static uint32_t gear_value(uint32_t gear)
{
    return gear == GEAR_ANSWER_NONE ? 0 : gear == GEAR_ANSWER_TIE_UP ? 1 : gear == GEAR_ANSWER_UNSURE ? 2 : 3 + gear;
}

/* What a case knows by itself: settled, gear, devices, valves. */
static void cases_compare(struct finding_diffs *f)
{
    const struct trace *t = f->faulty;
    const struct network *n = t->network;
    for (uint32_t c = 0; c < t->n_sets * t->n_states; c++) {
        const struct trace_case *now = &t->cases[c], *was = &f->healthy->cases[c % t->n_states];
        if (!now->asked)
            continue;
        if (now->settled != was->settled)
            found_add(f, c, diff_make(DIFF_SETTLED, 0, 0, now->settled));
        if (!now->settled || !was->settled)
            continue;
        if (now->gear.gear != was->gear.gear)
            found_add(f, c, diff_make(DIFF_GEAR, 0, 0, gear_value(now->gear.gear)));
        for (uint32_t i = 0; i < n->model->n_actuators; i++) {
            if (now->applied[i] != was->applied[i])
                found_add(f, c, diff_make(DIFF_DEVICE, 0, i, now->applied[i]));
        }
        for (uint32_t i = 0; i < network_movers(n); i++) {
            if (now->positions[i] != was->positions[i])
                found_add(f, c, diff_make(DIFF_VALVE, 0, i, now->positions[i]));
        }
    }
}

/* The healthy plane of a node, spread over the cases of the faulty trace, is taken off `now` and what is left is added
 * to f->differs. */
static void plane_differs(struct finding_diffs *f, const uint64_t *now, const uint64_t *was, uint64_t *spread)
{
    memset(spread, 0, f->words * sizeof *spread);
    for (uint32_t s = 0; s < f->faulty->n_states; s++) {
        if (!bit(was, case_bit(f->healthy, s)))
            continue;
        const uint64_t *of = f->of_state + (size_t)s * f->words;
        for (uint32_t k = 0; k < f->words; k++)
            spread[k] |= of[k];
    }
    for (uint32_t k = 0; k < f->words; k++)
        f->differs[k] |= now[k] ^ spread[k];
}

static uint32_t condition_value(const struct trace_planes *a, size_t at, uint32_t b)
{
    bool fed = bit(a->fed + at, b), exhausted = bit(a->exhausted + at, b);
    return bit(a->unsure + at, b) ? UNSURE : fed && exhausted ? PARTIAL : fed ? FED : exhausted ? EXHAUSTED : TRAPPED;
}

/* Adds a row for each case marked in f->differs; the marks are used up. */
static void marked_add(struct finding_diffs *f, enum diff_kind kind, uint32_t of, uint32_t node, const uint64_t *sure,
                       const uint64_t *may)
{
    const struct trace_planes *a = f->faulty->planes;
    for (uint32_t k = 0; k < f->words; k++) {
        uint64_t left = f->differs[k] & f->counts[k];
        f->differs[k] = 0;
        for (; left; left &= left - 1) {
            uint32_t b = 64 * k + (uint32_t)__builtin_ctzll(left);
            uint32_t value = kind == DIFF_CONDITION ? condition_value(a, (size_t)node * f->words, b)
                             : bit(sure, b)         ? CERTAIN_YES
                             : bit(may, b)          ? CERTAIN_MAY
                                                    : CERTAIN_NO;
            found_add(f, f->case_of_bit[b], diff_make(kind, of, node, value));
        }
    }
}

static void conditions_compare(struct finding_diffs *f, uint64_t *spread)
{
    const struct trace_planes *now = f->faulty->planes, *was = f->healthy->planes;
    for (uint32_t i = 0; i < f->faulty->network->n_nodes; i++) {
        size_t at = (size_t)i * now->words, old = (size_t)i * was->words;
        plane_differs(f, now->fed + at, was->fed + old, spread);
        plane_differs(f, now->exhausted + at, was->exhausted + old, spread);
        plane_differs(f, now->unsure + at, was->unsure + old, spread);
        marked_add(f, DIFF_CONDITION, 0, i, NULL, NULL);
    }
}

static void reach_compare(struct finding_diffs *f, enum diff_kind kind, uint32_t of, const uint64_t *sure,
                          const uint64_t *may, const uint64_t *was_sure, const uint64_t *was_may, uint64_t *spread)
{
    uint32_t words = f->words, old_words = f->healthy->planes->words;
    for (uint32_t i = 0; i < f->faulty->network->n_nodes; i++) {
        size_t at = (size_t)i * words, old = (size_t)i * old_words;
        plane_differs(f, sure + at, was_sure + old, spread);
        plane_differs(f, may + at, was_may + old, spread);
        marked_add(f, kind, of, i, sure + at, may + at);
    }
}

/* Counting sort by case; what was found first stays first, and it was found in rising order. */
static void rows_sort(const struct finding_diffs *f, struct diffs *out)
{
    out->first = mem_zero((size_t)out->n_cases + 2, sizeof *out->first);
    out->rows = mem_alloc((f->n + 1) * sizeof *out->rows);
    for (size_t i = 0; i < f->n; i++)
        out->first[f->rows[i].c + 2]++;
    for (uint32_t c = 0; c < out->n_cases; c++)
        out->first[c + 2] += out->first[c + 1];
    for (size_t i = 0; i < f->n; i++)
        out->rows[out->first[f->rows[i].c + 1]++] = f->rows[i].row;
}

void diffs_find(const struct trace *faulty, const struct trace *healthy, struct diffs *out)
{
    const struct trace_planes *now = faulty->planes, *was = healthy->planes;
    struct finding_diffs f = {.faulty = faulty, .healthy = healthy, .words = now->words};
    uint64_t *spread = mem_alloc(((size_t)f.words + 1) * sizeof *spread);
    *out = (struct diffs){.n_cases = faulty->n_sets * faulty->n_states};
    states_find(&f);
    cases_compare(&f);
    conditions_compare(&f, spread);
    for (uint32_t i = 0; i < faulty->network->model->n_feeds; i++)
        reach_compare(&f, DIFF_REACH, i, now->reach_sure[i], now->reach_may[i], was->reach_sure[i], was->reach_may[i],
                      spread);
    for (uint32_t i = 0; i < faulty->network->n_limits; i++)
        reach_compare(&f, DIFF_PAST, i, now->past_sure[i], now->past_may[i], was->past_sure[i], was->past_may[i],
                      spread);
    rows_sort(&f, out);
    mem_free(f.rows);
    mem_free(f.of_state);
    mem_free(f.counts);
    mem_free(f.differs);
    mem_free(f.case_of_bit);
    mem_free(spread);
}

void diffs_release(struct diffs *d)
{
    mem_free(d->first);
    mem_free(d->rows);
    *d = (struct diffs){0};
}
