/* Step 3 of a round: limiting valves. Each is judged with its window open, lane by lane: is its reaction end fed, and
 * if so only through its own outlet? */
#include "base/mem.h"
#include "trace/settle.h"
#include <string.h>

/* What is known of one valve while it is judged. */
struct judging {
    struct pack *p;
    uint32_t limit; /* row in network.limits */
    uint32_t mover;
    const struct valve *valve;
    uint32_t outlet, reaction;  /* nodes */
    uint64_t *window;           /* NOW mask of its window */
    uint64_t asked[WIDTH_MAX];  /* lanes to judge */
    uint64_t opened[WIDTH_MAX]; /* lanes whose window had to be opened for it */
    uint64_t fed[WIDTH_MAX];    /* lanes whose reaction is fed */
    uint64_t own[WIDTH_MAX];    /* lanes that may have a feed of its own there */
    uint8_t answer[LANES_MAX];  /* sets of positions */
};

static bool group_asked(const struct judging *j, const struct group *g)
{
    const struct settling *s = g->of;
    return settle_asked(g) && !s->scene.fixed[j->mover] && !s->pinned[j->mover];
}

/* Lanes to judge: not those in which a valve that may be shut is shut, for another lane of the group has it open. */
static void lanes_ask(struct judging *j)
{
    const struct pack *p = j->p;
    for (uint32_t k = 0; k < p->n_groups; k++) {
        const struct group *g = &p->groups[k];
        for (uint32_t l = g->lane; group_asked(j, g) && l < g->lane + g->n_lanes; l++) {
            bool shut = bit(position_lanes(p, p->now, j->mover, MAY_SHUT), l);
            if (!shut || g->of->now[j->mover] == MAY_SHUT)
                bit_set(j->asked, l, true);
            if (shut && g->of->now[j->mover] == MAY_SHUT)
                bit_set(j->opened, l, true);
        }
    }
}

static bool lanes_any(const uint64_t *lanes, unsigned w)
{
    for (unsigned k = 0; k < w; k++) {
        if (lanes[k])
            return true;
    }
    return false;
}

/* Conditions with the valve's window open in the lanes that need it; p->cond when none does. */
static uint64_t *open_conditions(struct judging *j)
{
    struct pack *p = j->p;
    const unsigned w = p->width;
    if (!lanes_any(j->opened, w))
        return p->cond;
    uint64_t kept[WIDTH_MAX];
    memcpy(kept, j->window, w * sizeof *kept);
    for (uint32_t k = 0; k < p->n_groups; k++) {
        const struct group *g = &p->groups[k];
        for (uint32_t l = g->lane; l < g->lane + g->n_lanes; l++) {
            if (bit(j->opened, l) && !element_is_removed(&g->of->scene, p->network->limits[j->limit].window))
                bit_set(j->window, l, true);
        }
    }
    if (!p->alt)
        p->alt = mem_alloc((size_t)p->network->n_nodes * 3 * w * sizeof(uint64_t));
    conditions_find(p, p->alt, NULL, NULL, NONE);
    memcpy(j->window, kept, w * sizeof *kept);
    return p->alt;
}

/* What is joined without loss to the nodes marked in `at`, where joints stand apart. */
static void joined_add(struct pack *p, uint64_t *at)
{
    const unsigned w = p->width;
    size_t words = (size_t)p->network->n_nodes * w;
    if (!p->network->apart)
        return;
    memset(p->everywhere, 0xff, words * sizeof(uint64_t));
    for (size_t i = 0; i < words; i++) {
        if (at[i])
            follow_push(p, (uint32_t)(i / w));
    }
    follow(p, at, p->everywhere, w, MASKS_NOW, EITHER_WAY, STRENGTH_JOINED);
}

/* Marks in p->gone the outlet's circuit but the reaction: what is taken out to look for a feed of the reaction's own.
 */
