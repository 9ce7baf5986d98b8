/* Claims against a trace: yes, no, cannot tell, or nothing that structure could judge. */
#include "findings/check.h"
#include <string.h>

/* In `and` a no wins, then cannot tell, then what was not judged. */
static enum verdict both(enum verdict a, enum verdict b)
{
    static const enum verdict order[] = {VERDICT_NO, VERDICT_CANNOT_TELL, VERDICT_NOT_JUDGED, VERDICT_YES};
    for (size_t i = 0; i < 4; i++)
        if (a == order[i] || b == order[i])
            return order[i];
    return VERDICT_YES;
}

/* One will do: a yes wins. */
static enum verdict either(enum verdict a, enum verdict b)
{
    static const enum verdict order[] = {VERDICT_YES, VERDICT_CANNOT_TELL, VERDICT_NOT_JUDGED, VERDICT_NO};
    for (size_t i = 0; i < 4; i++)
        if (a == order[i] || b == order[i])
            return order[i];
    return VERDICT_NO;
}

static enum verdict yes_if(bool yes)
{
    return yes ? VERDICT_YES : VERDICT_NO;
}

/* A set of positions against those that would do. */
static enum verdict of_set(unsigned set, unsigned wanted)
{
    return !(set & wanted) ? VERDICT_NO : !(set & ~wanted) ? VERDICT_YES : VERDICT_CANNOT_TELL;
}

static enum verdict passage_condition(const struct trace *t, uint32_t row, passage_ix p, enum claim_condition wanted)
{
    static const enum condition conditions[] = {
        [CLAIM_FED] = FED, [CLAIM_EXHAUSTED] = EXHAUSTED, [CLAIM_PARTIAL] = PARTIAL, [CLAIM_TRAPPED] = TRAPPED};
    enum condition c = trace_condition(t, row, p);
    return c == UNSURE ? VERDICT_CANNOT_TELL : yes_if(c == conditions[wanted]);
}

static enum verdict passage_reached(const struct trace *t, uint32_t row, passage_ix p, feed_ix feed)
{
    static const enum verdict verdicts[] = {
        [CERTAIN_NO] = VERDICT_NO, [CERTAIN_MAY] = VERDICT_CANNOT_TELL, [CERTAIN_YES] = VERDICT_YES};
    return verdicts[trace_reach(t, row, feed, p)];
}

static enum verdict one_passage(const struct claim *c, const struct trace *t, uint32_t row, passage_ix p)
{
    return c->what == CLAIM_REACHED_BY ? passage_reached(t, row, p, c->feed)
                                       : passage_condition(t, row, p, c->condition);
}

/* A circuit leaves its closed passages out, but for the claim that they are closed. */
static enum verdict circuit_verdict(const struct claim *c, const struct trace *t, uint32_t row,
                                    const struct circuit *circuit)
{
    bool keep_trapped = c->what == CLAIM_CONDITION && c->condition == CLAIM_TRAPPED;
    enum verdict all = c->some ? VERDICT_NO : VERDICT_YES;
    uint32_t n = 0;
    for (uint32_t i = 0; i < circuit->n_passages; i++) {
        passage_ix p = circuit->passages[i];
        if (!keep_trapped && trace_condition(t, row, p) == TRAPPED)
            continue;
        n++;
        enum verdict one = one_passage(c, t, row, p);
        all = c->some ? either(all, one) : both(all, one);
    }
    return n ? all : VERDICT_CANNOT_TELL;
}

static enum verdict actuator_verdict(const struct claim *c, const struct trace *t, uint32_t row)
{
    const struct actuator *a = &t->network->model->actuators[c->subject.i];
    if (c->what == CLAIM_REACHED_BY || c->condition <= CLAIM_TRAPPED)
        return one_passage(c, t, row, a->apply);
    if (c->condition == CLAIM_SLIPPING)
        return VERDICT_NO; /* slip takes a pressure between: structure knows on and off */
    enum applied applied = (enum applied)t->cases[row].applied[c->subject.i];
    if (applied == APPLY_UNSURE)
        return VERDICT_CANNOT_TELL;
    return yes_if(applied == (c->condition == CLAIM_APPLIED ? APPLIED : RELEASED));
}

