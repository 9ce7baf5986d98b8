/* The trace for a person at the bench: the gear first, then what is on, what is fed by what, and what is unsure. */
#include "base/mem.h"
#include "report/answer.h"
#include "report/text_state.h"
#include <math.h>
#include <string.h>

/* ---- settings */

static void add_settings(struct text *t, const struct model *m, const struct view *v, const struct answer *a,
                         state_ix s)
{
    const struct state *state = &m->states[s.i];
    struct units units = v->other_units ? v->units : m->units;
    struct text body = {0};
    uint32_t c = trace_case(a->shown, 0, s);
    for (uint32_t i = 0; i < m->n_valves; i++) {
        if (m->valves[i].kind != VALVE_MANUAL)
            continue;
        uint32_t detent = a->shown->cases[c].settled ? trace_detent(a->shown, c, (valve_ix){i}) : state->detents[i];
        say(&body, "%s%s in %s", body.n ? ", " : "", m->valves[i].part.id, m->valves[i].positions[detent].name);
    }
    uint32_t n_off = 0;
    for (uint32_t i = 0; i < m->n_solenoids; i++) {
        double share = state->shares[i];
        n_off += share == 0;
        if (share == 0)
            continue;
        say(&body, "%s%s ", body.n ? ", " : "", m->solenoids[i].part.id);
        if (share == 1)
            text_add(&body, "on");
        else
            quantity_add(&body, share, DIM_SHARE, &units);
    }
    if (n_off && m->n_solenoids == 1)
        say(&body, "%s%s off", body.n ? ", " : "", m->solenoids[0].part.id);
    else if (n_off)
        text_addf(&body, "%s%ssolenoid%s off", body.n ? ", " : "", n_off == m->n_solenoids ? "all " : "other ",
                  n_off == 1 ? "" : "s");
    for (uint32_t f = 0; f < m->n_feeds; f++) {
        if (!m->feeds[f].is_source)
            continue;
        const struct source_setting *set = &state->sources[f];
        say(&body, "%s%s ", body.n ? ", " : "", m->feeds[f].part.id);
        if (set->pressure > 0)
            quantity_add(&body, set->pressure, DIM_PRESSURE, &units);
        else
            text_add(&body, "off");
        if (set->regulated)
            text_add(&body, " and up (regulated)");
    }
    say_folded(t, v, 2, 12, "Set", PAINT_NONE, text_string(&body));
    text_release(&body);
}

/* ---- circuits, grouped by what their passages are */

struct group { /* passages of the same condition and feeds */
    enum condition condition;
    bool by_design;    /* partial in a circuit that flows */
    struct text feeds; /* "line, perhaps drive" */
    struct text body;  /* circuits */
};

/* `doubt`: say "perhaps" where it is one; a passage that is unsure says so by itself. */
static void feeds_of(const struct answer *a, uint32_t c, passage_ix p, bool doubt, struct text *t)
{
    for (uint32_t f = 0; f < a->model->n_feeds; f++) {
        enum certainty reach = trace_reach(a->shown, c, (feed_ix){f}, p);
        if (reach != CERTAIN_NO)
            say(t, "%s%s%s", t->n ? ", " : "", doubt && reach == CERTAIN_MAY ? "perhaps " : "",
                a->model->feeds[f].part.id);
    }
}

static const char *const group_words[] = {
    [FED] = "fed by",
    [PARTIAL] = "fed and drained at once (partial), from",
    [UNSURE] = "unsure, perhaps fed by",
    [EXHAUSTED] = "drained to the pan (exhausted)",
    [TRAPPED] = "closed off, neither fed nor drained (trapped)",
};
/* The same where no feed reaches, if it is said otherwise: oil that only drains into a fight, a drain in doubt. */
static const char *const unfed_words[] = {
    [FED] = "fed, by no feed that has a name",
    [PARTIAL] = "drained into a fight, reached by no feed (partial)",
    [UNSURE] = "unsure, reached by no feed",
    [EXHAUSTED] = NULL,
    [TRAPPED] = NULL,
};
static const enum condition group_order[] = {FED, PARTIAL, UNSURE, EXHAUSTED, TRAPPED};

struct groups {
    struct group *rows;
    size_t n, cap;
};