static void circuit_mark(struct judging *j)
{
    struct pack *p = j->p;
    const struct network *n = p->network;
    const unsigned w = p->width;
    size_t words = (size_t)n->n_nodes * w;
    circuit_ix c = n->model->passages[j->valve->ports[j->valve->outlet].passage.i].circuit;
    plane_make(p, &p->gone);
    plane_make(p, &p->reach);
    plane_make(p, &p->everywhere);
    memset(p->gone, 0, words * sizeof(uint64_t));
    for (uint32_t i = 0; c.i != NONE && i < n->model->circuits[c.i].n_passages; i++)
        memset(plane(p->gone, w, n->node_of[n->model->circuits[c.i].passages[i].i]), 0xff, w * sizeof(uint64_t));
    joined_add(p, p->gone);
    if (!n->apart) {
        memset(plane(p->gone, w, j->reaction), 0, w * sizeof(uint64_t));
        return;
    }
    memset(p->reach, 0, words * sizeof(uint64_t));
    memset(plane(p->reach, w, j->reaction), 0xff, w * sizeof(uint64_t));
    joined_add(p, p->reach);
    for (size_t i = 0; i < words; i++)
        p->gone[i] &= ~p->reach[i];
}

/* Leaves in j->own the fed lanes in which any source can at all reach the reaction without the outlet's circuit: a
 * cheap bound that is empty in a healthy unit. */
static void own_bound(struct judging *j)
{
    struct pack *p = j->p;
    const struct network *n = p->network;
    const unsigned w = p->width;
    memset(p->reach, 0, (size_t)n->n_nodes * w * sizeof(uint64_t));
    for (size_t i = 0; i < (size_t)n->n_nodes * w; i++)
        p->everywhere[i] = ~p->gone[i];
    memset(plane(p->everywhere, w, 0), 0, w * sizeof(uint64_t)); /* no feed comes out of sump */
    memcpy(plane(p->reach, w, j->reaction), j->fed, w * sizeof(uint64_t));
    follow_push(p, j->reaction);
    follow(p, p->reach, p->everywhere, w, MASKS_MAY, AGAINST_FLOW, STRENGTH_LEAK);
    for (uint32_t f = 0; f < n->model->n_feeds; f++) {
        if (!n->model->feeds[f].is_source)
            continue;
        const uint64_t *words = plane(p->reach, w, n->node_of[n->model->feeds[f].passage.i]);
        for (uint32_t k = 0; k < p->n_groups; k++) {
            const struct group *g = &p->groups[k];
            for (uint32_t l = g->lane; g->of->scene.settings[f] > 0 && l < g->lane + g->n_lanes; l++) {
                if (bit(words, l))
                    bit_set(j->own, l, true);
            }
        }
    }
}

/* Marks in p->reach what is one with a node in the lanes of `lanes`. */
static void joined_mark(struct pack *p, uint32_t node, const uint64_t *lanes)
{
    memset(p->reach, 0, (size_t)p->network->n_nodes * p->width * sizeof(uint64_t));
    memcpy(plane(p->reach, p->width, node), lanes, p->width * sizeof(uint64_t));
    joined_add(p, p->reach);
}

/* The level of the strongest route from outlet to reaction by lane, -1 where there is none; along the flow, through
 * live passages, not through roots nor the valve's window. */
static void route_levels(struct judging *j, const uint64_t *cond, int8_t *level)
{
    struct pack *p = j->p;
    const struct network *n = p->network;
    const unsigned w = p->width;
    const size_t words = (size_t)n->n_nodes * w;
    uint64_t start[WIDTH_MAX], end[WIDTH_MAX], *from = mem_alloc(words * sizeof *from);
    memset(level, -1, LANES_MAX);
    roots_find(p);
    plane_make(p, &p->live);
    for (uint32_t i = 0; i < n->n_nodes; i++) {
        for (unsigned k = 0; k < w; k++)
            plane(p->live, w, i)[k] =
                (cond_of((uint64_t *)cond, w, i)[k] | (p->fallback ? plane(p->unsure, w, i)[k] : 0)) &
                ~plane(p->root, w, i)[k];
    }
    for (unsigned k = 0; k < w; k++) { /* outlet and reaction themselves, and what is one with them, may be roots */
        start[k] = cond_of((uint64_t *)cond, w, j->outlet)[k] | (p->fallback ? plane(p->unsure, w, j->outlet)[k] : 0);
        end[k] = cond_of((uint64_t *)cond, w, j->reaction)[k] | (p->fallback ? plane(p->unsure, w, j->reaction)[k] : 0);
        start[k] &= j->own[k];
    }
    joined_mark(p, j->reaction, end);
    for (size_t i = 0; i < words; i++)
        p->live[i] |= p->reach[i];
    joined_mark(p, j->outlet, start);
    memcpy(from, p->reach, words * sizeof *from);
    for (int least = STRENGTH_JOINED; least >= STRENGTH_LEAK; least--) {
        memcpy(p->reach, from, words * sizeof *from);
        for (size_t i = 0; i < words; i++) {
            if (from[i])
                follow_push(p, (uint32_t)(i / w));
        }
        follow(p, p->reach, p->live, w, MASKS_NOW, ALONG_FLOW, (enum strength)least);
        for (uint32_t l = 0; l < p->n_lanes; l++) {
            if (level[l] < 0 && bit(plane(p->reach, w, j->reaction), l))
                level[l] = (int8_t)least;
        }
    }
    mem_free(from);
}