static enum verdict thing_verdict(const struct claim *c, const struct trace *t, uint32_t row)
{
    const struct model *m = t->network->model;
    switch (c->subject.kind) {
    case PART_PASSAGE:
        return one_passage(c, t, row, (passage_ix){c->subject.i});
    case PART_TAP:
        return one_passage(c, t, row, m->taps[c->subject.i].on);
    case PART_CIRCUIT:
        return circuit_verdict(c, t, row, &m->circuits[c->subject.i]);
    case PART_ACTUATOR:
        return actuator_verdict(c, t, row);
    default:
        return VERDICT_CANNOT_TELL;
    }
}

/* Relief and regulating valves have no position in the trace: open is what conducts. */
static enum verdict open_verdict(const struct trace *t, uint32_t row, uint32_t valve, bool wanted)
{
    const struct network *n = t->network;
    enum certainty open = CERTAIN_NO;
    for (uint32_t e = n->valve_element[valve]; e < n->valve_element[valve + 1]; e++) {
        enum certainty c = trace_conducts(t, row, (element_ix){e});
        open = c > open ? c : open;
    }
    return open == CERTAIN_MAY ? VERDICT_CANNOT_TELL : yes_if((open == CERTAIN_YES) == wanted);
}

static enum verdict position_verdict(const struct claim *c, const struct trace *t, uint32_t row)
{
    const struct valve *v = &t->network->model->valves[c->subject.i];
    valve_ix ix = {c->subject.i};
    unsigned set = trace_valve(t, row, ix);
    switch (c->position) {
    case POSITION_REST:
        return of_set(set, MAY_REST);
    case POSITION_STROKED:
        return of_set(set, MAY_STROKED);
    case POSITION_PART_WAY: /* only sizes tell; a position that is known is none of these */
        return set & (set - 1) ? VERDICT_CANNOT_TELL : VERDICT_NO;
    case POSITION_WIDE:
        return of_set(set, MAY_WIDE);
    case POSITION_LIMITING:
        return of_set(set, MAY_LIMIT);
    case POSITION_SHUT:
        return v->kind == VALVE_LIMITING ? of_set(set, MAY_SHUT) : open_verdict(t, row, ix.i, false);
    case POSITION_OPEN:
        return v->kind == VALVE_LIMITING ? of_set(set, MAY_WIDE | MAY_LIMIT) : open_verdict(t, row, ix.i, true);
    case POSITION_DETENT:
        return yes_if(trace_detent(t, row, ix) == c->detent);
    }
    return VERDICT_CANNOT_TELL;
}

static enum verdict gear_verdict(const struct claim *c, const struct trace_case *row)
{
    uint32_t wanted = c->gear == GEAR_NONE ? GEAR_ANSWER_NONE : c->gear == GEAR_TIE_UP ? GEAR_ANSWER_TIE_UP : c->gear;
    if (row->gear.gear != GEAR_ANSWER_UNSURE)
        return yes_if(row->gear.gear == wanted);
    for (uint32_t i = 0; i < row->gear.n_possible; i++)
        if (row->gear.possible[i] == wanted)
            return VERDICT_CANNOT_TELL;
    return VERDICT_NO;
}

static enum verdict claim_judge(const struct claim *c, const struct trace *t, uint32_t row)
{
    enum verdict v = VERDICT_NOT_JUDGED;
    switch (c->what) {
    case CLAIM_CONDITION:
        v = thing_verdict(c, t, row);
        if (c->pressure != PRESSURE_NONE)
            v = both(v, VERDICT_NOT_JUDGED);
        break;
    case CLAIM_REACHED_BY:
        v = thing_verdict(c, t, row);
        break;
    case CLAIM_POSITION:
        v = position_verdict(c, t, row);
        break;
    case CLAIM_GEAR:
        v = gear_verdict(c, &t->cases[row]);
        break;
    case CLAIM_PRESSURE:
    case CLAIM_SWITCH:
    case CLAIM_RATE:
    case CLAIM_AIR:
        break;
    }
    if (c->negated && v != VERDICT_CANNOT_TELL && v != VERDICT_NOT_JUDGED)
        return yes_if(v == VERDICT_NO);
    return v;
}

static enum verdict judge_in(const struct claims *c, const struct trace *t, uint32_t row)
{
    if (!t->cases[row].settled)
        return VERDICT_CANNOT_TELL;
    enum verdict all = VERDICT_YES;
    for (uint32_t i = 0; i < c->n_rows; i++)
        all = both(all, claim_judge(&c->rows[i], t, row));
    return all;
}

