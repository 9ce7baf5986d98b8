/* Rounds: shuttles, conditions, limiting valves, spools, all from one set of positions, until nothing moves; and what
 * is done when positions come back (races and hunting). */
#include "trace/settle.h"
#include "base/mem.h"
#include <math.h>
#include <string.h>

enum { HISTORY_FIRST = 4 }; /* most cases settle in fewer rounds */

void settling_make(struct settling *s, const struct scene *scene, const struct trace_case *before,
                   struct trace_case *out, struct arena *a)
{
    const struct network *n = scene->network;
    uint32_t movers = network_movers(n);
    *s = (struct settling){.scene = *scene, .out = out, .lanes = 1};
    s->now = arena_rows(a, 3, (size_t)movers + 1);
    s->next = s->now + movers;
    s->pinned = s->next + movers;
    for (uint32_t i = 0; i < movers; i++) {
        uint8_t start = i < n->n_spools ? MAY_REST : i < n->n_spools + n->n_limits ? MAY_LIMIT : SEAT_OPEN;
        if (before && i < n->n_spools)
            start = before->positions[i];
        s->now[i] = scene->fixed[i] ? scene->fixed[i] : start;
        s->careful |= set_size(s->now[i]) > 1; /* the state before left it undetermined */
    }
    s->arena = a;
    s->history = arena_rows(a, HISTORY_FIRST, (size_t)movers + 1);
    s->cap_history = HISTORY_FIRST;
    memcpy(s->history, s->now, movers);
    s->n_history = 1;
    if (before && !before->settled) {
        s->phase = SETTLE_DONE;
        s->answered = true;
    }
}

const uint8_t *settle_sets(const struct group *g)
{
    return g->of->next;
}

/* Conditions for the sets in settling.next; `inward`: holes under shuttles pass inwards only. */
static void pack_evaluate(struct pack *p, bool inward)
{
    for (uint32_t k = 0; k < p->n_groups; k++)
        group_move(p, &p->groups[k], p->groups[k].of->next);
    pack_move(p, inward);
    conditions_find(p, p->cond, NULL, NULL, NONE);
    if (p->fallback)
        unsure_find(p, settle_sets, NONE);
}

static bool dead(enum condition c)
{
    return c == EXHAUSTED || c == TRAPPED;
}

/* Sets of both seats from the conditions of their inlets; `high` tells which estimate is clearly higher (-1: b, +1: a,
 * 0: neither). */
static void shuttle_judge(enum condition a, enum condition b, int high, uint8_t *seat_a, uint8_t *seat_b)
{
    *seat_a = *seat_b = SEAT_OPEN;
    if (dead(a) && dead(b))
        return;
    if (a == FED && b == FED) {
        *seat_a = high < 0 ? SEAT_SHUT : SEAT_OPEN;
        *seat_b = high > 0 ? SEAT_SHUT : SEAT_OPEN;
    } else if (dead(a) && b == FED) {
        *seat_a = SEAT_SHUT;
    } else if (dead(b) && a == FED) {
        *seat_b = SEAT_SHUT;
    } else if (dead(a) || (a == PARTIAL && b == FED)) {
        *seat_a = SEAT_OPEN | SEAT_SHUT;
    } else if (dead(b) || (b == PARTIAL && a == FED)) {
        *seat_b = SEAT_OPEN | SEAT_SHUT;
    } else {
        *seat_a = *seat_b = SEAT_OPEN | SEAT_SHUT;
    }
}

/* Estimates at the inlets of all seats; NULL when no shuttle has both inlets fed from settings or limits that could
 * differ. */
