/* A comparison of two models: found, and as JSON. */
#include "report/compare.h"
#include "report/json_parts.h"
#include <string.h>

static bool has_answer(const struct compared *c, state_ix s)
{
    return c->trace->cases[trace_case(c->trace, 0, s)].settled && !pressed_failed(c->pressed, s.i);
}

void compare_answer_find(const struct answer *old, const struct answer *new, const struct units *u, struct arena *a,
                         struct compare_answer *out)
{
    struct compared was = {old->model, old->healthy, old->pressed}, now = {new->model, new->healthy, new->pressed};
    uint32_t n = new->model->n_states;
    *out = (struct compare_answer){.old = old, .new = new};
    parts_compare(old->model, new->model, u, a, &out->parts);
    out->effects = arena_rows(a, n, sizeof *out->effects);
    out->old_states = arena_rows(a, n, sizeof *out->old_states);
    out->no_answer = arena_rows(a, n, sizeof *out->no_answer);
    for (uint32_t i = 0; i < n; i++) {
        out->old_states[i] = behaviour_state(&was, &now, (state_ix){i});
        if (out->old_states[i].i == NONE)
            continue;
        behaviour_compare(&was, &now, (state_ix){i}, a, &out->effects[i]);
        out->no_answer[i] = !has_answer(&was, out->old_states[i]) || !has_answer(&now, (state_ix){i});
        out->n_no_answer += out->no_answer[i];
        out->n_states++;
        out->n_differ += out->effects[i].n > 0;
    }
    out->n_single = n + old->model->n_states - 2 * out->n_states;
}

static void put_part(struct jsonout *j, const struct part_change *p)
{
    static const char *const status_words[] = {[PART_GONE] = "gone", [PART_NEW] = "added", [PART_CHANGED] = "changed"};
    json_begin(j, NULL, '{');
    json_put(j, "part", json_words(*p->id ? p->id : NULL));
    json_put(j, "kind", json_words(described_word(p->kind)));
    json_put(j, "what", json_words(status_words[p->status]));
    json_begin(j, "fields", '[');
    for (uint32_t i = 0; i < p->n; i++) {
        json_t *row = json_object();
        json_object_set_new(row, "field", json_words(p->rows[i].name));
        json_object_set_new(row, "was", json_words(p->rows[i].was));
        json_object_set_new(row, "now", json_words(p->rows[i].now));
        json_put(j, NULL, row);
    }
    json_end(j);
    json_end(j);
}

void json_compare(struct text *t, const struct compare_answer *c)
{
    const struct model *m = c->new->model;
    struct jsonout j = {.t = t};
    json_put_head(&j, c->new, false);
    if (!m || !c->old->model) {
        json_put_end(&j);
        return;
    }
    json_put(&j, "old", json_words(c->old->model->id));
    json_put(&j, "new", json_words(m->id));
    json_begin(&j, "parts", '[');
    for (uint32_t i = 0; i < c->parts.n; i++)
        put_part(&j, &c->parts.rows[i]);
    json_end(&j);
    json_begin(&j, "states", '{');
    for (uint32_t i = 0; i < m->n_states; i++) {
        if (c->old_states[i].i == NONE)
            continue;
        json_begin(&j, m->states[i].part.id, '{');
        json_put_changes(&j, m, &c->effects[i]);
        if (c->no_answer[i])
            json_put(&j, "no_answer", json_true());
        json_end(&j);
    }
    json_end(&j);
    json_put_end(&j);
}
