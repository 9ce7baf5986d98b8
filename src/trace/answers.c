#include "trace/answers.h"
#include "base/mem.h"
#include "trace/touching.h"
#include <string.h>

static uint64_t **planes_make(struct trace *t, uint32_t n)
{
    uint64_t **rows = mem_zero((size_t)n + 1, sizeof *rows);
    for (uint32_t i = 0; i < n; i++)
        rows[i] = mem_zero((size_t)t->network->n_nodes * t->planes->words + 1, sizeof **rows);
    return rows;
}

void answers_init(struct trace *t)
{
    const struct network *n = t->network;
    struct trace_planes *a = t->planes = mem_zero(1, sizeof *a);
    a->words = (t->n_sets * t->n_states + 63) / 64;
    size_t words = (size_t)n->n_nodes * a->words + 1;
    a->fed = mem_zero(words, sizeof *a->fed);
    a->exhausted = mem_zero(words, sizeof *a->exhausted);
    a->unsure = mem_zero(words, sizeof *a->unsure);
    a->reach_sure = planes_make(t, n->model->n_feeds);
    a->reach_may = planes_make(t, n->model->n_feeds);
    a->past_sure = planes_make(t, n->n_limits);
    a->past_may = planes_make(t, n->n_limits);
    a->past_weak = mem_zero((size_t)n->n_limits + 1, sizeof *a->past_weak);
    for (uint32_t i = 0; i < n->n_limits; i++) {
        if (n->limits[i].exhaust.i != NONE)
            a->past_weak[i] = mem_zero(words, sizeof **a->past_weak);
    }
    a->wave_first = arena_rows(&t->arena, t->n_states, sizeof *a->wave_first);
    a->wave_size = arena_rows(&t->arena, t->n_states, sizeof *a->wave_size);
    a->wave_row = arena_rows(&t->arena, t->n_states, sizeof *a->wave_row);
    a->scenes = mem_zero((size_t)t->n_sets * t->n_states + 1, sizeof *a->scenes);
    gear_names_find(n->model, &t->arena, &a->gears);
}

static void planes_free(uint64_t **rows, uint32_t n)
{
    for (uint32_t i = 0; i < n; i++)
        mem_free(rows[i]);
    mem_free(rows);
}

void answers_release(struct trace *t)
{
    struct trace_planes *a = t->planes;
    if (!a)
        return;
    mem_free(a->fed);
    mem_free(a->exhausted);
    mem_free(a->unsure);
    planes_free(a->reach_sure, t->network->model->n_feeds);
    planes_free(a->reach_may, t->network->model->n_feeds);
    planes_free(a->past_sure, t->network->n_limits);
    planes_free(a->past_may, t->network->n_limits);
    planes_free(a->past_weak, t->network->n_limits);
    mem_free(a->scenes);
    mem_free(a);
    t->planes = NULL;
}

static bool group_due(const struct group *g)
{
    return g->of->phase == SETTLE_DONE && !g->of->answered && g->of->out->settled;
}

/* Lanes that go to cases as whole pieces of words: without doubt, neighbours in the pack are mostly neighbours in the
 * trace. */
struct piece {
    uint32_t from_word, to_word, from_bit, to_bit;
    uint64_t mask; /* at the source */
};
struct pieces {
    struct piece rows[LANES_MAX];
    uint32_t n;
};

static void pieces_find(const struct pack *p, struct pieces *out)
{
    out->n = 0;
    for (uint32_t k = 0; k < p->n_groups; k++) {
        const struct group *g = &p->groups[k];
        if (!group_due(g))
            continue;
        uint32_t from = g->lane, to = g->of->bit;
        struct piece *last = out->n ? &out->rows[out->n - 1] : NULL;
        if (last && last->from_word == from / 64 && last->to_word == to / 64 &&
            (int)(to % 64) - (int)(from % 64) == (int)last->to_bit - (int)last->from_bit)
            last->mask |= UINT64_C(1) << (from % 64);
        else
            out->rows[out->n++] = (struct piece){from / 64, to / 64, from % 64, to % 64, UINT64_C(1) << (from % 64)};
    }
}

static void pieces_put(const struct pieces *pieces, const uint64_t *from, uint64_t *to)
{
    for (uint32_t i = 0; i < pieces->n; i++) {
        const struct piece *q = &pieces->rows[i];
        uint64_t bits = from[q->from_word] & q->mask;
        to[q->to_word] |=
            q->to_bit >= q->from_bit ? bits << (q->to_bit - q->from_bit) : bits >> (q->from_bit - q->to_bit);
    }
}