static double *inlets_estimate(struct pack *p)
{
    const struct network *n = p->network;
    bool needed = false;
    for (uint32_t s = 0; s < n->n_seats && !needed; s += 2) {
        for (uint32_t k = 0; k < p->n_groups && !needed; k++) {
            const struct group *g = &p->groups[k];
            needed = settle_asked(g) && group_condition(p, p->cond, n->node_of[n->seats[s].inlet.i], g) == FED &&
                     group_condition(p, p->cond, n->node_of[n->seats[s + 1].inlet.i], g) == FED;
        }
    }
    if (!needed)
        return NULL;
    uint32_t *nodes = mem_alloc((size_t)n->n_seats * sizeof *nodes);
    for (uint32_t s = 0; s < n->n_seats; s++)
        nodes[s] = n->node_of[n->seats[s].inlet.i];
    double *out = mem_alloc((size_t)n->n_seats * 64 * p->width * sizeof *out);
    uint64_t *capped = mem_zero((size_t)n->n_limits * p->width + 1, sizeof *capped);
    size_t stride;
    const uint64_t *live = live_find(p, &stride);
    capped_find(p, capped);
    estimate_find(p, live, stride, MASKS_SURE, capped, nodes, n->n_seats, out);
    if (p->doubt) {
        double *through = mem_alloc((size_t)n->n_seats * 64 * p->width * sizeof *through);
        estimate_find(p, live, stride, MASKS_MAY, capped, nodes, n->n_seats, through);
        for (size_t i = 0; i < (size_t)n->n_seats * 64 * p->width; i++)
            out[i] = out[i] > 0 ? out[i] : through[i];
        mem_free(through);
    }
    mem_free(capped);
    mem_free(nodes);
    return out;
}

/* A seat that is pinned keeps its set, but beside a shut one it is open. */
static void seats_pin(const struct settling *s, uint32_t first, uint8_t *a, uint8_t *b)
{
    if (s->pinned[first])
        *a = s->pinned[first];
    if (s->pinned[first + 1])
        *b = s->pinned[first + 1];
    if (s->pinned[first] && *b == SEAT_SHUT)
        *a = SEAT_OPEN;
    if (s->pinned[first + 1] && *a == SEAT_SHUT)
        *b = SEAT_OPEN;
}

/* Step 1: with every seat of every shuttle open, where would the balls go? */
static void shuttles_judge(struct pack *p)
{
    const struct network *n = p->network;
    uint32_t seats = n->n_spools + n->n_limits;
    double *estimate = inlets_estimate(p);
    for (uint32_t s = 0; s < n->n_seats; s += 2) {
        for (uint32_t k = 0; k < p->n_groups; k++) {
            const struct group *g = &p->groups[k];
            struct settling *of = g->of;
            if (!settle_asked(g)) {
                of->next[seats + s] = of->now[seats + s];
                of->next[seats + s + 1] = of->now[seats + s + 1];
                continue;
            }
            if (of->scene.fixed[seats + s])
                continue;
            enum condition a = group_condition(p, p->cond, n->node_of[n->seats[s].inlet.i], g);
            enum condition b = group_condition(p, p->cond, n->node_of[n->seats[s + 1].inlet.i], g);
            int high = 0;
            if (a == FED && b == FED) {
                double pa = estimate[(size_t)s * 64 * p->width + g->lane],
                       pb = estimate[(size_t)(s + 1) * 64 * p->width + g->lane];
                if (fabs(pa - pb) > 0.1 * fmax(pa, pb))
                    high = pa > pb ? 1 : -1;
            }
            shuttle_judge(a, b, high, &of->next[seats + s], &of->next[seats + s + 1]);
            seats_pin(of, seats + s, &of->next[seats + s], &of->next[seats + s + 1]);
        }
    }
    mem_free(estimate);
}

/* Sees whether each group has the lanes that the sets in `next` need; a case that has not waits for a larger place. */
static void lanes_see(struct pack *p)
{
    p->fallback = false;
    for (uint32_t k = 0; k < p->n_groups; k++) {
        struct group *g = &p->groups[k];
        uint32_t combinations, doubtful = sets_doubtful(p->network, g->of->next, &combinations), lanes = 1;
        bool fallback = doubtful > DOUBTFUL_MAX || combinations > LANES_MAX;
        while (lanes < combinations && !fallback)
            lanes *= 2;
        if (fallback && lanes < 2)
            lanes = 2; /* a place that is ready for doubt */
        if (lanes > g->n_lanes) {
            g->of->waiting = true;
            g->of->lanes = lanes;
            memcpy(g->of->next, g->of->now, network_movers(p->network));
        }
        g->fallback = fallback && !g->of->waiting;
        p->fallback |= g->fallback;
    }
}

