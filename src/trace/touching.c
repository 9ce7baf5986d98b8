#include "trace/touching.h"
#include "base/mem.h"
#include "trace/settle.h"
#include <string.h>

/* Marks the node in the lanes whose word differs from lane 0's. */
static void lanes_touch(struct pack *p, uint32_t node, const uint64_t *words)
{
    uint64_t healthy = words[0] & 1 ? ~UINT64_C(0) : 0;
    for (unsigned k = 0; k < p->width; k++)
        p->touching->nodes[(size_t)node * p->width + k] |= (words[k] ^ healthy) & p->masks[MASKS_NOW][k];
}

static void list_next(struct touching *t, uint32_t node, uint32_t *n)
{
    if (!(t->listed[node] & 2)) {
        t->listed[node] |= 2;
        t->next_list[(*n)++] = node;
    }
}

/* Hands on what x has in `from` to y, into the coming step. */
static void step_hand_on(struct pack *p, uint64_t *cond, const uint64_t *from, uint32_t y, const uint64_t *mask,
                         bool leaves, bool enters, uint32_t *n_next)
{
    struct touching *t = p->touching;
    const unsigned w = p->width;
    uint64_t *to = cond_of(cond, w, y), *next = t->next + (size_t)y * 2 * w, any = 0;
    for (unsigned k = 0; k < w; k++) {
        uint64_t open = mask[k] & ~to[2 * w + k];
        uint64_t feed = leaves ? from[k] & open & ~to[k] : 0, exhaust = enters ? from[w + k] & open & ~to[w + k] : 0;
        next[k] |= feed;
        next[w + k] |= exhaust;
        any |= feed | exhaust;
    }
    if (any)
        list_next(t, y, n_next);
}

static void step_from(struct pack *p, uint64_t *cond, const uint64_t *from, uint32_t x, enum strength level,
                      uint32_t *n_next)
{
    const struct network *n = p->network;
    for (uint32_t i = n->first_arc[x]; i < n->first_arc[x + 1] && ARC_STRENGTH(n->arcs[i]) >= level; i++) {
        struct arc a = n->arcs[i];
        step_hand_on(p, cond, from, a.node, p->masks[MASKS_NOW] + (size_t)p->row_of[ARC_MASK(a)] * p->width,
                     ARC_LEAVES(a), ARC_ENTERS(a), n_next);
    }
    for (uint32_t k = p->added_head[x]; k != NONE; k = p->added_arcs[k].next) {
        struct arc a = p->added_arcs[k].arc;
        if (ARC_STRENGTH(a) >= level)
            step_hand_on(p, cond, from, a.node, p->masks[MASKS_NOW] + (size_t)added_mask(p, a) * p->width,
                         ARC_LEAVES(a), ARC_ENTERS(a), n_next);
    }
}

/* The coming step becomes the last one; its differences are touched. */
static uint32_t step_take(struct pack *p, uint64_t *cond, uint32_t n_next, bool conditions)
{
    struct touching *t = p->touching;
    const unsigned w = p->width;
    for (uint32_t i = 0; i < n_next; i++) {
        uint32_t y = t->next_list[i];
        uint64_t *next = t->next + (size_t)y * 2 * w, *to = conditions ? cond_of(cond, w, y) : plane(cond, w, y);
        lanes_touch(p, y, next);
        if (conditions)
            lanes_touch(p, y, next + w);
        for (unsigned k = 0; k < (conditions ? 2 * w : w); k++)
            to[k] |= next[k];
        memcpy(t->fresh + (size_t)y * 2 * w, next, 2 * w * sizeof *next);
        memset(next, 0, 2 * w * sizeof *next);
        t->listed[y] = 0;
        if (conditions && !p->is_touched[y]) {
            p->is_touched[y] = 1;
            p->touched[p->n_touched++] = y;
        }
    }
    uint32_t *list = t->now_list;
    t->now_list = t->next_list;
    t->next_list = list;
    return n_next;
}

