/* Groups of equal effect, from the records of a sweep. */
#include "report/sweep_table.h"
#include "base/mem.h"
#include "faults/kinds.h"
#include "report/json_parts.h"
#include <assert.h>
#include <stdlib.h>
#include <string.h>

/* ---- groups by effect */

static size_t *slot_of(const struct sweep_table *t, const uint64_t effect[2])
{
    size_t at = effect[0] & (t->n_slots - 1);
    while (t->slots[at] && memcmp(t->groups[t->slots[at] - 1].effect, effect, 2 * sizeof *effect) != 0)
        at = (at + 1) & (t->n_slots - 1);
    return &t->slots[at];
}

struct sweep_group *sweep_table_group(struct sweep_table *t, const uint64_t effect[2])
{
    size_t *slot = t->n_slots ? slot_of(t, effect) : NULL;
    return slot && *slot ? &t->groups[*slot - 1] : NULL;
}

/* Rank, news and how many states. Of a pair, the states in which it is worse than its faults alone count first. */
static void states_rank(struct sweep_group *g, const struct sweep_state *states, uint32_t n)
{
    g->n_states = n;
    g->rank = SWEEP_NOTHING;
    g->news = SWEEP_MILDER;
    for (uint32_t i = 0; i < n; i++)
        g->news = states[i].news < g->news ? (enum sweep_news)states[i].news : g->news;
    for (uint32_t i = 0; i < n; i++) {
        enum sweep_rank rank = (enum sweep_rank)states[i].rank;
        if (states[i].news != g->news)
            continue;
        g->n_at_rank = rank < g->rank ? 1 : g->n_at_rank + (rank == g->rank);
        g->rank = rank < g->rank ? rank : g->rank;
    }
}

struct sweep_group *sweep_table_new_group(struct sweep_table *t, const uint64_t effect[2],
                                          const struct sweep_state *states, uint32_t n_states, char *json)
{
    if (2 * (t->n + 1) > t->n_slots) {
        mem_free(t->slots);
        t->n_slots = t->n_slots ? 2 * t->n_slots : 256;
        t->slots = mem_zero(t->n_slots, sizeof *t->slots);
        for (size_t i = 0; i < t->n; i++)
            *slot_of(t, t->groups[i].effect) = i + 1;
    }
    MEM_GROW(t->groups, t->n, t->cap);
    struct sweep_group *g = &t->groups[t->n];
    *g = (struct sweep_group){.effect = {effect[0], effect[1]}, .states = json};
    *slot_of(t, effect) = ++t->n;
    states_rank(g, states, n_states);
    return g;
}

void sweep_group_add(struct sweep_group *g, struct sweep_member member)
{
    if (g->n == g->cap) { /* most groups are small */
        g->cap = g->cap ? 2 * g->cap : 2;
        g->members = mem_resize(g->members, g->cap, sizeof *g->members);
    }
    g->members[g->n++] = member;
}

/* ---- from records */

static const char *const what_words[] = {
    [CHANGE_SETTLED] = "settled",     [CHANGE_GEAR] = "gear",   [CHANGE_ACTUATOR] = "actuator",
    [CHANGE_VALVE] = "valve",         [CHANGE_LIMIT] = "limit", [CHANGE_CROSS_LEAK] = "cross-leak",
    [CHANGE_CONDITION] = "condition", [CHANGE_REACH] = "reach", [CHANGE_SOLVED] = "solved",
    [CHANGE_PRESSURE] = "pressure",   [CHANGE_FILL] = "fill",   [CHANGE_DRAIN] = "drain",
    [CHANGE_DAMPING] = "damping",
};

static const char *subject_id(const struct model *m, const struct sweep_change *c)
{
    switch ((enum change_what)c->what) {
    case CHANGE_ACTUATOR:
    case CHANGE_FILL:
    case CHANGE_DRAIN:
        return m->actuators[c->subject].part.id;
    case CHANGE_VALVE:
    case CHANGE_DAMPING:
        return m->valves[c->subject].part.id;
    case CHANGE_PRESSURE:
        return model_id(m, (struct part_ref){(enum part_kind)c->kind, c->subject});
    case CHANGE_LIMIT:
    case CHANGE_CONDITION:
    case CHANGE_REACH:
        return m->circuits[c->subject].part.id;
    case CHANGE_CROSS_LEAK:
        return m->passages[c->subject].part.id;
    case CHANGE_SETTLED:
    case CHANGE_GEAR:
    case CHANGE_SOLVED:
        break;
    }
    return NULL;
}

/* `, "key": "words"` */
static void key_add(struct text *t, const char *key, const char *words)
{
    text_add(t, ", \"");
    text_add(t, key);
    text_add(t, "\": ");
    json_write_words(t, words);
}

