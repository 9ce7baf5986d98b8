/* The kernel: conditions of all passages in all lanes at once, level by level from the strongest. Plain loops over
 * `width` words, which the compiler turns into wide instructions; the functions come twice, for one word and for four.
 */
#include "base/mem.h"
#include "trace/pack.h"
#include "trace/settle.h"
#include "trace/touching.h"
#include <string.h>

#define KERNEL static inline __attribute__((always_inline))

/* Two words as one value, which gcc and clang keep in a register of any machine. memcpy() because planes are aligned to
 * words only. */
typedef uint64_t pair __attribute__((vector_size(16)));

KERNEL pair pair_read(const uint64_t *at)
{
    pair v;
    memcpy(&v, at, sizeof v);
    return v;
}

KERNEL void queue_push(struct pack *p, uint32_t node)
{
    if (p->queued[node])
        return;
    p->queued[node] = 1;
    uint32_t at = p->queue_first + p->queue_n++;
    p->queue[at >= p->network->n_nodes ? at - p->network->n_nodes : at] = node;
}

KERNEL uint32_t queue_pop(struct pack *p)
{
    uint32_t node = p->queue[p->queue_first];
    p->queue_first = p->queue_first + 1 == p->network->n_nodes ? 0 : p->queue_first + 1;
    p->queue_n--;
    p->queued[node] = 0;
    return node;
}

KERNEL void touch(struct pack *p, uint32_t node)
{
    if (!p->is_touched[node]) {
        p->is_touched[node] = 1;
        p->touched[p->n_touched++] = node;
    }
}

/* Hands on what node x has to node y where y is not decided. `leaves`: oil may run x to y, so feed moves on; `enters`:
 * oil may run y to x, so exhaust does. */
KERNEL void hand_on(struct pack *p, uint64_t *cond, uint32_t x, uint32_t y, uint32_t row, bool leaves, bool enters,
                    const unsigned w)
{
    const uint64_t *mask = p->masks[MASKS_NOW] + (size_t)row * w, *from = cond_of(cond, w, x);
    uint64_t *to = cond_of(cond, w, y), any = 0, lf = leaves ? ~UINT64_C(0) : 0, le = enters ? ~UINT64_C(0) : 0;
    pair more = {0, 0};
    for (unsigned k = 0; k + 1 < w; k += 2) {
        pair have = pair_read(to + k), drained = pair_read(to + w + k),
             open = pair_read(mask + k) & ~pair_read(to + 2 * w + k);
        pair feed = pair_read(from + k) & open & lf & ~have, exhaust = pair_read(from + w + k) & open & le & ~drained;
        have |= feed;
        drained |= exhaust;
        more |= feed | exhaust;
        memcpy(to + k, &have, sizeof have);
        memcpy(to + w + k, &drained, sizeof drained);
    }
    any |= more[0] | more[1];
    for (unsigned k = w & ~1u; k < w; k++) {
        uint64_t open = mask[k] & ~to[2 * w + k];
        uint64_t feed = from[k] & open & lf & ~to[k], exhaust = from[w + k] & open & le & ~to[w + k];
        to[k] |= feed;
        to[w + k] |= exhaust;
        any |= feed | exhaust;
    }
    if (any) {
        touch(p, y);
        queue_push(p, y);
    }
}

