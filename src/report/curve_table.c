/* Curves as text, JSON and CSV. */
#include "report/curve_table.h"
#include "base/escape.h"
#include "report/json_parts.h"
#include "report/text_state.h"
#include <math.h>
#include <string.h>

static const struct units *units_shown(const struct view *v, const struct answer *a)
{
    return v->other_units ? &v->units : &a->model->units;
}

double curve_rounded(double pressure)
{
    return round(pressure / 10) * 10;
}

bool curve_wrong_gear(const struct answer *a, const struct curve *c)
{
    uint32_t commanded = a->model->states[a->states[0].i].gear.i;
    const char *wanted = commanded != NONE ? a->model->gears[commanded].part.id : NULL;
    for (uint32_t i = 0; i < c->n_rows; i++) {
        if (!c->rows[i].solved)
            continue;
        wanted = wanted ? wanted : c->rows[i].gear;
        if (strcmp(wanted, c->rows[i].gear) != 0)
            return true;
    }
    return false;
}

void curve_list_head(struct text *t, const struct curve *c)
{
    if (c->n_events)
        text_add(t, "What changes on the way:\n");
    else if (c->rows[0].solved) /* then all are: a value that is not would be a change */
        text_add(t, "Gear, devices, valves and sources stay as they are at every value tried.\n");
    else
        text_addf(t, "No value could be solved: %s.\n", c->rows[0].why);
}

void curve_place(struct text *t, const struct curve *c, const struct curve_event *e, const struct units *u)
{
    text_add(t, e->near ? "at " : "between ");
    if (!e->near) {
        quantity_add(t, e->before.value, c->vary->dim, u);
        text_add(t, " and ");
    }
    quantity_add(t, e->after.value, c->vary->dim, u);
}

/* One cell, right-aligned behind two spaces. */
static void cell(struct text *t, size_t width, const char *words)
{
    size_t n = escape_width(words, strlen(words));
    text_addf(t, "  %*s", (int)(n < width ? width - n : 0), "");
    escape_plain(t, words, strlen(words));
}

static void quantity_words(struct text *t, double value, enum dimension dim, const struct units *u)
{
    text_clear(t);
    if (isnan(value))
        text_add(t, "-");
    else
        quantity_add(t, value, dim, u);
}

static void events_add(struct text *t, const struct view *v, const struct answer *a, const struct curve *c)
{
    struct text change = {0}, words = {0};
    text_add_char(t, '\n');
    curve_list_head(t, c);
    for (uint32_t i = 0; i < c->n_events; i++) {
        text_clear(&change);
        text_clear(&words);
        curve_change(&change, a->model, &c->events[i].before, &c->events[i].after);
        curve_place(&words, c, &c->events[i], units_shown(v, a));
        text_add(&words, ": ");
        escape_plain(&words, change.at, change.n);
        say_folded(t, v, 2, 4, "-", PAINT_NONE, text_string(&words));
    }
    text_release(&change);
    text_release(&words);
}

void text_curve(struct text *t, const struct view *v, const struct answer *a, const struct curve *c)
{
    struct text words = {0};
    if (!a->model)
        return;
    const struct units *u = units_shown(v, a);
    say_heading(t, v, a);
    say(&words, "%s, in %s, by pressure", c->vary->words, c->state);
    say_folded(t, v, 0, 0, "", PAINT_NONE, text_string(&words));
    text_add(t, "\n");
    cell(t, 10, "value");
    for (uint32_t k = 0; k < c->n_shows; k++)
        cell(t, 10, c->shows[k].name);
    text_add(t, "  gear\n");
    for (uint32_t i = 0; i < c->n_rows; i++) {
        const struct curve_row *r = &c->rows[i];
        quantity_words(&words, r->value, c->vary->dim, u);
        cell(t, 10, text_string(&words));
        for (uint32_t k = 0; r->solved && k < c->n_shows; k++) {
            size_t width = strlen(c->shows[k].name);
            quantity_words(&words, curve_rounded(r->pressure[k]), DIM_PRESSURE, u);
            cell(t, width > 10 ? width : 10, text_string(&words));
        }
        say(t, "  %s", r->solved ? r->gear : r->why);
        text_add(t, "\n");
    }
    events_add(t, v, a, c);
    text_add(t, "\n");
    say_basis(t, v, a);
    text_add(t, "\n");
    if (curve_wrong_gear(a, c))
        say_caution_gear(t, v);
    say_caution_taps(t, v);
    say_caution_model(t, v);
    text_release(&words);
}