/* What a decided node hands on: all that it has, but to what is not decided. */
static void level_steps(struct pack *p, uint64_t *cond, enum strength level)
{
    struct touching *t = p->touching;
    const unsigned w = p->width;
    uint32_t n = 0;
    for (uint32_t x = 0; x < p->network->n_nodes; x++)
        step_from(p, cond, cond_of(cond, w, x), x, level, &n);
    while (n) {
        uint32_t now = step_take(p, cond, n, true);
        n = 0;
        for (uint32_t i = 0; i < now; i++)
            step_from(p, cond, t->fresh + (size_t)t->now_list[i] * 2 * w, t->now_list[i], level, &n);
    }
}

/* One arc of support, as in spread.c. */
static void support_arc(struct pack *p, const uint64_t *cond, uint32_t x, uint32_t y, const uint64_t *mask, bool to_y,
                        bool from_y, uint64_t *feed, uint64_t *exhaust)
{
    const unsigned w = p->width;
    const uint64_t *cx = cond_of((uint64_t *)cond, w, x), *cy = cond_of((uint64_t *)cond, w, y),
                   *sx = p->support + (size_t)x * 3 * w, *sy = p->support + (size_t)y * 3 * w;
    for (unsigned k = 0; k < w; k++) {
        uint64_t decided = cx[2 * w + k], open = mask[k] & ~cy[2 * w + k] & ~sy[2 * w + k];
        uint64_t f = decided & cx[k] & ~cx[w + k], e = decided & cx[w + k] & ~cx[k];
        if (p->is_touched[x]) {
            f |= sx[k] & ~decided;
            e |= sx[w + k] & ~decided;
        }
        feed[k] |= to_y ? f & open : 0;
        exhaust[k] |= from_y ? e & open : 0;
    }
}

/* One sweep of support over the level's nodes, all from the sweep before; false when nothing changed. */
static bool support_sweep(struct pack *p, const uint64_t *cond, enum strength level)
{
    const struct network *n = p->network;
    struct touching *t = p->touching;
    const unsigned w = p->width;
    bool changed = false;
    for (uint32_t i = 0; i < p->n_touched; i++) {
        uint32_t y = p->touched[i];
        uint64_t *feed = t->next + (size_t)y * 2 * w, *exhaust = feed + w;
        for (uint32_t k = n->first_arc[y]; k < n->first_arc[y + 1] && ARC_STRENGTH(n->arcs[k]) >= level; k++)
            support_arc(p, cond, n->arcs[k].node, y, p->masks[MASKS_NOW] + (size_t)p->row_of[ARC_MASK(n->arcs[k])] * w,
                        ARC_ENTERS(n->arcs[k]), ARC_LEAVES(n->arcs[k]), feed, exhaust);
        for (uint32_t k = p->added_head[y]; k != NONE; k = p->added_arcs[k].next) {
            struct arc a = p->added_arcs[k].arc;
            if (ARC_STRENGTH(a) >= level)
                support_arc(p, cond, a.node, y, p->masks[MASKS_NOW] + (size_t)added_mask(p, a) * w, ARC_ENTERS(a),
                            ARC_LEAVES(a), feed, exhaust);
        }
    }
    for (uint32_t i = 0; i < p->n_touched; i++) {
        uint64_t *got = t->next + (size_t)p->touched[i] * 2 * w, *s = p->support + (size_t)p->touched[i] * 3 * w;
        for (unsigned k = 0; k < 2 * w; k++) {
            got[k] &= ~s[k];
            changed |= got[k] != 0;
        }
        lanes_touch(p, p->touched[i], got);
        lanes_touch(p, p->touched[i], got + w);
        for (unsigned k = 0; k < 2 * w; k++)
            s[k] |= got[k];
        memset(got, 0, 2 * w * sizeof *got);
    }
    return changed;
}