/* Step (1) of a level: everything that the passages decided so far reach through elements at least that strong. */
KERNEL void level_spread(struct pack *p, uint64_t *cond, enum strength level, const unsigned w)
{
    const struct network *n = p->network;
    const struct edge *edges = n->by_strength[level];
    for (uint32_t i = 0; i < n->n_by_strength[level]; i++) {
        uint32_t row = p->row_of[edges[i].mask];
        hand_on(p, cond, edges[i].from, edges[i].to, row, true, !edges[i].one_way, w);
        hand_on(p, cond, edges[i].to, edges[i].from, row, !edges[i].one_way, true, w);
    }
    for (uint32_t k = 0; k < p->n_added; k++) {
        const struct element *e = &p->added[k].element;
        if (e->strength != level)
            continue;
        uint32_t a = n->node_of[e->from.i], b = n->node_of[e->to.i];
        hand_on(p, cond, a, b, p->added_row[k], true, !e->one_way, w);
        hand_on(p, cond, b, a, p->added_row[k], !e->one_way, true, w);
    }
    while (p->n_drawn_in)
        queue_push(p, p->drawn_in[--p->n_drawn_in]);
    while (p->queue_n) {
        uint32_t x = queue_pop(p);
        for (uint32_t i = n->first_arc[x]; i < n->first_arc[x + 1] && ARC_STRENGTH(n->arcs[i]) >= level; i++) {
            struct arc a = n->arcs[i];
            hand_on(p, cond, x, a.node, arc_row(p, a), ARC_LEAVES(a), ARC_ENTERS(a), w);
        }
        for (uint32_t k = p->added_head[x]; k != NONE; k = p->added_arcs[k].next) {
            struct arc a = p->added_arcs[k].arc;
            if (ARC_STRENGTH(a) >= level)
                hand_on(p, cond, x, a.node, added_mask(p, a), ARC_LEAVES(a), ARC_ENTERS(a), w);
        }
    }
}

/* Lanes in which y is in one of the fights asked for and may still get support. */
KERNEL bool support_wanted(const struct pack *p, const uint64_t *cond, uint32_t y, const uint64_t *fights,
                           uint64_t *wanted, const unsigned w)
{
    const uint64_t *cy = cond_of((uint64_t *)cond, w, y), *sy = p->support + (size_t)y * 3 * w;
    uint64_t any = 0;
    for (unsigned k = 0; k < w; k++) {
        wanted[k] = fights[k] & ~cy[2 * w + k] & ~sy[2 * w + k] & ~(sy[k] & sy[w + k]);
        any |= wanted[k];
    }
    return any != 0;
}

/* One arc of steps (3): support for y from x. Decided passages give it where they are not in a fight, passages of this
 * level where they have it themselves. */
KERNEL bool support_take(struct pack *p, const uint64_t *cond, uint32_t x, uint32_t y, uint32_t row, bool to_y,
                         bool from_y, const uint64_t *wanted, const unsigned w)
{
    const uint64_t *mask = p->masks[MASKS_NOW] + (size_t)row * w, *cx = cond_of((uint64_t *)cond, w, x),
                   *sx = p->support + (size_t)x * 3 * w;
    uint64_t *sy = p->support + (size_t)y * 3 * w, lf = to_y ? ~UINT64_C(0) : 0, le = from_y ? ~UINT64_C(0) : 0;
    uint64_t touched = p->is_touched[x] ? ~UINT64_C(0) : 0, any = 0;
    pair more = {0, 0};
    for (unsigned k = 0; k + 1 < w; k += 2) {
        pair fed = pair_read(cx + k), drained = pair_read(cx + w + k), decided = pair_read(cx + 2 * w + k),
             open = pair_read(mask + k) & pair_read(wanted + k), has_feed = pair_read(sy + k),
             has_exhaust = pair_read(sy + w + k);
        pair feed = ((decided & fed & ~drained) | (pair_read(sx + k) & ~decided & touched)) & open & lf & ~has_feed,
             exhaust =
                 ((decided & drained & ~fed) | (pair_read(sx + w + k) & ~decided & touched)) & open & le & ~has_exhaust;
        more |= feed | exhaust;
        has_feed |= feed;
        has_exhaust |= exhaust;
        memcpy(sy + k, &has_feed, sizeof has_feed);
        memcpy(sy + w + k, &has_exhaust, sizeof has_exhaust);
    }
    any |= more[0] | more[1];
    for (unsigned k = w & ~1u; k < w; k++) {
        uint64_t decided = cx[2 * w + k], open = mask[k] & wanted[k];
        uint64_t feed = ((decided & cx[k] & ~cx[w + k]) | (sx[k] & ~decided & touched)) & open & lf & ~sy[k],
                 exhaust = ((decided & cx[w + k] & ~cx[k]) | (sx[w + k] & ~decided & touched)) & open & le & ~sy[w + k];
        sy[k] |= feed;
        sy[w + k] |= exhaust;
        any |= feed | exhaust;
    }
    return any != 0;
}