static uint8_t own_verdict(enum condition own, double estimate, double limit, int own_level, int route_level)
{
    if (own == TRAPPED || own == EXHAUSTED || estimate <= limit || own_level < route_level ||
        route_level == STRENGTH_JOINED)
        return MAY_LIMIT;
    if (own_level == route_level || own == PARTIAL || own == UNSURE)
        return MAY_LIMIT | MAY_SHUT;
    return MAY_SHUT;
}

static enum condition lane_condition(const struct pack *p, const uint64_t *cond, uint32_t node, uint32_t lane,
                                     bool fallback)
{
    const uint64_t *c = cond_of((uint64_t *)cond, p->width, node);
    if (fallback && bit(plane(p->unsure, p->width, node), lane))
        return UNSURE;
    bool feed = bit(c, lane), exhaust = bit(c + p->width, lane);
    return feed && exhaust ? PARTIAL : feed ? FED : exhaust ? EXHAUSTED : TRAPPED;
}

/* The network without the valve's window and the outlet's circuit: what is the reaction then? */
static void own_judge(struct judging *j, const uint64_t *cond)
{
    struct pack *p = j->p;
    const struct network *n = p->network;
    const unsigned w = p->width;
    int8_t route[LANES_MAX];
    uint64_t kept[WIDTH_MAX];
    memcpy(kept, j->window, w * sizeof *kept);
    memset(j->window, 0, w * sizeof *kept);
    route_levels(j, cond, route);
    if (!p->reduced)
        p->reduced = mem_alloc((size_t)n->n_nodes * 3 * w * sizeof(uint64_t));
    conditions_find(p, p->reduced, p->gone, j->own, j->reaction);
    uint64_t levels[STRENGTH_JOINED + 1][WIDTH_MAX];
    memcpy(levels, p->decided_at, sizeof levels);
    uint64_t *capped = mem_zero((size_t)n->n_limits * w + 1, sizeof *capped);
    for (uint32_t i = 0; i < n->n_limits; i++) {
        memcpy(capped + (size_t)i * w, position_lanes(p, p->now, n->n_spools + i, MAY_LIMIT), w * sizeof *capped);
    }
    double *estimate = mem_alloc((size_t)64 * w * sizeof *estimate);
    estimate_find(p, p->reduced, 3 * w, MASKS_NOW, capped, &j->reaction, 1, estimate);
    if (p->fallback) {
        unsure_find(p, settle_sets, j->mover);
    }
    for (uint32_t k = 0; k < p->n_groups; k++) {
        const struct group *g = &p->groups[k];
        for (uint32_t l = g->lane; l < g->lane + g->n_lanes; l++) {
            if (!bit(j->own, l))
                continue;
            enum condition own = lane_condition(p, p->reduced, j->reaction, l, g->fallback);
            int level = -1;
            for (int s = STRENGTH_JOINED; s >= STRENGTH_LEAK && level < 0; s--)
                level = bit(levels[s], l) ? s : -1;
            j->answer[l] = own_verdict(own, estimate[l], j->valve->limit, level, route[l]);
            if (route[l] != STRENGTH_JOINED && (own == FED || own == PARTIAL || own == UNSURE))
                g->of->out->second_feed[j->limit] = 1;
        }
    }
    mem_free(estimate);
    mem_free(capped);
    memcpy(j->window, kept, w * sizeof *kept);
    if (p->fallback)
        unsure_find(p, settle_sets, NONE);
}

