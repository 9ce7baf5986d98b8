/* Rounds for many cases at once, positions as planes. What settle.c does case by case is done here for all lanes of a
 * pack together, as long as nothing is in doubt: lanes of the same case (which ends are fed, drained, in a fight) and
 * the same settings are judged once. A lane with any doubt, a second feed at a limiting valve, or more rounds than is
 * usual is put back to its start and left to settle.c, so both give the same answers. */
#include "base/mem.h"
#include "trace/settle.h"
#include "trace/touching.h"
#include <string.h>

#define BULK_ROUNDS_MAX 24u /* a case that moves longer may be in a cycle, which settle.c finds */

struct bulk {
    struct pack *p;
    const struct trace *healthy;
    uint32_t seats;             /* first mover that is a seat */
    uint64_t left[WIDTH_MANY];  /* lanes that still move */
    uint64_t eject[WIDTH_MANY]; /* lanes to be settled with care */
    uint64_t gone[WIDTH_MANY];  /* lanes ejected in earlier rounds */
    uint64_t moved[WIDTH_MANY]; /* lanes that moved in this round */
    uint64_t *fixed;            /* [n_movers * width] lanes in which an edit keeps a mover where it is */
    uint64_t *broken;           /* [(n_spools + n_limits) * width] */
    uint64_t *class_of;         /* [n_classes * width] lanes with the same settings and the same healthy state */
    uint32_t n_classes;
    double *low, *high; /* [n_classes] bounds of pressures */
    uint8_t lane_class[64 * WIDTH_MANY];
    uint64_t *trail; /* [BULK_ROUNDS_MAX * n_movers * POSITIONS * width] positions at the start of each round */
    uint8_t ejected_at[64 * WIDTH_MANY]; /* round in which a lane was ejected */
    uint64_t *start;                     /* [n_seats * POSITIONS * width] seats at the start of the round */
};

static bool any(const uint64_t *lanes, unsigned w)
{
    for (unsigned k = 0; k < w; k++) {
        if (lanes[k])
            return true;
    }
    return false;
}

static uint32_t lowest(const uint64_t *lanes)
{
    uint32_t k = 0;
    while (!lanes[k])
        k++;
    return 64 * k + (uint32_t)__builtin_ctzll(lanes[k]);
}

/* A class a state; cases whose edits change settings have one each. */
static void classes_find(struct bulk *b)
{
    struct pack *p = b->p;
    const struct model *m = p->network->model;
    const unsigned w = p->width;
    uint32_t *class_of_state = mem_alloc(((size_t)m->n_states + 1) * sizeof *class_of_state);
    memset(class_of_state, 0xff, m->n_states * sizeof *class_of_state);
    b->class_of = mem_zero((size_t)p->n_groups * w + 1, sizeof *b->class_of);
    b->low = mem_alloc(((size_t)p->n_groups + 1) * sizeof *b->low);
    b->high = mem_alloc(((size_t)p->n_groups + 1) * sizeof *b->high);
    for (uint32_t l = 0; l < p->n_groups; l++) {
        const struct settling *s = p->groups[l].of;
        uint32_t state = (uint32_t)(s->scene.state - m->states), class = s->scene.plain ? class_of_state[state] : NONE;
        if (class == NONE) {
            class = b->n_classes++;
            setting_bounds(p->network, s, &b->low[class], &b->high[class]);
            if (s->scene.plain)
                class_of_state[state] = class;
        }
        bit_set(b->class_of + (size_t) class * w, l, true);
        b->lane_class[l] = (uint8_t) class;
    }
    mem_free(class_of_state);
}

