/* Findings about pressures: not solved, against structure, more than one solution; what is assumed; damping. */
#include "base/mem.h"
#include "findings/check.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

/* ---- a pump without a way out */

/* True when a stuck regulator makes the source give all its capacity whatever the pressure. */
static bool gives_all(const struct looking *l, uint32_t source)
{
    const struct edits *edits = &l->trace->sets[l->set];
    for (uint32_t i = 0; i < edits->n; i++) {
        const struct edit *e = &edits->rows[i];
        const struct valve *v = e->kind == EDIT_PIN ? &l->model->valves[e->valve.i] : NULL;
        if (v && v->kind == VALVE_REGULATING && e->position == PIN_SHUT && v->source.i == source)
            return true;
    }
    return false;
}

/* Takes an element whose one side is flooded: floods the other where the source's oil gets there.
 *  @return true when there, or in a relief valve, the oil has a way out, be it one that is shut now */
static bool flood_over(const struct looking *l, uint32_t s, uint32_t source, const struct element *e, bool *flooded,
                       bool *grows)
{
    const uint32_t *node_of = l->network->node_of;
    bool from = flooded[node_of[e->from.i]], to = flooded[node_of[e->to.i]];
    enum valve_kind kind = e->kind == ELEMENT_VALVE ? l->model->valves[e->part.i].kind : VALVE_MANUAL;
    if (from == to || kind == VALVE_REGULATING) /* the window of the one that is stuck shut */
        return false;
    passage_ix beyond = from ? e->to : e->from;
    if (kind == VALVE_RELIEF || node_of[beyond.i] == node_of[SUMP.i])
        return true;
    if (trace_reach(l->trace, case_row(l, s), (feed_ix){source}, beyond) != CERTAIN_NO)
        flooded[node_of[beyond.i]] = *grows = true;
    return false;
}

/* True when a source that gives all its capacity feeds nothing but what is closed: no relief, no way to the pan. */
static bool no_way_out(const struct looking *l, uint32_t s, uint32_t source)
{
    const struct network *n = l->network;
    const struct edits *edits = &l->trace->sets[l->set];
    bool *flooded = mem_zero((size_t)n->n_nodes + 1, sizeof *flooded), out = false, grows = true;
    flooded[n->node_of[l->model->feeds[source].passage.i]] = true;
    while (grows && !out) {
        grows = false;
        for (uint32_t i = 0; i < n->n_elements && !out; i++)
            out = flood_over(l, s, source, &n->elements[i], flooded, &grows);
    }
    for (uint32_t i = 0; i < edits->n && !out; i++) /* leaks and the like */
        out = edits->rows[i].kind == EDIT_ADD &&
              (flooded[n->node_of[edits->rows[i].from.i]] || flooded[n->node_of[edits->rows[i].to.i]]);
    mem_free(flooded);
    return !out;
}

/* The source for which no number can be, or NULL. */
static const struct part *source_shut_in(const struct looking *l, uint32_t s)
{
    for (uint32_t i = 0; i < l->model->n_feeds; i++)
        if (l->model->feeds[i].is_source && gives_all(l, i) && no_way_out(l, s, i))
            return &l->model->feeds[i].part;
    return NULL;
}

void check_not_solved(struct looking *l)
{
    const struct model *m = l->model;
    for (uint32_t s = 0; s < m->n_states; s++) {
        if (!case_of(l, s)->settled || !pressed_failed(l->pressed, s))
            continue;
        const struct solve_end *end = &l->pressed->now[s].end;
        const char *worst = end->worst.i == NONE ? NULL : m->passages[end->worst.i].part.id;
        const struct part *shut_in = end->why == SOLVE_STALLED ? source_shut_in(l, s) : NULL;
        if (shut_in) {
            found(l, NOT_SOLVED, m->states[s].part.where, worst, &m->states[s],
                  "no pressures in state %s: the pump of %s has no way out and no relief on its side; before any "
                  "steady pressure something bursts or the pump breaks",
                  m->states[s].part.id, shut_in->id);
            continue;
        }
        if (found(l, NOT_SOLVED, m->states[s].part.where, worst, &m->states[s], "no pressures in state %s: %s",
                  m->states[s].part.id, solve_why_words(end->why)) &&
            worst)
            diag_help(l->d, "the worst passage is %s; tried:%s%s%s%s%s", worst, end->tried & TRIED_HELD ? " held" : "",
                      end->tried & TRIED_NEWTON ? ", released" : "", end->tried & TRIED_STEPS ? ", in time steps" : "",
                      end->tried & TRIED_REST ? ", from all spools at rest" : "",
                      end->tried & TRIED_STROKED ? ", from all stroked" : "");
    }
}

