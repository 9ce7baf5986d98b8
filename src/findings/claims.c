/* Claims against a trace and its pressures: yes, no, cannot tell, or nothing that could judge them. */
#include "findings/check.h"
#include <math.h>
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

/* One state, as claims look at it. */
struct seen {
    const struct trace *trace;
    uint32_t row;                    /* of the case */
    const struct pressures *p;       /* NULL: by structure */
    const struct pressures *healthy; /* of the same state, or NULL */
};

static struct seen see(const struct trace *t, const struct pressed *p, uint32_t set, uint32_t state)
{
    struct seen s = {t, trace_case(t, set, (state_ix){state}), pressed_state(p, state), NULL};
    if (p && p->healthy && p->healthy[state].end.converged)
        s.healthy = &p->healthy[state];
    return s;
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

/* The pressure of a claim; a closed passage has none. */
static enum verdict passage_pressure(const struct claim *c, const struct seen *s, passage_ix p)
{
    if (!s->p)
        return VERDICT_NOT_JUDGED;
    double at = s->p->pressure[p.i];
    if (isnan(at))
        return VERDICT_CANNOT_TELL;
    switch (c->pressure) {
    case PRESSURE_BELOW:
        return yes_if(at < c->high);
    case PRESSURE_ABOVE:
        return yes_if(at > c->low);
    case PRESSURE_BETWEEN:
        return yes_if(at >= c->low && at <= c->high);
    case PRESSURE_NONE:
        break;
    }
    return VERDICT_YES;
}

static enum verdict one_passage(const struct claim *c, const struct seen *s, passage_ix p)
{
    if (c->what == CLAIM_REACHED_BY)
        return passage_reached(s->trace, s->row, p, c->feed);
    if (c->what == CLAIM_PRESSURE)
        return passage_pressure(c, s, p);
    enum verdict v = passage_condition(s->trace, s->row, p, c->condition);
    return c->pressure == PRESSURE_NONE ? v : both(v, passage_pressure(c, s, p));
}

/* A circuit leaves its closed passages out, but for the claim that they are closed. */
static enum verdict circuit_verdict(const struct claim *c, const struct seen *s, const struct circuit *circuit)
{
    bool keep_trapped = c->what == CLAIM_CONDITION && c->condition == CLAIM_TRAPPED;
    enum verdict all = c->some ? VERDICT_NO : VERDICT_YES;
    uint32_t n = 0;
    for (uint32_t i = 0; i < circuit->n_passages; i++) {
        passage_ix p = circuit->passages[i];
        if (!keep_trapped && trace_condition(s->trace, s->row, p) == TRAPPED)
            continue;
        if (c->what == CLAIM_PRESSURE && s->p && isnan(s->p->pressure[p.i]))
            continue;
        n++;
        enum verdict one = one_passage(c, s, p);
        all = c->some ? either(all, one) : both(all, one);
    }
    return n ? all : VERDICT_CANNOT_TELL;
}

static enum verdict device_verdict(const struct claim *c, const struct seen *s)
{
    enum device is = counts_device(&s->trace->cases[s->row], s->p, c->subject.i);
    enum device wanted = c->condition == CLAIM_APPLIED    ? DEVICE_APPLIED
                         : c->condition == CLAIM_RELEASED ? DEVICE_RELEASED
                                                          : DEVICE_SLIPPING;
    if (s->p)
        return yes_if(is == wanted);
    if (wanted == DEVICE_SLIPPING)
        return VERDICT_NO; /* slip takes a pressure between: structure knows on and off */
    return s->trace->cases[s->row].applied[c->subject.i] == APPLY_UNSURE ? VERDICT_CANNOT_TELL : yes_if(is == wanted);
}

static enum verdict actuator_verdict(const struct claim *c, const struct seen *s)
{
    const struct actuator *a = &s->trace->network->model->actuators[c->subject.i];
    if (c->what != CLAIM_CONDITION || c->condition <= CLAIM_TRAPPED)
        return one_passage(c, s, a->apply);
    enum verdict v = device_verdict(c, s);
    return c->pressure == PRESSURE_NONE ? v : both(v, passage_pressure(c, s, a->apply));
}

static enum verdict thing_verdict(const struct claim *c, const struct seen *s)
{
    const struct model *m = s->trace->network->model;
    switch (c->subject.kind) {
    case PART_PASSAGE:
        return one_passage(c, s, (passage_ix){c->subject.i});
    case PART_TAP:
        return one_passage(c, s, m->taps[c->subject.i].on);
    case PART_CIRCUIT:
        return circuit_verdict(c, s, &m->circuits[c->subject.i]);
    case PART_ACTUATOR:
        return actuator_verdict(c, s);
    default:
        return VERDICT_CANNOT_TELL;
    }
}

static enum verdict switch_verdict(const struct claim *c, const struct seen *s)
{
    const struct pressure_switch *w = &s->trace->network->model->switches[c->subject.i];
    if (!s->p)
        return VERDICT_NOT_JUDGED;
    double at = s->p->pressure[w->on.i];
    return isnan(at) ? VERDICT_CANNOT_TELL : yes_if((at >= w->closes_at) == c->closed);
}

/* How fast a device fills or drains, against healthy. */
static enum verdict rate_verdict(const struct claim *c, const struct seen *s)
{
    if (!s->p || !s->healthy)
        return VERDICT_NOT_JUDGED;
    double now = (c->fills ? s->p->fill : s->p->drain)[c->subject.i];
    double was = (c->fills ? s->healthy->fill : s->healthy->drain)[c->subject.i];
    if (isnan(now) || isnan(was) || was <= 0)
        return VERDICT_CANNOT_TELL;
    return yes_if(c->above ? now > c->times * was : now < c->times * was);
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

/* By pressure every valve but a manual one has one position. */
static enum verdict place_verdict(const struct claim *c, enum valve_position at)
{
    switch (c->position) {
    case CLAIM_REST:
        return yes_if(at == POSITION_REST);
    case CLAIM_STROKED:
        return yes_if(at == POSITION_STROKED);
    case CLAIM_PART_WAY:
        return yes_if(at == POSITION_PART_WAY);
    case CLAIM_WIDE:
        return yes_if(at == POSITION_WIDE);
    case CLAIM_LIMITING:
        return yes_if(at == POSITION_LIMITING);
    case CLAIM_SHUT:
        return yes_if(at == POSITION_SHUT || at == POSITION_REGULATING);
    case CLAIM_OPEN:
        return yes_if(at == POSITION_OPEN || at == POSITION_WIDE || at == POSITION_LIMITING);
    case CLAIM_DETENT:
        break;
    }
    return VERDICT_CANNOT_TELL;
}

static enum verdict position_verdict(const struct claim *c, const struct seen *s)
{
    const struct trace *t = s->trace;
    uint32_t row = s->row;
    if (s->p && c->position != CLAIM_DETENT)
        return place_verdict(c, counts_position(t, row, s->p, (valve_ix){c->subject.i}));
    const struct valve *v = &t->network->model->valves[c->subject.i];
    valve_ix ix = {c->subject.i};
    unsigned set = trace_valve(t, row, ix);
    switch (c->position) {
    case CLAIM_REST:
        return of_set(set, MAY_REST);
    case CLAIM_STROKED:
        return of_set(set, MAY_STROKED);
    case CLAIM_PART_WAY: /* only sizes tell; a position that is known is none of these */
        return set & (set - 1) ? VERDICT_CANNOT_TELL : VERDICT_NO;
    case CLAIM_WIDE:
        return of_set(set, MAY_WIDE);
    case CLAIM_LIMITING:
        return of_set(set, MAY_LIMIT);
    case CLAIM_SHUT:
        return v->kind == VALVE_LIMITING ? of_set(set, MAY_SHUT) : open_verdict(t, row, ix.i, false);
    case CLAIM_OPEN:
        return v->kind == VALVE_LIMITING ? of_set(set, MAY_WIDE | MAY_LIMIT) : open_verdict(t, row, ix.i, true);
    case CLAIM_DETENT:
        return yes_if(trace_detent(t, row, ix) == c->detent);
    }
    return VERDICT_CANNOT_TELL;
}

static enum verdict gear_verdict(const struct claim *c, const struct gear_answer *gear)
{
    uint32_t wanted = c->gear == GEAR_NONE ? GEAR_ANSWER_NONE : c->gear == GEAR_TIE_UP ? GEAR_ANSWER_TIE_UP : c->gear;
    if (gear->gear != GEAR_ANSWER_UNSURE)
        return yes_if(gear->gear == wanted);
    for (uint32_t i = 0; i < gear->n_possible; i++)
        if (gear->possible[i] == wanted)
            return VERDICT_CANNOT_TELL;
    return VERDICT_NO;
}

static enum verdict claim_judge(const struct claim *c, const struct seen *s)
{
    enum verdict v = VERDICT_NOT_JUDGED;
    switch (c->what) {
    case CLAIM_CONDITION:
    case CLAIM_REACHED_BY:
    case CLAIM_PRESSURE:
        v = thing_verdict(c, s);
        break;
    case CLAIM_POSITION:
        v = position_verdict(c, s);
        break;
    case CLAIM_GEAR:
        v = gear_verdict(c, counts_gear(&s->trace->cases[s->row], s->p));
        break;
    case CLAIM_SWITCH:
        v = switch_verdict(c, s);
        break;
    case CLAIM_RATE:
        v = rate_verdict(c, s);
        break;
    case CLAIM_AIR:
        break;
    }
    if (c->negated && v != VERDICT_CANNOT_TELL && v != VERDICT_NOT_JUDGED)
        return yes_if(v == VERDICT_NO);
    return v;
}

static enum verdict judge_in(const struct claims *c, const struct seen *s)
{
    if (!s->trace->cases[s->row].settled)
        return VERDICT_CANNOT_TELL;
    enum verdict all = VERDICT_YES;
    for (uint32_t i = 0; i < c->n_rows; i++)
        all = both(all, claim_judge(&c->rows[i], s));
    return all;
}

enum verdict claims_judge(const struct claims *c, const struct trace *t, const struct pressed *p, uint32_t set,
                          state_ix state)
{
    if (c->in == IN_STATE) {
        struct seen s = see(t, p, set, state.i);
        return judge_in(c, &s);
    }
    enum verdict all = c->in == IN_ANY ? VERDICT_NO : VERDICT_YES;
    for (uint32_t i = 0; i < t->n_states; i++) {
        struct seen s = see(t, p, set, i);
        enum verdict one = judge_in(c, &s);
        all = c->in == IN_ANY ? either(all, one) : both(all, one);
    }
    return all;
}

void expectations_count(const struct trace *t, const struct pressed *p, uint32_t set, state_ix state,
                        struct expectations *out)
{
    const struct state *s = &t->network->model->states[state.i];
    if (!t->cases[trace_case(t, set, state)].settled)
        return;
    for (uint32_t i = 0; i < s->n_expect; i++) {
        switch (claims_judge(&s->expect[i], t, p, set, state)) {
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

/* A passage as a claim sees it: its pressure where the claim asks for one. */
static void add_passage(struct text *t, const struct claim *c, const struct seen *s, passage_ix p, bool more)
{
    const struct model *m = s->trace->network->model;
    text_addf(t, "%s%s is %s", more ? ", " : "", m->passages[p.i].part.id,
              condition_word(trace_condition(s->trace, s->row, p)));
    if (c->pressure == PRESSURE_NONE || !s->p)
        return;
    text_add(t, " at ");
    pressure_add(t, s->p->pressure[p.i], &m->units);
}

/* What is there instead, for the help line. */
static void add_instead(struct text *t, const struct claim *c, const struct seen *s)
{
    const struct model *m = s->trace->network->model;
    const struct trace_case *row = &s->trace->cases[s->row];
    passage_ix p = c->subject.kind == PART_PASSAGE    ? (passage_ix){c->subject.i}
                   : c->subject.kind == PART_TAP      ? m->taps[c->subject.i].on
                   : c->subject.kind == PART_SWITCH   ? m->switches[c->subject.i].on
                   : c->subject.kind == PART_ACTUATOR ? m->actuators[c->subject.i].apply
                                                      : SUMP;
    if (c->what == CLAIM_GEAR) {
        text_addf(t, "the gear is %s", gear_word(m, counts_gear(row, s->p)->gear));
    } else if (c->what == CLAIM_POSITION) {
        text_addf(t, "%s is %s", model_id(m, c->subject),
                  counts_valve_word(s->trace, s->row, s->p, (valve_ix){c->subject.i}));
    } else if (c->subject.kind == PART_ACTUATOR && c->what == CLAIM_CONDITION && c->condition > CLAIM_TRAPPED) {
        text_addf(t, "%s is %s", model_id(m, c->subject), counts_device_word(row, s->p, c->subject.i));
        if (s->p) {
            text_add(t, " at ");
            pressure_add(t, s->p->device_pressure[c->subject.i], &m->units);
        }
    } else if (c->what == CLAIM_SWITCH && s->p) {
        text_addf(t, "%s is at ", m->passages[p.i].part.id);
        pressure_add(t, s->p->pressure[p.i], &m->units);
    } else if (p.i != SUMP.i) {
        add_passage(t, c, s, p, false);
    } else if (c->subject.kind == PART_CIRCUIT) {
        for (uint32_t i = 0; i < m->circuits[c->subject.i].n_passages && i < 6; i++)
            add_passage(t, c, s, m->circuits[c->subject.i].passages[i], i > 0);
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
    for (uint32_t i = 0; i < m->n_states; i++) {
        const struct state *state = &m->states[i];
        struct seen s = see(l->trace, l->pressed, l->set, i);
        for (uint32_t e = 0; case_of(l, i)->settled && e < state->n_expect; e++) {
            const struct claims *c = &state->expect[e];
            enum verdict v = claims_judge(c, l->trace, l->pressed, l->set, (state_ix){i});
            if (v != VERDICT_NO && v != VERDICT_CANNOT_TELL)
                continue;
            bool added = found(l, v == VERDICT_NO ? EXPECTATION_FAILED : UNDECIDED, c->where, NULL, state,
                               v == VERDICT_NO ? "not met: %s"
                               : s.p           ? "cannot be told: %s"
                                               : "cannot be told by structure: %s",
                               claim_words(c));
            struct text instead = {0};
            for (uint32_t k = 0; k < c->n_rows; k++) {
                if (claim_judge(&c->rows[k], &s) != v)
                    continue;
                add_instead(&instead, &c->rows[k], &s);
                break;
            }
            if (added && instead.n)
                diag_help(l->d, "%s", text_string(&instead));
            text_release(&instead);
        }
    }
}
