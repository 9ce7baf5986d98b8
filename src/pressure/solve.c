/* The solver: one case from its trace to its answers, several starts, and what the cases of a network share. */
#include "base/mem.h"
#include "pressure/answers.h"
#include <math.h>
#include <string.h>

#define ANOTHER_SHARE 0.002 /* of the highest setting: solutions that differ by more are two */
#define ANOTHER_LEAST 20.0  /* Pa */
#define PLAIN_OPENING 0.25  /* where all that moves stands when pivots are chosen: some of each window is open */

struct solver {
    const struct network *network;
    struct matrix *shared;      /* the pattern of the network without edits; made by the first case */
    struct matrix *own;         /* the pattern of the last case that the shared one did not fit, or NULL */
    struct entries own_entries; /* what it was made of */
    uint64_t n_steps;
    uint32_t n_analyses;
};

struct solver *solver_new(const struct network *n)
{
    struct solver *s = mem_zero(1, sizeof *s);
    s->network = n;
    return s;
}

void solver_free(struct solver *s)
{
    if (!s)
        return;
    matrix_free(s->shared);
    matrix_free(s->own);
    mem_free(s->own_entries.rows);
    mem_free(s);
}

uint64_t solver_n_steps(const struct solver *s)
{
    return s->n_steps;
}

uint32_t solver_n_analyses(const struct solver *s)
{
    return s->n_analyses;
}

void pressures_init(struct pressures *p)
{
    *p = (struct pressures){.end.worst = {NONE}};
    arena_init(&p->arena);
}

void pressures_release(struct pressures *p)
{
    arena_release(&p->arena);
    *p = (struct pressures){.end.worst = {NONE}};
}

static struct matrix *matrix_of(struct solver *s, uint32_t n, const struct entries *e)
{
    s->n_analyses++;
    return matrix_new(n, e, s->network->model->n_states);
}

/* The problem of a state without edits, with nothing but the state deciding its numbers. @param c a case of the state
 */
static void plain_build(const struct solver *s, const struct trace *t, uint32_t c, struct arena *arena,
                        struct scene *scene, struct problem *out)
{
    static const struct edits none;
    scene_build(s->network, &s->network->model->states[c % t->n_states], &none, arena, scene);
    problem_build(t, c, scene, out);
    for (uint32_t i = 0; i < out->n_movers; i++)
        if (out->movers[i].kind == MOVER_SPOOL || out->movers[i].kind == MOVER_SEAT)
            out->movers[i].at = PLAIN_OPENING; /* the trace's may be a faulty one's */
}

/* The pattern that all cases share is that of the network without edits, whichever case comes first; so are the pivots
 * that all cases of a state begin with. */
static void shared_make(struct solver *s, const struct trace *t, uint32_t c)
{
    struct arena arena;
    struct scene scene;
    struct problem p;
    arena_init(&arena);
    plain_build(s, t, c, &arena, &scene, &p);
    if (!s->shared) {
        struct entries e = {0};
        problem_entries(&p, &e);
        s->shared = matrix_of(s, p.n, &e);
        mem_free(e.rows);
    }
    problem_attach(&p, s->shared);
    movers_update(&p);
    balance_assemble(&p);
    matrix_pivots(s->shared, c % t->n_states);
    problem_release(&p);
    arena_release(&arena);
}

/* Gives the problem its matrix: the shared one, or one of its own, which the other states under the same edits need,
 * too. */
static void matrix_give(struct solver *s, struct problem *p)
{
    uint32_t state = p->c % p->trace->n_states;
    if (!s->shared || !matrix_chose(s->shared, state))
        shared_make(s, p->trace, p->c);
    matrix_forget(s->shared, state);
    if (problem_attach(p, s->shared))
        return;
    struct entries e = {0};
    problem_entries(p, &e);
    bool same = s->own && matrix_size(s->own) == p->n && s->own_entries.n == e.n && e.n &&
                memcmp(s->own_entries.rows, e.rows, e.n * sizeof *e.rows) == 0;
    if (!same) {
        matrix_free(s->own);
        s->own = matrix_of(s, p->n, &e);
    }
    mem_free(s->own_entries.rows);
    s->own_entries = e;
    matrix_forget(s->own, state);
    problem_attach(p, s->own);
}

/* ---- starts */

static struct start start_make(struct problem *p, bool keep)
{
    return (struct start){.at = arena_rows(&p->arena, p->n_movers, sizeof(double)),
                          .held = arena_rows(&p->arena, p->n, sizeof(double)),
                          .rest = keep ? arena_rows(&p->arena, p->n, sizeof(double)) : NULL,
                          .ends = arena_rows(&p->arena, p->n_movers, sizeof(double))};
}