static void limit_judge(struct judging *j)
{
    struct pack *p = j->p;
    lanes_ask(j);
    if (!lanes_any(j->asked, p->width))
        return;
    uint64_t *cond = open_conditions(j);
    for (uint32_t k = 0; k < p->n_groups; k++) {
        const struct group *g = &p->groups[k];
        if (group_asked(j, g))
            g->of->out->second_feed[j->limit] = 0;
        for (uint32_t l = g->lane; l < g->lane + g->n_lanes; l++) {
            if (!bit(j->asked, l))
                continue;
            enum condition r = lane_condition(p, cond, j->reaction, l, g->fallback);
            if (g->of->scene.broken[j->valve - p->network->model->valves])
                j->answer[l] = r == TRAPPED || r == EXHAUSTED ? MAY_WIDE : MAY_SHUT;
            else if (r == TRAPPED || r == EXHAUSTED)
                j->answer[l] = MAY_WIDE;
            else if (r == FED)
                bit_set(j->fed, l, true);
            else
                j->answer[l] = MAY_WIDE | MAY_LIMIT;
            if (bit(j->fed, l))
                j->answer[l] = MAY_LIMIT;
        }
    }
    if (!lanes_any(j->fed, p->width) || j->outlet == j->reaction)
        return;
    circuit_mark(j);
    uint64_t kept[WIDTH_MAX];
    memcpy(kept, j->window, p->width * sizeof *kept);
    memset(j->window, 0, p->width * sizeof *kept);
    own_bound(j);
    memcpy(j->window, kept, p->width * sizeof *kept);
    if (lanes_any(j->own, p->width))
        own_judge(j, cond);
}

static void judging_init(struct judging *j, struct pack *p, uint32_t limit)
{
    const struct network *n = p->network;
    const struct valve *v = &n->model->valves[n->limits[limit].valve.i];
    memset(j, 0, sizeof *j);
    j->p = p;
    j->limit = limit;
    j->mover = n->n_spools + limit;
    j->valve = v;
    j->outlet = n->node_of[v->ports[v->outlet].passage.i];
    j->reaction = n->node_of[v->ports[v->reaction].passage.i];
    j->window = p->masks[MASKS_NOW] + (size_t)p->row_of[n->limits[limit].window.i] * p->width;
}

void limit_judge_plain(struct pack *p, uint32_t limit, const uint64_t *asked, uint64_t *wide, uint64_t *limiting,
                       uint64_t *eject)
{
    const unsigned w = p->width;
    struct judging j;
    judging_init(&j, p, limit);
    const uint64_t *r = cond_of(p->cond, w, j.reaction);
    for (unsigned k = 0; k < w; k++) {
        wide[k] = asked[k] & ~r[k];
        j.fed[k] = asked[k] & r[k] & ~r[w + k];
        eject[k] |= asked[k] & r[k] & r[w + k];
    }
    if (lanes_any(j.fed, w) && j.outlet != j.reaction) {
        uint64_t kept[WIDTH_MAX];
        circuit_mark(&j);
        memcpy(kept, j.window, w * sizeof *kept);
        memset(j.window, 0, w * sizeof *kept);
        own_bound(&j);
        memcpy(j.window, kept, w * sizeof *kept);
    }
    for (unsigned k = 0; k < w; k++) {
        eject[k] |= j.own[k];
        limiting[k] = j.fed[k] & ~j.own[k];
    }
}

void limits_judge(struct pack *p)
{
    const struct network *n = p->network;
    for (uint32_t i = 0; i < n->n_limits; i++) {
        struct judging j;
        judging_init(&j, p, i);
        limit_judge(&j);
        for (uint32_t k = 0; k < p->n_groups; k++) {
            const struct group *g = &p->groups[k];
            if (!group_asked(&j, g))
                continue;
            uint8_t set = 0;
            for (uint32_t l = g->lane; l < g->lane + g->n_lanes; l++)
                set |= j.answer[l];
            g->of->next[j.mover] = set;
        }
    }
}