static void bulk_init(struct bulk *b, struct pack *p, const struct trace *healthy)
{
    const struct network *n = p->network;
    const unsigned w = p->width;
    uint32_t movers = network_movers(n);
    memset(b, 0, sizeof *b);
    b->p = p;
    b->healthy = healthy;
    b->seats = n->n_spools + n->n_limits;
    b->fixed = mem_zero((size_t)movers * w + 1, sizeof *b->fixed);
    b->broken = mem_zero((size_t)b->seats * w + 1, sizeof *b->broken);
    b->start = mem_zero((size_t)n->n_seats * POSITIONS * w + 1, sizeof *b->start);
    memset(p->now, 0, (size_t)movers * POSITIONS * w * sizeof *p->now);
    for (uint32_t l = 0; l < p->n_groups; l++) {
        const struct settling *s = p->groups[l].of;
        bit_set(b->left, l, true);
        for (uint32_t i = 0; i < movers; i++) {
            bit_set(position_lanes(p, p->now, i, s->now[i]), l, true);
            if (s->scene.fixed[i])
                bit_set(b->fixed + (size_t)i * w, l, true);
            if (i < b->seats &&
                s->scene.broken[i < n->n_spools ? n->spools[i].valve.i : n->limits[i - n->n_spools].valve.i])
                bit_set(b->broken + (size_t)i * w, l, true);
        }
    }
    classes_find(b);
}

static void bulk_release(struct bulk *b)
{
    mem_free(b->fixed);
    mem_free(b->broken);
    mem_free(b->start);
    mem_free(b->trail);
    mem_free(b->class_of);
    mem_free(b->low);
    mem_free(b->high);
}

/* Lanes of a node that are fed and not in a fight, in a fight, dead. */
struct node_lanes {
    uint64_t fed[WIDTH_MANY], fight[WIDTH_MANY], dead[WIDTH_MANY];
};

static void node_read(const struct pack *p, passage_ix at, struct node_lanes *out)
{
    const unsigned w = p->width;
    const uint64_t *c = cond_of(p->cond, w, p->network->node_of[at.i]);
    for (unsigned k = 0; k < w; k++) {
        out->fed[k] = c[k] & ~c[w + k];
        out->fight[k] = c[k] & c[w + k];
        out->dead[k] = ~c[k];
    }
}

/* Both inlets fed: with pressures that cannot be more than a tenth apart both seats stay open; others need estimates.
 */
static void inlets_compare(struct bulk *b, const uint64_t *both)
{
    const unsigned w = b->p->width;
    for (uint32_t c = 0; c < b->n_classes && any(both, w); c++) {
        for (unsigned k = 0; b->high[c] - b->low[c] > 0.1 * b->high[c] && k < w; k++)
            b->eject[k] |= both[k] & b->class_of[(size_t)c * w + k];
    }
}

/* Step 1, from conditions with every seat open. */
static void seats_judge(struct bulk *b)
{
    struct pack *p = b->p;
    const struct network *n = p->network;
    const unsigned w = p->width;
    for (uint32_t s = 0; s < n->n_seats; s += 2) {
        struct node_lanes a, c;
        uint64_t both[WIDTH_MANY];
        node_read(p, n->seats[s].inlet, &a);
        node_read(p, n->seats[s + 1].inlet, &c);
        for (uint32_t side = 0; side < 2; side++) {
            uint64_t *open = position_lanes(p, p->now, b->seats + s + side, SEAT_OPEN);
            uint64_t *shut = position_lanes(p, p->now, b->seats + s + side, SEAT_SHUT);
            const uint64_t *was_open = b->start + (size_t)(s + side) * POSITIONS * w, *was_shut = was_open + w;
            const struct node_lanes *own = side ? &c : &a, *other = side ? &a : &c;
            for (unsigned k = 0; k < w; k++) {
                uint64_t asked = b->left[k] & ~b->fixed[(size_t)(b->seats + s) * w + k];
                uint64_t shuts = own->dead[k] & other->fed[k] & asked;
                shut[k] = shuts | (was_shut[k] & ~asked);
                open[k] = (asked & ~shuts) | (was_open[k] & ~asked);
                b->moved[k] |= (shut[k] ^ was_shut[k]) & asked;
            }
        }
        for (unsigned k = 0; k < w; k++) {
            uint64_t asked = b->left[k] & ~b->fixed[(size_t)(b->seats + s) * w + k];
            b->eject[k] |= asked & ((a.fight[k] & ~c.dead[k]) | (c.fight[k] & ~a.dead[k]) | (a.fight[k] & c.dead[k]) |
                                    (c.fight[k] & a.dead[k]));
            both[k] = asked & a.fed[k] & c.fed[k];
        }
        inlets_compare(b, both);
    }
}

