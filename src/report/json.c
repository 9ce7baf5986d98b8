/* JSON of check, trace and whatif. The shapes are an interface: they stand in schemas/ and grow only by new keys. */
#include "base/mem.h"
#include "report/answer.h"
#include "report/json_parts.h"
#include <math.h>

static void put_finding(struct jsonout *j, const struct answer *a, const struct diag *d)
{
    json_t *row = json_object();
    bool placed = d->where.line && d->where.file < a->files->n_files;
    json_object_set_new(row, "code", json_words(code_row(d->code)->id));
    json_object_set_new(row, "level", json_words(level_word(d->level)));
    json_object_set_new(row, "at", json_words(d->at));
    json_object_set_new(row, "state", json_words(d->state));
    json_object_set_new(row, "file", json_words(placed ? a->files->files[d->where.file].name : a->path));
    json_object_set_new(row, "line", placed ? json_integer(d->where.line) : json_null());
    json_object_set_new(row, "column", placed ? json_integer(d->where.column) : json_null());
    json_object_set_new(row, "message", json_words(d->message));
    if (d->help)
        json_object_set_new(row, "help", json_words(d->help));
    json_put(j, NULL, row);
}

void json_put_head(struct jsonout *j, const struct answer *a, bool fault)
{
    json_begin(j, NULL, '{');
    json_put(j, "feedtrace", json_integer(1));
    json_put(j, "model", json_words(a->model ? a->model->id : NULL));
    if (a->fault && fault)
        json_put(j, "fault", json_words(a->fault->words));
    json_begin(j, "findings", '[');
    for (size_t i = 0; i < a->diags->n; i++)
        put_finding(j, a, &a->diags->rows[i]);
    json_end(j);
    json_t *checks = json_array();
    for (size_t i = 0; i < a->n_checks; i++)
        json_array_append_new(checks, json_words(a->checks[i]));
    json_put(j, "checks", checks);
    json_put(j, "counts",
             json_pack("{s:I, s:I, s:I}", "error", (json_int_t)a->diags->n_errors, "warning",
                       (json_int_t)a->diags->n_warnings, "note", (json_int_t)a->diags->n_notes));
}

void json_put_end(struct jsonout *j)
{
    json_end(j);
    text_add_char(j->t, '\n');
}

static json_t *certainty_value(enum certainty c)
{
    return c == CERTAIN_YES ? json_true() : c == CERTAIN_MAY ? json_string("may") : json_false();
}

static void add_possible(json_t *gear, const struct model *m, const struct gear_answer *g)
{
    if (g->gear != GEAR_ANSWER_UNSURE)
        return;
    json_t *possible = json_array();
    for (uint32_t i = 0; i < g->n_possible; i++)
        json_array_append_new(possible, json_words(gear_word(m, g->possible[i])));
    json_object_set_new(gear, "possible", possible);
}

static void put_gear(struct jsonout *j, const struct answer *a, state_ix s, const struct trace_case *c)
{
    const struct pressures *p = pressed_state(a->pressed, s.i);
    const struct model *m = a->model;
    const struct state *state = &m->states[s.i];
    json_t *gear = json_object();
    json_object_set_new(gear, "commanded", json_words(state->gear.i == NONE ? NULL : m->gears[state->gear.i].part.id));
    if (c->settled) {
        json_object_set_new(gear, "structure", json_words(gear_word(m, c->gear.gear)));
        if (p)
            json_object_set_new(gear, "pressure", json_words(gear_word(m, p->gear.gear)));
        add_possible(gear, m, counts_gear(c, p));
    }
    json_put(j, "gear", gear);
}

static json_t *passage_value(const struct answer *a, uint32_t c, const struct pressures *solved, passage_ix p)
{
    const struct trace *t = a->shown;
    const struct network *n = t->network;
    json_t *row = json_object();
    json_object_set_new(row, "condition", json_string(condition_word(trace_condition(t, c, p))));
    json_t *feeds = json_object();
    for (uint32_t f = 0; f < a->model->n_feeds; f++) {
        enum certainty reach = trace_reach(t, c, (feed_ix){f}, p);
        if (reach != CERTAIN_NO)
            json_object_set_new(feeds, a->model->feeds[f].part.id, json_string(reach == CERTAIN_YES ? "sure" : "may"));
    }
    json_object_set_new(row, "feeds", feeds);
    json_t *past = json_object();
    for (uint32_t l = 0; l < n->n_limits; l++)
        json_object_set_new(past, a->model->valves[n->limits[l].valve.i].part.id,
                            certainty_value(trace_past(t, c, l, p)));
    json_object_set_new(row, "past", past);
    if (solved)
        json_object_set_new(row, "pressure_pa", json_pressure(solved->pressure[p.i]));
    return row;
}

