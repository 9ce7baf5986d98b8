/* `feedtrace curve MODEL --vary "line 55 to 300" [--in STATE] [--show THING,...]` */
#include "commands/command.h"
#include "draw/draw.h"
#include "report/curve_table.h"
#include <string.h>

static void as_text(struct text *t, const struct view *v, const struct answer *a, const void *extra)
{
    text_curve(t, v, a, extra);
}

static void as_json(struct text *t, const struct view *v, const struct answer *a, const void *extra)
{
    json_curve(t, v, a, extra);
}

static void as_csv(struct text *t, const struct view *v, const struct answer *a, const void *extra)
{
    csv_curve(t, v, a, extra);
}

static report_fn *const reports[N_FORMATS] = {[FORMAT_TEXT] = as_text, [FORMAT_JSON] = as_json, [FORMAT_CSV] = as_csv};

static bool show_read(const struct model *m, const char *name, struct curve_show *out, struct diags *d)
{
    feed_ix feed = model_feed(m, name, strlen(name));
    out->name = name;
    out->part = model_find(m, name, strlen(name));
    out->source = (feed_ix){NONE};
    if (out->part.kind == PART_PASSAGE || out->part.kind == PART_TAP || out->part.kind == PART_ACTUATOR ||
        out->part.kind == PART_SWITCH || out->part.kind == PART_CIRCUIT)
        return true;
    struct part_ref ref = out->part;
    out->part.kind = PART_NONE;
    if (feed.i != NONE) {
        out->source = feed;
        return true;
    }
    if (ref.kind != PART_NONE) {
        diag(d, WRONG_KIND, NO_SPAN, "--show: %s is a %s, which has no one pressure", name,
             part_kind_word(ref.kind)); /* joint, plate hole, check ball, valve, solenoid */
        diag_help(d, "name a passage at it, a tap, switch, device, circuit or feed");
        return false;
    }
    diag(d, UNKNOWN_NAME, NO_SPAN, "--show: %s is no passage, tap, switch, device, circuit or feed", name);
    const char *near = model_nearest(m, PART_NONE, name);
    if (near)
        diag_help(d, "did you mean %s?", near);
    return false;
}

/* Columns as asked for; without --show all taps, or without taps all devices. */
static bool shows_read(struct unit *u, const char *list, struct curve *c, struct diags *d)
{
    const struct model *m = u->model;
    struct curve_show *rows =
        arena_rows(&u->arena, m->n_taps + m->n_actuators + (list ? strlen(list) : 0) + 1, sizeof *rows);
    bool ok = true;
    while (list && *(list += strspn(list, ", "))) {
        size_t n = strcspn(list, ", ");
        const char *name = arena_text(&u->arena, list, n);
        uint32_t same = 0;
        while (same < c->n_shows && strcmp(rows[same].name, name) != 0)
            same++;
        if (same == c->n_shows) /* a column once */
            ok = show_read(m, name, &rows[c->n_shows++], d) && ok;
        list += n;
    }
    for (uint32_t i = 0; !c->n_shows && i < m->n_taps; i++)
        rows[i] = (struct curve_show){m->taps[i].part.id, {PART_TAP, i}, {NONE}};
    c->n_shows += c->n_shows ? 0 : m->n_taps;
    for (uint32_t i = 0; !c->n_shows && i < m->n_actuators; i++)
        rows[i] = (struct curve_show){m->actuators[i].part.id, {PART_ACTUATOR, i}, {NONE}};
    c->n_shows += c->n_shows ? 0 : m->n_actuators;
    c->shows = rows;
    return ok;
}

#define STATES_NAMED 40
#define POINTS       26 /* twenty-five steps, unless --points says otherwise */

/* --vary and the words behind the model are one text, so that quotes may be left out. */
static const char *vary_words(struct unit *u, const struct options *o)
{
    struct text t = {0};
    text_add(&t, o->vary ? o->vary : "");
    for (size_t i = 1; i < o->n_args; i++)
        text_addf(&t, " %s", o->args[i]);
    const char *words = arena_text(&u->arena, text_string(&t), t.n);
    text_release(&t);
    return words;
}