static void change_add(struct text *t, const struct network *n, const struct sweep_change *c)
{
    struct arena arena;
    arena_init(&arena);
    text_add(t, "{\"subject\": ");
    json_write_words(t, subject_id(n->model, c));
    key_add(t, "what", what_words[c->what]);
    if (c->what == CHANGE_REACH)
        key_add(t, "feed", n->model->feeds[c->of].part.id);
    if (c->what == CHANGE_LIMIT)
        key_add(t, "limiting", n->model->valves[c->of].part.id);
    if (c->what == CHANGE_CROSS_LEAK)
        key_add(t, "from", n->model->passages[c->of].part.id);
    if (c->what == CHANGE_PRESSURE) {
        text_add(t, ", \"was_pa\": ");
        json_write(t, json_pressure(c->was_value));
        text_add(t, ", \"now_pa\": ");
        json_write(t, json_pressure(c->now_value));
    }
    if (c->what == CHANGE_FILL || c->what == CHANGE_DRAIN) {
        text_add(t, ", \"ratio\": ");
        json_write(t, json_flow(c->now_value < 0 ? -1 / c->now_value : c->now_value));
    }
    key_add(t, "was", sweep_was(n, c, &arena));
    key_add(t, "now", sweep_now(n, c, &arena));
    text_add_char(t, '}');
    arena_release(&arena);
}

/* {"line_90": {"rank": ..., "changes": [...]}, ...} */
static void states_add(struct text *t, bool pairs, const struct network *n, const struct sweep_record *r)
{
    const struct sweep_change *c = r->changes;
    text_add_char(t, '{');
    for (uint32_t i = 0; i < r->n_states; i++) {
        const struct sweep_state *s = &r->states[i];
        text_add(t, i ? ", " : "");
        json_write_words(t, n->model->states[s->state].part.id);
        text_addf(t, ": {\"rank\": \"%s\"", sweep_rank_id((enum sweep_rank)s->rank));
        if (pairs)
            text_addf(t, ", \"news\": \"%s\"", sweep_news_id((enum sweep_news)s->news));
        text_add(t, ", \"changes\": [");
        for (uint32_t k = 0; k < s->n_changes; k++) {
            text_add(t, k ? ", " : "");
            change_add(t, n, c++);
        }
        text_add(t, "]}");
    }
    text_add_char(t, '}');
}

void sweep_table_add(struct sweep_table *t, const struct network *n, const char *answer, size_t size,
                     struct sweep_counts *counts)
{
    struct sweep_record r;
    struct text json = {0};
    size_t at = sweep_counts_read(answer, size, counts);
    while (sweep_record_read(answer, size, &at, &r)) {
        struct sweep_group *g = sweep_table_group(t, r.effect);
        if (!g) {
            text_clear(&json);
            states_add(&json, t->pairs, n, &r);
            g = sweep_table_new_group(t, r.effect, r.states, r.n_states, mem_copy_text(text_string(&json)));
        }
        sweep_group_add(g, (struct sweep_member){r.first, r.second});
    }
    text_release(&json);
    t->totals = (struct sweep_totals){.n_sets = counts->n_sets,
                                      .n_excluded = counts->n_excluded,
                                      .n_cases = counts->n_cases,
                                      .n_not_settled = counts->n_not_settled,
                                      .n_not_solved = counts->n_not_solved,
                                      .n_news_sets = counts->n_news_sets,
                                      .n_news_cases = counts->n_news_cases};
}

void sweep_table_lost(struct sweep_table *t, const char *words)
{
    json_array_append_new(t->lost, json_words(words));
}

/* ---- begin, end */

static json_t *about_value(const struct answer *a, const struct sweep_wanted *wanted, uint32_t part, uint32_t n_parts)
{
    json_t *about = json_object(), *kinds = json_array(), *states = json_array();
    json_object_set_new(about, "of", json_string(wanted->pairs ? "pairs" : "faults"));
    json_object_set_new(about, "by", json_string(a->pressed ? "pressure" : "structure"));
    json_object_set_new(about, "title", json_words(a->model->title));
    for (int k = 0; k < N_FAULT_KINDS; k++)
        if (!wanted->kinds || wanted->kinds >> k & 1)
            json_array_append_new(kinds, json_string(fault_kind_row((enum fault_kind)k)->word));
    json_object_set_new(about, "kinds", kinds);
    json_object_set_new(about, "element", json_words(wanted->part));
    for (uint32_t i = 0; i < wanted->n_states; i++)
        json_array_append_new(states, json_words(a->model->states[wanted->states[i].i].part.id));
    json_object_set_new(about, "states", states);
    if (n_parts) {
        json_object_set_new(about, "part", json_integer(part));
        json_object_set_new(about, "parts", json_integer(n_parts));
    }
    return about;
}