/* The group of a passage, made when it is the first. */
static size_t group_find(struct groups *g, const struct answer *a, uint32_t c, passage_ix p, bool flows)
{
    struct text feeds = {0};
    enum condition condition = trace_condition(a->shown, c, p);
    feeds_of(a, c, p, condition != UNSURE, &feeds);
    size_t i = 0;
    bool by_design = flows && condition == PARTIAL;
    while (i < g->n && (g->rows[i].condition != condition || g->rows[i].by_design != by_design ||
                        strcmp(text_string(&g->rows[i].feeds), text_string(&feeds))))
        i++;
    if (i < g->n) {
        text_release(&feeds);
        return i;
    }
    MEM_GROW(g->rows, g->n, g->cap);
    g->rows[g->n++] = (struct group){.condition = condition, .by_design = by_design, .feeds = feeds};
    return i;
}

enum { PASSAGES_NAMED = 4 };

/* One circuit into the groups of its passages: by its name where all agree, else with the passages meant. */
static void group_circuit(struct groups *g, const struct view *v, const struct answer *a, state_ix s,
                          const struct circuit *circuit)
{
    uint32_t c = trace_case(a->shown, 0, s);
    passage_ix *mine = mem_alloc((circuit->n_passages + 1) * sizeof *mine);
    size_t *of = mem_alloc((circuit->n_passages + 1) * sizeof *of);
    bool agree = true;
    for (uint32_t i = 0; i < circuit->n_passages; i++) {
        of[i] = group_find(g, a, c, circuit->passages[i], circuit->flows);
        agree = agree && of[i] == of[0];
    }
    for (uint32_t i = 0; i < circuit->n_passages; i++) {
        struct text *body = &g->rows[of[i]].body;
        bool seen = false;
        for (uint32_t k = 0; k < i && !seen; k++)
            seen = of[k] == of[i];
        if (seen)
            continue;
        say(body, "%s%s", body->n ? ", " : "", circuit->part.id);
        uint32_t n = 0;
        for (uint32_t k = i; k < circuit->n_passages; k++)
            if (of[k] == of[i])
                mine[n++] = circuit->passages[k];
        add_range(body, v, a, s, mine, n);
        if (agree)
            break;
        n = 0;
        for (uint32_t k = i; k < circuit->n_passages; k++)
            if (of[k] == of[i] && ++n <= PASSAGES_NAMED)
                say(body, "%s%s", n > 1 ? ", " : " (only ", a->model->passages[circuit->passages[k].i].part.id);
        if (n > PASSAGES_NAMED)
            text_addf(body, " and %u more", n - PASSAGES_NAMED);
        text_add_char(body, ')');
    }
    mem_free(mine);
    mem_free(of);
}

static void add_circuits(struct text *t, const struct view *v, const struct answer *a, state_ix s)
{
    struct groups g = {0};
    for (uint32_t i = 0; i < a->model->n_circuits; i++)
        group_circuit(&g, v, a, s, &a->model->circuits[i]);
    for (size_t k = 0; k < sizeof group_order / sizeof *group_order; k++) {
        for (size_t i = 0; i < g.n; i++) {
            if (g.rows[i].condition != group_order[k])
                continue;
            struct text label = {0};
            bool fed = g.rows[i].feeds.n > 0;
            const char *unfed = unfed_words[group_order[k]];
            text_add(&label, !fed && unfed         ? unfed
                             : g.rows[i].by_design ? "flowing through, by design, from"
                                                   : group_words[group_order[k]]);
            if (fed)
                text_addf(&label, " %s", text_string(&g.rows[i].feeds));
            text_add_char(&label, ':');
            say_folded(t, v, 2, 4, text_string(&label), PAINT_NONE, text_string(&g.rows[i].body));
            text_release(&label);
        }
    }
    for (size_t i = 0; i < g.n; i++) {
        text_release(&g.rows[i].feeds);
        text_release(&g.rows[i].body);
    }
    mem_free(g.rows);
}