static bool sets_equal(const struct network *n, const uint8_t *a, const uint8_t *b)
{
    return memcmp(a, b, network_movers(n)) == 0;
}

void settling_remember(struct settling *s)
{
    const struct network *n = s->scene.network;
    uint32_t movers = network_movers(n);
    if (s->n_history == s->cap_history) {
        uint8_t *longer = arena_rows(s->arena, (size_t)2 * s->cap_history, (size_t)movers + 1);
        memcpy(longer, s->history, (size_t)s->n_history * movers);
        s->history = longer;
        s->cap_history *= 2;
    }
    memcpy(s->history + (size_t)s->n_history++ * movers, s->now, movers);
}

static void settle_done(struct settling *s, bool settled)
{
    s->phase = SETTLE_DONE;
    s->out->settled = settled;
}

/* Pins what differs within the cycle and goes on from the cycle's first set. `how`: 1 race, 2 hunting. */
static void cycle_pin(const struct network *n, struct settling *s, uint8_t how)
{
    uint32_t movers = network_movers(n);
    const uint8_t *first = s->history + (size_t)s->cycle_first * movers;
    for (uint32_t i = 0; i < movers; i++) {
        uint8_t all = 0;
        bool differs = false;
        for (uint32_t h = s->cycle_first; h < s->n_history; h++) {
            all |= s->history[(size_t)h * movers + i];
            differs |= s->history[(size_t)h * movers + i] != first[i];
        }
        s->now[i] = first[i];
        if (differs) {
            s->now[i] = s->pinned[i] = all;
            s->out->restless[i] = how;
        }
    }
    s->phase = SETTLE_ROUNDS;
    s->n_history = 0;
    settling_remember(s);
}

/* Takes the round's result. Ordinary rounds look for a set seen before; one-at-a-time rounds try to leave the cycle. */
static void round_take(const struct network *n, struct settling *s)
{
    uint32_t movers = network_movers(n), n_valves = n->model->n_valves;
    bool still = sets_equal(n, s->now, s->next);
    if (s->phase == SETTLE_ONE_AT_A_TIME) {
        if (still || ++s->n_tries >= 4 * n_valves) {
            cycle_pin(n, s, still ? 1 : 2);
            return;
        }
        uint32_t moved = n->n_spools;
        for (uint32_t i = 0; i < n->n_spools; i++) {
            if (s->next[i] == s->now[i])
                continue;
            moved = moved == n->n_spools ? i : moved;
            if (i != moved)
                s->next[i] = s->now[i];
        }
        memcpy(s->now, s->next, movers);
        return;
    }
    s->n_rounds++;
    if (still) {
        settle_done(s, true);
        return;
    }
    memcpy(s->now, s->next, movers);
    for (uint32_t h = s->n_history; h-- > 0;) {
        if (!sets_equal(n, s->history + (size_t)h * movers, s->now))
            continue;
        s->cycle_first = h;
        s->n_tries = 0;
        s->phase = SETTLE_ONE_AT_A_TIME;
        break;
    }
    if (s->phase == SETTLE_ROUNDS)
        settling_remember(s);
    if (s->n_rounds >= 8 * (n_valves + n->n_seats) + 8)
        settle_done(s, false);
}

uint32_t settle_round(struct pack *p, const struct trace *healthy)
{
    const struct network *n = p->network;
    uint32_t movers = network_movers(n), seats = n->n_spools + n->n_limits, left = 0;
    for (uint32_t k = 0; k < p->n_groups; k++) {
        struct settling *s = p->groups[k].of;
        memcpy(s->next, s->now, movers);
        for (uint32_t i = 0; settle_asked(&p->groups[k]) && i < n->n_seats; i++)
            s->next[seats + i] = SEAT_OPEN;
    }
    if (n->n_seats) {
        lanes_see(p);
        pack_evaluate(p, true);
        shuttles_judge(p);
    }
    lanes_see(p);
    pack_evaluate(p, false);
    limits_judge(p);
    spools_judge(p, healthy);
    for (uint32_t k = 0; k < p->n_groups; k++) {
        if (!settle_asked(&p->groups[k]))
            continue;
        round_take(n, p->groups[k].of);
        left += p->groups[k].of->phase != SETTLE_DONE;
    }
    return left;
}
