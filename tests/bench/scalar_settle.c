/* Rounds of one case: shuttles, conditions, limiting valves, spools, until nothing moves. */
#include "base/mem.h"
#include "scalar.h"
#include <math.h>
#include <string.h>

/* ---- doubt */

static uint32_t set_count(uint8_t set)
{
    return (uint32_t)__builtin_popcount(set);
}

static uint32_t doubts_count(const struct scalar *s, const uint8_t *sets)
{
    uint32_t n = 0;
    for (uint32_t i = 0; i < s->n_movers; i++)
        n += set_count(sets[i]) > 1;
    return n;
}

static uint8_t lowest(uint8_t set)
{
    return (uint8_t)(set & -set);
}

/* The next position of a set above the one given, or 0. */
static uint8_t next_above(uint8_t set, uint8_t position)
{
    return lowest((uint8_t)(set & ~(position | (position - 1))));
}

static bool both_shut(const struct scalar *s, const uint8_t *choice)
{
    const struct network *n = s->network;
    const uint8_t *seats = choice + n->n_spools + n->n_limits;
    for (uint32_t i = 0; i < n->n_seats; i += 2)
        if (seats[i] == SEAT_SHUT && seats[i + 1] == SEAT_SHUT)
            return true;
    return false;
}

static void alternative_add(struct scalar *s, const uint8_t *choice, bool inward)
{
    struct alternatives *a = &s->alts;
    size_t n_nodes = s->network->model->n_passages; /* no grid has more */
    if (a->n == a->cap) {
        a->cap = a->cap ? 2 * a->cap : 4;
        a->choices = mem_resize(a->choices, a->cap, s->n_movers + 1);
        a->conduct = mem_resize(a->conduct, a->cap, s->n_slots);
        a->cond = mem_resize(a->cond, a->cap, n_nodes);
    }
    uint8_t *conduct = a->conduct + (size_t)a->n * s->n_slots;
    memcpy(a->choices + (size_t)a->n * s->n_movers, choice, s->n_movers);
    conduct_fill(s, choice, inward, CERTAIN_YES, conduct);
    s->rule(s, conduct, NULL, a->cond + a->n * n_nodes, s->level);
    a->n++;
}

void beyond_find(struct scalar *s, const uint8_t *sets, bool inward, uint32_t skip, const uint8_t *gone,
                 uint8_t *conduct, uint8_t *cond, uint8_t *level)
{
    const struct network *n = s->network;
    uint32_t count = 0;
    for (uint32_t i = 0; i < s->n_movers; i++)
        s->choice[i] = lowest(sets[i]);
    conduct_fill(s, s->choice, inward, CERTAIN_YES, conduct);
    if (skip != NONE)
        conduct[n->limits[skip].window.i] = 0;
    s->rule(s, conduct, gone, cond, level);
    uint8_t *may = mem_alloc(s->n_slots), *closed = mem_alloc(s->grid->n_nodes);
    conduct_fill(s, sets, inward, CERTAIN_MAY, may);
    if (skip != NONE)
        may[n->limits[skip].window.i] = 0;
    for (uint32_t i = 0; i < s->grid->n_nodes; i++)
        closed[i] = i == 0 || s->is_root[i] || (gone && gone[i]);
    for (uint32_t k = 0; k < s->n_moving; k++) {
        const struct element *e = &n->elements[s->moving[k]];
        uint32_t mover = e->mover + (e->opens == OPENS_IN_POSITION ? 0
                                     : e->opens == OPENS_BY_SEAT   ? n->n_spools + n->n_limits
                                                                   : n->n_spools);
        bool taken = s->removed[s->moving[k]];
        for (uint32_t x = 0; x < s->n_extras; x++)
            taken &= s->extras[x].follows != s->moving[k];
        if (taken || set_count(sets[mover]) < 2 || (e->opens == OPENS_UNLESS_SHUT && e->mover == skip) ||
            e->opens == OPENS_NEVER)
            continue;
        const uint32_t ends[2] = {s->grid->node_of[e->from.i], s->grid->node_of[e->to.i]};
        for (int i = 0; i < 2; i++)
            if (!closed[ends[i]] && !s->mark[ends[i]]) {
                s->mark[ends[i]] = 1;
                s->queue[count++] = ends[i];
            }
    }
    count = spread(s, count, may, WITH_FLOW | AGAINST_FLOW, 0, closed);
    for (uint32_t i = 0; i < count; i++)
        cond[s->queue[i]] = UNSURE;
    marks_clear(s, count);
    mem_free(may);
    mem_free(closed);
}