enum verdict claims_judge(const struct claims *c, const struct trace *t, uint32_t set, state_ix state)
{
    if (c->in == IN_STATE)
        return judge_in(c, t, trace_case(t, set, state));
    enum verdict all = c->in == IN_ANY ? VERDICT_NO : VERDICT_YES;
    for (uint32_t s = 0; s < t->n_states; s++) {
        enum verdict one = judge_in(c, t, trace_case(t, set, (state_ix){s}));
        all = c->in == IN_ANY ? either(all, one) : both(all, one);
    }
    return all;
}

void expectations_count(const struct trace *t, uint32_t set, state_ix state, struct expectations *out)
{
    const struct state *s = &t->network->model->states[state.i];
    if (!t->cases[trace_case(t, set, state)].settled)
        return;
    for (uint32_t i = 0; i < s->n_expect; i++) {
        switch (claims_judge(&s->expect[i], t, set, state)) {
        case VERDICT_YES:
            out->n_met++;
            break;
        case VERDICT_NO:
            out->n_failed++;
            break;
        case VERDICT_CANNOT_TELL:
            out->n_undecided++;
            break;
        case VERDICT_NOT_JUDGED:
            out->n_not_judged++;
            break;
        }
    }
}

/* What is there instead, for the help line. */
static void add_instead(struct text *t, const struct claim *c, const struct trace *trace, uint32_t row)
{
    const struct model *m = trace->network->model;
    passage_ix p = c->subject.kind == PART_PASSAGE    ? (passage_ix){c->subject.i}
                   : c->subject.kind == PART_TAP      ? m->taps[c->subject.i].on
                   : c->subject.kind == PART_ACTUATOR ? m->actuators[c->subject.i].apply
                                                      : SUMP;
    if (c->what == CLAIM_GEAR)
        text_addf(t, "the gear is %s", gear_word(m, trace->cases[row].gear.gear));
    else if (c->what == CLAIM_POSITION)
        text_addf(t, "%s is %s", model_id(m, c->subject), trace_valve_word(trace, row, (valve_ix){c->subject.i}));
    else if (c->subject.kind == PART_ACTUATOR && c->condition > CLAIM_TRAPPED)
        text_addf(t, "%s is %s", model_id(m, c->subject),
                  applied_word((enum applied)trace->cases[row].applied[c->subject.i]));
    else if (p.i != SUMP.i)
        text_addf(t, "%s is %s", m->passages[p.i].part.id, condition_word(trace_condition(trace, row, p)));
    else if (c->subject.kind == PART_CIRCUIT)
        for (uint32_t i = 0; i < m->circuits[c->subject.i].n_passages && i < 6; i++) {
            passage_ix of = m->circuits[c->subject.i].passages[i];
            text_addf(t, "%s%s is %s", i ? ", " : "", m->passages[of.i].part.id,
                      condition_word(trace_condition(trace, row, of)));
        }
}

/* The line without its state, which the finding names anyway. */
static const char *claim_words(const struct claims *c)
{
    const char *colon = strchr(c->text, ':');
    return colon && colon[1] == ' ' ? colon + 2 : c->text;
}

void check_expectations(struct looking *l)
{
    const struct model *m = l->model;
    for (uint32_t s = 0; s < m->n_states; s++) {
        const struct state *state = &m->states[s];
        for (uint32_t i = 0; case_of(l, s)->settled && i < state->n_expect; i++) {
            const struct claims *c = &state->expect[i];
            enum verdict v = claims_judge(c, l->trace, l->set, (state_ix){s});
            if (v != VERDICT_NO && v != VERDICT_CANNOT_TELL)
                continue;
            bool added = found(l, v == VERDICT_NO ? EXPECTATION_FAILED : UNDECIDED, c->where, NULL, state,
                               v == VERDICT_NO ? "not met: %s" : "cannot be told by structure: %s", claim_words(c));
            struct text instead = {0};
            for (uint32_t k = 0; k < c->n_rows; k++) {
                if (claim_judge(&c->rows[k], l->trace, case_row(l, s)) != v)
                    continue;
                add_instead(&instead, &c->rows[k], l->trace, case_row(l, s));
                break;
            }
            if (added && instead.n)
                diag_help(l->d, "%s", text_string(&instead));
            text_release(&instead);
        }
    }
}