/* Every seat open where oil may move the ball; what it was is kept in b->start. */
static void seats_open(struct bulk *b)
{
    struct pack *p = b->p;
    const unsigned w = p->width;
    size_t first = (size_t)b->seats * POSITIONS * w;
    memcpy(b->start, p->now + first, (size_t)p->network->n_seats * POSITIONS * w * sizeof *b->start);
    for (uint32_t s = 0; s < p->network->n_seats; s++) {
        uint64_t *open = position_lanes(p, p->now, b->seats + s, SEAT_OPEN),
                 *shut = position_lanes(p, p->now, b->seats + s, SEAT_SHUT);
        for (unsigned k = 0; k < w; k++) {
            open[k] |= b->left[k];
            shut[k] &= ~b->left[k];
        }
    }
}

static void limits_move(struct bulk *b)
{
    struct pack *p = b->p;
    const struct network *n = p->network;
    const unsigned w = p->width;
    for (uint32_t i = 0; i < n->n_limits; i++) {
        uint32_t mover = n->n_spools + i;
        uint64_t asked[WIDTH_MANY], wide[WIDTH_MANY], limiting[WIDTH_MANY];
        for (unsigned k = 0; k < w; k++) {
            uint64_t broken = b->broken[(size_t)mover * w + k];
            uint64_t lanes =
                p->touching ? p->masks[MASKS_NOW][k] : b->left[k]; /* lane 0 is to be asked as long as any */
            asked[k] = lanes & ~b->fixed[(size_t)mover * w + k];
            b->eject[k] |= asked[k] & broken;
            asked[k] &= ~broken;
        }
        limit_judge_plain(p, i, asked, wide, limiting, b->eject);
        uint64_t *now_wide = position_lanes(p, p->now, mover, MAY_WIDE),
                 *now_limit = position_lanes(p, p->now, mover, MAY_LIMIT);
        for (unsigned k = 0; k < w; k++) {
            uint64_t told = wide[k] | limiting[k];
            b->moved[k] |= (now_wide[k] ^ wide[k]) & told;
            now_wide[k] = (now_wide[k] & ~told) | wide[k];
            now_limit[k] = (now_limit[k] & ~told) | limiting[k];
        }
    }
}

/* Lanes of `rest` in the same case as lane `l`: same class, same conditions at all ends of the spool. */
static void case_find(const struct bulk *b, const struct valve *v, uint32_t spool, const uint64_t *rest, uint32_t l,
                      uint64_t *same)
{
    const struct pack *p = b->p;
    const unsigned w = p->width;
    const uint64_t *class = b->class_of + (size_t)b->lane_class[l] * w, *broken = b->broken + (size_t)spool * w;
    uint64_t flip = bit(broken, l) ? 0 : ~UINT64_C(0);
    for (unsigned k = 0; k < w; k++)
        same[k] = rest[k] & class[k] & (broken[k] ^ flip);
    for (uint32_t e = 0; e < v->n_ends; e++) {
        const uint64_t *c = cond_of(p->cond, w, p->network->node_of[v->ports[v->ends[e].port].passage.i]);
        uint64_t feed = bit(c, l) ? 0 : ~UINT64_C(0), exhaust = bit(c + w, l) ? 0 : ~UINT64_C(0);
        for (unsigned k = 0; k < w; k++)
            same[k] &= (c[k] ^ feed) & (c[w + k] ^ exhaust);
    }
}

