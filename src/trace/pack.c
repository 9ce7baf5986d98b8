/* Lanes: who is in which, and which elements conduct there. */
#include "trace/pack.h"
#include "base/mem.h"
#include "trace/settle.h"
#include <string.h>

#define MOVERS_ON_STACK 256

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
    p->now = mem_zero((size_t)network_movers(n) * POSITIONS * width + 1, sizeof(uint64_t));
    p->sets = mem_zero((size_t)network_movers(n) * POSITIONS * width + 1, sizeof(uint64_t));
    p->placed = mem_zero((size_t)64 * width * network_movers(n) + 1, 1);
    p->unguarded = mem_zero((size_t)n->n_seats * width + 1, sizeof(uint64_t));
    p->cond = mem_zero((size_t)n->n_nodes * 3 * width + 1, sizeof(uint64_t));
    p->queue = mem_alloc(((size_t)n->n_nodes + 1) * sizeof(uint32_t));
    p->queued = mem_zero((size_t)n->n_nodes + 1, 1);
    p->touched = mem_alloc(((size_t)n->n_nodes + 1) * sizeof(uint32_t));
    p->is_touched = mem_zero((size_t)n->n_nodes + 1, 1);
    p->drawn_in = mem_alloc(((size_t)n->n_nodes + 1) * sizeof(uint32_t));
}