/* Brings a plane of lanes home: sure where all lanes of a case have it in `sure`, may where any has it in `may`. */
static void plane_put(struct trace *t, const struct pack *p, const struct pieces *pieces, const uint64_t *sure,
                      const uint64_t *may, size_t stride, uint64_t *to_sure, uint64_t *to_may)
{
    for (uint32_t i = 0; i < p->network->n_nodes; i++) {
        const uint64_t *s = sure + i * stride, *m = may + i * stride;
        size_t home = (size_t)i * t->planes->words;
        uint64_t some = 0;
        for (unsigned k = 0; k < p->width; k++)
            some |= s[k] | m[k];
        if (!some) /* nothing to bring home */
            continue;
        if (!p->doubt) {
            pieces_put(pieces, s, to_sure + home);
            if (to_may != to_sure)
                pieces_put(pieces, m, to_may + home);
            continue;
        }
        for (uint32_t k = 0; k < p->n_groups; k++) {
            const struct group *g = &p->groups[k];
            if (!group_due(g))
                continue;
            bool all = lanes_all(s, g->lane, g->n_lanes), any = lanes_some(m, g->lane, g->n_lanes);
            if (all)
                bit_set(to_sure + home, g->of->bit, true);
            if (any)
                bit_set(to_may + home, g->of->bit, true);
        }
    }
}

static void conditions_put(struct trace *t, const struct pack *p, const struct pieces *pieces)
{
    const unsigned w = p->width;
    struct trace_planes *a = t->planes;
    if (!p->doubt) {
        plane_put(t, p, pieces, p->cond, p->cond, 3 * w, a->fed, a->fed);
        plane_put(t, p, pieces, p->cond + w, p->cond + w, 3 * w, a->exhausted, a->exhausted);
        return;
    }
    for (uint32_t i = 0; i < p->network->n_nodes; i++) {
        for (uint32_t k = 0; k < p->n_groups; k++) {
            const struct group *g = &p->groups[k];
            if (!group_due(g))
                continue;
            enum condition c = group_condition(p, p->cond, i, g);
            size_t home = (size_t)i * a->words;
            bit_set(a->fed + home, g->of->bit, c == FED || c == PARTIAL);
            bit_set(a->exhausted + home, g->of->bit, c == EXHAUSTED || c == PARTIAL);
            bit_set(a->unsure + home, g->of->bit, c == UNSURE);
        }
    }
}

/* In packs with fallback groups the sure and may masks serve as two runs; lanes of the other groups go by their own
 * positions in both. */
static void masks_split(struct pack *p)
{
    uint64_t fallback[WIDTH_MAX] = {0};
    for (uint32_t k = 0; k < p->n_groups; k++) {
        for (uint32_t l = p->groups[k].lane; p->groups[k].fallback && l < p->groups[k].lane + p->groups[k].n_lanes; l++)
            bit_set(fallback, l, true);
    }
    for (uint32_t i = 0; i < p->n_rows * p->width; i++) {
        uint64_t f = fallback[i % p->width];
        p->masks[MASKS_SURE][i] = (p->masks[MASKS_SURE][i] & f) | (p->masks[MASKS_NOW][i] & ~f);
        p->masks[MASKS_MAY][i] = (p->masks[MASKS_MAY][i] & f) | (p->masks[MASKS_NOW][i] & ~f);
    }
}

/* One run over the lanes: by the lanes' own positions, or the sure or the may side of the fallback. */
struct run {
    struct pack *p;
    enum mask_set masks;
    uint64_t *allowed; /* plane in use */
    uint64_t *taken;   /* what earlier feeds reach */
};

/* Where oil may be at all in this run: live, and for the sure side not unsure, for the may side unsure too. */
static void run_allow(const struct run *r)
{
    const struct pack *p = r->p;
    const unsigned w = p->width;
    for (uint32_t i = 0; i < p->network->n_nodes; i++) {
        for (unsigned k = 0; k < w; k++) {
            uint64_t unsure = p->fallback ? p->unsure[(size_t)i * w + k] : 0, live = p->cond[(size_t)i * 3 * w + k];
            r->allowed[(size_t)i * w + k] = r->masks == MASKS_SURE ? live & ~unsure : live | unsure;
        }
    }
}

/* Marks in p->reach the start of a feed (with what is joined to it, where joints stand apart), in lanes where the feed
 * is on. */
