#include "faults/limits.h"
#include "base/mem.h"
#include <math.h>
#include <string.h>

struct search {
    const struct network *network;
    const struct trace *healthy;
    const struct pressed *pressed; /* healthy */
    const state_ix *states;
    uint32_t n_states;
    unsigned how;    /* SOLVE_* bits */
    uint8_t *wanted; /* [n_states of the model] 1: one of `states` */
    struct solver *solver;
    struct pressures *now; /* [n_states of the model] */
    struct limits_table *out;
    size_t cap;
};

/* A line that speaks only of where oil goes: it would call the smallest leak a loss, whatever the leak costs. */
static bool claims_are_structural(const struct claims *c)
{
    for (uint32_t i = 0; i < c->n_rows; i++) {
        const struct claim *one = &c->rows[i];
        bool condition =
            one->what == CLAIM_CONDITION && one->condition <= CLAIM_TRAPPED && one->pressure == PRESSURE_NONE;
        if (!condition && one->what != CLAIM_REACHED_BY && one->what != CLAIM_AIR)
            return false;
    }
    return true;
}

/* What the model expects of a state and no longer gets, or what else a rebuilder would call lost: the gear, a device
 * (an accumulator moves with its circuit, it holds nothing). "" when nothing is. */
static const char *lost_in(struct search *s, const struct trace *t, state_ix state)
{
    const struct model *m = s->network->model;
    const struct pressures *was = &s->pressed->now[state.i], *now = &s->now[state.i];
    struct arena *a = &s->out->arena;
    if (!was->end.converged)
        return "";
    if (!now->end.converged)
        return "no solution was found";
    bool gained = m->states[state.i].gear.i != NONE &&
                  now->gear.gear == m->states[state.i].gear.i; /* the gear asked for, where a healthy unit slips */
    if (now->gear.gear != was->gear.gear && !gained)
        return arena_format(a, "gear %s instead of %s", gear_word(m, now->gear.gear), gear_word(m, was->gear.gear));
    for (uint32_t i = 0; i < m->n_actuators; i++) {
        bool lost = now->device[i] != was->device[i] && was->device[i] != DEVICE_SLIPPING;
        if (lost && m->actuators[i].kind != ACTUATOR_ACCUMULATOR)
            return arena_format(a, "%s %s, was %s", m->actuators[i].part.id, device_word((enum device)now->device[i]),
                                device_word((enum device)was->device[i]));
    }
    const struct pressed p = {s->now, s->pressed->now};
    for (uint32_t i = 0; i < m->states[state.i].n_expect; i++) {
        const struct claims *c = &m->states[state.i].expect[i];
        if (!claims_are_structural(c) && claims_judge(c, s->healthy, s->pressed, 0, state) == VERDICT_YES &&
            claims_judge(c, t, &p, 0, state) == VERDICT_NO)
            return arena_format(a, "no longer met: %s", c->text);
    }
    for (uint32_t i = 0; i < m->n_feeds; i++) {
        if (now->sources[i].limited && !was->sources[i].limited)
            return arena_format(a, "%s gives all that it can and no longer holds its setting", m->feeds[i].part.id);
    }
    return "";
}

/* Solves the unit with the row's size at `size` and fills what is lost first; false: nothing is. */
static bool is_lost(struct search *s, const struct limits_row *row, double size, struct limits_side *side)
{
    const struct model *m = s->network->model;
    struct arena arena;
    struct diags d;
    struct fault_set set;
    struct trace t;
    bool lost = false;
    arena_init(&arena);
    diags_init(&d);
    if (faults_read(arena_format(&arena, "%s %.12g mm", row->fault, size * 1000), s->network, &arena, &set, &d)) {
        trace_run_some(s->network, &set.edits, 1, s->wanted, s->healthy, &t);
        for (uint32_t i = 0; i < m->n_states; i++)
            pressures_init(&s->now[i]);
        pressure_solve_states(s->solver, &t, 0, s->how, s->wanted, s->pressed->now, s->now);
        for (uint32_t i = 0; i < s->n_states && !lost; i++) {
            const char *what = lost_in(s, &t, s->states[i]);
            lost = *what;
            if (lost) {
                side->what = what;
                side->state = m->states[s->states[i].i].part.id;
            }
        }
        for (uint32_t i = 0; i < m->n_states; i++)
            pressures_release(&s->now[i]);
        trace_release(&t);
    }
    diags_release(&d);
    arena_release(&arena);
    return lost;
}

/* From a size that holds towards `end`: steps by a fifth until something is lost, then bisects. What is lost may come
 * back further on, so steps are small, and the first loss counts. */
