/* Lanes: who is in which, and which elements conduct there. */
#include "trace/pack.h"
#include "base/mem.h"
#include "trace/settle.h"
#include <string.h>

static uint32_t row_add(struct pack *p)
{
    if (p->n_rows == p->cap_rows) {
        p->cap_rows = p->cap_rows * 2 + 64;
        for (int k = 0; k < N_MASK_SETS; k++)
            p->masks[k] = mem_resize(p->masks[k], p->cap_rows, p->width * sizeof(uint64_t));
    }
    for (int k = 0; k < N_MASK_SETS; k++)
        memset(p->masks[k] + (size_t)p->n_rows * p->width, 0, p->width * sizeof(uint64_t));
    return p->n_rows++;
}

void pack_init(struct pack *p, const struct network *n, unsigned width)
{
    memset(p, 0, sizeof *p);
    p->network = n;
    p->width = width;
    p->switched = mem_alloc(((size_t)n->n_elements + 1) * sizeof(uint32_t));
    p->row_of = mem_zero((size_t)n->n_elements + n->n_seats + 1, sizeof(uint32_t));
    row_add(p);
    for (uint32_t i = 0; i < n->n_elements; i++) {
        if (n->elements[i].opens != OPENS_ALWAYS) {
            p->switched[p->n_switched++] = i;
            p->row_of[i] = row_add(p);
        }
    }
    for (uint32_t i = 0; i < n->n_seats; i++)
        p->row_of[n->n_elements + i] = row_add(p);
    p->first_free_row = p->n_rows;
    p->added_head = mem_alloc(((size_t)n->n_nodes + 1) * sizeof(uint32_t));
    memset(p->added_head, 0xff, ((size_t)n->n_nodes + 1) * sizeof(uint32_t));
    p->groups = mem_zero((size_t)64 * width, sizeof *p->groups);
    p->choice = mem_zero((size_t)64 * width * network_movers(n) + 1, 1);
    p->cond = mem_zero((size_t)n->n_nodes * 3 * width + 1, sizeof(uint64_t));
    p->queue = mem_alloc(((size_t)n->n_nodes + 1) * sizeof(uint32_t));
    p->queued = mem_zero((size_t)n->n_nodes + 1, 1);
    p->touched = mem_alloc(((size_t)n->n_nodes + 1) * sizeof(uint32_t));
    p->is_touched = mem_zero((size_t)n->n_nodes + 1, 1);
    p->drawn_in = mem_alloc(((size_t)n->n_nodes + 1) * sizeof(uint32_t));
}

void pack_release(struct pack *p)
{
    void *owned[] = {p->groups,  p->switched,  p->row_of,     p->masks[0],   p->masks[1], p->masks[2], p->own_rows,
                     p->added,   p->added_row, p->added_arcs, p->added_head, p->choice,   p->cond,     p->alt,
                     p->reduced, p->unsure,    p->root,       p->reach,      p->closed,   p->gone,     p->everywhere,
                     p->live,    p->support,   p->queue,      p->queued,     p->touched,  p->drawn_in, p->is_touched};
    for (size_t i = 0; i < sizeof owned / sizeof *owned; i++)
        mem_free(owned[i]);
    memset(p, 0, sizeof *p);
}

void pack_clear(struct pack *p)
{
    for (uint32_t k = 0; k < p->n_own_rows; k++)
        p->row_of[p->own_rows[k]] = 0;
    for (uint32_t k = 0; k < p->n_added; k++) {
        p->added_head[p->network->node_of[p->added[k].element.from.i]] = NONE;
        p->added_head[p->network->node_of[p->added[k].element.to.i]] = NONE;
    }
    p->n_own_rows = p->n_added = 0;
    p->n_rows = p->first_free_row;
    for (int k = 0; k < N_MASK_SETS; k++)
        memset(p->masks[k], 0, (size_t)p->n_rows * p->width * sizeof(uint64_t));
    p->n_groups = p->n_lanes = 0;
    p->doubt = p->fallback = false;
    p->root_valid = false;
}

bool pack_place(struct pack *p, struct settling *s, uint32_t n_lanes)
{
    uint32_t lane = (p->n_lanes + n_lanes - 1) & ~(n_lanes - 1); /* aligned to its own size */
    if (p->n_groups == 64 * p->width || lane + n_lanes > 64 * p->width)
        return false;
    p->groups[p->n_groups++] = (struct group){.of = s, .lane = lane, .n_lanes = n_lanes};
    p->n_lanes = lane + n_lanes;
    p->doubt |= n_lanes > 1;
    return true;
}