/* A definite answer by structure that the pressures contradict, and a figure for it or ""; true when it is reported. */
static bool contradicted(struct looking *l, uint32_t s, const struct part *part, const char *structure,
                         const char *pressure, const char *figure)
{
    return found(l, STRUCTURE_SIZE, part->where, part->id, &l->model->states[s],
                 "%s is %s by structure and %s by pressure%s", part->id, structure, pressure, figure);
}

#define AS_GOOD_AS_AT_END 0.03 /* of its travel: a spool this near to where structure has it is there for the bench */

/* True when a part-way spool stands where structure has it, but for a hair. */
static bool nearly_there(const struct pressures *p, uint32_t valve, unsigned structure)
{
    if (p->position[valve] != POSITION_PART_WAY)
        return false;
    return structure == MAY_STROKED ? p->travel[valve] >= 1 - AS_GOOD_AS_AT_END : p->travel[valve] <= AS_GOOD_AS_AT_END;
}

static bool has_blocked_end(const struct looking *l, uint32_t valve)
{
    const struct edits *edits = &l->trace->sets[l->set];
    for (uint32_t i = 0; i < edits->n; i++)
        if (edits->rows[i].kind == EDIT_BLOCK_END && edits->rows[i].valve.i == valve)
            return true;
    return false;
}

/* Wide and limiting are one for a limiting valve that stands open under its limit only where its reaction is fed: that
 * is what position_word() says too. */
static void check_valves(struct looking *l, uint32_t s, const struct pressures *p)
{
    const struct model *m = l->model;
    for (uint32_t i = 0; i < m->n_valves; i++) {
        enum valve_kind kind = m->valves[i].kind;
        unsigned set = trace_valve(l->trace, case_row(l, s), (valve_ix){i});
        if ((kind != VALVE_SPOOL && kind != VALVE_LIMITING) || !set || set & (set - 1))
            continue;
        const char *structure = trace_valve_word(l->trace, case_row(l, s), (valve_ix){i});
        const char *pressure = position_word(counts_position(l->trace, case_row(l, s), p, (valve_ix){i}));
        if (!strcmp(structure, pressure) || nearly_there(p, i, set))
            continue;
        char figure[32] = "";
        if (p->position[i] == POSITION_PART_WAY)
            snprintf(figure, sizeof figure, " (%.0f %% of its travel)", 100 * p->travel[i]);
        if (contradicted(l, s, &m->valves[i].part, structure, pressure, figure) && has_blocked_end(l, i))
            diag_help(l->d, "a blocked end pushes with nothing by pressure; by structure it still feels its passage");
    }
}

void check_structure_size(struct looking *l)
{
    const struct model *m = l->model;
    for (uint32_t s = 0; s < m->n_states; s++) {
        const struct pressures *p = pressures_of(l, s);
        if (!p || !case_of(l, s)->settled)
            continue;
        check_valves(l, s, p);
        for (uint32_t i = 0; i < m->n_actuators; i++) {
            enum applied structure = (enum applied)case_of(l, s)->applied[i];
            if (structure == APPLY_UNSURE || (enum applied)p->device[i] == structure)
                continue;
            struct text figure = {0};
            text_add(&figure, " (");
            pressure_add(&figure, p->device_pressure[i], &m->units);
            text_add(&figure, ", needs ");
            pressure_add(&figure, device_needs(&m->actuators[i], p), &m->units);
            text_add(&figure, ")");
            contradicted(l, s, &m->actuators[i].part, applied_word(structure), device_word((enum device)p->device[i]),
                         text_string(&figure));
            text_release(&figure);
        }
    }
}