static void start_mark(struct run *r, uint32_t feed)
{
    struct pack *p = r->p;
    const struct network *n = p->network;
    const unsigned w = p->width;
    uint32_t node = n->node_of[n->model->feeds[feed].passage.i];
    memset(p->reach, 0, (size_t)n->n_nodes * w * sizeof(uint64_t));
    for (uint32_t k = 0; k < p->n_groups; k++) {
        const struct group *g = &p->groups[k];
        bool on = !n->model->feeds[feed].is_source || g->of->scene.settings[feed] > 0;
        for (uint32_t l = g->lane; on && l < g->lane + g->n_lanes; l++)
            bit_set(plane(p->reach, w, node), l, true);
    }
    if (n->apart) {
        memset(p->everywhere, 0xff, (size_t)n->n_nodes * w * sizeof(uint64_t));
        follow_push(p, node);
        follow(p, p->reach, p->everywhere, w, r->masks, EITHER_WAY, STRENGTH_JOINED);
    }
}

/* Shuts the start of a feed to others. */
static void start_close(struct run *r, uint32_t feed)
{
    struct pack *p = r->p;
    const unsigned w = p->width;
    if (!p->network->apart) {
        memset(plane(r->allowed, w, p->network->node_of[p->network->model->feeds[feed].passage.i]), 0,
               w * sizeof(uint64_t));
        return;
    }
    start_mark(r, feed);
    for (size_t i = 0; i < (size_t)p->network->n_nodes * w; i++)
        r->allowed[i] &= ~p->reach[i];
}

/* Follows what is marked in p->reach, as far as it is allowed to be there. */
static void reach_follow(struct run *r, enum strength least)
{
    struct pack *p = r->p;
    const unsigned w = p->width;
    for (uint32_t i = 0; i < p->network->n_nodes; i++) {
        uint64_t any = 0;
        for (unsigned k = 0; k < w; k++)
            any |= p->reach[(size_t)i * w + k] &= r->allowed[(size_t)i * w + k];
        if (any)
            follow_push(p, i);
    }
    follow(p, p->reach, r->allowed, w, r->masks, ALONG_FLOW, least);
}

/* Reach of one feed into p->reach. */
static void feed_reach(struct run *r, uint32_t feed)
{
    struct pack *p = r->p;
    const struct model *m = p->network->model;
    size_t words = (size_t)p->network->n_nodes * p->width;
    run_allow(r);
    for (size_t i = 0; !m->feeds[feed].is_source && i < words; i++)
        r->allowed[i] &= ~r->taken[i];
    for (uint32_t f = m->feeds[feed].is_source ? 0 : feed + 1; f < m->n_feeds; f++) {
        if (!m->feeds[f].is_source)
            start_close(r, f);
    }
    start_mark(r, feed);
    reach_follow(r, STRENGTH_LEAK);
    for (size_t i = 0; i < words; i++)
        r->taken[i] |= p->reach[i];
}

/* Marks all starts of sources that are on. */
static void sources_mark(struct run *r)
{
    struct pack *p = r->p;
    const struct model *m = p->network->model;
    memset(p->reach, 0, (size_t)p->network->n_nodes * p->width * sizeof(uint64_t));
    for (uint32_t f = 0; f < m->n_feeds; f++) {
        uint64_t *words = plane(p->reach, p->width, p->network->node_of[m->feeds[f].passage.i]);
        for (uint32_t k = 0; m->feeds[f].is_source && k < p->n_groups; k++) {
            const struct group *g = &p->groups[k];
            for (uint32_t l = g->lane; g->of->scene.settings[f] > 0 && l < g->lane + g->n_lanes; l++)
                bit_set(words, l, true);
        }
    }
}

/* What is reached past a limiting valve: with its window gone, except in lanes in which it stands wide. */
static void past_reach(struct run *r, uint32_t limit, enum strength least)
{
    struct pack *p = r->p;
    const struct network *n = p->network;
    uint32_t mover = n->n_spools + limit;
    uint64_t *mask = p->masks[r->masks] + (size_t)p->row_of[n->limits[limit].window.i] * p->width, kept[WIDTH_MAX];
    memcpy(kept, mask, p->width * sizeof *kept);
    for (uint32_t k = 0; k < p->n_groups; k++) {
        const struct group *g = &p->groups[k];
        for (uint32_t l = g->lane; l < g->lane + g->n_lanes; l++) {
            bool alone = bit(position_lanes(p, p->now, mover, MAY_WIDE), l); /* the lane's own position */
            uint8_t set = g->fallback ? g->of->now[mover] : alone ? MAY_WIDE : 0;
            bool wide = r->masks == MASKS_MAY ? set & MAY_WIDE : set == MAY_WIDE;
            bit_set(mask, l, wide && bit(mask, l));
        }
    }
    run_allow(r);
    sources_mark(r);
    reach_follow(r, least);
    memcpy(mask, kept, p->width * sizeof *kept);
}

