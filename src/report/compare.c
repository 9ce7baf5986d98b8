/* A comparison as text and as JSON. */
#include "report/compare.h"
#include "base/mem.h"
#include "report/jsonout.h"
#include "report/record.h"
#include <string.h>

static const char *const what_words[] = {"gone", "changed", "added"};

static void part_text(struct text *t, const struct view *v, const struct part_difference *d)
{
    struct text line = {0};
    say(&line, "%s %s ", part_kind_word(d->kind), d->id);
    text_add(&line, d->what < 0 ? "is gone" : d->what > 0 ? "is added" : "");
    if (d->renamed)
        say(&line, "is called %s now", d->renamed);
    bool some = d->what || d->renamed;
    for (uint32_t i = 0; i < d->n; i++) {
        text_add(&line, some ? i || d->what == 0 ? ", " : ": " : "");
        some = true;
        if (d->what)
            say(&line, "%s %s", d->keys[i], d->what < 0 ? d->was[i] : d->now[i]);
        else if (!d->was[i])
            say(&line, "%s %s, was not told", d->keys[i], d->now[i]);
        else if (!d->now[i])
            say(&line, "%s not told, was %s", d->keys[i], d->was[i]);
        else
            say(&line, "%s %s, was %s", d->keys[i], d->now[i], d->was[i]);
    }
    say_folded(t, v, 2, 4, "-", PAINT_NONE, text_string(&line));
    text_release(&line);
}

void text_compare(struct text *t, const struct view *v, const struct answer *a, const struct compare_answer *c)
{
    const struct comparison *x = c->comparison;
    uint32_t n[3] = {0};
    say(t, "%s against %s", c->new->model->id, c->old->model->id);
    text_add(t, "\n");
    for (uint32_t i = 0; i < x->n_parts; i++)
        n[x->parts[i].what + 1]++;
    text_addf(t, "%u added, %u gone, %u changed among the parts\n", n[2], n[0], n[1]);
    for (uint32_t i = 0; i < x->n_parts; i++)
        part_text(t, v, &x->parts[i]);
    text_add(t, "\nWhat that does: ");
    if (!record_compare(t, v, a->model, x->old_record, x->n_old, x->new_record, x->n_new, NULL))
        text_add(t, "nothing, in any state\n");
    text_add(t, "\n");
    say_caution_model(t, v);
}

static void part_json(struct jsonout *j, const struct part_difference *d)
{
    json_begin(j, NULL, '{');
    json_put(j, "part", json_words(d->id));
    json_put(j, "kind", json_words(part_kind_word(d->kind)));
    json_put(j, "what", json_words(what_words[d->what + 1]));
    if (d->renamed)
        json_put(j, "renamed", json_words(d->renamed));
    json_begin(j, "fields", '[');
    for (uint32_t i = 0; i < d->n; i++) {
        json_begin(j, NULL, '{');
        json_put(j, "field", json_words(d->keys[i]));
        json_put(j, "was", json_words(d->was[i]));
        json_put(j, "now", json_words(d->now[i]));
        json_end(j);
    }
    json_end(j);
    json_end(j);
}

void json_compare(struct text *t, const struct view *v, const struct answer *a, const struct compare_answer *c)
{
    const struct comparison *x = c->comparison;
    struct jsonout j = {.t = t};
    struct arena arena;
    (void)v;
    arena_init(&arena);
    json_begin(&j, NULL, '{');
    json_put(&j, "feedtrace", json_integer(1));
    json_put(&j, "old", json_words(c->old->model->id));
    json_put(&j, "new", json_words(c->new->model->id));
    json_begin(&j, "parts", '[');
    for (uint32_t i = 0; i < x->n_parts; i++)
        part_json(&j, &x->parts[i]);
    json_end(&j);
    struct record_change *rows;
    uint32_t n = record_changes(&arena, x->old_record, x->n_old, x->new_record, x->n_new, &rows);
    json_begin(&j, "states", '{');
    for (uint32_t i = 0; i < n; i++) {
        if (i == 0 || strcmp(rows[i - 1].state, rows[i].state) != 0) {
            json_begin(&j, rows[i].state, '{');
            json_begin(&j, "changes", '[');
        }
        json_begin(&j, NULL, '{');
        json_put(&j, "subject", json_words(rows[i].subject));
        json_put(&j, "what", json_words(rows[i].was && rows[i].now ? "changed" : rows[i].now ? "added" : "gone"));
        json_put(&j, "was", json_words(rows[i].was));
        json_put(&j, "now", json_words(rows[i].now));
        json_end(&j);
        if (i + 1 == n || strcmp(rows[i + 1].state, rows[i].state) != 0) {
            json_end(&j);
            json_end(&j);
        }
    }
    json_end(&j);
    json_end(&j);
    arena_release(&arena);
    (void)a;
}