void plane_make(struct pack *p, uint64_t **at)
{
    if (!*at)
        *at = mem_alloc((size_t)p->network->n_nodes * p->width * sizeof(uint64_t) + 1);
}

static void lanes_set(struct pack *p, enum mask_set set, uint32_t row, const struct group *g, bool on)
{
    uint64_t *mask = p->masks[set] + (size_t)row * p->width;
    for (uint32_t l = g->lane; l < g->lane + g->n_lanes; l++)
        bit_set(mask, l, on);
}

/* A row of its own for an element that conducts everywhere else. */
static uint32_t own_row(struct pack *p, uint32_t element)
{
    if (p->row_of[element])
        return p->row_of[element];
    uint32_t row = row_add(p);
    memcpy(p->masks[MASKS_NOW] + (size_t)row * p->width, p->masks[MASKS_NOW], p->width * sizeof(uint64_t));
    MEM_GROW(p->own_rows, p->n_own_rows, p->cap_own_rows);
    p->own_rows[p->n_own_rows++] = element;
    return p->row_of[element] = row;
}

static void added_arc(struct pack *p, uint32_t row, uint32_t at, uint32_t other, uint32_t bits)
{
    uint32_t k = 2 * row + (at == p->network->node_of[p->added[row].element.to.i]);
    const struct element *e = &p->added[row].element;
    p->added_arcs[k].arc = (struct arc){other, (p->network->n_elements + p->network->n_seats + row) << 5 |
                                                   (uint32_t)e->strength << 2 | bits};
    p->added_arcs[k].next = p->added_head[at];
    p->added_head[at] = k;
}

/* The row of the element that an edit adds, or NONE when it joins nothing. Cases of one set of faults share it. */
static uint32_t added_find(struct pack *p, const struct edit *e, bool outward)
{
    for (uint32_t k = p->n_added; k-- > 0;) {
        if (p->added[k].from == e && p->added[k].outward == outward)
            return k;
    }
    struct element el;
    if (e->kind == EDIT_RESIZE) {
        el = p->network->elements[e->element.i];
        el.one_way |= el.opens == OPENS_BY_SEAT;
        if (outward) {
            passage_ix inlet = el.from;
            el.from = el.to;
            el.to = inlet;
        }
    } else {
        el = (struct element){.from = e->from,
                              .to = e->to,
                              .kind = ELEMENT_ADDED,
                              .part = e->part,
                              .ports = {NONE, NONE},
                              .opens = OPENS_ALWAYS,
                              .mover = NONE,
                              .one_way = e->one_way};
    }
    el.strength = e->strength;
    el.diameter = e->diameter;
    uint32_t a = p->network->node_of[el.from.i], b = p->network->node_of[el.to.i];
    if (a == b)
        return NONE;
    if (p->n_added == p->cap_added) {
        p->cap_added = p->cap_added * 2 + 64;
        p->added = mem_resize(p->added, p->cap_added, sizeof *p->added);
        p->added_row = mem_resize(p->added_row, p->cap_added, sizeof *p->added_row);
        p->added_arcs = mem_resize(p->added_arcs, p->cap_added, 2 * sizeof *p->added_arcs);
    }
    uint32_t row = p->n_added++;
    p->added[row] = (struct added){el, e, outward};
    p->added_row[row] = row_add(p);
    added_arc(p, row, a, b, 2u | (el.one_way ? 0u : 1u));
    added_arc(p, row, b, a, 1u | (el.one_way ? 0u : 2u));
    return row;
}

/* What does not depend on what moves: manual valves, solenoids, sources, edits. */
static void group_load(struct pack *p, const struct group *g)
{
    const struct scene *s = &g->of->scene;
    for (uint32_t k = 0; k < p->n_switched; k++) {
        const struct element *e = &p->network->elements[p->switched[k]];
        if (e->mover == NONE && element_conducts(s, e, NULL) == CERTAIN_YES)
            lanes_set(p, MASKS_NOW, k + 1, g, true);
    }
    for (uint32_t i = 0; i < s->edits->n; i++) {
        const struct edit *e = &s->edits->rows[i];
        if (e->kind == EDIT_ADD) {
            uint32_t row = added_find(p, e, false);
            if (row != NONE)
                lanes_set(p, MASKS_NOW, p->added_row[row], g, true);
        }
        if (e->kind == EDIT_RESIZE) { /* its lanes follow in group_edit(), with the element's own */
            added_find(p, e, false);
            if (p->network->elements[e->element.i].opens == OPENS_BY_SEAT)
                added_find(p, e, true);
        }
        if (e->kind == EDIT_REMOVE || e->kind == EDIT_RESIZE)
            own_row(p, e->element.i);
    }
}