static void side_find(struct search *s, const struct limits_row *row, double from, double end, struct limits_side *out)
{
    double factor = end > from ? 1.2 : 1 / 1.2, holds = from, next = from;
    out->holds = end;
    while (next != end) {
        next *= factor;
        if ((end > from) == (next > end))
            next = end;
        if (is_lost(s, row, next, out)) {
            out->found = true;
            break;
        }
        holds = next;
    }
    if (!out->found)
        return;
    out->lost_at = next;
    while (fabs(out->lost_at - holds) > 0.01 * holds) {
        double middle = (holds + out->lost_at) / 2;
        if (is_lost(s, row, middle, out))
            out->lost_at = middle;
        else
            holds = middle;
    }
    is_lost(s, row, out->lost_at, out); /* say what is lost there */
    out->holds = holds;
}

/* An expectation of how fast a device fills or drains is the only one that needs these solved. */
static bool rates_are_expected(const struct model *m)
{
    for (uint32_t i = 0; i < m->n_states; i++) {
        for (uint32_t k = 0; k < m->states[i].n_expect; k++) {
            const struct claims *c = &m->states[i].expect[k];
            for (uint32_t r = 0; r < c->n_rows; r++) {
                if (c->rows[r].what == CLAIM_RATE)
                    return true;
            }
        }
    }
    return false;
}

static void row_add(struct search *s, const char *part, const char *fault, double size)
{
    struct limits_table *l = s->out;
    MEM_GROW(l->rows, l->n, s->cap);
    struct limits_row *row = &l->rows[l->n++];
    *row = (struct limits_row){.part = part, .fault = fault, .leak = isnan(size), .size = size};
    if (!row->leak) {
        side_find(s, row, size, size / LIMITS_TIMES, &row->smaller);
        side_find(s, row, size, size * LIMITS_TIMES, &row->larger);
    } else if (is_lost(s, row, LIMITS_LEAK_LEAST, &row->larger)) {
        row->larger.found = true;
        row->larger.holds = 0;
        row->larger.lost_at = LIMITS_LEAK_LEAST;
    } else {
        side_find(s, row, LIMITS_LEAK_LEAST, LIMITS_LEAK_MOST, &row->larger);
    }
}

static bool wanted(const char *part, const char *id)
{
    return !part || !strcmp(part, id);
}

/* Orifices, or the hole that is asked for by name; then leaks of holes into their neighbours and of devices' seals. */
static void rows_find(struct search *s, const char *part)
{
    const struct model *m = s->network->model;
    struct arena *a = &s->out->arena;
    for (uint32_t i = 0; i < m->n_holes; i++) {
        const struct hole *h = &m->holes[i];
        if (wanted(part, h->part.id) && (h->orifice || part) && !isnan(hole_diameter(h)))
            row_add(s, h->part.id, arena_format(a, "resize %s to", h->part.id), hole_diameter(h));
    }
    for (uint32_t i = 0; i < m->n_holes; i++) {
        const struct hole *h = &m->holes[i];
        for (uint32_t k = 0; k < h->n_leaks_to && wanted(part, h->part.id); k++) {
            passage_ix to = h->leaks_to[k];
            passage_ix from =
                m->passages[h->joins[0].i].layer.i == m->passages[to.i].layer.i ? h->joins[0] : h->joins[1];
            row_add(s, h->part.id,
                    h->n_leaks_to == 1
                        ? arena_format(a, "leak %s at", h->part.id)
                        : arena_format(a, "leak %s into %s at", m->passages[from.i].part.id, m->passages[to.i].part.id),
                    NAN);
        }
    }
    for (uint32_t i = 0; i < m->n_actuators; i++) {
        if (wanted(part, m->actuators[i].part.id))
            row_add(s, m->actuators[i].part.id, arena_format(a, "leak %s at", m->actuators[i].part.id), NAN);
    }
}

void limits_find(const struct network *n, const struct trace *t, const struct pressed *p, const state_ix *states,
                 uint32_t n_states, const char *part, struct limits_table *out)
{
    struct search s = {.network = n, .healthy = t, .pressed = p, .states = states, .n_states = n_states, .out = out};
    *out = (struct limits_table){0};
    arena_init(&out->arena);
    s.how = SOLVE_ONE_START | (rates_are_expected(n->model) ? SOLVE_FILL : 0);
    s.solver = solver_new(n);
    s.wanted = mem_zero((size_t)n->model->n_states + 1, 1);
    for (uint32_t i = 0; i < n_states; i++)
        s.wanted[states[i].i] = 1;
    s.now = mem_zero((size_t)n->model->n_states + 1, sizeof *s.now);
    rows_find(&s, part);
    mem_free(s.now);
    mem_free(s.wanted);
    solver_free(s.solver);
}

void limits_release(struct limits_table *l)
{
    mem_free(l->rows);
    arena_release(&l->arena);
    *l = (struct limits_table){0};
}
