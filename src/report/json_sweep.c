/* A sweep as JSON, a group a line. */
#include "base/mem.h"
#include "report/json_parts.h"
#include "report/sweep_table.h"
#include <string.h>

/* Keys in their order; a list of findings has a line for each, as in every other answer. */
static void put_head(struct jsonout *j, json_t *head)
{
    const char *key;
    json_t *value, *row;
    size_t i;
    json_object_foreach(head, key, value)
    {
        if (strcmp(key, "findings") != 0) {
            json_put(j, key, json_incref(value));
            continue;
        }
        json_begin(j, key, '[');
        json_array_foreach(value, i, row) json_put(j, NULL, json_incref(row));
        json_end(j);
    }
}

static void put_ranks(struct jsonout *j, const struct sweep_table *t)
{
    uint64_t n_groups[N_SWEEP_RANKS] = {0}, n_sets[N_SWEEP_RANKS] = {0};
    for (size_t i = 0; i < t->n; i++) {
        n_groups[t->groups[i].rank]++;
        n_sets[t->groups[i].rank] += t->groups[i].n;
    }
    json_begin(j, "ranks", '{');
    for (int r = 0; r < N_SWEEP_RANKS; r++)
        json_put(j, sweep_rank_id((enum sweep_rank)r),
                 json_pack("{s:I, s:I}", "groups", (json_int_t)n_groups[r], "sets", (json_int_t)n_sets[r]));
    json_end(j);
}

/* {"rank": ..., "effect": ..., "faults": [...], "states": {...}} */
static void group_add(struct text *out, const struct sweep_table *t, const struct sweep_group *g)
{
    struct text words = {0};
    text_addf(out, "{\"rank\": \"%s\"", sweep_rank_id(g->rank));
    if (t->pairs)
        text_addf(out, ", \"news\": \"%s\"", sweep_news_id(g->news));
    text_addf(out, ", \"effect\": \"%016llx%016llx\", \"%s\": [", (unsigned long long)g->effect[0],
              (unsigned long long)g->effect[1], t->pairs ? "pairs" : "faults");
    for (size_t i = 0; i < g->n; i++) {
        text_clear(&words);
        sweep_member_words(t, g->members[i], &words);
        text_add(out, i ? ", " : "");
        json_write_words(out, text_string(&words));
    }
    text_addf(out, "], \"states\": %s}", g->states);
    text_release(&words);
}

void json_sweep(struct text *out, const struct sweep_report *r)
{
    const struct sweep_table *t = r->table;
    struct jsonout j = {.t = out};
    json_begin(&j, NULL, '{');
    put_head(&j, t->head);
    json_put(&j, "sweep", json_incref(t->about));
    json_put(&j, "totals",
             json_pack("{s:I, s:I, s:I, s:I, s:I, s:I, s:I}", "sets", (json_int_t)t->totals.n_sets, "excluded",
                       (json_int_t)t->totals.n_excluded, "cases", (json_int_t)t->totals.n_cases, "not_settled",
                       (json_int_t)t->totals.n_not_settled, "not_solved", (json_int_t)t->totals.n_not_solved,
                       "news_sets", (json_int_t)t->totals.n_news_sets, "news_cases",
                       (json_int_t)t->totals.n_news_cases));
    put_ranks(&j, t);
    json_put(&j, "lost", json_incref(t->lost));
    json_begin(&j, "faults", '[');
    for (uint32_t i = 0; i < t->n_faults; i++)
        json_put(&j, NULL, json_words(t->faults[i]));
    json_end(&j);
    struct text group = {0};
    json_begin(&j, "groups", '[');
    for (size_t i = 0; i < t->n; i++) {
        text_clear(&group);
        group_add(&group, t, &t->groups[i]);
        json_put_text(&j, NULL, &group);
    }
    json_end(&j);
    text_release(&group);
    json_end(&j);
    text_add_char(out, '\n');
}

void json_sweep_unread(struct text *t, const struct answer *a)
{
    struct jsonout j = {.t = t};
    json_put_head(&j, a, false);
    json_put_end(&j);
}