static json_t *valve_value(const struct answer *a, uint32_t c, const struct pressures *solved, uint32_t v)
{
    json_t *row = json_object();
    json_object_set_new(row, "structure", json_words(trace_valve_word(a->shown, c, (valve_ix){v})));
    if (solved && a->model->valves[v].kind != VALVE_MANUAL) {
        json_object_set_new(row, "pressure", json_string(counts_valve_word(a->shown, c, solved, (valve_ix){v})));
        json_object_set_new(row, "travel", json_share(solved->travel[v]));
    }
    return row;
}

/* @param by_shuttle it drains by way of a shuttle: no time is told, for it depends on where the ball rests */
static json_t *actuator_value(const struct model *m, const struct trace_case *c, const struct pressures *solved,
                              uint32_t i, bool by_shuttle)
{
    json_t *row = json_object();
    json_object_set_new(row, "structure", json_string(applied_word((enum applied)c->applied[i])));
    if (solved) {
        json_object_set_new(row, "pressure", json_string(device_word((enum device)solved->device[i])));
        json_object_set_new(row, "pressure_pa", json_pressure(solved->pressure[m->actuators[i].apply.i]));
        json_object_set_new(row, "fill_m3_s", json_flow(solved->fill[i]));
        json_object_set_new(row, "drain_m3_s", json_flow(solved->drain[i]));
        if (!isnan(m->actuators[i].volume)) {
            json_object_set_new(row, "fill_s", json_seconds(device_seconds(&m->actuators[i], solved->fill[i])));
            json_object_set_new(row, "drain_s",
                                by_shuttle ? json_null()
                                           : json_seconds(device_seconds(&m->actuators[i], solved->drain[i])));
        }
    }
    return row;
}

static void put_sources(struct jsonout *j, const struct model *m, const struct pressures *solved)
{
    json_begin(j, "sources", '{');
    for (uint32_t f = 0; f < m->n_feeds; f++) {
        const struct source_answer *s = &solved->sources[f];
        if (!m->feeds[f].is_source)
            continue;
        json_t *row = json_object();
        json_object_set_new(row, "pressure_pa", json_pressure(s->pressure));
        json_object_set_new(row, "flow_m3_s", json_flow(s->flow));
        json_object_set_new(row, "limited", isnan(s->flow) ? json_null() : json_boolean(s->limited));
        json_put(j, m->feeds[f].part.id, row);
    }
    json_end(j);
}

/* Other stable answers: their pressures and travels. */
static void put_solutions(struct jsonout *j, const struct model *m, const struct pressures *solved)
{
    if (!solved->n_solutions)
        return;
    json_begin(j, "solutions", '[');
    for (uint32_t k = 0; k < solved->n_solutions; k++) {
        const struct solution *s = &solved->solutions[k];
        json_begin(j, NULL, '{');
        json_begin(j, "passages", '{');
        for (uint32_t p = 1; p < m->n_passages; p++)
            json_put(j, m->passages[p].part.id, json_pack("{s:o}", "pressure_pa", json_pressure(s->pressure[p])));
        json_end(j);
        json_begin(j, "valves", '{');
        for (uint32_t v = 0; v < m->n_valves; v++)
            if (m->valves[v].kind == VALVE_SPOOL || m->valves[v].kind == VALVE_LIMITING)
                json_put(j, m->valves[v].part.id, json_pack("{s:o}", "travel", json_share(s->travel[v])));
        json_end(j);
        json_end(j);
    }
    json_end(j);
}

static void put_pressures(struct jsonout *j, const struct answer *a, state_ix s)
{
    const struct pressures *solved = pressed_state(a->pressed, s.i);
    if (solved)
        put_sources(j, a->model, solved);
    if (a->pressed)
        json_put(j, "converged", json_boolean(solved != NULL));
    if (solved)
        put_solutions(j, a->model, solved);
}

static void put_state(struct jsonout *j, const struct answer *a, state_ix s)
{
    const struct model *m = a->model;
    const struct trace *t = a->shown;
    uint32_t row = trace_case(t, 0, s);
    const struct trace_case *c = &t->cases[row];
    const struct pressures *solved = pressed_state(a->pressed, s.i);
    json_begin(j, m->states[s.i].part.id, '{');
    json_put(j, "settled", json_boolean(c->settled));
    put_gear(j, a, s, c);
    if (c->settled) {
        json_begin(j, "passages", '{');
        for (uint32_t p = 1; p < m->n_passages; p++)
            json_put(j, m->passages[p].part.id, passage_value(a, row, solved, (passage_ix){p}));
        json_end(j);
        json_begin(j, "valves", '{');
        for (uint32_t v = 0; v < m->n_valves; v++) {
            enum valve_kind kind = m->valves[v].kind;
            if (kind == VALVE_SPOOL || kind == VALVE_LIMITING || kind == VALVE_MANUAL)
                json_put(j, m->valves[v].part.id, valve_value(a, row, solved, v));
        }
        json_end(j);
        const struct network *n = a->healthy->network;
        uint8_t *by_shuttle = mem_alloc((size_t)n->n_nodes + 1);
        shuttle_drains_find(n, by_shuttle);
        json_begin(j, "actuators", '{');
        for (uint32_t i = 0; i < m->n_actuators; i++)
            json_put(j, m->actuators[i].part.id,
                     actuator_value(m, c, solved, i, by_shuttle[n->node_of[m->actuators[i].apply.i]]));
        json_end(j);
        mem_free(by_shuttle);
        put_pressures(j, a, s);
    }
}