/* The passage in which two solutions differ most. */
static uint32_t apart_most(const struct model *m, const double *a, const double *b)
{
    uint32_t most = NONE;
    double by = 0;
    for (uint32_t i = 1; i < m->n_passages; i++) {
        double difference = fabs((isnan(a[i]) ? 0 : a[i]) - (isnan(b[i]) ? 0 : b[i]));
        if (difference > by) {
            by = difference;
            most = i;
        }
    }
    return most;
}

void check_two_solutions(struct looking *l)
{
    const struct model *m = l->model;
    for (uint32_t s = 0; s < m->n_states; s++) {
        const struct pressures *p = pressures_of(l, s);
        for (uint32_t k = 0; p && k < p->n_solutions; k++) {
            uint32_t i = apart_most(m, p->pressure, p->solutions[k].pressure);
            if (i == NONE)
                continue;
            struct text t = {0};
            text_addf(&t, "%s may hold ", m->passages[i].part.id);
            pressure_add(&t, p->pressure[i], &m->units);
            text_add(&t, " or ");
            pressure_add(&t, p->solutions[k].pressure[i], &m->units);
            text_addf(&t, " (%s)",
                      p->solutions[k].from == TRIED_REST      ? "coming from all valves at rest"
                      : p->solutions[k].from == TRIED_STROKED ? "coming from all valves stroked"
                                                              : "coming from where structure has the valves");
            found(l, TWO_SOLUTIONS, m->states[s].part.where, m->passages[i].part.id, &m->states[s], "%s",
                  text_string(&t));
            text_release(&t);
        }
    }
}

enum { ASSUMED_NAMED = 8 };

void check_assumed_sizes(struct looking *l)
{
    static const struct {
        enum dimension dim;
        const char *one, *many;
    } words[] = {[ASSUMED_WINDOW] = {DIM_LENGTH, "opening", "openings"},
                 [ASSUMED_BLEED] = {DIM_LENGTH, "bleed solenoid", "bleed solenoids"},
                 [ASSUMED_CLEARANCE] = {DIM_LENGTH, "worn bore", "worn bores"},
                 [ASSUMED_APPLIES_AT] = {DIM_PRESSURE, "device", "devices"}};
    const struct model *m = l->model;
    if (!l->pressed)
        return;
    struct assumed *rows;
    uint32_t n = sizes_assumed(l->network, &l->trace->sets[l->set], &rows);
    struct text t = {0};
    for (uint32_t what = 0; what < sizeof words / sizeof *words; what++) {
        uint32_t count = 0;
        double value = NAN;
        struct text names = {0};
        for (uint32_t i = 0; i < n; i++) {
            if (rows[i].what != what)
                continue;
            value = rows[i].value;
            if (++count <= ASSUMED_NAMED)
                text_addf(&names, "%s%s", count > 1 ? ", " : "", model_id(m, rows[i].part));
        }
        if (count) {
            text_addf(&t, "%s%u %s (%s", t.n ? "; " : ": ", count, count == 1 ? words[what].one : words[what].many,
                      text_string(&names));
            if (count > ASSUMED_NAMED)
                text_addf(&t, " and %u more", count - ASSUMED_NAMED);
            text_add(&t, "): ");
            quantity_add(&t, value, words[what].dim, &m->units);
        }
        text_release(&names);
    }
    if (n)
        found(l, ASSUMED_SIZES, m->where, NULL, NULL, "sizes are assumed%s", text_string(&t));
    text_release(&t);
    mem_free(rows);
}

void check_damping_lost(struct looking *l)
{
    const struct edits *edits = &l->trace->sets[l->set];
    for (uint32_t i = 0; i < edits->n; i++) {
        uint32_t hole;
        valve_ix valve;
        if (!damping_lost(l->network, &edits->rows[i], &hole, &valve))
            continue;
        const struct part *orifice = &l->model->holes[hole].part, *v = &l->model->valves[valve.i].part;
        found(l, DAMPING_LOST, orifice->where, orifice->id, NULL,
              "%s calms valve %s: its damping is lost, not visible in steady pressures", orifice->id, v->id);
    }
}