static void start_from_trace(const struct problem *p, const struct pressures *after, struct start *out)
{
    const struct network *n = p->network;
    for (uint32_t i = 0; i < p->n_movers; i++) {
        const struct mover *m = &p->movers[i];
        out->at[i] = m->at;
        if (after && after->end.converged && m->kind == MOVER_SPOOL)
            out->at[i] = after->travel[n->spools[m->row].valve.i];
    }
}

/* @return false: the same as the first start, or no spool is free to move */
static bool start_all(const struct problem *p, const struct start *first, double at, struct start *out)
{
    bool other = false;
    for (uint32_t i = 0; i < p->n_movers; i++) {
        out->at[i] = first->at[i];
        if (p->movers[i].kind != MOVER_SPOOL || p->movers[i].never)
            continue;
        out->at[i] = at;
        other |= out->at[i] != first->at[i];
    }
    return other;
}

static bool no_limit_on_line(const struct problem *p)
{
    const struct model *m = p->network->model;
    bool relief = false;
    for (uint32_t i = 0; i < m->n_valves; i++)
        relief |= m->valves[i].kind == VALVE_RELIEF;
    for (uint32_t i = 0; i < p->n_sources; i++)
        if (p->sources[i].on && !isfinite(p->sources[i].setting) && (!relief || !isfinite(p->sources[i].capacity)))
            return true;
    return false;
}

static void end_take(const struct problem *p, const struct newton_end *e, struct solve_end *out)
{
    out->converged = e->converged && e->stable;
    out->why = out->converged ? SOLVE_CONVERGED : e->converged ? SOLVE_UNSTABLE : SOLVE_STALLED;
    out->imbalance = e->imbalance;
    out->last_step = e->last_step;
    uint32_t worst = e->worst;
    for (uint32_t i = 0; i < p->n_sources; i++)
        if (worst == p->sources[i].unknown)
            worst = p->sources[i].node;
    out->worst = worst == NONE ? (passage_ix){NONE} : p->passage[worst];
}

/* True when the present solution is none of those known. */
static bool solution_is_new(const struct problem *p, const struct pressures *out, const double *pressure)
{
    const struct model *m = p->network->model;
    double most = fmax(ANOTHER_SHARE * p->highest, ANOTHER_LEAST);
    for (uint32_t k = 0; k <= out->n_solutions; k++) {
        const double *known = k ? out->solutions[k - 1].pressure : out->pressure;
        bool same = true;
        for (uint32_t i = 0; i < m->n_passages && same; i++) {
            double a = isnan(known[i]) ? 0 : known[i], b = isnan(pressure[i]) ? 0 : pressure[i];
            same = fabs(a - b) <= most;
        }
        if (same)
            return false;
    }
    return true;
}

static void solution_add(struct problem *p, unsigned from, struct pressures *out)
{
    const struct model *m = p->network->model;
    struct solution s = {.pressure = arena_rows(&out->arena, m->n_passages, sizeof(double)),
                         .travel = arena_rows(&out->arena, m->n_valves, sizeof(double)),
                         .from = from};
    balance_follow(p, true);
    solution_take(p, s.pressure, s.travel);
    if (!solution_is_new(p, out, s.pressure))
        return;
    if (!out->solutions)
        out->solutions = arena_rows(&out->arena, 2, sizeof *out->solutions);
    out->solutions[out->n_solutions++] = s;
}

/* Takes what a start ended with: the first stable solution is the answer, later ones are others. */
static void start_take(struct problem *p, const struct newton_end *e, unsigned from, struct pressures *out)
{
    if (out->end.converged) {
        if (e->converged && e->stable)
            solution_add(p, from, out);
        return;
    }
    end_take(p, e, &out->end);
    if (!out->end.converged)
        return;
    pressures_take(p, out);
    memcpy(p->answer, p->x, p->n * sizeof *p->x);
}

