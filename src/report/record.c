/* The behaviour of a model as facts. */
#include "report/record.h"
#include "base/arena.h"
#include "base/mem.h"
#include "faults/effect.h"
#include "report/record_words.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

#define PSI 6894.757293168362 /* Pa, exact by definition of pound and inch */

struct facts {
    struct arena arena;
    uint8_t *by_shuttle; /* [n_nodes] see shuttle_drains_find() */
    const char **rows;   /* "STATE  SUBJECT  FACT" */
    size_t n, cap;
};

static void fact(struct facts *f, const char *state, const char *subject, const char *words)
{
    MEM_GROW(f->rows, f->n, f->cap);
    f->rows[f->n++] = arena_format(&f->arena, "%s  %s  %s", state, subject, words);
}

/* A pressure in steps, so that a digit that means nothing changes no record. */
static const char *stepped(struct facts *f, const struct model *m, double pressure)
{
    bool psi = !strcmp(m->units.name[DIM_PRESSURE], "psi");
    double step = psi ? PSI : 1e4, n = isnan(pressure) ? NAN : floor(pressure / step + 0.5);
    if (isnan(n))
        return "closed off";
    return psi ? arena_format(&f->arena, "%.0f psi", n) : arena_format(&f->arena, "%.1f bar", n / 10);
}

static void passage_facts(struct facts *f, const struct trace *t, uint32_t c, const char *state, passage_ix p)
{
    const struct model *m = t->network->model;
    const char *id = m->passages[p.i].part.id;
    struct text words = {0};
    text_add(&words, condition_word(trace_condition(t, c, p)));
    bool some = false;
    for (uint32_t i = 0; i < m->n_feeds; i++) {
        enum certainty reach = trace_reach(t, c, (feed_ix){i}, p);
        if (reach == CERTAIN_NO)
            continue;
        text_addf(&words, "%s%s%s", some ? ", " : " by ", reach == CERTAIN_MAY ? "perhaps " : "", m->feeds[i].part.id);
        some = true;
    }
    fact(f, state, id, text_string(&words));
    for (uint32_t i = 0; i < t->network->n_limits; i++) {
        enum certainty past = trace_past(t, c, i, p);
        circuit_ix circuit = m->passages[p.i].circuit;
        valve_ix v = t->network->limits[i].valve;
        if (past == CERTAIN_NO || circuit.i == NONE || m->circuits[circuit.i].limited_by.i != v.i)
            continue;
        text_clear(&words);
        text_addf(&words, "%sreached past %s", past == CERTAIN_MAY ? "perhaps " : "", m->valves[v.i].part.id);
        fact(f, state, id, text_string(&words));
    }
    text_release(&words);
}

static void gear_add(struct text *t, const struct model *m, const struct gear_answer *g)
{
    text_add(t, gear_word(m, g->gear));
    for (uint32_t i = 0; i < g->n_possible; i++)
        text_addf(t, "%s%s", i ? " or " : ": ", gear_word(m, g->possible[i]));
}

/* What the structure says and, where pressures say otherwise, what they say: one fact, so that a change of both is one
 * sentence. `by_pressure` is NULL where they say nothing. */
static void answer_fact(struct facts *f, const char *state, const char *subject, const char *by_structure,
                        const char *by_pressure)
{
    const char *words = !by_pressure ? by_structure
                        : record_agrees(by_structure, by_pressure)
                            ? by_pressure
                            : arena_format(&f->arena, "%s" BY_PRESSURE "%s", by_structure, by_pressure);
    fact(f, state, subject, words);
}

/* "fills at 3.2 L/min": two digits of the model's unit, so that a change that is no news changes no record. */
static void rate_fact(struct facts *f, const struct model *m, const char *state, const char *subject, double rate,
                      const char *verb)
{
    double unit = 1;
    struct text words = {0};
    if (isnan(rate))
        return;
    quantity_read("1", 1, DIM_FLOW, &m->units, &unit, NULL);
    if (rate < FLOW_SHOWN_LEAST) {
        text_addf(&words, "does not %s", verb);
    } else {
        text_addf(&words, "%ss at ", verb);
        quantity_add(&words, two_digits(rate / unit) * unit, DIM_FLOW, &m->units);
    }
    fact(f, state, subject, text_string(&words));
    text_release(&words);
}