static bool one_state(const struct unit *u, struct diags *d)
{
    struct text names = {0};
    if (u->n_states == 1)
        return true;
    for (uint32_t i = 0; i < u->n_states && i < STATES_NAMED; i++)
        text_addf(&names, "%s%s", i ? ", " : "", u->model->states[u->states[i].i].part.id);
    if (u->n_states > STATES_NAMED)
        text_addf(&names, " and %u more", u->n_states - STATES_NAMED);
    diag(d, BAD_USAGE, NO_SPAN, u->n_states ? "curve looks at one state" : "model %s has no states", u->model->id);
    diag_help(d, u->n_states ? "name one with --in: %s" : "add one under `states`%s", text_string(&names));
    text_release(&names);
    return false;
}

/* -o as a picture; what --write asks for is written besides. */
static void run_picture(struct unit *u, struct run *r, const struct curve *c, enum draw_format format, struct diags *d)
{
    struct text svg = {0};
    run_answer(r, reports, &u->answer, c);
    r->options.limit = 0; /* a picture is whole or nothing */
    plot_curve(&svg, &r->sinks[0].view, &u->answer, c);
    r->sinks[0].n_answers = draw_convert(&svg, format, &r->sinks[0].text, d);
    if (!r->sinks[0].n_answers)
        run_status(r, STATUS_RESULT);
    text_release(&svg);
}

static void curve_unit(struct unit *u, struct run *r, struct diags *d)
{
    const struct options *o = &r->options;
    struct vary vary;
    enum draw_format picture;
    struct curve c = {.vary = &vary, .fault = o->fault};
    bool ok = vary_read(vary_words(u, o), &u->network, &u->arena, &vary, d);
    ok = shows_read(u, o->show, &c, d) && ok;
    ok = one_state(u, d) && ok;
    if (ok && !network_is_sized(&u->network)) {
        diag(d, BAD_USAGE, NO_SPAN, "model %s gives no sizes, so no pressures can be told", u->model->id);
        diag_help(d, "give the holes a `diameter`; what a model leaves out is then assumed, and said");
        ok = false;
    }
    if (ok && vary.what == VARY_SETTING && !(u->model->states[u->states[0].i].sources[vary.feed.i].pressure > 0)) {
        diag(d, BAD_USAGE, NO_SPAN, "source %s is off in state %s", u->model->feeds[vary.feed.i].part.id,
             u->model->states[u->states[0].i].part.id);
        diag_help(d, "name a state in which it is on with --in");
        ok = false;
    }
    if (!ok || !curve_solve(&c, u->model, u->states[0], o->points ? o->points : POINTS, &u->arena, d)) {
        run_status(r, STATUS_INPUT);
        return;
    }
    for (uint32_t i = 0; i < c.n_rows; i++) {
        if (!c.rows[i].solved)
            run_status(r, STATUS_RESULT);
    }
    unit_findings(u, r);
    if (o->output && draw_format_of(o->output, &picture))
        run_picture(u, r, &c, picture, d);
    else
        run_answer(r, reports, &u->answer, &c);
}

void command_curve(struct run *r)
{
    enum draw_format format;
    if (r->options.output && draw_format_of(r->options.output, &format) && format == DRAW_DOT) {
        run_usage(r, "end it in .svg, .pdf or .png", "DOT draws circuits, no curves");
        return;
    }
    struct unit u;
    struct diags d;
    if (!unit_open(&u, r, r->options.args[0], r->options.fault, NULL, 0))
        return;
    diags_init(&d);
    if (u.model)
        curve_unit(&u, r, &d);
    else
        run_answer(r, reports, &u.answer, NULL);
    if (d.n)
        run_complain(r, &d, NULL);
    diags_release(&d);
    unit_release(&u);
    run_deliver(r);
}