/* Every combination of the sets, the last mover turning fastest. */
static void alternatives_list(struct scalar *s, bool inward)
{
    uint8_t *choice = s->choice;
    for (uint32_t i = 0; i < s->n_movers; i++)
        choice[i] = lowest(s->sets[i]);
    for (bool more = true; more;) {
        if (!both_shut(s, choice))
            alternative_add(s, choice, inward);
        more = false;
        for (uint32_t i = s->n_movers; !more && i-- > 0;) {
            uint8_t next = next_above(s->sets[i], choice[i]);
            choice[i] = next ? next : lowest(s->sets[i]);
            more = next;
        }
    }
}

void evaluate(struct scalar *s, bool inward)
{
    size_t n_nodes = s->network->model->n_passages;
    s->inward = inward;
    s->estimated = false;
    s->alts.n = 0;
    s->beyond = doubts_count(s, s->sets) > DOUBTFUL_MAX;
    if (s->beyond) {
        beyond_find(s, s->sets, inward, NONE, NULL, s->conduct, s->cond, s->level);
        return;
    }
    alternatives_list(s, inward);
    memcpy(s->cond, s->alts.cond, s->grid->n_nodes);
    for (uint32_t k = 1; k < s->alts.n; k++)
        for (uint32_t i = 0; i < s->grid->n_nodes; i++)
            if (s->cond[i] != s->alts.cond[k * n_nodes + i])
                s->cond[i] = UNSURE;
}

/* Estimate at a node by the merged conditions: through what surely conducts, else through what may. Worked out when
 * first asked for in a round. */
static double estimate_of(struct scalar *s, uint32_t node)
{
    const struct network *n = s->network;
    if (!s->estimated) {
        uint8_t *capping = s->live; /* [n_limits], there are fewer than nodes */
        for (uint32_t i = 0; i < n->n_limits; i++)
            capping[i] = !(s->sets[n->n_spools + i] & MAY_WIDE);
        conduct_fill(s, s->sets, s->inward, CERTAIN_YES, s->conduct);
        widest(s, s->conduct, capping, s->cond, s->estimate);
        if (doubts_count(s, s->sets)) {
            conduct_fill(s, s->sets, s->inward, CERTAIN_MAY, s->conduct);
            widest(s, s->conduct, capping, s->cond, s->through);
            for (uint32_t i = 0; i < s->grid->n_nodes; i++)
                if (!(s->estimate[i] > 0))
                    s->estimate[i] = s->through[i];
        }
        s->estimated = true;
    }
    return s->estimate[node];
}

/* ---- shuttles */

/* Seat of inlet `a`, its other inlet being `b`; the estimates count where both are fed. */
static uint8_t seat_for(uint8_t a, uint8_t b, double p_a, double p_b)
{
    bool dead_a = cond_is_dead(a), dead_b = cond_is_dead(b);
    if (dead_a && dead_b)
        return SEAT_OPEN;
    if (a == FED && b == FED)
        return p_a < p_b && p_b - p_a > 0.1 * p_b ? SEAT_SHUT : SEAT_OPEN;
    if (dead_a || dead_b)
        return dead_b ? SEAT_OPEN : b == FED ? SEAT_SHUT : SEAT_OPEN | SEAT_SHUT;
    if (a == FED && b == PARTIAL)
        return SEAT_OPEN;
    return SEAT_OPEN | SEAT_SHUT;
}

static void shuttles_judge(struct scalar *s, uint8_t *next)
{
    const struct network *n = s->network;
    uint32_t first = n->n_spools + n->n_limits;
    memcpy(s->sets, next, s->n_movers);
    for (uint32_t i = 0; i < n->n_seats; i++)
        s->sets[first + i] = SEAT_OPEN;
    evaluate(s, true);
    for (uint32_t i = 0; i < n->n_seats; i += 2) {
        uint8_t *seat = next + first + i, *pinned = s->pinned + first + i;
        if (s->scene.fixed[first + i])
            continue;
        uint32_t a = s->grid->node_of[n->seats[i].inlet.i], b = s->grid->node_of[n->seats[i + 1].inlet.i];
        bool fed = s->cond[a] == FED && s->cond[b] == FED;
        double p_a = fed ? estimate_of(s, a) : 0, p_b = fed ? estimate_of(s, b) : 0;
        seat[0] = pinned[0] ? pinned[0] : seat_for(s->cond[a], s->cond[b], p_a, p_b);
        seat[1] = pinned[1] ? pinned[1] : seat_for(s->cond[b], s->cond[a], p_b, p_a);
        if (pinned[0] && seat[1] == SEAT_SHUT)
            seat[0] = SEAT_OPEN;
        if (pinned[1] && seat[0] == SEAT_SHUT)
            seat[1] = SEAT_OPEN;
    }
}

/* ---- spools */

bool passage_is_locked(const struct scalar *s, uint32_t state, passage_ix p, enum condition now)
{
    const struct scalar_answer *h = s->healthy ? &s->healthy[state] : NULL;
    return h && h->settled && now == TRAPPED && h->conditions[h->node_of[p.i]] == EXHAUSTED;
}