/* While it is asked where the balls go, a hole under a shuttle passes inwards only, unless its ball no longer guards
 * it. */
static bool seat_is_two_way(const struct pack *p, const struct scene *s, uint32_t seat)
{
    return !p->inward || s->fixed[p->network->n_spools + p->network->n_limits + seat];
}

/* Takes removed elements out of the lanes and hands a resized element's lanes to its copy. Done anew after every move.
 */
static void group_edit(struct pack *p, const struct group *g, const uint8_t *sets)
{
    const struct scene *s = &g->of->scene;
    uint32_t movers = network_movers(p->network);
    for (uint32_t i = 0; i < s->edits->n; i++) {
        const struct edit *e = &s->edits->rows[i];
        if (e->kind != EDIT_REMOVE && e->kind != EDIT_RESIZE)
            continue;
        const struct element *el = &p->network->elements[e->element.i];
        bool seat = el->opens == OPENS_BY_SEAT;
        uint32_t copy = e->kind == EDIT_RESIZE ? added_find(p, e, false) : NONE;
        uint32_t back = seat && copy != NONE ? added_find(p, e, true) : NONE;
        for (uint32_t l = g->lane; l < g->lane + g->n_lanes; l++) {
            enum certainty own = element_conducts(s, el, p->choice + (size_t)l * movers),
                           all = element_conducts(s, el, sets);
            const bool on[N_MASK_SETS] = {own == CERTAIN_YES, all == CERTAIN_YES, all != CERTAIN_NO};
            for (int k = 0; k < (p->doubt ? N_MASK_SETS : 1); k++) {
                if (copy != NONE)
                    bit_set(p->masks[k] + (size_t)p->added_row[copy] * p->width, l, on[k]);
                if (back != NONE)
                    bit_set(p->masks[k] + (size_t)p->added_row[back] * p->width, l,
                            on[k] && seat_is_two_way(p, s, el->mover));
                bit_set(p->masks[k] + (size_t)p->row_of[e->element.i] * p->width, l, false);
                if (seat)
                    bit_set(p->masks[k] + (size_t)p->row_of[p->network->n_elements + el->mover] * p->width, l, false);
            }
        }
    }
}

void pack_load(struct pack *p)
{
    for (uint32_t k = 0; k < p->n_groups; k++)
        lanes_set(p, MASKS_NOW, 0, &p->groups[k], true);
    for (uint32_t k = 0; k < p->n_groups; k++)
        group_load(p, &p->groups[k]);
}

uint32_t sets_doubtful(const struct network *n, const uint8_t *sets, uint32_t *combinations)
{
    uint32_t doubtful = 0, product = 1, movers = network_movers(n), seats = n->n_spools + n->n_limits;
    for (uint32_t i = 0; i < movers; i++) {
        uint32_t size = (uint32_t)__builtin_popcount(sets[i]);
        doubtful += size > 1;
        if (i < seats || size < 2) {
            product *= size;
        } else {
            uint32_t other = seats + n->seats[i - seats].other;
            /* never both seats of one ball shut: two doubtful seats have three combinations, counted at the first */
            product *= sets[other] == SEAT_SHUT ? 1 : __builtin_popcount(sets[other]) < 2 ? 2 : i < other ? 3 : 1;
        }
        if (product > 2 * LANES_MAX)
            product = 2 * LANES_MAX;
    }
    *combinations = product;
    return doubtful;
}

/* Combination number `k` of the sets, mixed radix, first mover fastest. */
static void combination_pick(const struct network *n, const uint8_t *sets, uint32_t k, uint8_t *choice)
{
    uint32_t movers = network_movers(n), seats = n->n_spools + n->n_limits;
    for (uint32_t i = 0; i < movers; i++) {
        uint32_t size = (uint32_t)__builtin_popcount(sets[i]);
        if (i >= seats && size > 1) {
            uint32_t other = seats + n->seats[i - seats].other;
            if (sets[other] == SEAT_SHUT) {
                choice[i] = SEAT_OPEN;
                continue;
            }
            if (__builtin_popcount(sets[other]) > 1) {
                if (i < other) {
                    choice[i] = k % 3 == 1 ? SEAT_SHUT : SEAT_OPEN;
                    choice[other] = k % 3 == 2 ? SEAT_SHUT : SEAT_OPEN;
                    k /= 3;
                }
                continue;
            }
        }
        uint8_t left = sets[i];
        for (uint32_t skip = k % size; skip; skip--)
            left &= (uint8_t)(left - 1);
        choice[i] = (uint8_t)(left & -left);
        k /= size;
    }
}