/* Feeds and limiting valves; the sure run is kept in `first` while the may run is made. */
static void reach_take(struct trace *t, struct pack *p, const struct pieces *pieces)
{
    const struct network *n = p->network;
    struct trace_planes *a = t->planes;
    size_t words = (size_t)n->n_nodes * p->width;
    uint64_t *allowed = mem_alloc((words + 1) * sizeof *allowed), *taken[2],
             *first = mem_alloc((words + 1) * sizeof *first);
    taken[0] = mem_zero(words + 1, sizeof *taken[0]);
    taken[1] = mem_zero(words + 1, sizeof *taken[1]);
    struct run sure = {p, p->fallback ? MASKS_SURE : MASKS_NOW, allowed, taken[0]},
               may = {p, MASKS_MAY, allowed, taken[1]};
    if (!p->fallback)
        may.masks = MASKS_NOW;
    plane_make(p, &p->reach);
    plane_make(p, &p->everywhere);
    for (uint32_t f = 0; f < n->model->n_feeds; f++) {
        feed_reach(&sure, f);
        if (p->fallback) {
            memcpy(first, p->reach, words * sizeof *first);
            feed_reach(&may, f);
        }
        plane_put(t, p, pieces, p->fallback ? first : p->reach, p->reach, p->width, a->reach_sure[f], a->reach_may[f]);
    }
    for (uint32_t i = 0; i < n->n_limits; i++) {
        past_reach(&sure, i, STRENGTH_LEAK);
        if (p->fallback) {
            memcpy(first, p->reach, words * sizeof *first);
            past_reach(&may, i, STRENGTH_LEAK);
        }
        plane_put(t, p, pieces, p->fallback ? first : p->reach, p->reach, p->width, a->past_sure[i], a->past_may[i]);
        if (!a->past_weak[i])
            continue;
        past_reach(&may, i, STRENGTH_OPEN); /* what is left of it by strong routes alone */
        for (size_t k = 0; k < words; k++)
            p->reach[k] = ~p->reach[k];
        plane_put(t, p, pieces, p->reach, p->reach, p->width, a->past_weak[i], a->past_weak[i]);
    }
    mem_free(first);
    mem_free(taken[0]);
    mem_free(taken[1]);
    mem_free(allowed);
}

void reach_touch(struct pack *p)
{
    const struct network *n = p->network;
    size_t words = (size_t)n->n_nodes * p->width;
    struct run r = {p, MASKS_NOW, mem_alloc((words + 1) * sizeof(uint64_t)), mem_zero(words + 1, sizeof(uint64_t))};
    plane_make(p, &p->reach);
    plane_make(p, &p->everywhere);
    for (uint32_t f = 0; f < n->model->n_feeds; f++)
        feed_reach(&r, f);
    for (uint32_t i = 0; i < n->n_limits; i++) {
        past_reach(&r, i, STRENGTH_LEAK);
        past_reach(&r, i, STRENGTH_OPEN);
    }
    mem_free(r.allowed);
    mem_free(r.taken);
}

static enum condition lane_condition(const struct pack *p, const struct group *g, uint32_t lane, passage_ix at)
{
    if (at.i == NONE)
        return EXHAUSTED; /* a device without a release side */
    uint32_t node = p->network->node_of[at.i];
    const uint64_t *c = cond_of(p->cond, p->width, node);
    if (g->fallback && bit(plane(p->unsure, p->width, node), g->lane))
        return UNSURE;
    bool feed = bit(c, lane), exhaust = bit(c + p->width, lane);
    return feed && exhaust ? PARTIAL : feed ? FED : exhaust ? EXHAUSTED : TRAPPED;
}

/* Devices and gear in each lane of a group, then what all lanes agree on.
 * @param lane, possible room: [2 n_actuators], [n_gears + 2] */