KERNEL bool support_node(struct pack *p, const uint64_t *cond, uint32_t y, enum strength level, const uint64_t *fights,
                         const unsigned w)
{
    const struct network *n = p->network;
    uint64_t wanted[WIDTH_MAX];
    bool any = false;
    if (!support_wanted(p, cond, y, fights, wanted, w))
        return false;
    for (uint32_t i = n->first_arc[y]; i < n->first_arc[y + 1] && ARC_STRENGTH(n->arcs[i]) >= level; i++) {
        struct arc a = n->arcs[i];
        any |= support_take(p, cond, a.node, y, arc_row(p, a), ARC_ENTERS(a), ARC_LEAVES(a), wanted, w);
    }
    for (uint32_t k = p->added_head[y]; k != NONE; k = p->added_arcs[k].next) {
        struct arc a = p->added_arcs[k].arc;
        if (ARC_STRENGTH(a) >= level)
            any |= support_take(p, cond, a.node, y, added_mask(p, a), ARC_ENTERS(a), ARC_LEAVES(a), wanted, w);
    }
    return any;
}

KERNEL void support_wake(struct pack *p, uint32_t y, enum strength level)
{
    const struct network *n = p->network;
    for (uint32_t i = n->first_arc[y]; i < n->first_arc[y + 1] && ARC_STRENGTH(n->arcs[i]) >= level; i++) {
        if (p->is_touched[n->arcs[i].node])
            queue_push(p, n->arcs[i].node);
    }
    for (uint32_t k = p->added_head[y]; k != NONE; k = p->added_arcs[k].next) {
        if (ARC_STRENGTH(p->added_arcs[k].arc) >= level && p->is_touched[p->added_arcs[k].arc.node])
            queue_push(p, p->added_arcs[k].arc.node);
    }
}

/* Takes out of `fights` the lanes in which no passage newly reached is next to a fight that hands something on to it:
 * there nothing can depend on a fight, and the fights stand as they are. */
KERNEL void fights_spread(struct pack *p, uint64_t *cond, enum strength level, uint64_t *fights, const unsigned w)
{
    const struct network *n = p->network;
    uint64_t spread[WIDTH_MAX] = {0};
    for (uint32_t t = 0; t < p->n_touched; t++) {
        uint32_t y = p->touched[t];
        const uint64_t *cy = cond_of(cond, w, y);
        for (uint32_t i = n->first_arc[y]; i < n->first_arc[y + 1] && ARC_STRENGTH(n->arcs[i]) >= level; i++) {
            const uint64_t *cx = cond_of(cond, w, n->arcs[i].node),
                           *mask = p->masks[MASKS_NOW] + (size_t)arc_row(p, n->arcs[i]) * w;
            uint64_t feeds = ARC_ENTERS(n->arcs[i]) ? ~UINT64_C(0) : 0,
                     drains = ARC_LEAVES(n->arcs[i]) ? ~UINT64_C(0) : 0;
            for (unsigned k = 0; k < w; k++)
                spread[k] |= cx[k] & cx[w + k] & mask[k] &
                             ((cy[k] & ~cy[w + k] & feeds) | (cy[w + k] & ~cy[k] & drains)) & ~cy[2 * w + k];
        }
        for (uint32_t a = p->added_head[y]; a != NONE; a = p->added_arcs[a].next) {
            struct arc arc = p->added_arcs[a].arc;
            const uint64_t *cx = cond_of(cond, w, arc.node),
                           *mask = p->masks[MASKS_NOW] + (size_t)added_mask(p, arc) * w;
            for (unsigned k = 0; ARC_STRENGTH(arc) >= level && k < w; k++)
                spread[k] |= cx[k] & cx[w + k] & mask[k] & (cy[k] ^ cy[w + k]) & ~cy[2 * w + k];
        }
    }
    for (unsigned k = 0; k < w; k++)
        fights[k] &= spread[k];
}

/* Steps (2) to (4) of a level, in the lanes `fights`: a passage that feed, or exhaust, reaches only by way of passages
 * in a fight is in the same fight. Support is what still reaches a passage when fights are neither entered nor left;
 * the third words of `support` mark the fights of this level. */