/* The way out of the pocket conducts as the way in does, but in step 1 not at all. */
static void seats_copy(struct pack *p, const struct group *g, enum mask_set set)
{
    const struct network *n = p->network;
    for (uint32_t i = 0; i < n->n_seats; i++) {
        const uint64_t *in = p->masks[set] + (size_t)p->row_of[n->seats[i].element.i] * p->width;
        uint64_t *back = p->masks[set] + (size_t)p->row_of[n->n_elements + i] * p->width;
        for (uint32_t l = g->lane; l < g->lane + g->n_lanes; l++)
            bit_set(back, l, seat_is_two_way(p, &g->of->scene, i) && bit(in, l));
    }
}

static void mover_set(struct pack *p, uint32_t first, uint32_t last, uint32_t lane, const struct scene *s,
                      const uint8_t *choice)
{
    for (uint32_t e = first; e < last; e++) {
        uint64_t *mask = p->masks[MASKS_NOW] + (size_t)p->row_of[e] * p->width;
        bit_set(mask, lane, element_conducts(s, &p->network->elements[e], choice) == CERTAIN_YES);
    }
}

/* Elements of a mover: [*first, *last) rows. */
static void mover_elements(const struct network *n, uint32_t mover, uint32_t *first, uint32_t *last)
{
    if (mover < n->n_spools) {
        *first = n->valve_element[n->spools[mover].valve.i];
        *last = n->valve_element[n->spools[mover].valve.i + 1];
    } else if (mover < n->n_spools + n->n_limits) {
        *first = n->limits[mover - n->n_spools].window.i;
        *last = *first + 1;
    } else {
        *first = n->seats[mover - n->n_spools - n->n_limits].element.i;
        *last = *first + 1;
    }
}

void pack_move(struct pack *p, const struct group *g, const uint8_t *sets)
{
    const struct network *n = p->network;
    uint32_t movers = network_movers(n), combinations;
    sets_doubtful(n, sets, &combinations);
    for (uint32_t l = 0; l < g->n_lanes; l++) {
        uint8_t *choice = p->choice + (size_t)(g->lane + l) * movers;
        combination_pick(n, sets, g->fallback ? 0 : l < combinations ? l : combinations - 1, choice);
        for (uint32_t i = 0; i < movers; i++) {
            uint32_t first, last;
            mover_elements(n, i, &first, &last);
            mover_set(p, first, last, g->lane + l, &g->of->scene, choice);
        }
    }
    seats_copy(p, g, MASKS_NOW);
    if (!p->doubt)
        group_edit(p, g, sets);
}

void pack_doubt(struct pack *p, const uint8_t *(*sets_of)(const struct group *g))
{
    if (!p->doubt)
        return;
    const struct network *n = p->network;
    size_t bytes = (size_t)p->n_rows * p->width * sizeof(uint64_t);
    memcpy(p->masks[MASKS_SURE], p->masks[MASKS_NOW], bytes);
    memcpy(p->masks[MASKS_MAY], p->masks[MASKS_NOW], bytes);
    for (uint32_t k = 0; k < p->n_groups; k++) {
        const struct group *g = &p->groups[k];
        const uint8_t *sets = sets_of(g);
        for (uint32_t i = 0; i < network_movers(n) && (g->n_lanes > 1 || g->fallback); i++) {
            uint32_t first, last;
            mover_elements(n, i, &first, &last);
            for (uint32_t e = first; e < last; e++) {
                enum certainty c = element_conducts(&g->of->scene, &n->elements[e], sets);
                lanes_set(p, MASKS_SURE, p->row_of[e], g, c == CERTAIN_YES);
                lanes_set(p, MASKS_MAY, p->row_of[e], g, c != CERTAIN_NO);
            }
        }
        seats_copy(p, g, MASKS_SURE);
        seats_copy(p, g, MASKS_MAY);
        group_edit(p, g, sets);
    }
}
