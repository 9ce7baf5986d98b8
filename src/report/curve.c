/* Curves as text, JSON and CSV. */
#include "report/curve.h"
#include "base/escape.h"
#include "report/jsonout.h"
#include <math.h>
#include <string.h>

static const struct units *units_shown(const struct view *v, const struct answer *a)
{
    return v->other_units ? &v->units : &a->model->units;
}

static void part_add(struct text *t, const char *what, bool *some)
{
    text_add(t, *some ? "; " : "");
    text_add(t, what);
    *some = true;
}

bool curve_event(struct text *t, const struct model *m, const struct curve_row *was, const struct curve_row *now)
{
    bool some = false;
    struct text one = {0};
    if (was->solved != now->solved) {
        text_addf(&one, "%s", now->solved ? "solved again" : "no solution was found");
        part_add(t, text_string(&one), &some);
    }
    if (!was->solved || !now->solved) {
        text_release(&one);
        return some;
    }
    if (strcmp(was->gear, now->gear) != 0) {
        text_clear(&one);
        text_addf(&one, "gear %s, was %s", now->gear, was->gear);
        part_add(t, text_string(&one), &some);
    }
    for (uint32_t i = 0; i < m->n_actuators; i++) {
        if (was->device[i] == now->device[i])
            continue;
        text_clear(&one);
        text_addf(&one, "%s %s, was %s", m->actuators[i].part.id, device_word((enum device)now->device[i]),
                  device_word((enum device)was->device[i]));
        part_add(t, text_string(&one), &some);
    }
    for (uint32_t i = 0; i < m->n_valves; i++) {
        if (!strcmp(was->valve[i], now->valve[i]))
            continue;
        text_clear(&one);
        text_addf(&one, "%s %s, was %s", m->valves[i].part.id, now->valve[i], was->valve[i]);
        part_add(t, text_string(&one), &some);
    }
    for (uint32_t i = 0; i < m->n_feeds; i++) {
        if (was->limited[i] == now->limited[i])
            continue;
        text_clear(&one);
        text_addf(&one, "%s %s", m->feeds[i].part.id,
                  now->limited[i] ? "gives all that it can and no longer holds its setting"
                                  : "holds its setting again");
        part_add(t, text_string(&one), &some);
    }
    text_release(&one);
    return some;
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
    struct text label = {0}, words = {0};
    const struct units *u = units_shown(v, a);
    bool some = false;
    for (uint32_t i = 1; i < c->n_rows; i++) {
        struct text event = {0};
        if (curve_event(&event, a->model, &c->rows[i - 1], &c->rows[i])) {
            text_clear(&label);
            text_add(&label, "between ");
            quantity_add(&label, c->rows[i - 1].value, c->vary->dim, u);
            text_add(&label, " and ");
            quantity_add(&label, c->rows[i].value, c->vary->dim, u);
            text_clear(&words);
            text_addf(&words, "%s: ", text_string(&label));
            escape_plain(&words, event.at, event.n);
            if (!some)
                text_add(t, "\nWhat changes on the way:\n");
            some = true;
            say_folded(t, v, 2, 4, "-", PAINT_NONE, text_string(&words));
        }
        text_release(&event);
    }
    if (!some)
        text_add(t, "\nGear, devices, valves and sources stay as they are all the way.\n");
    text_release(&label);
    text_release(&words);
}

void text_curve(struct text *t, const struct view *v, const struct answer *a, const struct curve *c)
{
    const struct units *u = units_shown(v, a);
    struct text words = {0};
    say(t, "%s: %s", a->model->id, a->model->title ? a->model->title : "");
    text_add(t, "\n");
    say(t, "%s, in %s%s%s, by pressure", c->vary->words, c->state, c->fault ? ", with " : "", c->fault ? c->fault : "");
    text_add(t, "\n\n");
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
            quantity_words(&words, r->pressure[k], DIM_PRESSURE, u);
            cell(t, width > 10 ? width : 10, text_string(&words));
        }
        say(t, "  %s", r->solved ? r->gear : r->why);
        text_add(t, "\n");
    }
    events_add(t, v, a, c);
    text_add(t, "\n");
    say_caution_model(t, v);
    text_release(&words);
}

void csv_curve(struct text *t, const struct view *v, const struct answer *a, const struct curve *c)
{
    static const char *const si[N_DIMENSIONS] = {
        [DIM_PRESSURE] = "Pa", [DIM_LENGTH] = "m", [DIM_FLOW] = "m3/s", [DIM_TEMPERATURE] = "K"};
    (void)v;
    (void)a;
    text_addf(t, "value_%s", si[c->vary->dim]);
    for (uint32_t k = 0; k < c->n_shows; k++) {
        struct text name = {0};
        text_addf(&name, "%s_Pa", c->shows[k].name);
        text_add_char(t, ',');
        escape_csv(t, name.at, name.n);
        text_release(&name);
    }
    text_add(t, ",gear,solved\n");
    for (uint32_t i = 0; i < c->n_rows; i++) {
        const struct curve_row *r = &c->rows[i];
        text_addf(t, "%.10g", r->value);
        for (uint32_t k = 0; k < c->n_shows; k++) {
            text_add_char(t, ',');
            if (r->solved && !isnan(r->pressure[k]))
                text_addf(t, "%.10g", r->pressure[k]);
        }
        text_add_char(t, ',');
        escape_csv(t, r->solved ? r->gear : "", r->solved ? strlen(r->gear) : 0);
        text_addf(t, ",%s\n", r->solved ? "true" : "false");
    }
}

static void json_row(struct jsonout *j, const struct answer *a, const struct curve *c, uint32_t i)
{
    const struct curve_row *r = &c->rows[i];
    json_begin(j, NULL, '{');
    json_put(j, "value", json_number(r->value));
    json_put(j, "converged", json_boolean(r->solved));
    if (r->solved) {
        json_put(j, "gear", json_words(r->gear));
        json_begin(j, "pressure_pa", '{');
        for (uint32_t k = 0; k < c->n_shows; k++)
            json_put(j, c->shows[k].name, json_number(r->pressure[k]));
        json_end(j);
        struct text event = {0};
        if (i && curve_event(&event, a->model, &c->rows[i - 1], r))
            json_put(j, "changes", json_words(text_string(&event)));
        text_release(&event);
    } else {
        json_put(j, "why", json_words(r->why));
    }
    json_end(j);
}

void json_curve(struct text *t, const struct view *v, const struct answer *a, const struct curve *c)
{
    static const char *const dims[N_DIMENSIONS] = {[DIM_PRESSURE] = "pressure_pa",
                                                   [DIM_LENGTH] = "length_m",
                                                   [DIM_FLOW] = "flow_m3_s",
                                                   [DIM_TEMPERATURE] = "temperature_k"};
    struct jsonout j = {.t = t};
    (void)v;
    json_begin(&j, NULL, '{');
    json_put(&j, "feedtrace", json_integer(1));
    json_put(&j, "model", json_words(a->model ? a->model->id : NULL));
    if (a->model) {
        json_put(&j, "vary", json_words(c->vary->words));
        json_put(&j, "quantity", json_words(dims[c->vary->dim]));
        json_put(&j, "state", json_words(c->state));
        json_put(&j, "fault", json_words(c->fault));
        json_begin(&j, "points", '[');
        for (uint32_t i = 0; i < c->n_rows; i++)
            json_row(&j, a, c, i);
        json_end(&j);
    }
    json_end(&j);
}