static const char *const change_words[] = {
    [CHANGE_SETTLED] = "settled",     [CHANGE_GEAR] = "gear",
    [CHANGE_ACTUATOR] = "actuator",   [CHANGE_VALVE] = "valve",
    [CHANGE_CONDITION] = "condition", [CHANGE_REACH] = "reach",
    [CHANGE_LIMIT] = "limit",         [CHANGE_CROSS_LEAK] = "cross-leak",
    [CHANGE_SOLVED] = "solved",       [CHANGE_PRESSURE] = "pressure",
    [CHANGE_FILL] = "fill",           [CHANGE_DRAIN] = "drain",
    [CHANGE_DAMPING] = "damping",
};

void json_put_changes(struct jsonout *j, const struct model *m, const struct effect *effect)
{
    json_begin(j, "changes", '[');
    for (uint32_t i = 0; i < effect->n; i++) {
        const struct change *c = &effect->rows[i];
        json_t *row = json_object();
        json_object_set_new(row, "subject", json_words(c->subject.kind == PART_NONE ? NULL : model_id(m, c->subject)));
        json_object_set_new(row, "what", json_string(change_words[c->what]));
        if (c->what == CHANGE_REACH)
            json_object_set_new(row, "feed", json_words(m->feeds[c->feed.i].part.id));
        if (c->what == CHANGE_LIMIT)
            json_object_set_new(row, "limiting", json_words(m->valves[c->limiting.i].part.id));
        if (c->what == CHANGE_PRESSURE) {
            json_object_set_new(row, "was_pa", json_pressure(c->was_value));
            json_object_set_new(row, "now_pa", json_pressure(c->now_value));
        }
        if (c->what == CHANGE_FILL || c->what == CHANGE_DRAIN) /* was is above 0 */
            json_object_set_new(row, "ratio", json_flow(c->now_value / c->was_value));
        json_object_set_new(row, "was", json_words(c->was));
        json_object_set_new(row, "now", json_words(c->now));
        json_put(j, NULL, row);
    }
    json_end(j);
}

static void put_changes(struct jsonout *j, const struct answer *a, state_ix s)
{
    struct arena arena;
    arena_init(&arena);
    struct effect effect;
    effect_find_pressed(a->healthy, a->shown, a->pressed, trace_case(a->shown, 0, s), &arena, &effect);
    json_put_changes(j, a->model, &effect);
    arena_release(&arena);
}

void json_check(struct text *t, const struct view *v, const struct answer *a)
{
    (void)v;
    struct jsonout j = {.t = t};
    json_put_head(&j, a, false);
    if (a->model) {
        const struct expectations *e = &a->expectations;
        json_put(&j, "expectations",
                 json_pack("{s:I, s:I, s:I, s:I}", "met", (json_int_t)e->n_met, "failed", (json_int_t)e->n_failed,
                           "undecided", (json_int_t)e->n_undecided, "not_judged", (json_int_t)e->n_not_judged));
        if (a->has_baseline)
            json_put(&j, "baseline",
                     json_pack("{s:I, s:I}", "known", (json_int_t)a->n_known, "gone", (json_int_t)a->n_gone));
    }
    json_put_end(&j);
}

static void states(struct text *t, const struct answer *a, bool changes)
{
    struct jsonout j = {.t = t};
    json_put_head(&j, a, changes);
    if (a->model) {
        json_begin(&j, "states", '{');
        for (uint32_t i = 0; i < a->n_states; i++) {
            put_state(&j, a, a->states[i]);
            if (changes)
                put_changes(&j, a, a->states[i]);
            json_end(&j);
        }
        json_end(&j);
    }
    json_put_end(&j);
}

void json_trace(struct text *t, const struct view *v, const struct answer *a)
{
    (void)v;
    states(t, a, false);
}

void json_whatif(struct text *t, const struct view *v, const struct answer *a)
{
    (void)v;
    states(t, a, true);
}