KERNEL void level_fight(struct pack *p, uint64_t *cond, enum strength level, const uint64_t *fights, const unsigned w)
{
    for (uint32_t t = 0; t < p->n_touched; t++) {
        const uint64_t *c = cond_of(cond, w, p->touched[t]);
        uint64_t *s = p->support + (size_t)p->touched[t] * 3 * w;
        for (unsigned k = 0; k < w; k++)
            s[2 * w + k] = c[k] & c[w + k] & ~c[2 * w + k] & fights[k];
    }
    for (bool changed = true; changed;) {
        changed = false;
        for (uint32_t t = 0; t < p->n_touched; t++)
            memset(p->support + (size_t)p->touched[t] * 3 * w, 0, 2 * w * sizeof(uint64_t));
        for (uint32_t t = 0; t < p->n_touched; t++)
            queue_push(p, p->touched[t]);
        while (p->queue_n) {
            uint32_t y = queue_pop(p);
            if (support_node(p, cond, y, level, fights, w))
                support_wake(p, y, level);
        }
        for (uint32_t t = 0; t < p->n_touched; t++) {
            const uint64_t *c = cond_of(cond, w, p->touched[t]);
            uint64_t *s = p->support + (size_t)p->touched[t] * 3 * w;
            for (unsigned k = 0; k < w; k++) {
                uint64_t lost = ((c[k] & ~s[k]) | (c[w + k] & ~s[w + k])) & ~c[2 * w + k] & ~s[2 * w + k] & fights[k];
                s[2 * w + k] |= lost;
                changed |= lost != 0;
            }
        }
    }
    for (uint32_t t = 0; t < p->n_touched; t++) {
        uint64_t *c = cond_of(cond, w, p->touched[t]), *s = p->support + (size_t)p->touched[t] * 3 * w;
        uint64_t more = 0;
        for (unsigned k = 0; k < w; k++) {
            more |= s[2 * w + k] & ~(c[k] & c[w + k]);
            c[k] |= s[2 * w + k];
            c[w + k] |= s[2 * w + k];
        }
        if (more)
            p->drawn_in[p->n_drawn_in++] = p->touched[t];
    }
}

/* Decides what the level reached; `fights` collects the lanes in which anything so far is in a fight. */
KERNEL void level_decide(struct pack *p, uint64_t *cond, enum strength level, uint64_t *fights, const unsigned w)
{
    uint64_t any = 0;
    for (uint32_t t = 0; t < p->n_touched; t++) {
        const uint64_t *c = cond_of(cond, w, p->touched[t]);
        for (unsigned k = 0; k < w; k++)
            fights[k] |= c[k] & c[w + k] & ~c[2 * w + k];
    }
    for (unsigned k = 0; k < w; k++)
        any |= fights[k];
    if (any) {
        uint64_t spread[WIDTH_MAX];
        memcpy(spread, fights, w * sizeof *fights);
        fights_spread(p, cond, level, spread, w);
        for (unsigned k = any = 0; k < w; k++)
            any |= spread[k];
        if (any && !p->support)
            p->support = mem_zero((size_t)p->network->n_nodes * 3 * w, sizeof(uint64_t));
        if (any)
            level_fight(p, cond, level, spread, w);
    }
    for (uint32_t t = 0; t < p->n_touched; t++) {
        uint64_t *c = cond_of(cond, w, p->touched[t]);
        p->is_touched[p->touched[t]] = 0;
        for (unsigned k = 0; k < w; k++)
            c[2 * w + k] |= c[k] | c[w + k];
    }
    p->n_touched = 0;
}

void roots_put(struct pack *p, uint64_t *cond, const uint64_t *lanes)
{
    const struct network *n = p->network;
    const unsigned w = p->width;
    const uint64_t *all = p->masks[MASKS_NOW];
    uint64_t *sump = cond_of(cond, w, 0);
    for (unsigned k = 0; k < w; k++)
        sump[w + k] = sump[2 * w + k] = all[k] & (lanes ? lanes[k] : ~UINT64_C(0));
    for (uint32_t f = 0; f < n->model->n_feeds; f++) {
        if (!n->model->feeds[f].is_source)
            continue;
        uint64_t *c = cond_of(cond, w, n->node_of[n->model->feeds[f].passage.i]);
        for (uint32_t k = 0; k < p->n_groups; k++) {
            const struct group *g = &p->groups[k];
            for (uint32_t l = g->lane; g->of->scene.settings[f] > 0 && l < g->lane + g->n_lanes; l++) {
                bool asked = !lanes || bit(lanes, l);
                bit_set(c, l, asked);
                bit_set(c + 2 * w, l, asked);
            }
        }
    }
}