/* The first start that ends at a stable solution gives the answer; the other starts may give others. */
static void starts_solve(struct problem *p, unsigned how, const struct pressures *warm, const struct pressures *after,
                         struct pressures *out)
{
    static const struct {
        unsigned from;
        double at;
    } starts[] = {{TRIED_HELD, 0}, {TRIED_REST, 0}, {TRIED_STROKED, 1}};
    struct start first = start_make(p, !warm), other = start_make(p, !warm);
    start_from_trace(p, after, &first);
    for (unsigned i = 0; i < 3; i++) {
        if (i > 0 && (how & SOLVE_ONE_START) && out->end.converged)
            break;
        if (i > 0 && !start_all(p, &first, starts[i].at, &other))
            continue;
        struct start *s = i ? &other : &first;
        bool known = out->end.converged;
        s->warm = warm ? warm->warm[i] : NULL;
        s->begun = i > 0;
        s->first_warm = warm ? warm->warm[0] : NULL;
        s->first = i > 0 && s->first_warm ? first.held : NULL;
        out->end.tried |= starts[i].from;
        if (known && start_leads_to(p, s, &first)) {
            out->warm[i] = warm_give(p, s->held, s->rest, &out->arena);
            continue;
        }
        struct newton_end e = known ? start_release(p, s, &out->end.tried) : start_solve(p, s, &out->end.tried);
        out->warm[i] = warm_give(p, s->held, s->rest, &out->arena);
        start_take(p, &e, starts[i].from, out);
        if (!known && i > 0) /* the answer's own start is the one that others are held against */
            memcpy(first.ends, s->ends, p->n_movers * sizeof *s->ends);
    }
    if (out->end.converged) {
        memcpy(p->x, p->answer, p->n * sizeof *p->x);
        movers_hold(p, false);
        balance_follow(p, true);
    }
}

void pressure_solve(struct solver *s, const struct trace *t, uint32_t c, unsigned how, const struct pressures *warm,
                    const struct pressures *after, struct pressures *out)
{
    pressures_release(out);
    if (!t->cases[c].asked || !t->cases[c].settled) {
        out->end.why = SOLVE_NOT_SETTLED;
        return;
    }
    struct arena arena;
    arena_init(&arena);
    struct scene scene;
    struct problem p;
    scene_build(s->network, &s->network->model->states[c % t->n_states], &t->sets[c / t->n_states], &arena, &scene);
    problem_build(t, c, &scene, &p);
    matrix_give(s, &p);
    pressures_make(&p, out);
    if (no_limit_on_line(&p)) {
        out->end.why = SOLVE_NO_LIMIT;
    } else {
        starts_solve(&p, how, warm, after, out);
        if (out->end.converged && (how & SOLVE_FILL))
            fill_take(&p, warm, out);
    }
    out->end.n_steps = p.n_steps;
    s->n_steps += p.n_steps;
    problem_release(&p);
    arena_release(&arena);
}

void pressure_solve_states(struct solver *s, const struct trace *t, uint32_t set, unsigned how, const uint8_t *wanted,
                           const struct pressures *healthy, struct pressures *out)
{
    const struct model *m = s->network->model;
    enum { LEFT, TO_DO, DONE };
    uint8_t *todo = mem_zero((size_t)m->n_states + 1, 1);
    for (uint32_t i = 0; i < m->n_states; i++) {
        pressures_release(&out[i]);
        for (state_ix k = {i}; (!wanted || wanted[i]) && k.i != NONE && todo[k.i] == LEFT; k = m->states[k.i].after)
            todo[k.i] = TO_DO;
    }
    for (bool some = true; some;) { /* a state follows a state, and never itself */
        some = false;
        for (uint32_t i = 0; i < m->n_states; i++) {
            state_ix after = m->states[i].after;
            if (todo[i] != TO_DO || (after.i != NONE && todo[after.i] != DONE))
                continue;
            pressure_solve(s, t, trace_case(t, set, (state_ix){i}), how, healthy ? &healthy[i] : NULL,
                           after.i == NONE ? NULL : &out[after.i], &out[i]);
            todo[i] = DONE;
            some = true;
        }
    }
    mem_free(todo);
}

/* ---- words */

const char *position_word(enum valve_position p)
{
    static const char *const words[] = {
        [POSITION_REST] = "rest", [POSITION_PART_WAY] = "part-way",     [POSITION_STROKED] = "stroked",
        [POSITION_WIDE] = "wide", [POSITION_LIMITING] = "limiting",     [POSITION_SHUT] = "shut",
        [POSITION_OPEN] = "open", [POSITION_REGULATING] = "regulating", [POSITION_DETENT] = "detent"};
    return words[p];
}

const char *device_word(enum device d)
{
    static const char *const words[] = {
        [DEVICE_RELEASED] = "released", [DEVICE_APPLIED] = "applied", [DEVICE_SLIPPING] = "slipping"};
    return words[d];
}

const char *solve_why_words(enum solve_why w)
{
    static const char *const words[] = {[SOLVE_CONVERGED] = "converged",
                                        [SOLVE_NOT_SETTLED] = "the positions of its valves did not settle",
                                        [SOLVE_NO_LIMIT] = "nothing limits line with the regulator stuck shut",
                                        [SOLVE_STALLED] = "nothing that was tried converged",
                                        [SOLVE_UNSTABLE] = "only solutions were found that a small disturbance leaves"};
    return words[w];
}
