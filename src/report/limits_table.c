#include "report/limits_table.h"
#include "base/escape.h"
#include "report/json_parts.h"
#include "report/text_state.h"
#include <math.h>
#include <string.h>

static void size_add(struct text *t, double size, const struct view *v, const struct answer *a)
{
    quantity_add(t, size, DIM_LENGTH, v->other_units ? &v->units : &a->model->units);
}

/* "below 0.62 mm (line_55): clutch slipping, was applied", one folded line. */
static void side_add(struct text *t, const struct view *v, const struct answer *a, const struct limits_side *s,
                     const char *beyond)
{
    struct text words = {0};
    if (!s->found)
        return;
    if (s->holds > 0) {
        text_addf(&words, "%s ", beyond);
        size_add(&words, s->holds, v, a);
        text_add(&words, ", ");
    }
    text_add(&words, "first in ");
    escape_plain(&words, s->state, strlen(s->state));
    text_add(&words, ": ");
    escape_plain(&words, s->what, strlen(s->what));
    say_folded(t, v, 6, 8, "", PAINT_NONE, text_string(&words));
    text_release(&words);
}

static void row_text(struct text *t, const struct view *v, const struct answer *a, const struct limits_row *r)
{
    struct text words = {0};
    if (r->leak) {
        escape_plain(&words, r->fault, strlen(r->fault) - 3); /* without " at" */
        bool none = r->larger.found && r->larger.holds <= 0;  /* not even the smallest leak that was tried holds */
        text_add(&words, none ? ": lost already at " : r->larger.found ? ": holds up to " : ": nothing is lost up to ");
        size_add(&words, none ? r->larger.lost_at : r->larger.holds, v, a);
    } else {
        bool both = r->smaller.found && r->larger.found, none = !r->smaller.found && !r->larger.found;
        escape_plain(&words, r->part, strlen(r->part));
        text_add(&words, ", ");
        size_add(&words, r->size, v, a);
        text_add(&words, none ? ": nothing is lost from " : ": holds from ");
        size_add(&words, r->smaller.holds, v, a);
        text_add(&words, both || none || r->larger.found ? " to " : " up (tried to ");
        size_add(&words, r->larger.holds, v, a);
        text_add(&words, both || none ? "" : r->larger.found ? " (smaller was not tried)" : ")");
    }
    say_folded(t, v, 2, 4, "", PAINT_NONE, text_string(&words));
    side_add(t, v, a, &r->smaller, "below");
    side_add(t, v, a, &r->larger, "above");
    text_release(&words);
}

void text_limits(struct text *t, const struct view *v, const struct answer *a, const struct limits_table *l)
{
    struct text words = {0};
    if (!a->model)
        return;
    say_heading(t, v, a);
    text_addf(&words,
              "How far a size may go, by pressure, before a gear, a device, an expectation of the model or the pump's "
              "hold on its setting is lost. How fast devices fill and drain is judged only where the model expects "
              "it (`DEVICE fills above 0.5 x healthy`). Where something is lost is found to 1 %%; one size "
              "varies at a time. States looked at: %u",
              a->n_states);
    uint32_t n_failed = 0;
    for (uint32_t i = 0; i < a->n_states; i++)
        n_failed += pressed_failed(a->pressed, a->states[i].i);
    if (n_failed)
        text_addf(&words, ", of which %u could not be solved as they are and are left out", n_failed);
    text_add(&words, ".");
    say_folded(t, v, 0, 0, "", PAINT_NONE, text_string(&words));
    for (int leak = 0; leak < 2; leak++) {
        bool some = false;
        for (uint32_t i = 0; i < l->n; i++) {
            if (l->rows[i].leak != leak)
                continue;
            if (!some)
                text_add(t, leak ? "\nLeaks\n" : "\nHoles\n");
            some = true;
            row_text(t, v, a, &l->rows[i]);
        }
    }
    if (!l->n)
        text_add(t, "\nThere is no orifice with a diameter, no `leaks_to` and no device whose size could\nvary.\n");
    text_add(t, "\n");
    say_basis(t, v, a);
    text_add(t, "\n");
    say_caution_model(t, v);
    text_release(&words);
}

static void side_json(struct jsonout *j, const char *key, const struct limits_side *s)
{
    json_begin(j, key, '{');
    json_put(j, "lost", json_boolean(s->found));
    json_put(j, "holds_m", json_number(s->holds));
    if (s->found) {
        json_put(j, "lost_at_m", json_number(s->lost_at));
        json_put(j, "state", json_words(s->state));
        json_put(j, "what", json_words(s->what));
    }
    json_end(j);
}

void json_limits(struct text *t, const struct view *v, const struct answer *a, const struct limits_table *l)
{
    struct jsonout j = {.t = t};
    (void)v;
    json_put_head(&j, a, false);
    if (a->model) {
        json_begin(&j, "limits", '[');
        for (uint32_t i = 0; i < l->n; i++) {
            const struct limits_row *r = &l->rows[i];
            json_begin(&j, NULL, '{');
            json_put(&j, "part", json_words(r->part));
            json_put(&j, "fault", json_words(r->fault));
            json_put(&j, "size_m", json_number(r->size));
            if (!r->leak)
                side_json(&j, "smaller", &r->smaller);
            side_json(&j, "larger", &r->larger);
            json_end(&j);
        }
        json_end(&j);
    }
    json_put_end(&j);
}

static void side_csv(struct text *t, const struct limits_side *s)
{
    text_addf(t, ",%.6g,", s->holds);
    if (!s->found) {
        text_add(t, ",");
        return;
    }
    escape_csv(t, s->state, strlen(s->state));
    text_add_char(t, ',');
    escape_csv(t, s->what, strlen(s->what));
}

void csv_limits(struct text *t, const struct view *v, const struct answer *a, const struct limits_table *l)
{
    (void)v;
    if (!a->model)
        return;
    text_add(t, "fault,size_m,holds_down_to_m,lost_below_in,lost_below,holds_up_to_m,lost_above_in,lost_above\n");
    for (uint32_t i = 0; i < l->n; i++) {
        const struct limits_row *r = &l->rows[i];
        escape_csv(t, r->fault, strlen(r->fault));
        if (r->leak)
            text_add(t, ",,,,");
        else {
            text_addf(t, ",%.6g", r->size);
            side_csv(t, &r->smaller);
        }
        side_csv(t, &r->larger);
        text_add(t, "\n");
    }
}