static void csv_row(struct text *t, const struct curve *c, const struct curve_row *r, const char *change)
{
    text_addf(t, "%.10g", r->value);
    for (uint32_t k = 0; k < c->n_shows; k++) {
        text_add_char(t, ',');
        if (r->solved && !isnan(r->pressure[k]))
            text_addf(t, "%.10g", r->pressure[k]);
    }
    text_add_char(t, ',');
    escape_csv(t, r->solved ? r->gear : "", r->solved ? strlen(r->gear) : 0);
    text_addf(t, ",%s,", r->solved ? "true" : "false");
    escape_csv(t, change, strlen(change));
    text_add_char(t, '\n');
}

void csv_curve(struct text *t, const struct view *v, const struct answer *a, const struct curve *c)
{
    if (!a->model)
        return;
    static const char *const si[N_DIMENSIONS] = {
        [DIM_PRESSURE] = "Pa", [DIM_LENGTH] = "m", [DIM_FLOW] = "m3/s", [DIM_TEMPERATURE] = "K", [DIM_SHARE] = "share"};
    (void)v;
    text_addf(t, "value_%s", si[c->vary->dim]);
    for (uint32_t k = 0; k < c->n_shows; k++) {
        struct text name = {0};
        text_addf(&name, "%s_Pa", c->shows[k].name);
        text_add_char(t, ',');
        escape_csv(t, name.at, name.n);
        text_release(&name);
    }
    text_add(t, ",gear,solved,change\n");
    for (uint32_t i = 0, e = 0; i < c->n_rows; i++) {
        csv_row(t, c, &c->rows[i], "");
        for (; e < c->n_events && c->events[e].row == i; e++) {
            struct text change = {0};
            curve_change(&change, a->model, &c->events[e].before, &c->events[e].after);
            csv_row(t, c, &c->events[e].after, text_string(&change));
            text_release(&change);
        }
    }
}

static void json_pressures(struct jsonout *j, const struct curve *c, const struct curve_row *r)
{
    json_put(j, "gear", json_words(r->gear));
    json_begin(j, "pressure_pa", '{');
    for (uint32_t k = 0; k < c->n_shows; k++)
        json_put(j, c->shows[k].name, json_pressure(r->pressure[k]));
    json_end(j);
}

static void json_row(struct jsonout *j, const struct curve *c, const struct curve_row *r)
{
    json_begin(j, NULL, '{');
    json_put(j, "value", json_number(r->value));
    json_put(j, "converged", json_boolean(r->solved));
    if (r->solved)
        json_pressures(j, c, r);
    else
        json_put(j, "why", json_words(r->why));
    json_end(j);
}

static void json_event(struct jsonout *j, const struct answer *a, const struct curve *c, const struct curve_event *e)
{
    struct text change = {0};
    curve_change(&change, a->model, &e->before, &e->after);
    json_begin(j, NULL, '{');
    json_put(j, "still_at", json_number(e->before.value));
    json_put(j, "at", json_number(e->after.value));
    json_put(j, "change", json_words(text_string(&change)));
    if (e->after.solved)
        json_pressures(j, c, &e->after);
    json_end(j);
    text_release(&change);
}

void json_curve(struct text *t, const struct view *v, const struct answer *a, const struct curve *c)
{
    static const char *const dims[N_DIMENSIONS] = {[DIM_PRESSURE] = "pressure_pa",
                                                   [DIM_LENGTH] = "length_m",
                                                   [DIM_FLOW] = "flow_m3_s",
                                                   [DIM_TEMPERATURE] = "temperature_k",
                                                   [DIM_SHARE] = "share"};
    struct jsonout j = {.t = t};
    (void)v;
    json_put_head(&j, a, true);
    if (a->model) {
        json_put(&j, "vary", json_words(c->vary->words));
        json_put(&j, "quantity", json_words(dims[c->vary->dim]));
        json_put(&j, "state", json_words(c->state));
        json_begin(&j, "points", '[');
        for (uint32_t i = 0; i < c->n_rows; i++)
            json_row(&j, c, &c->rows[i]);
        json_end(&j);
        json_begin(&j, "events", '[');
        for (uint32_t i = 0; i < c->n_events; i++)
            json_event(&j, a, c, &c->events[i]);
        json_end(&j);
    }
    json_put_end(&j);
}