static void level_fights(struct pack *p, uint64_t *cond, enum strength level)
{
    const unsigned w = p->width;
    for (uint32_t i = 0; i < p->n_touched; i++) {
        const uint64_t *c = cond_of(cond, w, p->touched[i]);
        uint64_t *s = p->support + (size_t)p->touched[i] * 3 * w;
        for (unsigned k = 0; k < w; k++)
            s[2 * w + k] = c[k] & c[w + k] & ~c[2 * w + k];
    }
    for (bool changed = true; changed;) {
        changed = false;
        for (uint32_t i = 0; i < p->n_touched; i++)
            memset(p->support + (size_t)p->touched[i] * 3 * w, 0, 2 * w * sizeof(uint64_t));
        while (support_sweep(p, cond, level))
            ;
        for (uint32_t i = 0; i < p->n_touched; i++) {
            const uint64_t *c = cond_of(cond, w, p->touched[i]);
            uint64_t *s = p->support + (size_t)p->touched[i] * 3 * w;
            for (unsigned k = 0; k < w; k++) {
                uint64_t lost = ((c[k] & ~s[k]) | (c[w + k] & ~s[w + k])) & ~c[2 * w + k] & ~s[2 * w + k];
                s[2 * w + k] |= lost;
                changed |= lost != 0;
            }
            lanes_touch(p, p->touched[i], s + 2 * w);
        }
    }
}

void conditions_touch(struct pack *p, uint64_t *cond)
{
    const unsigned w = p->width;
    memset(cond, 0, (size_t)p->network->n_nodes * 3 * w * sizeof(uint64_t));
    roots_put(p, cond, NULL);
    if (!p->support)
        p->support = mem_zero((size_t)p->network->n_nodes * 3 * w, sizeof(uint64_t));
    for (int level = STRENGTH_JOINED; level >= STRENGTH_LEAK; level--) {
        p->n_touched = 0;
        level_steps(p, cond, (enum strength)level);
        level_fights(p, cond, (enum strength)level);
        for (uint32_t i = 0; i < p->n_touched; i++) {
            uint64_t *c = cond_of(cond, w, p->touched[i]), *s = p->support + (size_t)p->touched[i] * 3 * w;
            p->is_touched[p->touched[i]] = 0;
            for (unsigned k = 0; k < w; k++) {
                c[k] |= s[2 * w + k];
                c[w + k] |= s[2 * w + k];
                c[2 * w + k] |= c[k] | c[w + k];
            }
        }
        p->n_touched = 0;
    }
}

/* One arc of a step of follow_touch(). */
static void follow_step(struct pack *p, const uint64_t *reach, const uint64_t *allowed, size_t stride,
                        const uint64_t *from, const uint64_t *mask, uint32_t y, uint32_t *n_next)
{
    struct touching *t = p->touching;
    const unsigned w = p->width;
    const uint64_t *may = allowed + (size_t)y * stride, *has = plane((uint64_t *)reach, w, y);
    uint64_t *next = t->next + (size_t)y * 2 * w, any = 0;
    for (unsigned k = 0; k < w; k++) {
        uint64_t more = from[k] & mask[k] & may[k] & ~has[k];
        next[k] |= more;
        any |= more;
    }
    if (any)
        list_next(t, y, n_next);
}

static void follow_from(struct pack *p, const uint64_t *reach, const uint64_t *allowed, size_t stride,
                        const uint64_t *from, uint32_t x, uint32_t ways, enum strength least, uint32_t *n_next)
{
    const struct network *n = p->network;
    const unsigned w = p->width;
    for (uint32_t i = n->first_arc[x]; i < n->first_arc[x + 1] && ARC_STRENGTH(n->arcs[i]) >= least; i++) {
        struct arc a = n->arcs[i];
        if (a.packed & ways)
            follow_step(p, reach, allowed, stride, from, p->masks[MASKS_NOW] + (size_t)p->row_of[ARC_MASK(a)] * w,
                        a.node, n_next);
    }
    for (uint32_t k = p->added_head[x]; k != NONE; k = p->added_arcs[k].next) {
        struct arc a = p->added_arcs[k].arc;
        if ((a.packed & ways) && ARC_STRENGTH(a) >= least)
            follow_step(p, reach, allowed, stride, from, p->masks[MASKS_NOW] + (size_t)added_mask(p, a) * w, a.node,
                        n_next);
    }
}