KERNEL void conditions_run(struct pack *p, uint64_t *cond, const uint64_t *gone, const uint64_t *lanes, uint32_t watch,
                           const unsigned w)
{
    uint64_t fights[WIDTH_MAX] = {0};
    memset(cond, 0, (size_t)p->network->n_nodes * 3 * w * sizeof(uint64_t));
    roots_put(p, cond, lanes);
    for (uint32_t i = 0; gone && i < p->network->n_nodes;
         i++) { /* decided as nothing: neither reached nor handing on */
        uint64_t *c = cond_of(cond, w, i);
        const uint64_t *g = plane((uint64_t *)gone, w, i);
        for (unsigned k = 0; k < w; k++) {
            c[k] &= ~g[k];
            c[w + k] &= ~g[k];
            c[2 * w + k] |= g[k];
        }
    }
    p->n_evaluations++;
    p->n_drawn_in = 0;
    for (int level = STRENGTH_JOINED; level >= STRENGTH_LEAK; level--) {
        level_spread(p, cond, (enum strength)level, w);
        if (p->n_touched)
            level_decide(p, cond, (enum strength)level, fights, w);
        if (watch != NONE)
            memcpy(p->decided_at[level], cond_of(cond, w, watch) + 2 * w, w * sizeof(uint64_t));
    }
}

void conditions_find(struct pack *p, uint64_t *cond, const uint64_t *gone, const uint64_t *lanes, uint32_t watch)
{
    if (p->touching) {
        conditions_touch(p, cond);
        return;
    }
    if (p->width == 1)
        conditions_run(p, cond, gone, lanes, watch, 1);
    else if (p->width == WIDTH_MANY)
        conditions_run(p, cond, gone, lanes, watch, WIDTH_MANY);
    else
        conditions_run(p, cond, gone, lanes, watch, WIDTH_MAX);
}

KERNEL void follow_arc(struct pack *p, uint64_t *reach, const uint64_t *allowed, size_t stride, const uint64_t *mask,
                       uint32_t x, uint32_t y, const unsigned w)
{
    const uint64_t *from = plane(reach, w, x), *may = allowed + (size_t)y * stride;
    uint64_t *to = plane(reach, w, y), any = 0;
    pair all = {0, 0};
    for (unsigned k = 0; k + 1 < w; k += 2) {
        pair have = pair_read(to + k), more = pair_read(from + k) & pair_read(mask + k) & pair_read(may + k) & ~have;
        have |= more;
        all |= more;
        memcpy(to + k, &have, sizeof have);
    }
    any |= all[0] | all[1];
    for (unsigned k = w & ~1u; k < w; k++) {
        uint64_t more = from[k] & mask[k] & may[k] & ~to[k];
        to[k] |= more;
        any |= more;
    }
    if (any)
        queue_push(p, y);
}

KERNEL void follow_run(struct pack *p, uint64_t *reach, const uint64_t *allowed, size_t stride, enum mask_set set,
                       uint32_t ways, enum strength least, const unsigned w)
{
    const struct network *n = p->network;
    const uint64_t *masks = p->masks[set];
    while (p->queue_n) {
        uint32_t x = queue_pop(p);
        for (uint32_t i = n->first_arc[x]; i < n->first_arc[x + 1] && ARC_STRENGTH(n->arcs[i]) >= least; i++) {
            struct arc a = n->arcs[i];
            if (a.packed & ways)
                follow_arc(p, reach, allowed, stride, masks + (size_t)arc_row(p, a) * w, x, a.node, w);
        }
        for (uint32_t k = p->added_head[x]; k != NONE; k = p->added_arcs[k].next) {
            struct arc a = p->added_arcs[k].arc;
            if ((a.packed & ways) && ARC_STRENGTH(a) >= least)
                follow_arc(p, reach, allowed, stride, masks + (size_t)added_mask(p, a) * w, x, a.node, w);
        }
    }
}

