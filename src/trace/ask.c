/* Reading a trace: one passage, valve or element in one case. */
#include "base/mem.h"
#include "trace/answers.h"
#include <string.h>

static size_t home(const struct trace *t, passage_ix p)
{
    return (size_t)t->network->node_of[p.i] * t->planes->words;
}

enum condition trace_condition(const struct trace *t, uint32_t c, passage_ix p)
{
    const struct trace_planes *a = t->planes;
    size_t at = home(t, p);
    c = case_bit(t, c);
    if (bit(a->unsure + at, c))
        return UNSURE;
    bool fed = bit(a->fed + at, c), exhausted = bit(a->exhausted + at, c);
    return fed && exhausted ? PARTIAL : fed ? FED : exhausted ? EXHAUSTED : TRAPPED;
}

static enum certainty planes_ask(const uint64_t *sure, const uint64_t *may, size_t at, uint32_t c)
{
    return bit(sure + at, c) ? CERTAIN_YES : bit(may + at, c) ? CERTAIN_MAY : CERTAIN_NO;
}

enum certainty trace_reach(const struct trace *t, uint32_t c, feed_ix f, passage_ix p)
{
    return planes_ask(t->planes->reach_sure[f.i], t->planes->reach_may[f.i], home(t, p), case_bit(t, c));
}

enum certainty trace_past(const struct trace *t, uint32_t c, uint32_t limit, passage_ix p)
{
    return planes_ask(t->planes->past_sure[limit], t->planes->past_may[limit], home(t, p), case_bit(t, c));
}

bool trace_past_is_weak(const struct trace *t, uint32_t c, uint32_t limit, passage_ix p)
{
    return t->planes->past_weak[limit] && trace_past(t, c, limit, p) != CERTAIN_NO &&
           bit(t->planes->past_weak[limit] + home(t, p), case_bit(t, c));
}

unsigned trace_valve(const struct trace *t, uint32_t c, valve_ix v)
{
    const struct network *n = t->network;
    uint32_t mover = n->mover_of[v.i];
    if (mover == NONE)
        return 0;
    return t->cases[c].positions[n->model->valves[v.i].kind == VALVE_LIMITING ? n->n_spools + mover : mover];
}

uint32_t trace_detent(const struct trace *t, uint32_t c, valve_ix v)
{
    const struct scene *s = &t->planes->scenes[c];
    for (uint32_t i = 0; i < s->edits->n; i++) {
        if (s->edits->rows[i].kind == EDIT_PIN && s->edits->rows[i].valve.i == v.i)
            return s->edits->rows[i].position;
    }
    return s->state->detents[v.i];
}

double trace_setting(const struct trace *t, uint32_t c, feed_ix source)
{
    return t->planes->scenes[c].settings[source.i];
}

enum certainty trace_conducts(const struct trace *t, uint32_t c, element_ix e)
{
    const struct scene *s = &t->planes->scenes[c];
    for (uint32_t i = 0; i < s->edits->n; i++) {
        const struct edit *d = &s->edits->rows[i];
        if ((d->kind == EDIT_REMOVE || d->kind == EDIT_RESIZE) && d->element.i == e.i)
            return CERTAIN_NO;
    }
    return element_conducts(s, &t->network->elements[e.i], t->cases[c].positions);
}

uint32_t trace_added(const struct trace *t, uint32_t c, struct element **rows)
{
    const struct scene *s = &t->planes->scenes[c];
    uint32_t n = 0;
    *rows = mem_alloc(((size_t)s->edits->n + 1) * sizeof **rows);
    for (uint32_t i = 0; i < s->edits->n; i++) {
        const struct edit *d = &s->edits->rows[i];
        struct element e = {.from = d->from,
                            .to = d->to,
                            .kind = ELEMENT_ADDED,
                            .part = d->part,
                            .ports = {NONE, NONE},
                            .opens = OPENS_ALWAYS,
                            .mover = NONE,
                            .one_way = d->one_way};
        if (d->kind == EDIT_RESIZE) {
            e = t->network->elements[d->element.i];
            if (element_conducts(s, &e, t->cases[c].positions) == CERTAIN_NO)
                continue;
        } else if (d->kind != EDIT_ADD) {
            continue;
        }
        e.strength = d->strength;
        e.diameter = d->diameter;
        (*rows)[n++] = e;
    }
    return n;
}

const char *condition_word(enum condition c)
{
    static const char *const words[] = {
        [TRAPPED] = "trapped", [EXHAUSTED] = "exhausted", [FED] = "fed", [PARTIAL] = "partial", [UNSURE] = "unsure"};
    return words[c];
}

const char *applied_word(enum applied a)
{
    static const char *const words[] = {[RELEASED] = "released", [APPLIED] = "applied", [APPLY_UNSURE] = "unsure"};
    return words[a];
}

const char *gear_word(const struct model *m, uint32_t gear)
{
    return gear == GEAR_ANSWER_NONE     ? "none"
           : gear == GEAR_ANSWER_TIE_UP ? "tie-up"
           : gear == GEAR_ANSWER_UNSURE ? "unsure"
                                        : m->gears[gear].part.id;
}

static const char *pinned_word(const struct trace *t, uint32_t c, valve_ix v)
{
    const struct scene *s = &t->planes->scenes[c];
    for (uint32_t i = 0; i < s->edits->n; i++) {
        if (s->edits->rows[i].kind == EDIT_PIN && s->edits->rows[i].valve.i == v.i)
            return s->edits->rows[i].position == PIN_OPEN ? "open" : "shut";
    }
    return t->network->model->valves[v.i].kind == VALVE_RELIEF ? "shut" : "regulating";
}

const char *trace_valve_word(const struct trace *t, uint32_t c, valve_ix v)
{
    const struct valve *valve = &t->network->model->valves[v.i];
    unsigned set = trace_valve(t, c, v);
    if (valve->kind == VALVE_MANUAL)
        return valve->positions[trace_detent(t, c, v)].name;
    if (valve->kind == VALVE_REGULATING || valve->kind == VALVE_RELIEF)
        return pinned_word(t, c, v);
    if (__builtin_popcount(set) != 1)
        return "undetermined";
    if (valve->kind == VALVE_SPOOL)
        return set == MAY_STROKED ? "stroked" : "rest";
    return set == MAY_WIDE ? "wide" : set == MAY_LIMIT ? "limiting" : "shut";
}