static void spool_put(struct bulk *b, const uint64_t *lanes, uint8_t set, uint64_t *next)
{
    const unsigned w = b->p->width;
    for (unsigned k = 0; k < w; k++) {
        if (set == (MAY_REST | MAY_STROKED))
            b->eject[k] |= lanes[k];
        else if (set == MAY_STROKED)
            next[k] |= lanes[k];
    }
}

/* Lanes whose pressures decide: their estimates, case by case. */
static void spools_estimated(struct bulk *b, const uint64_t *needs, uint64_t *next)
{
    struct pack *p = b->p;
    const struct network *n = p->network;
    const unsigned w = p->width;
    for (uint32_t l = 0; l < p->n_groups; l++) {
        for (uint32_t i = 0; i < n->n_spools; i++)
            p->groups[l].of->next[i] = bit(needs + (size_t)i * w, l) ? 0 : MAY_REST;
    }
    spools_by_estimate(p, b->healthy);
    for (uint32_t l = 0; l < p->n_groups; l++) {
        uint64_t lane[WIDTH_MANY] = {0};
        bit_set(lane, l, true);
        for (uint32_t i = 0; i < n->n_spools; i++) {
            if (bit(needs + (size_t)i * w, l))
                spool_put(b, lane, p->groups[l].of->next[i], next + (size_t)i * w);
        }
    }
}

static void spools_move(struct bulk *b)
{
    struct pack *p = b->p;
    const struct network *n = p->network;
    const unsigned w = p->width;
    uint64_t *needs = mem_zero((size_t)n->n_spools * w + 1, sizeof *needs),
             *next = mem_zero((size_t)n->n_spools * w + 1, sizeof *next);
    bool estimate = false;
    for (uint32_t i = 0; i < n->n_spools; i++) {
        const struct valve *v = &n->model->valves[n->spools[i].valve.i];
        uint64_t rest[WIDTH_MANY], same[WIDTH_MANY];
        for (unsigned k = 0; k < w; k++)
            rest[k] = b->left[k] & ~b->fixed[(size_t)i * w + k];
        while (any(rest, w)) {
            uint32_t l = lowest(rest);
            case_find(b, v, i, rest, l, same);
            uint8_t set = spool_bounded(p, &p->groups[l], i, b->healthy);
            for (unsigned k = 0; k < w; k++) {
                rest[k] &= ~same[k];
                needs[(size_t)i * w + k] |= set ? 0 : same[k];
            }
            estimate |= !set;
            if (set)
                spool_put(b, same, set, next + (size_t)i * w);
        }
    }
    if (estimate ||
        p->touching) /* what a lane does to the estimates must be seen even where they decide nothing in it */
        spools_estimated(b, needs, next);
    for (uint32_t i = 0; i < n->n_spools; i++) {
        uint64_t *at_rest = position_lanes(p, p->now, i, MAY_REST),
                 *stroked = position_lanes(p, p->now, i, MAY_STROKED);
        for (unsigned k = 0; k < w; k++) {
            uint64_t asked = b->left[k] & ~b->fixed[(size_t)i * w + k], now = next[(size_t)i * w + k];
            b->moved[k] |= (stroked[k] ^ now) & asked;
            stroked[k] = (stroked[k] & ~asked) | (now & asked);
            at_rest[k] = (at_rest[k] & ~asked) | (~now & asked);
        }
    }
    mem_free(needs);
    mem_free(next);
}

static void bulk_round(struct bulk *b)
{
    struct pack *p = b->p;
    memset(b->moved, 0, sizeof b->moved);
    if (p->network->n_seats) {
        seats_open(b);
        pack_move(p, true);
        conditions_find(p, p->cond, NULL, NULL, NONE);
        seats_judge(b);
    }
    pack_move(p, false);
    conditions_find(p, p->cond, NULL, NULL, NONE);
    spools_move(b); /* first: estimates take the limiting positions with which the round began */
    limits_move(b);
    if (p->touching)
        round_touch(p);
}