static void add_passages(struct text *t, const struct view *v, const struct answer *a, state_ix s)
{
    uint32_t c = trace_case(a->shown, 0, s);
    const struct pressures *solved = pressed_state(a->pressed, s.i);
    for (uint32_t p = 1; p < a->model->n_passages; p++) {
        struct text body = {0};
        text_add(&body, condition_word(trace_condition(a->shown, c, (passage_ix){p})));
        struct text feeds = {0};
        feeds_of(a, c, (passage_ix){p}, true, &feeds);
        if (feeds.n)
            text_addf(&body, " (%s)", text_string(&feeds));
        for (uint32_t l = 0; l < a->shown->network->n_limits; l++) {
            valve_ix valve = a->shown->network->limits[l].valve;
            circuit_ix circuit = a->model->passages[p].circuit;
            if (circuit.i == NONE || a->model->circuits[circuit.i].limited_by.i != valve.i)
                continue; /* that line goes past a limiting valve is no news */
            enum certainty past = trace_past(a->shown, c, l, (passage_ix){p});
            if (past != CERTAIN_NO)
                say(&body, ", %sgets oil that %s does not limit", past == CERTAIN_MAY ? "perhaps " : "",
                    a->model->valves[valve.i].part.id);
        }
        if (solved) {
            text_add(&body, ", ");
            pressure_add(&body, solved->pressure[p], v->other_units ? &v->units : &a->model->units);
        }
        say_folded(t, v, 4, 28, a->model->passages[p].part.id, PAINT_NONE, text_string(&body));
        text_release(&body);
        text_release(&feeds);
    }
}

/* ---- how fast devices fill and drain */

/* The pressures of the state that this one comes after, and its case; NULL: it comes after none, or they are not
 * known. */
static const struct pressures *state_before(const struct answer *a, state_ix s, const struct trace_case **c)
{
    state_ix before = a->model->states[s.i].after;
    if (before.i == NONE)
        return NULL;
    *c = &a->shown->cases[trace_case(a->shown, 0, before)];
    return pressed_state(a->pressed, before.i);
}

/* One line: devices that fill (or drain) on the way from the state before, all where there is none; with --verbose all,
 * and the rates of those without a volume. */
static bool add_times(struct text *t, const struct view *v, const struct answer *a, state_ix s, bool drain,
                      const uint8_t *by_shuttle)
{
    const struct pressures *p = pressed_state(a->pressed, s.i);
    const struct trace_case *c = NULL;
    const struct pressures *before = state_before(a, s, &c);
    struct text body = {0};
    for (uint32_t i = 0; p && i < a->model->n_actuators; i++) {
        const struct actuator *d = &a->model->actuators[i];
        double rate = drain ? p->drain[i] : p->fill[i], seconds = device_seconds(d, rate);
        bool was_on = before && counts_device(c, before, i) != DEVICE_RELEASED;
        bool news = v->verbose || !before || was_on == drain;
        if (isnan(rate) || !news || (isnan(seconds) && !v->verbose) ||
            (drain && by_shuttle[a->healthy->network->node_of[d->apply.i]]))
            continue;
        say(&body, "%s%s ", body.n ? ", " : "", d->part.id);
        if (isnan(seconds)) {
            text_add(&body, "at ");
            flow_rate_add(&body, rate, v->other_units ? &v->units : &a->model->units);
        } else
            seconds_add(&body, seconds);
    }
    bool any = body.n > 0;
    if (any)
        say_folded(t, v, 2, 12, drain ? "Drains" : "Fills", PAINT_NONE, text_string(&body));
    text_release(&body);
    return any;
}

/* ---- states */

/* @return true when times of filling or draining stand in it */
static bool add_state(struct text *t, const struct view *v, const struct answer *a, state_ix s,
                      const uint8_t *by_shuttle)
{
    uint32_t c = trace_case(a->shown, 0, s);
    const struct trace_case *row = &a->shown->cases[c];
    text_add_char(t, '\n');
    say_state(t, v, a, s);
    add_settings(t, a->model, v, a, s);
    if (!row->settled)
        return false;
    say_sources(t, v, a, s);
    say_devices(t, v, a, s);
    bool fills = add_times(t, v, a, s, false, by_shuttle), drains = add_times(t, v, a, s, true, by_shuttle);
    say_valves(t, v, a, s);
    say_taps(t, v, a, s);
    say_unsure(t, v, a->shown, c, pressed_state(a->pressed, s.i) != NULL);
    add_circuits(t, v, a, s);
    if (v->verbose)
        add_passages(t, v, a, s);
    return fills || drains;
}

