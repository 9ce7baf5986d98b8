/* `feedtrace draw MODEL [FROM TO] [--in STATE] [--fault ...] [-o FILE]` */
#include "draw/draw.h"
#include "commands/command.h"
#include <string.h>

/* The feed, circuit and part that narrow the drawing. */
static bool narrow_read(const struct model *m, const struct options *o, struct draw_options *out, struct diags *d)
{
    size_t n = d->n;
    if (o->feed) {
        out->feed = model_feed(m, o->feed, strlen(o->feed));
        if (out->feed.i == NONE) {
            diag(d, BAD_USAGE, NO_SPAN, "model %s has no feed '%s'", m->id, o->feed);
            struct text help = {0};
            for (uint32_t i = 0; i < m->n_feeds; i++)
                text_addf(&help, "%s%s", i ? ", " : "its feeds are ", m->feeds[i].part.id);
            if (help.n)
                diag_help(d, "%s", text_string(&help));
            text_release(&help);
        }
    }
    if (o->circuit) {
        struct part_ref ref = model_find(m, o->circuit, strlen(o->circuit));
        out->circuit.i = ref.kind == PART_CIRCUIT ? ref.i : NONE;
        if (ref.kind != PART_CIRCUIT) {
            diag(d, BAD_USAGE, NO_SPAN, "model %s has no circuit '%s'", m->id, o->circuit);
            const char *near = model_nearest(m, PART_CIRCUIT, o->circuit);
            if (near)
                diag_help(d, "did you mean %s?", near);
        }
    }
    if (o->around) {
        out->around = model_find(m, o->around, strlen(o->around));
        if (out->around.kind == PART_NONE) {
            diag(d, BAD_USAGE, NO_SPAN, "model %s has no part '%s'", m->id, o->around);
            const char *near = model_nearest(m, PART_NONE, o->around);
            if (near)
                diag_help(d, "did you mean %s?", near);
        }
    }
    return d->n == n;
}

/* The way from FROM to TO, to be drawn heavy. False: usage, or a library failed; status says which. */
static bool route_read(struct unit *u, struct run *r, struct routes *routes, struct draw_options *out, struct diags *d)
{
    const struct options *o = &r->options;
    const struct answer *a = &u->answer;
    if (o->n_args < 3)
        return true;
    struct place from, to;
    bool ok = place_read(u->model, o->args[1], true, &from, d);
    ok = place_read(u->model, o->args[2], false, &to, d) && ok;
    uint32_t c = trace_case(a->shown, 0, out->state);
    if (!ok) {
        run_status(r, STATUS_INPUT);
        return false;
    }
    if (!a->shown->cases[c].settled)
        return true; /* the drawing says so */
    if (!routes_find(a->shown, c, from.passage, to.passage, &u->arena, routes, d)) {
        run_status(r, STATUS_RESULT);
        return false;
    }
    if (!routes->reached) {
        run_status(r, STATUS_INPUT);
        diag(d, BAD_USAGE, NO_SPAN, "no way is open from %s to %s in state %s", o->args[1], o->args[2],
             u->model->states[out->state.i].part.id);
        diag_help(d, "`feedtrace route` tells the states in which there is one");
        return false;
    }
    out->route = &routes->best;
    return true;
}

static void draw_unit(struct unit *u, struct run *r, enum draw_format format, struct diags *d)
{
    const struct answer *a = &u->answer;
    struct draw_options o = {.feed = {NONE}, .circuit = {NONE}, .around = {PART_NONE, 0}};
    struct routes routes = {0};
    o.state = a->states[0];
    o.faults = a->fault ? a->fault->words : NULL;
    o.hops = r->options.hops;
    o.all = r->options.all;
    o.pressures = pressed_state(a->pressed, o.state.i);
    if (a->fault && a->pressed && a->pressed->healthy[o.state.i].end.converged)
        o.healthy = &a->pressed->healthy[o.state.i];
    o.units = r->options.other_units ? r->options.units : u->model->units;
    if (!narrow_read(u->model, &r->options, &o, d)) {
        run_status(r, STATUS_INPUT);
        return;
    }
    if (!route_read(u, r, &routes, &o, d))
        return;
    if (!a->shown->cases[trace_case(a->shown, 0, o.state)].settled || pressed_failed(a->pressed, o.state.i))
        run_status(r, STATUS_RESULT);
    struct text dot = {0};
    if (!draw_dot(a->shown, 0, a->fault ? a->healthy : NULL, &o, &dot, d) ||
        !draw_render(&dot, format, &r->sinks[0].text, d))
        run_status(r, STATUS_RESULT);
    else
        r->sinks[0].n_answers = 1;
    text_release(&dot);
}

void command_draw(struct run *r)
{
    const struct options *o = &r->options;
    enum draw_format format = DRAW_DOT;
    r->options.limit = 0;
    if (o->n_args == 2) {
        run_usage(r, "feedtrace draw --help shows an example", "draw takes FROM and TO, or neither");
        return;
    }
    if (o->in.n > 1) {
        run_usage(r, "run it once a state", "a drawing shows one state");
        return;
    }
    if (o->output && strcmp(o->output, "-") && !draw_format_of(o->output, &format)) {
        run_usage(r, "end it in .dot, .svg, .pdf or .png", "the ending of %s tells no format", o->output);
        return;
    }
    struct unit u;
    if (!unit_open(&u, r, o->args[0], o->fault, NULL, 0))
        return;
    struct diags d;
    diags_init(&d);
    if (u.model && u.n_states)
        draw_unit(&u, r, format, &d);
    else if (u.model)
        run_usage(r, "add a state under `states`", "model %s has no states, so nothing can be drawn", u.model->id);
    if (d.n)
        run_complain(r, &d, NULL);
    diags_release(&d);
    unit_release(&u);
    if (r->sinks[0].n_answers)
        run_deliver(r);
}