static void devices_take(struct trace *t, struct pack *p, const struct group *g, const struct trace *healthy,
                         uint8_t *lane, uint8_t *possible)
{
    const struct model *m = p->network->model;
    struct trace_case *out = g->of->out;
    uint8_t *before = lane + m->n_actuators;
    memset(possible, 0, (size_t)m->n_gears + 2);
    bool compare = healthy && healthy->cases[g->of->healthy_c].settled;
    for (uint32_t l = g->lane; l < g->lane + g->n_lanes; l++) {
        for (uint32_t i = 0; i < m->n_actuators; i++) {
            const struct actuator *act = &m->actuators[i];
            enum condition apply = lane_condition(p, g, l, act->apply);
            lane[i] = (uint8_t)device_applied(apply, lane_condition(p, g, l, act->release));
            if (compare && apply == TRAPPED && trace_condition(healthy, g->of->healthy_c, act->apply) == EXHAUSTED) {
                lane[i] = APPLY_UNSURE;
                out->locked[i] = 1;
            }
            out->applied[i] = l == g->lane || out->applied[i] == lane[i] ? lane[i] : APPLY_UNSURE;
        }
        if (l == g->lane || memcmp(lane, before, m->n_actuators) != 0)
            gear_find(&t->planes->gears, lane, possible);
        memcpy(before, lane, m->n_actuators);
    }
    out->gear = gear_answer_make(m, possible, &t->arena);
}

static void locked_spools_take(struct pack *p, const struct group *g, const struct trace *healthy)
{
    const struct network *n = p->network;
    for (uint32_t i = 0; healthy && healthy->cases[g->of->healthy_c].settled && i < n->n_spools; i++) {
        const struct valve *v = &n->model->valves[n->spools[i].valve.i];
        for (uint32_t k = 0; k < v->n_ends; k++) {
            passage_ix at = v->ports[v->ends[k].port].passage;
            if (group_condition(p, p->cond, n->node_of[at.i], g) == TRAPPED &&
                trace_condition(healthy, g->of->healthy_c, at) == EXHAUSTED)
                g->of->out->locked[n->model->n_actuators + i] = 1;
        }
    }
}

/* Estimates at relief valves, where any setting passes the pressure at which one opens. */
static void reliefs_take(struct pack *p)
{
    const struct network *n = p->network;
    const struct model *m = n->model;
    for (uint32_t v = 0; v < m->n_valves; v++) {
        bool needed = false;
        for (uint32_t k = 0; k < p->n_groups && m->valves[v].kind == VALVE_RELIEF; k++) {
            for (uint32_t f = 0; f < m->n_feeds; f++)
                needed |= p->groups[k].of->scene.settings[f] > m->valves[v].cracks_at;
        }
        if (!needed)
            continue;
        uint32_t node = n->node_of[m->valves[v].ports[0].passage.i];
        double *estimate = mem_alloc((size_t)64 * p->width * sizeof *estimate);
        uint64_t *capped = mem_zero((size_t)n->n_limits * p->width + 1, sizeof *capped);
        size_t stride;
        const uint64_t *live = live_find(p, &stride);
        capped_find(p, capped);
        estimate_find(p, live, stride, MASKS_SURE, capped, &node, 1, estimate);
        for (uint32_t k = 0; k < p->n_groups; k++) {
            if (group_due(&p->groups[k]))
                p->groups[k].of->out->relief_estimate[v] = estimate[p->groups[k].lane];
        }
        mem_free(capped);
        mem_free(estimate);
    }
}

void answers_take(struct trace *t, struct pack *p, const struct trace *healthy)
{
    struct pieces pieces;
    bool due = false;
    pieces_find(p, &pieces);
    for (uint32_t k = 0; k < p->n_groups; k++)
        due |= group_due(&p->groups[k]);
    if (due) {
        reliefs_take(p);
        if (p->fallback)
            masks_split(p);
        conditions_put(t, p, &pieces);
        reach_take(t, p, &pieces);
    }
    uint8_t *lane = mem_alloc((size_t)2 * p->network->model->n_actuators + 1),
            *possible = mem_alloc((size_t)p->network->model->n_gears + 2);
    for (uint32_t k = 0; k < p->n_groups; k++) {
        const struct group *g = &p->groups[k];
        if (group_due(g)) {
            memcpy(g->of->out->positions, g->of->now, network_movers(p->network));
            devices_take(t, p, g, healthy, lane, possible);
            locked_spools_take(p, g, healthy);
        }
        g->of->answered |= g->of->phase == SETTLE_DONE;
    }
    mem_free(lane);
    mem_free(possible);
}
