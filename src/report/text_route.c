/* The way oil takes, a line an element, as a finger follows it. */
#include "base/mem.h"
#include "report/answer.h"
#include "report/text_state.h"
#include <math.h>
#include <string.h>

static void size_words(struct text *t, const struct element *e, const struct units *u)
{
    if (!isnan(e->diameter)) {
        text_add(t, ", ");
        quantity_add(t, e->diameter, DIM_LENGTH, u);
    }
    if (e->strength <= STRENGTH_ORIFICE)
        text_addf(t, " %s", strength_word(e->strength));
}

static const char *layer_of(const struct model *m, passage_ix p)
{
    return m->passages[p.i].layer.i == NONE ? "pan" : m->layers[m->passages[p.i].layer.i].part.id;
}

/* `p` NULL: no pressures. */
static void add_steps(struct text *t, const struct view *v, const struct model *m, const struct network *n,
                      const struct route *r, const struct units *u, const struct pressures *p)
{
    for (uint32_t i = 0; i < r->n; i++) {
        const struct step *s = &r->steps[i];
        struct text body = {0}, label = {0};
        text_addf(&label, "%2u", i + 1);
        element_words(n, &s->element, &body);
        size_words(&body, &s->element, u);
        if (s->plate_hole)
            say(&body, ", through the plate from %s to %s", layer_of(m, s->element.from), layer_of(m, s->element.to));
        say(&body, ", into %s", m->passages[s->element.to.i].part.id);
        if (p) {
            text_add(&body, ", ");
            pressure_add(&body, p->pressure[s->element.to.i], u);
        }
        if (s->doubtful)
            text_add(&body, " (only perhaps open)");
        if (i == r->tightest)
            text_add(&body, "  <- tightest");
        say_folded(t, v, 2, 6, text_string(&label), PAINT_NONE, text_string(&body));
        text_release(&body);
        text_release(&label);
    }
}

static void element_list(struct text *t, const struct network *n, const struct element *rows, uint32_t n_rows)
{
    for (uint32_t i = 0; i < n_rows; i++) {
        text_add(t, i ? ", " : "");
        element_words(n, &rows[i], t);
    }
}

static void add_route(struct text *t, const struct view *v, const struct answer *a, const struct route_answer *r,
                      const struct routes *rows)
{
    const struct model *m = a->model;
    struct units units = v->other_units ? v->units : m->units;
    struct text body = {0};
    if (!rows->best.n) {
        say_folded(t, v, 2, 2, "", PAINT_NONE, "Both are one and the same passage.");
        return;
    }
    /* several states with one way are told once, so that only one state can be told with its pressures */
    add_steps(t, v, m, r->network, &rows->best, &units,
              a->n_states == 1 ? pressed_state(a->pressed, a->states[0].i) : NULL);
    text_add(&body, "It crosses a plate ");
    if (rows->best.n_crossings == 0)
        text_add(&body, "nowhere.");
    else if (rows->best.n_crossings == 1)
        text_add(&body, "once.");
    else
        text_addf(&body, "%u times.", rows->best.n_crossings);
    if (rows->best.tightest != NONE) {
        text_add(&body, " Tightest point: ");
        const struct element *e = &rows->best.steps[rows->best.tightest].element;
        element_words(r->network, e, &body);
        size_words(&body, e, &units);
        text_add_char(&body, '.');
    }
    say_folded(t, v, 2, 2, "", PAINT_NONE, text_string(&body));
    text_clear(&body);
    if (rows->n_single) {
        element_list(&body, r->network, rows->single_points, rows->n_single);
        text_add(&body, ". Each of these alone, blocked, starves it.");
        say_folded(t, v, 2, 2, "Single points of failure:", PAINT_NONE, text_string(&body));
    } else {
        text_add(&body, "No single element starves it.");
        if (rows->n_cut) {
            text_add(&body, " Cut off only by all of: ");
            element_list(&body, r->network, rows->cut, rows->n_cut);
            text_add_char(&body, '.');
        }
        say_folded(t, v, 2, 2, "", PAINT_NONE, text_string(&body));
    }
    for (uint32_t i = 0; i < rows->n_others; i++) {
        text_clear(&body);
        for (uint32_t k = 0; k < rows->others[i].n; k++)
            say(&body, "%s%s", k ? ", " : "", element_id(r->network, &rows->others[i].steps[k].element));
        say_folded(t, v, 2, 4, i ? "Or:" : "Another way:", PAINT_NONE, text_string(&body));
    }
    text_release(&body);
}

static void from_to(struct text *t, const struct answer *a, const struct route_answer *r)
{
    const struct passage *from = &a->model->passages[r->from_passage.i], *to = &a->model->passages[r->to_passage.i];
    say(t, "%s", r->from);
    if (strcmp(r->from, from->part.id))
        say(t, " (%s)", from->part.id);
    say(t, " to %s", r->to);
    if (strcmp(r->to, to->part.id))
        say(t, " (%s)", to->part.id);
}

void text_route(struct text *t, const struct view *v, const struct answer *a, const struct route_answer *r)
{
    if (!a->model)
        return;
    say_heading(t, v, a);
    text_add(t, "From ");
    from_to(t, a, r);
    text_add_char(t, '\n');
    struct text *bodies = mem_zero(a->n_states + 1, sizeof *bodies);
    struct text none = {0}, open = {0};
    for (uint32_t i = 0; i < a->n_states; i++) {
        const char *id = a->model->states[a->states[i].i].part.id;
        if (!a->shown->cases[trace_case(a->shown, 0, a->states[i])].settled)
            say(&open, "%s%s", open.n ? ", " : "", id);
        else if (r->by_state[i].reached)
            add_route(&bodies[i], v, a, r, &r->by_state[i]);
        else
            say(&none, "%s%s", none.n ? ", " : "", id);
    }
    for (uint32_t i = 0; i < a->n_states; i++) {
        if (!bodies[i].n)
            continue;
        struct text names = {0};
        for (uint32_t k = i; k < a->n_states; k++) {
            if (strcmp(text_string(&bodies[k]), text_string(&bodies[i])))
                continue;
            say(&names, "%s%s", names.n ? ", " : "", a->model->states[a->states[k].i].part.id);
            if (k > i)
                text_clear(&bodies[k]);
        }
        text_add_char(t, '\n');
        text_add_char(&names, ':');
        say_folded(t, v, 0, 3, "In", PAINT_HEAD, text_string(&names));
        text_add(t, text_string(&bodies[i]));
        text_release(&names);
    }
    if (none.n || open.n)
        text_add_char(t, '\n');
    if (none.n)
        say_folded(t, v, 0, 3, "No way is open in", PAINT_NONE, text_string(&none));
    if (open.n)
        say_folded(t, v, 0, 3, "Not settled, no answer in", PAINT_BAD, text_string(&open));
    text_add_char(t, '\n');
    if (r->consumer.kind == PART_TAP)
        say_caution_taps(t, v);
    say_caution_model(t, v);
    for (uint32_t i = 0; i < a->n_states; i++)
        text_release(&bodies[i]);
    mem_free(bodies);
    text_release(&none);
    text_release(&open);
}