void sweep_table_begin(struct sweep_table *t, const struct answer *answer, const struct sweep *sweep,
                       const struct sweep_wanted *wanted, uint32_t part, uint32_t n_parts)
{
    struct text head = {0};
    struct jsonout j = {.t = &head};
    *t = (struct sweep_table){.pairs = wanted->pairs, .pressed = answer->pressed != NULL};
    json_put_head(&j, answer, false);
    json_put_end(&j);
    t->head = json_loadb(text_string(&head), head.n, 0, NULL);
    assert(t->head);
    text_release(&head);
    t->about = about_value(answer, wanted, part, n_parts);
    t->lost = json_array();
    t->n_faults = sweep_faults(sweep);
    t->faults = mem_alloc(((size_t)t->n_faults + 1) * sizeof *t->faults);
    for (uint32_t i = 0; i < t->n_faults; i++)
        t->faults[i] = mem_copy_text(sweep_fault_words(sweep, i));
}

void sweep_table_release(struct sweep_table *t)
{
    for (size_t i = 0; i < t->n; i++) {
        mem_free(t->groups[i].states);
        mem_free(t->groups[i].members);
    }
    for (uint32_t i = 0; i < t->n_faults; i++)
        mem_free(t->faults[i]);
    mem_free(t->groups);
    mem_free(t->slots);
    mem_free(t->faults);
    mem_free(t->by_words);
    json_decref(t->head);
    json_decref(t->about);
    json_decref(t->lost);
    *t = (struct sweep_table){0};
}

/* ---- order */

static int member_order(const void *left, const void *right)
{
    const struct sweep_member *a = left, *b = right;
    if (a->first != b->first)
        return a->first < b->first ? -1 : 1;
    return a->second < b->second ? -1 : a->second > b->second;
}

static int group_order(const void *left, const void *right)
{
    const struct sweep_group *a = left, *b = right;
    if (a->news != b->news)
        return a->news < b->news ? -1 : 1;
    if (a->rank != b->rank)
        return a->rank < b->rank ? -1 : 1;
    if (a->n_at_rank != b->n_at_rank)
        return a->n_at_rank > b->n_at_rank ? -1 : 1;
    if (a->n_states != b->n_states)
        return a->n_states > b->n_states ? -1 : 1;
    int order = strcmp(a->states, b->states); /* what reads alike stands together */
    return order ? order : member_order(a->members, b->members);
}

static int text_order(const void *left, const void *right)
{
    const char *const *a = left, *const *b = right;
    return strcmp(*a, *b);
}

void sweep_table_sort(struct sweep_table *t)
{
    for (size_t i = 0; i < t->n; i++)
        qsort(t->groups[i].members, t->groups[i].n, sizeof *t->groups[i].members, member_order);
    if (t->n)
        qsort(t->groups, t->n, sizeof *t->groups, group_order);
    t->n_slots = 0;
    mem_free(t->slots);
    t->slots = NULL;
    size_t n = json_array_size(t->lost);
    const char **lost = mem_alloc((n + 1) * sizeof *lost);
    json_t *sorted = json_array();
    for (size_t i = 0; i < n; i++)
        lost[i] = json_string_value(json_array_get(t->lost, i));
    qsort(lost, n, sizeof *lost, text_order);
    for (size_t i = 0; i < n; i++)
        json_array_append_new(sorted, json_string(lost[i]));
    mem_free(lost);
    json_decref(t->lost);
    t->lost = sorted;
}

/* ---- faults by words */

static char *const *sorting; /* the words that rows are being sorted by */

static int row_order(const void *left, const void *right)
{
    const uint32_t *a = left, *b = right;
    return strcmp(sorting[*a], sorting[*b]);
}

uint32_t sweep_table_fault(struct sweep_table *t, const char *words)
{
    if (!t->by_words) {
        t->by_words = mem_alloc(((size_t)t->n_faults + 1) * sizeof *t->by_words);
        for (uint32_t i = 0; i < t->n_faults; i++)
            t->by_words[i] = i;
        sorting = t->faults;
        qsort(t->by_words, t->n_faults, sizeof *t->by_words, row_order);
    }
    uint32_t low = 0, high = t->n_faults;
    while (low < high) {
        uint32_t middle = low + (high - low) / 2;
        int order = strcmp(t->faults[t->by_words[middle]], words);
        if (!order)
            return t->by_words[middle];
        if (order < 0)
            low = middle + 1;
        else
            high = middle;
    }
    return NONE;
}

void sweep_member_words(const struct sweep_table *t, struct sweep_member m, struct text *out)
{
    const char *a = t->faults[m.first], *b = m.second == NONE ? NULL : t->faults[m.second];
    if (b && strcmp(a, b) > 0) {
        const char *swap = a;
        a = b;
        b = swap;
    }
    text_addf(out, "%s%s%s", a, b ? " + " : "", b ? b : "");
}