static uint8_t spool_judge(struct scalar *s, uint32_t row)
{
    const struct network *n = s->network;
    const struct spool *spool = &n->spools[row];
    const struct valve *v = &n->model->valves[spool->valve.i];
    uint32_t state = (uint32_t)(s->scene.state - n->model->states);
    double low = 0, high = 0;
    if (s->scene.fixed[row] || s->pinned[row])
        return s->scene.fixed[row] ? s->scene.fixed[row] : s->pinned[row];
    for (uint32_t i = 0; i < v->n_ends; i++) {
        passage_ix at = v->ports[v->ends[i].port].passage;
        if (passage_is_locked(s, state, at, s->cond[s->grid->node_of[at.i]]))
            return MAY_REST | MAY_STROKED;
    }
    for (uint32_t i = 0; i < v->n_ends; i++) {
        uint32_t node = s->grid->node_of[v->ports[v->ends[i].port].passage.i];
        if (cond_is_dead(s->cond[node]))
            continue;
        double push = spool->sized ? v->ends[i].area * estimate_of(s, node) : 1;
        double least = s->cond[node] == FED ? push : 0;
        low += v->ends[i].pushes > 0 ? least : -push;
        high += v->ends[i].pushes > 0 ? push : -least;
    }
    if (s->scene.broken[spool->valve.i])
        return low > 0 ? MAY_STROKED : high < 0 ? MAY_REST : MAY_REST | MAY_STROKED;
    return low > spool->threshold ? MAY_STROKED : high <= spool->threshold ? MAY_REST : MAY_REST | MAY_STROKED;
}

/* ---- rounds */

static void round_make(struct scalar *s, const uint8_t *now, uint8_t *next)
{
    const struct network *n = s->network;
    memcpy(next, now, s->n_movers);
    if (n->n_seats)
        shuttles_judge(s, next);
    memcpy(s->sets, next, s->n_movers);
    evaluate(s, false);
    for (uint32_t i = 0; i < n->n_limits; i++)
        next[n->n_spools + i] = limit_judge(s, i);
    for (uint32_t i = 0; i < n->n_spools; i++)
        next[i] = spool_judge(s, i);
}

/* From a set that comes back, one spool a round; true when that comes to a rest. */
static bool one_at_a_time(struct scalar *s, const uint8_t *from)
{
    uint8_t *now = mem_alloc(2 * s->n_movers + 1), *next = now + s->n_movers;
    bool still = false;
    memcpy(now, from, s->n_movers);
    for (uint32_t i = 0; !still && i < 4 * s->network->model->n_valves; i++) {
        bool moved = false;
        round_make(s, now, next);
        still = !memcmp(now, next, s->n_movers);
        for (uint32_t k = 0; k < s->network->n_spools; k++) {
            if (next[k] != now[k] && moved)
                next[k] = now[k];
            moved |= next[k] != now[k];
        }
        memcpy(now, next, s->n_movers);
    }
    mem_free(now);
    return still;
}

/* Pins what differs within a cycle of n sets. Leaves in `now` where settling goes on. */
static void cycle_pin(struct scalar *s, const uint8_t *cycle, uint32_t n, uint8_t *now, uint8_t *restless)
{
    uint8_t how = one_at_a_time(s, cycle) ? 1 : 2;
    for (uint32_t i = 0; i < s->n_movers; i++) {
        uint8_t all = 0;
        bool differs = false;
        for (uint32_t k = 0; k < n; k++) {
            all |= cycle[(size_t)k * s->n_movers + i];
            differs |= cycle[(size_t)k * s->n_movers + i] != cycle[i];
        }
        now[i] = differs ? all : cycle[i];
        if (differs) {
            s->pinned[i] = all;
            restless[i] = how;
        }
    }
}

/* Settles the case at hand from positions in `now`. */
static bool settle(struct scalar *s, uint8_t *now, uint8_t *restless)
{
    const struct network *n = s->network;
    uint32_t most = 8 * (n->model->n_valves + n->n_seats) + 8, n_history = 0, bytes = s->n_movers;
    uint8_t *history = mem_alloc(((size_t)most + 2) * bytes + 1), *next = mem_alloc((size_t)bytes + 1);
    bool settled = false;
    memset(s->pinned, 0, bytes);
    memset(restless, 0, bytes);
    memcpy(history, now, bytes);
    n_history = 1;
    for (uint32_t i = 0; !settled && i < most; i++) {
        round_make(s, now, next);
        settled = !memcmp(now, next, bytes);
        uint32_t at = 0;
        while (at < n_history && memcmp(history + (size_t)at * bytes, next, bytes) != 0)
            at++;
        if (!settled && at < n_history) {
            cycle_pin(s, history + (size_t)at * bytes, n_history - at, now, restless);
            n_history = 0;
        } else {
            memcpy(now, next, bytes);
        }
        memcpy(history + (size_t)n_history++ * bytes, now, bytes);
    }
    mem_free(history);
    mem_free(next);
    return settled;
}

