/* A sweep as CSV: a row for each fault or pair and each state in which something changes. */
#include "base/escape.h"
#include "report/sweep_table.h"
#include <string.h>

static void field(struct text *t, const char *words)
{
    if (t->n && t->at[t->n - 1] != '\n')
        text_add_char(t, ',');
    escape_csv(t, words, strlen(words));
}

static const char *word(json_t *change, const char *key)
{
    const char *value = json_string_value(json_object_get(change, key));
    return value ? value : "";
}

/* "c1 applied | c2 released": the changes of one kind. */
static void changes_field(struct text *t, const struct view *v, json_t *changes, const char *what)
{
    struct text cell = {0};
    size_t i;
    json_t *c;
    json_array_foreach(changes, i, c)
    {
        if (strcmp(word(c, "what"), what) != 0)
            continue;
        text_addf(&cell, "%s", cell.n ? " | " : "");
        if (!strcmp(what, "reach"))
            text_addf(&cell, "%s in %s %s", word(c, "feed"), word(c, "subject"), word(c, "now"));
        else if (!strcmp(what, "cross-leak"))
            text_addf(&cell, "%s", word(c, "now"));
        else if (v->other_units && json_is_number(json_object_get(c, "now_pa"))) {
            text_addf(&cell, "%s ", word(c, "subject"));
            pressure_add(&cell, json_number_value(json_object_get(c, "now_pa")), &v->units);
        } else
            text_addf(&cell, "%s %s", word(c, "subject"), word(c, "now"));
    }
    field(t, text_string(&cell));
    text_release(&cell);
}

static const char *gear(json_t *changes, const char *key)
{
    size_t i;
    json_t *c;
    json_array_foreach(changes, i, c)
    {
        if (!strcmp(word(c, "what"), "gear"))
            return word(c, key);
    }
    return "";
}

static const char *const kinds[] = {"actuator", "valve",    "limit", "cross-leak", "condition",
                                    "reach",    "pressure", "fill",  "drain",      "damping"};
#define N_KINDS (sizeof kinds / sizeof *kinds)

/* What follows the fault in each row of its group. */
static void tail_add(struct text *t, const struct view *v, const char *name, json_t *state)
{
    json_t *changes = json_object_get(state, "changes");
    field(t, name);
    field(t, word(state, "rank"));
    field(t, gear(changes, "was"));
    field(t, gear(changes, "now"));
    for (size_t k = 0; k < N_KINDS; k++)
        changes_field(t, v, changes, kinds[k]);
}

static void group_add(struct text *t, const struct view *v, const struct sweep_table *table,
                      const struct sweep_group *g, size_t number)
{
    json_t *states = json_loads(g->states, 0, NULL), *state;
    struct text words = {0}, head = {0};
    const char *name;
    for (size_t i = 0; i < g->n; i++) {
        text_clear(&words);
        sweep_member_words(table, g->members[i], &words);
        text_clear(&head);
        field(&head, text_string(&words));
        text_addf(&head, ",%zu", number);
        field(&head, sweep_rank_id(g->rank));
        field(&head, table->pairs ? sweep_news_id(g->news) : "");
        json_object_foreach(states, name, state)
        {
            text_add(t, text_string(&head));
            tail_add(t, v, name, state);
            text_add(t, "\r\n");
        }
        if (!json_object_size(states)) {
            text_add(t, text_string(&head));
            for (size_t k = 0; k < N_KINDS + 4; k++)
                text_add_char(t, ',');
            text_add(t, "\r\n");
        }
    }
    json_decref(states);
    text_release(&words);
    text_release(&head);
}

void csv_sweep(struct text *t, const struct view *v, const struct sweep_report *r)
{
    text_add(t, "fault,group,worst,news,state,rank,gear_was,gear_now,devices,valves,limits,leaks,circuits,feeds,"
                "pressures,fill,drain,damping\r\n");
    for (size_t i = 0; i < r->table->n; i++)
        group_add(t, v, r->table, &r->table->groups[i], i + 1);
}