void follow(struct pack *p, uint64_t *reach, const uint64_t *allowed, size_t stride, enum mask_set masks, enum way way,
            enum strength least)
{
    static const uint32_t ways[] = {[ALONG_FLOW] = 2u, [AGAINST_FLOW] = 1u, [EITHER_WAY] = 3u};
    if (!p->doubt)
        masks = MASKS_NOW;
    if (p->touching) {
        follow_touch(p, reach, allowed, stride, ways[way], least);
        return;
    }
    if (p->width == 1)
        follow_run(p, reach, allowed, stride, masks, ways[way], least, 1);
    else if (p->width == WIDTH_MANY)
        follow_run(p, reach, allowed, stride, masks, ways[way], least, WIDTH_MANY);
    else
        follow_run(p, reach, allowed, stride, masks, ways[way], least, WIDTH_MAX);
}

void follow_push(struct pack *p, uint32_t node)
{
    queue_push(p, node);
}

uint32_t follow_pop(struct pack *p)
{
    return queue_pop(p);
}

void roots_find(struct pack *p)
{
    const struct network *n = p->network;
    const unsigned w = p->width;
    if (p->root_valid)
        return;
    plane_make(p, &p->root);
    plane_make(p, &p->everywhere);
    memset(p->root, 0, (size_t)n->n_nodes * w * sizeof(uint64_t));
    memset(p->everywhere, 0xff, (size_t)n->n_nodes * w * sizeof(uint64_t));
    memcpy(p->root, p->masks[MASKS_NOW], w * sizeof(uint64_t));
    follow_push(p, 0);
    for (uint32_t f = 0; f < n->model->n_feeds; f++) {
        uint32_t node = n->node_of[n->model->feeds[f].passage.i];
        for (uint32_t k = 0; n->model->feeds[f].is_source && k < p->n_groups; k++) {
            const struct group *g = &p->groups[k];
            for (uint32_t l = g->lane; g->of->scene.settings[f] > 0 && l < g->lane + g->n_lanes; l++)
                bit_set(plane(p->root, w, node), l, true);
        }
        follow_push(p, node);
    }
    follow(p, p->root, p->everywhere, w, MASKS_NOW, EITHER_WAY, STRENGTH_JOINED);
    p->root_valid = true;
}

static void unsure_seed(struct pack *p, passage_ix at, const struct group *g)
{
    uint32_t node = p->network->node_of[at.i];
    if (bit(plane(p->root, p->width, node), g->lane))
        return;
    for (uint32_t l = g->lane; l < g->lane + g->n_lanes; l++)
        bit_set(plane(p->unsure, p->width, node), l, true);
    follow_push(p, node);
}

void unsure_find(struct pack *p, const uint8_t *(*sets_of)(const struct group *g), uint32_t skip)
{
    const struct network *n = p->network;
    const unsigned w = p->width;
    size_t words = (size_t)n->n_nodes * w;
    roots_find(p);
    plane_make(p, &p->unsure);
    memset(p->unsure, 0, words * sizeof(uint64_t));
    for (uint32_t k = 0; k < p->n_groups; k++) {
        const struct group *g = &p->groups[k];
        const uint8_t *sets = sets_of(g);
        for (uint32_t e = 0; g->fallback && e < n->n_elements; e++) {
            const struct element *el = &n->elements[e];
            if (el->mover == NONE)
                continue;
            uint32_t mover = el->opens == OPENS_IN_POSITION ? el->mover
                             : el->opens == OPENS_BY_SEAT   ? n->n_spools + n->n_limits + el->mover
                                                            : n->n_spools + el->mover;
            if (mover == skip || el->opens == OPENS_NEVER || set_size(sets[mover]) < 2 ||
                element_is_removed(&g->of->scene, (element_ix){e}))
                continue;
            unsure_seed(p, el->from, g);
            unsure_seed(p, el->to, g);
        }
    }
    for (size_t i = 0; i < words; i++)
        p->everywhere[i] = ~p->root[i];
    follow(p, p->unsure, p->everywhere, w, MASKS_MAY, EITHER_WAY, STRENGTH_LEAK);
}