static void gear_facts(struct facts *f, const struct network *n, const struct trace_case *c, const struct pressures *p,
                       const char *state)
{
    const struct model *m = n->model;
    struct text structure = {0}, pressure = {0};
    gear_add(&structure, m, &c->gear);
    if (p)
        gear_add(&pressure, m, &p->gear);
    answer_fact(f, state, "gear", text_string(&structure), p ? text_string(&pressure) : NULL);
    text_release(&structure);
    text_release(&pressure);
    for (uint32_t i = 0; i < m->n_actuators; i++) {
        const char *id = m->actuators[i].part.id, *structure_word = applied_word((enum applied)c->applied[i]);
        if (!p) {
            fact(f, state, id, structure_word);
            continue;
        }
        answer_fact(f, state, id, structure_word,
                    arena_format(&f->arena, "%s at %s", device_word((enum device)p->device[i]),
                                 stepped(f, m, p->device_pressure[i])));
        rate_fact(f, m, state, id, p->fill[i], "fill");
        if (!f->by_shuttle[n->node_of[m->actuators[i].apply.i]]) /* it depends on where the ball rests */
            rate_fact(f, m, state, id, p->drain[i], "drain");
    }
}

/* "part-way at 40 % of its travel". */
static const char *valve_by_pressure(struct facts *f, const struct trace *t, uint32_t c, const struct pressures *p,
                                     valve_ix v)
{
    enum valve_position at = counts_position(t, c, p, v);
    const char *word = position_word(at);
    int tens = (int)floor(p->travel[v.i] * 10 + 0.5);
    if (at != POSITION_PART_WAY)
        return word;
    return tens <= 0    ? arena_format(&f->arena, "%s at under 5 %% of its travel", word)
           : tens >= 10 ? arena_format(&f->arena, "%s at over 95 %% of its travel", word)
                        : arena_format(&f->arena, "%s at %d0 %% of its travel", word, tens);
}

static void valve_facts(struct facts *f, const struct trace *t, uint32_t c, const struct pressures *p,
                        const char *state)
{
    const struct model *m = t->network->model;
    for (uint32_t i = 0; i < m->n_valves; i++) {
        valve_ix v = {i};
        answer_fact(f, state, m->valves[i].part.id, trace_valve_word(t, c, v),
                    p && counts_by_pressure(t, c, p, v) ? valve_by_pressure(f, t, c, p, v) : NULL);
    }
}

static void state_facts(struct facts *f, const struct answer *a, state_ix s)
{
    const struct trace *t = a->healthy;
    const struct model *m = a->model;
    const char *state = m->states[s.i].part.id;
    uint32_t c = trace_case(t, 0, s);
    if (!t->cases[c].settled) {
        fact(f, state, "gear", "not settled");
        return;
    }
    const struct pressures *p = a->pressed ? pressed_state(a->pressed, s.i) : NULL;
    gear_facts(f, t->network, &t->cases[c], p, state);
    valve_facts(f, t, c, p, state);
    for (uint32_t i = 1; i < m->n_passages; i++)
        passage_facts(f, t, c, state, (passage_ix){i});
    for (uint32_t i = 0; p && i < m->n_taps; i++) {
        double at = p->pressure[m->taps[i].on.i];
        fact(f, state, m->taps[i].part.id,
             isnan(at) ? "closed off" : arena_format(&f->arena, "at %s", stepped(f, m, at)));
    }
    for (uint32_t i = 0; p && i < m->n_switches; i++) { /* closed off: nothing closes it */
        const struct pressure_switch *w = &m->switches[i];
        fact(f, state, w->part.id, p->pressure[w->on.i] >= w->closes_at ? "closed" : "open");
    }
    if (a->pressed && pressed_failed(a->pressed, s.i))
        fact(f, state, "pressures", "not found");
}

int record_order(const void *a, const void *b)
{
    return strcmp(*(const char *const *)a, *(const char *const *)b);
}

void record_add(struct text *t, const struct answer *a)
{
    struct facts f = {.n = 0};
    arena_init(&f.arena);
    f.by_shuttle = arena_rows(&f.arena, (size_t)a->healthy->network->n_nodes + 1, 1);
    shuttle_drains_find(a->healthy->network, f.by_shuttle);
    for (uint32_t i = 0; i < a->n_states; i++)
        state_facts(&f, a, a->states[i]);
    if (f.n)
        qsort(f.rows, f.n, sizeof *f.rows, record_order);
    text_addf(t, "# behaviour of %s, one fact a line: state, what, how it is (by pressure where that differs)\n",
              a->model->id);
    for (size_t i = 0; i < f.n; i++) {
        text_add(t, f.rows[i]);
        text_add_char(t, '\n');
    }
    mem_free(f.rows);
    arena_release(&f.arena);
}