void pack_release(struct pack *p)
{
    void *owned[] = {p->groups,     p->taken,      p->now,      p->sets,       p->unguarded, p->placed,  p->switched,
                     p->row_of,     p->masks[0],   p->masks[1], p->masks[2],   p->own_rows,  p->added,   p->added_row,
                     p->added_arcs, p->added_head, p->cond,     p->alt,        p->reduced,   p->unsure,  p->root,
                     p->reach,      p->closed,     p->gone,     p->everywhere, p->live,      p->support, p->queue,
                     p->queued,     p->touched,    p->drawn_in, p->is_touched};
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
    p->n_own_rows = p->n_added = p->n_taken = 0;
    memset(p->unguarded, 0, (size_t)p->network->n_seats * p->width * sizeof(uint64_t));
    p->n_rows = p->first_free_row;
    for (int k = 0; k < N_MASK_SETS; k++)
        memset(p->masks[k], 0, (size_t)p->n_rows * p->width * sizeof(uint64_t));
    p->n_groups = p->n_lanes = 0;
    memset(p->placed, 0, (size_t)64 * p->width * network_movers(p->network)); /* no set is empty */
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

static uint64_t *mask_of(struct pack *p, enum mask_set set, uint32_t row)
{
    return p->masks[set] + (size_t)row * p->width;
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
    p->added_arcs[k].arc = (struct arc){other, (p->network->n_elements + p->network->n_seats + row) << 6 |
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

/* Elements that conduct by the state alone: manual valves, solenoids, sources. Cases of one state whose edits change
 * nothing of that are loaded together. */
static void statics_load(struct pack *p, const struct scene *s, const uint64_t *lanes)
{
    for (uint32_t k = 0; k < p->n_switched; k++) {
        const struct element *e = &p->network->elements[p->switched[k]];
        if (e->mover != NONE || element_conducts(s, e, NULL) != CERTAIN_YES)
            continue;
        uint64_t *mask = mask_of(p, MASKS_NOW, k + 1);
        for (unsigned w = 0; w < p->width; w++)
            mask[w] |= lanes[w];
    }
}

static void states_load(struct pack *p)
{
    const struct model *m = p->network->model;
    uint64_t *lanes = mem_zero((size_t)m->n_states * p->width + 1, sizeof *lanes), own[WIDTH_MAX];
    const struct scene **scene_of = mem_zero((size_t)m->n_states + 1, sizeof *scene_of);
    for (uint32_t k = 0; k < p->n_groups; k++) {
        const struct group *g = &p->groups[k];
        uint32_t state = (uint32_t)(g->of->scene.state - m->states);
        lanes_set(mask_of(p, MASKS_NOW, 0), g->lane, g->n_lanes, true);
        if (g->of->scene.plain) {
            scene_of[state] = &g->of->scene;
            lanes_set(lanes + (size_t)state * p->width, g->lane, g->n_lanes, true);
        } else {
            memset(own, 0, sizeof own);
            lanes_set(own, g->lane, g->n_lanes, true);
            statics_load(p, &g->of->scene, own);
        }
    }
    for (uint32_t i = 0; i < m->n_states; i++) {
        if (scene_of[i])
            statics_load(p, scene_of[i], lanes + (size_t)i * p->width);
    }
    mem_free(lanes);
    mem_free(scene_of);
}

/* In these lanes an edit takes the element of mask `row` out, and hands its lanes to the copy, if there is one. */
static void taken_add(struct pack *p, const struct edit *from, uint32_t row, uint32_t copy, const struct group *g)
{
    struct taken *t = NULL;
    for (uint32_t k = p->n_taken; k-- > 0 && !t;) {
        if (p->taken[k].from == from && p->taken[k].row == row)
            t = &p->taken[k];
    }
    if (!t) {
        MEM_GROW(p->taken, p->n_taken, p->cap_taken);
        t = &p->taken[p->n_taken++];
        *t = (struct taken){.from = from, .row = row, .copy = copy};
    }
    lanes_set(t->lanes, g->lane, g->n_lanes, true);
}

static void edit_load(struct pack *p, const struct group *g, const struct edit *e)
{
    if (e->kind == EDIT_ADD) {
        uint32_t row = added_find(p, e, false);
        if (row != NONE)
            lanes_set(mask_of(p, MASKS_NOW, p->added_row[row]), g->lane, g->n_lanes, true);
        return;
    }
    if (e->kind != EDIT_REMOVE && e->kind != EDIT_RESIZE)
        return;
    const struct element *el = &p->network->elements[e->element.i];
    uint32_t row = own_row(p, e->element.i), copy = e->kind == EDIT_RESIZE ? added_find(p, e, false) : NONE;
    if (copy != NONE)
        copy = p->added_row[copy];
    if (el->mover == NONE) { /* once and for all */
        for (uint32_t l = g->lane; l < g->lane + g->n_lanes; l++) {
            if (copy != NONE)
                bit_set(mask_of(p, MASKS_NOW, copy), l, bit(mask_of(p, MASKS_NOW, row), l));
            bit_set(mask_of(p, MASKS_NOW, row), l, false);
        }
        return;
    }
    taken_add(p, e, row, copy, g);
    if (el->opens == OPENS_BY_SEAT) {
        uint32_t back = e->kind == EDIT_RESIZE ? added_find(p, e, true) : NONE;
        taken_add(p, e, p->row_of[p->network->n_elements + el->mover], back == NONE ? NONE : p->added_row[back], g);
    }
}

void pack_load(struct pack *p)
{
    const struct network *n = p->network;
    states_load(p);
    for (uint32_t k = 0; k < p->n_groups; k++) {
        const struct scene *s = &p->groups[k].of->scene;
        for (uint32_t i = 0; i < s->edits->n; i++)
            edit_load(p, &p->groups[k], &s->edits->rows[i]);
        for (uint32_t i = 0; i < n->n_seats; i++) {
            if (s->fixed[n->n_spools + n->n_limits + i])
                lanes_set(p->unguarded + (size_t)i * p->width, p->groups[k].lane, p->groups[k].n_lanes, true);
        }
    }
}

uint32_t sets_doubtful(const struct network *n, const uint8_t *sets, uint32_t *combinations)
{
    uint32_t doubtful = 0, product = 1, movers = network_movers(n), seats = n->n_spools + n->n_limits;
    for (uint32_t i = 0; i < movers; i++) {
        uint32_t size = set_size(sets[i]);
        doubtful += size > 1;
        if (i < seats || size < 2) {
            product *= size;
        } else {
            uint32_t other = seats + n->seats[i - seats].other;
            /* never both seats of one ball shut: two doubtful seats have three combinations, counted at the first */
            product *= sets[other] == SEAT_SHUT ? 1 : set_size(sets[other]) < 2 ? 2 : i < other ? 3 : 1;
        }
        if (product > 2 * LANES_MAX)
            product = 2 * LANES_MAX;
    }
    *combinations = product;
    return doubtful;
}

/* Combination number `k` of the sets of the doubtful movers in `rows`, mixed radix, first mover fastest. In number 0
 * all movers have the lowest of their positions. */
static void combination_pick(const struct network *n, const uint8_t *sets, const uint32_t *rows, uint32_t n_rows,
                             uint32_t k, uint8_t *choice)
{
    uint32_t seats = n->n_spools + n->n_limits;
    for (uint32_t r = 0; r < n_rows; r++) {
        uint32_t i = rows[r], size = set_size(sets[i]);
        if (i >= seats) {
            uint32_t other = seats + n->seats[i - seats].other;
            if (sets[other] == SEAT_SHUT) {
                choice[i] = SEAT_OPEN;
                continue;
            }
            if (set_size(sets[other]) > 1) {
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

/* Positions in which an element of a mover conducts, as bits. */
static uint64_t conducting(const struct element *e)
{
    return e->opens == OPENS_IN_POSITION ? e->when : e->opens == OPENS_UNLESS_SHUT ? MAY_WIDE | MAY_LIMIT : SEAT_OPEN;
}

static void mover_mask(struct pack *p, enum mask_set set, uint32_t element, uint32_t mover)
{
    const unsigned w = p->width;
    const uint64_t *planes = set == MASKS_NOW ? p->now : p->sets;
    uint64_t when = conducting(&p->network->elements[element]), *mask = mask_of(p, set, p->row_of[element]);
    for (unsigned k = 0; k < w; k++) {
        uint64_t in = 0, out = 0;
        for (unsigned b = 0; b < POSITIONS; b++) {
            uint64_t lanes = planes[((size_t)mover * POSITIONS + b) * w + k];
            in |= when >> b & 1 ? lanes : 0;
            out |= when >> b & 1 ? 0 : lanes;
        }
        mask[k] = set == MASKS_SURE ? in & ~out : in;
    }
}

/* The masks of everything that moves, then what edits take of them. While it is asked where the balls go, a hole under
 * a shuttle passes inwards only, unless its ball no longer guards it. */
static void masks_move(struct pack *p, enum mask_set set)
{
    const struct network *n = p->network;
    const unsigned w = p->width;
    for (uint32_t i = 0; i < n->n_spools; i++) {
        for (uint32_t e = n->valve_element[n->spools[i].valve.i]; e < n->valve_element[n->spools[i].valve.i + 1]; e++)
            mover_mask(p, set, e, i);
    }
    for (uint32_t i = 0; i < n->n_limits; i++)
        mover_mask(p, set, n->limits[i].window.i, n->n_spools + i);
    for (uint32_t i = 0; i < n->n_seats; i++) {
        mover_mask(p, set, n->seats[i].element.i, n->n_spools + n->n_limits + i);
        const uint64_t *in = mask_of(p, set, p->row_of[n->seats[i].element.i]);
        uint64_t *back = mask_of(p, set, p->row_of[n->n_elements + i]);
        for (unsigned k = 0; k < w; k++)
            back[k] = in[k] & (p->inward ? p->unguarded[(size_t)i * w + k] : ~UINT64_C(0));
    }
    for (uint32_t t = 0; t < p->n_taken; t++) {
        for (unsigned k = 0; p->taken[t].copy != NONE && k < w; k++)
            mask_of(p, set, p->taken[t].copy)[k] = mask_of(p, set, p->taken[t].row)[k] & p->taken[t].lanes[k];
    }
    for (uint32_t t = 0; t < p->n_taken; t++) {
        for (unsigned k = 0; k < w; k++)
            mask_of(p, set, p->taken[t].row)[k] &= ~p->taken[t].lanes[k];
    }
}

void pack_move(struct pack *p, bool inward)
{
    p->inward = inward;
    p->root_valid = false;
    masks_move(p, MASKS_NOW);
    if (!p->doubt)
        return;
    size_t bytes = (size_t)p->n_rows * p->width * sizeof(uint64_t);
    memcpy(p->masks[MASKS_SURE], p->masks[MASKS_NOW], bytes);
    memcpy(p->masks[MASKS_MAY], p->masks[MASKS_NOW], bytes);
    masks_move(p, MASKS_SURE);
    masks_move(p, MASKS_MAY);
}

void group_move(struct pack *p, const struct group *g, const uint8_t *sets)
{
    const struct network *n = p->network;
    uint32_t movers = network_movers(n), combinations, rows[DOUBTFUL_MAX], n_rows = 0;
    uint8_t choice[MOVERS_ON_STACK], *chosen = movers > MOVERS_ON_STACK ? mem_alloc(movers) : choice;
    uint8_t *placed = p->placed + (size_t)(g - p->groups) * movers;
    uint8_t kind = g->fallback ? 0x80 : 0x40; /* the fallback takes one combination for all lanes */
    bool same = movers > 0;
    for (uint32_t i = 0; i < movers; i++) {
        uint8_t lowest = (uint8_t)(sets[i] & -sets[i]);
        if (set_size(sets[i]) > 1 && n_rows++ < DOUBTFUL_MAX)
            rows[n_rows - 1] = i;
        if (placed[i] == (sets[i] | kind))
            continue;
        same = false;
        placed[i] = sets[i] | kind;
        for (unsigned q = 0; q < POSITIONS; q++) {
            size_t at = ((size_t)i * POSITIONS + q) * p->width;
            lanes_set(p->now + at, g->lane, g->n_lanes, lowest >> q & 1);
            lanes_set(p->sets + at, g->lane, g->n_lanes, sets[i] >> q & 1);
        }
    }
    /* with more doubt than that the case takes the fallback, or waits for another place and is not looked at */
    if (!same && !g->fallback && n_rows && n_rows <= DOUBTFUL_MAX) {
        sets_doubtful(n, sets, &combinations);
        for (uint32_t l = 0; l < g->n_lanes; l++) {
            combination_pick(n, sets, rows, n_rows, l < combinations ? l : combinations - 1, chosen);
            for (uint32_t r = 0; r < n_rows; r++)
                for (unsigned q = 0; q < POSITIONS; q++)
                    bit_set(p->now + ((size_t)rows[r] * POSITIONS + q) * p->width, g->lane + l,
                            chosen[rows[r]] >> q & 1);
        }
    }
    if (chosen != choice)
        mem_free(chosen);
}