void scalar_run(struct scalar *s, const struct edits *edits, struct scalar_answer *out)
{
    const struct network *n = s->network;
    const struct model *m = n->model;
    grid_take(s, edits);
    for (uint32_t k = 0; k < m->n_states; k++) {
        uint32_t state = s->order[k], after = m->states[state].after.i;
        struct scalar_answer *a = &out[state];
        a->node_of = s->grid->node_of;
        a->settled = false;
        if (after != NONE && !out[after].settled)
            continue;
        case_take(s, &m->states[state]);
        for (uint32_t i = 0; i < s->n_movers; i++) {
            uint8_t start = i < n->n_spools ? MAY_REST : i < n->n_spools + n->n_limits ? MAY_LIMIT : SEAT_OPEN;
            if (i < n->n_spools && after != NONE)
                start = out[after].positions[i];
            a->positions[i] = s->scene.fixed[i] ? s->scene.fixed[i] : start;
        }
        a->settled = settle(s, a->positions, a->restless);
        if (a->settled)
            answer_take(s, state, a);
    }
}

/* ---- making and freeing */

/* States so that each stands behind the one that it comes after. */
static void states_order(const struct model *m, uint32_t *order)
{
    uint8_t *done = mem_zero((size_t)m->n_states + 1, 1);
    for (uint32_t n = 0; n < m->n_states;)
        for (uint32_t i = 0; i < m->n_states; i++)
            if (!done[i] && (m->states[i].after.i == NONE || done[m->states[i].after.i])) {
                done[i] = 1;
                order[n++] = i;
            }
    mem_free(done);
}

void scalar_open(struct scalar *s, const struct network *n, conditions_rule rule)
{
    size_t passages = n->model->n_passages + 1, nodes = passages > n->n_limits ? passages : n->n_limits;
    *s = (struct scalar){.network = n, .rule = rule, .n_movers = network_movers(n)};
    s->n_slots = n->n_elements + n->n_seats + EXTRAS_MAX;
    arena_init(&s->arena);
    grid_make(n, NULL, &s->whole);
    s->order = mem_alloc((n->model->n_states + 1) * sizeof *s->order);
    states_order(n->model, s->order);
    s->moving = mem_alloc(((size_t)n->n_elements + 1) * sizeof *s->moving);
    s->limit_of = mem_alloc(s->n_slots * sizeof *s->limit_of);
    memset(s->limit_of, 0xff, s->n_slots * sizeof *s->limit_of);
    for (uint32_t i = 0; i < n->n_elements; i++) {
        if (n->elements[i].mover != NONE)
            s->moving[s->n_moving++] = i;
        if (n->elements[i].opens == OPENS_UNLESS_SHUT)
            s->limit_of[i] = n->elements[i].mover;
    }
    uint8_t **bytes[] = {&s->has_extra, &s->is_root, &s->cond, &s->level, &s->cond_own,
                         &s->level_own, &s->gone,    &s->mark, &s->live};
    for (size_t i = 0; i < sizeof bytes / sizeof *bytes; i++)
        *bytes[i] = mem_zero(nodes, 1);
    s->still = mem_zero(s->n_slots, 1);
    s->conduct = mem_zero(s->n_slots, 1);
    s->removed = mem_zero((size_t)n->n_elements + 1, 1);
    s->sources = mem_alloc((n->model->n_feeds + 1) * sizeof *s->sources);
    s->sets = mem_zero(3 * (size_t)s->n_movers + 1, 1);
    s->pinned = s->sets + s->n_movers;
    s->choice = s->pinned + s->n_movers;
    s->estimate = mem_alloc(2 * passages * sizeof *s->estimate);
    s->through = s->estimate + passages;
    s->queue = mem_alloc(4 * passages * sizeof *s->queue);
    s->queues[0] = s->queue + passages;
    s->queues[1] = s->queues[0] + passages;
    s->drawn_in = s->queues[1] + passages;
}

void scalar_close(struct scalar *s)
{
    void *owned[] = {s->order, s->moving,       s->limit_of,     s->has_extra, s->is_root,   s->cond,
                     s->level, s->gone,         s->mark,         s->cond_own,  s->level_own, s->live,
                     s->still, s->sets,         s->conduct,      s->removed,   s->sources,   s->estimate,
                     s->queue, s->alts.choices, s->alts.conduct, s->alts.cond};
    for (size_t i = 0; i < sizeof owned / sizeof *owned; i++)
        mem_free(owned[i]);
    grid_free(&s->whole);
    grid_free(&s->split);
    arena_release(&s->arena);
    *s = (struct scalar){0};
}