/* Positions of one lane, as sets. */
static void lane_read(const struct pack *p, const uint64_t *planes, uint32_t l, uint8_t *sets)
{
    for (uint32_t i = 0; i < network_movers(p->network); i++) {
        sets[i] = 0;
        for (unsigned q = 0; q < POSITIONS; q++)
            sets[i] |= (uint8_t)(bit(planes + ((size_t)i * POSITIONS + q) * p->width, l) << q);
    }
}

/* Writes down the sets that a lane passed through: the starts of rounds 1 .. last, and what it is at now. */
static void lane_history(struct bulk *b, uint32_t l, uint32_t last, bool and_now)
{
    struct pack *p = b->p;
    struct settling *s = p->groups[l].of;
    size_t words = (size_t)network_movers(p->network) * POSITIONS * p->width;
    for (uint32_t r = 1; r <= last; r++) {
        lane_read(p, b->trail + r * words, l, s->now);
        settling_remember(s);
    }
    if (and_now) {
        lane_read(p, p->now, l, s->now);
        settling_remember(s);
    }
}

static void lanes_take(struct bulk *b, uint32_t rounds)
{
    struct pack *p = b->p;
    for (uint32_t l = 0; l < p->n_groups; l++) {
        struct settling *s = p->groups[l].of;
        if (bit(b->eject, l)) { /* goes on with care from the start of the round that ejected it */
            lane_history(b, l, b->ejected_at[l], false);
            s->n_rounds += b->ejected_at[l];
            s->careful = true;
            continue;
        }
        s->n_rounds += rounds;
        if (bit(b->left, l) && s->n_rounds >= BULK_ROUNDS_MAX) { /* perhaps in a cycle: from the start, with care */
            s->careful = true;
            s->n_rounds = 0;
            s->n_history = 1;
            memcpy(s->now, s->history, network_movers(p->network));
        } else if (bit(b->left, l)) {
            lane_history(b, l, rounds - 1, true);
        } else {
            lane_read(p, p->now, l, s->now);
            s->phase = SETTLE_DONE;
            s->out->settled = true;
        }
    }
}

/* Lanes that the round ejected, and the lanes that are left. */
static uint32_t round_end(struct bulk *b, uint32_t round)
{
    uint32_t left = 0;
    for (unsigned k = 0; k < b->p->width; k++) {
        for (uint64_t out = b->left[k] & b->eject[k]; out; out &= out - 1)
            b->ejected_at[64 * k + (uint32_t)__builtin_ctzll(out)] = (uint8_t)round;
        b->eject[k] &= b->left[k] | b->gone[k];
        b->gone[k] |= b->eject[k];
        b->left[k] &= b->moved[k] & ~b->eject[k];
        left += (uint32_t)__builtin_popcountll(b->left[k]);
    }
    return left;
}

uint32_t bulk_run(struct pack *p, const struct trace *healthy, uint32_t n_pending)
{
    struct bulk b;
    uint32_t rounds = 0, left = 0;
    size_t words = (size_t)network_movers(p->network) * POSITIONS * p->width, cap = 0;
    bulk_init(&b, p, healthy);
    do {
        if (rounds == cap)
            b.trail = mem_resize(b.trail, (cap = cap * 2 + 4) * words + 1, sizeof *b.trail);
        memcpy(b.trail + rounds * words, p->now, words * sizeof *b.trail);
        bulk_round(&b);
        left = round_end(&b, rounds++);
    } while (left && rounds < BULK_ROUNDS_MAX && (4 * left > p->n_groups || n_pending <= p->n_groups));
    lanes_take(&b, rounds);
    bulk_release(&b);
    return rounds;
}