/* One line on all states: are the gears what was asked for? */
static void add_summary(struct text *t, const struct view *v, const struct answer *a, const struct diags *findings)
{
    struct text wrong = {0}, open = {0};
    uint32_t n_commanded = 0, n_wrong = 0, n_open = 0;
    for (uint32_t i = 0; i < a->n_states; i++) {
        const struct state *s = &a->model->states[a->states[i].i];
        const struct trace_case *c = &a->shown->cases[trace_case(a->shown, 0, a->states[i])];
        n_commanded += s->gear.i != NONE;
        if (!c->settled) {
            n_open++;
            say(&open, "%s%s", open.n ? ", " : "", s->part.id);
            continue;
        }
        uint32_t gear = counts_gear(c, pressed_state(a->pressed, a->states[i].i))->gear;
        if (s->gear.i == NONE || gear == s->gear.i)
            continue;
        n_wrong++;
        say(&wrong, "%s%s", wrong.n ? ", " : "", s->part.id);
    }
    struct text body = {0};
    if (!a->n_states)
        text_add(&body, "This model has no states, so there is nothing to trace.");
    else if (n_open && a->n_states == 1)
        text_add(&body, "No valve positions were found that hold in this state: there is no answer.");
    else if (n_open)
        text_addf(&body, "No valve positions were found that hold in %u of %u states, so there is no answer: %s.",
                  n_open, a->n_states, text_string(&open));
    if (n_wrong && n_open)
        text_add_char(&body, ' ');
    if (n_wrong && a->n_states == 1)
        text_add(&body, "The gear is not as commanded.");
    else if (n_wrong)
        text_addf(&body, "The gear is not as commanded in %u of %u states: %s.", n_wrong, a->n_states,
                  text_string(&wrong));
    else if (n_commanded && !n_open)
        text_addf(&body, "The gear commanded is obtained in %s.", a->n_states == 1 ? "this state" : "every state");
    if (findings->n) {
        text_add(&body, body.n ? " " : "");
        text_counts(&body, findings);
        text_add(&body, ": see the end.");
    }
    if (body.n)
        say_folded(t, v, 0, 0, "", PAINT_NONE, text_string(&body));
    text_release(&body);
    text_release(&wrong);
    text_release(&open);
}

/* The findings without the sizes that are assumed, which say_basis() tells. Only the list is the caller's, not its
 * rows' words. */
static struct diags findings_told(const struct answer *a)
{
    struct diags told = *a->diags;
    told.rows = mem_alloc((told.n + 1) * sizeof *told.rows);
    told.n = 0;
    for (size_t i = 0; i < a->diags->n; i++) {
        if (a->diags->rows[i].code == ASSUMED_SIZES)
            told.n_notes--;
        else
            told.rows[told.n++] = a->diags->rows[i];
    }
    return told;
}

void text_trace(struct text *t, const struct view *v, const struct answer *a)
{
    if (!a->model)
        return;
    say_heading(t, v, a);
    say_basis(t, v, a);
    struct diags findings = findings_told(a);
    add_summary(t, v, a, &findings);
    bool times = false;
    uint8_t *by_shuttle = mem_alloc((size_t)a->healthy->network->n_nodes + 1);
    shuttle_drains_find(a->healthy->network, by_shuttle);
    for (uint32_t i = 0; i < a->n_states; i++)
        times |= add_state(t, v, a, a->states[i], by_shuttle);
    mem_free(by_shuttle);
    if (times) {
        text_add_char(t, '\n');
        say_folded(t, v, 0, 0, "", PAINT_NONE,
                   "Fills, Drains: the device's volume at the steady rate, with the valves where the state ends. No "
                   "time of a shift: pressures and valves move during one.");
    }
    if (findings.n) {
        text_add(t, "\n");
        say_painted(t, v, PAINT_HEAD, "Findings in %s", a->n_states == 1 ? "this state" : "these states");
        text_add_char(t, '\n');
        text_diags(t, v, &findings, a->files, false);
    }
    mem_free(findings.rows);
    text_add_char(t, '\n');
    if (a->fault && states_with_wrong_gear(a))
        say_caution_gear(t, v);
    if (a->model->n_taps)
        say_caution_taps(t, v);
    say_caution_model(t, v);
    if (v->verbose)
        text_addf(t, "Settled in %llu rounds over %u states.\n", (unsigned long long)a->shown->n_rounds,
                  a->shown->n_states);
}
