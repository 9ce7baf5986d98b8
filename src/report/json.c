/* JSON of check, trace and whatif. The shapes are an interface: they stand in schemas/ and grow only by new keys. */
#include "report/answer.h"
#include "report/json_parts.h"

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

static void put_gear(struct jsonout *j, const struct answer *a, state_ix s, const struct trace_case *c)
{
    const struct model *m = a->model;
    const struct state *state = &m->states[s.i];
    json_t *gear = json_object();
    json_object_set_new(gear, "commanded", json_words(state->gear.i == NONE ? NULL : m->gears[state->gear.i].part.id));
    if (c->settled) {
        json_object_set_new(gear, "structure", json_words(gear_word(m, c->gear.gear)));
        if (c->gear.gear == GEAR_ANSWER_UNSURE) {
            json_t *possible = json_array();
            for (uint32_t i = 0; i < c->gear.n_possible; i++)
                json_array_append_new(possible, json_words(gear_word(m, c->gear.possible[i])));
            json_object_set_new(gear, "possible", possible);
        }
    }
    json_put(j, "gear", gear);
}

static json_t *passage_value(const struct answer *a, uint32_t c, passage_ix p)
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
    return row;
}

static void put_state(struct jsonout *j, const struct answer *a, state_ix s)
{
    const struct model *m = a->model;
    const struct trace *t = a->shown;
    uint32_t row = trace_case(t, 0, s);
    const struct trace_case *c = &t->cases[row];
    json_begin(j, m->states[s.i].part.id, '{');
    json_put(j, "settled", json_boolean(c->settled));
    put_gear(j, a, s, c);
    if (c->settled) {
        json_begin(j, "passages", '{');
        for (uint32_t p = 1; p < m->n_passages; p++)
            json_put(j, m->passages[p].part.id, passage_value(a, row, (passage_ix){p}));
        json_end(j);
        json_begin(j, "valves", '{');
        for (uint32_t v = 0; v < m->n_valves; v++) {
            enum valve_kind kind = m->valves[v].kind;
            if (kind == VALVE_SPOOL || kind == VALVE_LIMITING || kind == VALVE_MANUAL)
                json_put(j, m->valves[v].part.id,
                         json_pack("{s:o}", "structure", json_words(trace_valve_word(t, row, (valve_ix){v}))));
        }
        json_end(j);
        json_begin(j, "actuators", '{');
        for (uint32_t i = 0; i < m->n_actuators; i++)
            json_put(j, m->actuators[i].part.id,
                     json_pack("{s:s}", "structure", applied_word((enum applied)c->applied[i])));
        json_end(j);
    }
}

static const char *const change_words[] = {
    [CHANGE_SETTLED] = "settled",     [CHANGE_GEAR] = "gear",
    [CHANGE_ACTUATOR] = "actuator",   [CHANGE_VALVE] = "valve",
    [CHANGE_CONDITION] = "condition", [CHANGE_REACH] = "reach",
    [CHANGE_LIMIT] = "limit",         [CHANGE_CROSS_LEAK] = "cross-leak",
};

static void put_changes(struct jsonout *j, const struct answer *a, state_ix s)
{
    const struct model *m = a->model;
    struct arena arena;
    arena_init(&arena);
    struct effect effect;
    effect_find(a->healthy, a->shown, trace_case(a->shown, 0, s), &arena, &effect);
    json_begin(j, "changes", '[');
    for (uint32_t i = 0; i < effect.n; i++) {
        const struct change *c = &effect.rows[i];
        json_t *row = json_object();
        json_object_set_new(row, "subject", json_words(c->subject.kind == PART_NONE ? NULL : model_id(m, c->subject)));
        json_object_set_new(row, "what", json_string(change_words[c->what]));
        if (c->what == CHANGE_REACH)
            json_object_set_new(row, "feed", json_words(m->feeds[c->feed.i].part.id));
        if (c->what == CHANGE_LIMIT)
            json_object_set_new(row, "limiting", json_words(m->valves[c->limiting.i].part.id));
        json_object_set_new(row, "was", json_words(c->was));
        json_object_set_new(row, "now", json_words(c->now));
        json_put(j, NULL, row);
    }
    json_end(j);
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