void follow_touch(struct pack *p, uint64_t *reach, const uint64_t *allowed, size_t stride, uint32_t ways,
                  enum strength least)
{
    struct touching *t = p->touching;
    const unsigned w = p->width;
    uint32_t n = 0;
    while (p->queue_n) {
        uint32_t x = follow_pop(p);
        lanes_touch(p, x, plane(reach, w, x));
        follow_from(p, reach, allowed, stride, plane(reach, w, x), x, ways, least, &n);
    }
    while (n) {
        uint32_t now = step_take(p, reach, n, false);
        n = 0;
        for (uint32_t i = 0; i < now; i++)
            follow_from(p, reach, allowed, stride, t->fresh + (size_t)t->now_list[i] * 2 * w, t->now_list[i], ways,
                        least, &n);
    }
}

static void mover_read(struct pack *p, uint32_t mover, passage_ix at)
{
    const uint64_t *touched = plane(p->touching->nodes, p->width, p->network->node_of[at.i]);
    for (unsigned k = 0; k < p->width; k++)
        p->touching->movers[(size_t)mover * p->width + k] |= touched[k];
}

/* Lanes in which a mover stands elsewhere than in lane 0: the ends of its elements are touched. */
static void mover_stands(struct pack *p, uint32_t mover, uint32_t first, uint32_t last)
{
    const unsigned w = p->width;
    uint64_t other[WIDTH_MANY] = {0};
    for (unsigned b = 0; b < POSITIONS; b++) {
        const uint64_t *lanes = p->now + ((size_t)mover * POSITIONS + b) * w;
        for (unsigned k = 0; k < w; k++)
            other[k] |= (lanes[k] ^ (lanes[0] & 1 ? ~UINT64_C(0) : 0)) & p->masks[MASKS_NOW][k];
    }
    for (unsigned k = 0; k < w; k++)
        p->touching->movers[(size_t)mover * w + k] |= other[k];
    for (uint32_t e = first; e < last; e++) {
        const struct element *el = &p->network->elements[e];
        for (unsigned k = 0; k < w; k++) {
            plane(p->touching->nodes, w, p->network->node_of[el->from.i])[k] |= other[k];
            plane(p->touching->nodes, w, p->network->node_of[el->to.i])[k] |= other[k];
        }
    }
}

void round_touch(struct pack *p)
{
    const struct network *n = p->network;
    const struct model *m = n->model;
    for (uint32_t i = 0; i < n->n_spools; i++) {
        const struct valve *v = &m->valves[n->spools[i].valve.i];
        for (uint32_t e = 0; e < v->n_ends; e++)
            mover_read(p, i, v->ports[v->ends[e].port].passage);
        mover_stands(p, i, n->valve_element[n->spools[i].valve.i], n->valve_element[n->spools[i].valve.i + 1]);
    }
    for (uint32_t i = 0; i < n->n_limits; i++) {
        const struct valve *v = &m->valves[n->limits[i].valve.i];
        mover_read(p, n->n_spools + i, v->ports[v->reaction].passage);
        mover_stands(p, n->n_spools + i, n->limits[i].window.i, n->limits[i].window.i + 1);
    }
    for (uint32_t i = 0; i < n->n_seats; i++) {
        uint32_t mover = n->n_spools + n->n_limits + i;
        mover_read(p, mover, n->seats[i].inlet);
        mover_read(p, mover, n->seats[n->seats[i].other].inlet);
        mover_stands(p, mover, n->seats[i].element.i, n->seats[i].element.i + 1);
    }
}
