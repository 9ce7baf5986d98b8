/* Inner to trace/: lanes. A pack evaluates up to 64 x width cases at once: bit i of every set belongs to lane i. A case
 * without doubt takes one lane; a case with undetermined valves or doubtful seats takes a lane for each combination of
 * their positions (a power of two, the last combination repeated), all in one group.
 *
 * Planes: a passage's node has `width` words for each set. A mask has `width` words and says in which lanes an element
 * conducts; elements that conduct in every lane share mask row 0. */
#ifndef TRACE_PACK_H
#define TRACE_PACK_H
#include "trace/conduct.h"

#define WIDTH_FEW  1u  /* words: up to 64 cases, as in a single trace */
#define WIDTH_MANY 4u  /* the usual width of many cases */
#define WIDTH_MAX  32u /* for one case whose doubtful limiting valves have three positions each */
#define LANES_MAX  (64u * WIDTH_MAX)
#define POSITIONS  3u /* bits of a set of positions */

struct group {
    struct settling *of; /* the case */
    uint32_t lane, n_lanes;
    bool fallback; /* more than DOUBTFUL_MAX doubtful elements now: every lane has the first combination, and
                    * p->unsure says what doubt reaches */
};

struct added { /* an element that edits add, in the lanes that have it */
    struct element element;
    const struct edit *from;
    bool outward; /* of a resized hole under a shuttle: the copy that runs out of the pocket */
};

enum mask_set { MASKS_NOW, MASKS_SURE, MASKS_MAY, N_MASK_SETS };
enum way { ALONG_FLOW, AGAINST_FLOW, EITHER_WAY };

struct pack {
    const struct network *network;
    unsigned width;
    struct group *groups; /* [64 * width] */
    uint32_t n_groups, n_lanes;
    bool doubt, fallback; /* any group with more than one lane; any in fallback now */
    bool inward;          /* holes under shuttles pass inwards only (step 1 of a round) */
    uint32_t n_switched;  /* elements that do not always conduct: mask rows 1 .. n_switched */
    uint32_t *switched;   /* [n_switched] */
    uint32_t *row_of; /* [n_elements + n_seats] mask row; behind the elements the shuttles' holes out of the pocket */
    uint32_t n_rows, cap_rows, first_free_row;
    uint64_t *masks[N_MASK_SETS]; /* [n_rows * width]; NOW: the lane's own positions; SURE, MAY: over its whole group */
    uint32_t *own_rows;           /* elements that always conduct but were edited in some lane */
    uint32_t n_own_rows, cap_own_rows;
    struct added *added; /* mask n_elements + n_seats + k; arcs below */
    uint32_t n_added, cap_added;
    uint32_t *added_row; /* [n_added] mask row */
    struct added_arc {
        struct arc arc;
        uint32_t next;
    } * added_arcs;       /* two for each added */
    uint32_t *added_head; /* [n_nodes] first arc, NONE */
    uint64_t *now;        /* [n_movers * POSITIONS * width] lanes in which a mover has each position */
    uint64_t *sets;       /* the same for its set: over the whole group */
    uint8_t *placed;      /* [64 width * n_movers] sets that group_move() put in each group last */
    uint64_t *unguarded;  /* [n_seats * width] lanes in which the ball no longer guards its holes */
    struct taken {        /* an element that moves and that an edit takes out in some lanes */
        const struct edit *from;
        uint32_t row, copy; /* masks; copy: of its resized stand-in, or NONE */
        uint64_t lanes[WIDTH_MAX];
    } * taken;
    uint32_t n_taken, cap_taken;
    uint64_t *cond;          /* [n_nodes * 3 width]: reached by feed, by exhaust, decided */
    uint64_t *alt, *reduced; /* the same, for judging limiting valves; made when first needed */
    uint64_t *unsure;        /* [n_nodes * width] what doubt reaches in fallback groups; valid when `fallback` */
    uint64_t *root; /* [n_nodes * width] sump, sources that are on and what is joined to them; made when first needed */
    bool root_valid;
    uint64_t *reach;      /* [n_nodes * width] for follow() */
    uint64_t *live;       /* [n_nodes * width] see live_find() */
    uint64_t *gone;       /* [n_nodes * width] see limiting.c */
    uint64_t *closed;     /* [n_nodes * width] see estimate.c */
    uint64_t *everywhere; /* [n_nodes * width] what roots_find() and unsure_find() let oil enter */
    uint64_t *support;    /* [n_nodes * 3 width] for fights */
    uint32_t *queue;      /* ring of n_nodes */
    uint32_t queue_first, queue_n;
    uint8_t *queued;
    uint32_t *touched; /* nodes reached at this level */
    uint32_t n_touched;
    uint8_t *is_touched;
    uint32_t *drawn_in; /* nodes that a fight drew in, which hand on more at the next level than they did at theirs */
    uint32_t n_drawn_in;
    uint64_t decided_at[STRENGTH_JOINED + 1][WIDTH_MAX]; /* lanes in which the watched node was decided, by level */
    uint64_t n_evaluations;
    struct touching *touching; /* not NULL: what differs from lane 0 is written down (touch.h) */
};

struct settling; /* settle.h */

void pack_init(struct pack *p, const struct network *n, unsigned width);
void pack_release(struct pack *p);

/** Forgets the lanes. */
void pack_clear(struct pack *p);

/** Gives a case the next n_lanes lanes (a power of two, aligned; more than one: the pack is ready for doubt). @return
 * false: no room. */
bool pack_place(struct pack *p, struct settling *s, uint32_t n_lanes);

/** Loads the settings and edits of all groups into the masks; call once after the pack_place()s. */
void pack_load(struct pack *p);

/** Puts what moves in a group at its sets of positions [n_movers]: one combination a lane. pack_move() follows. */
void group_move(struct pack *p, const struct group *g, const uint8_t *sets);

/** Makes the masks from the positions. @param inward holes under shuttles pass inwards only (step 1 of a round). */
void pack_move(struct pack *p, bool inward);

/** How many positions a set holds. */
static inline uint32_t set_size(uint8_t set)
{
    static const uint8_t sizes[8] = {0, 1, 1, 2, 1, 2, 2, 3};
    return sizes[set & 7];
}

/** Number of doubtful elements and of combinations in sets of positions (at most 2 x LANES_MAX is counted). */
uint32_t sets_doubtful(const struct network *n, const uint8_t *sets, uint32_t *combinations);

/** Words of one node's plane. */
static inline uint64_t *plane(uint64_t *planes, unsigned width, uint32_t node)
{
    return planes + (size_t)node * width;
}
static inline uint64_t *cond_of(uint64_t *cond, unsigned width, uint32_t node)
{
    return cond + (size_t)node * 3 * width;
}
static inline bool bit(const uint64_t *words, uint32_t lane)
{
    return words[lane / 64] >> (lane % 64) & 1;
}
static inline void bit_set(uint64_t *words, uint32_t lane, bool on)
{
    uint64_t b = UINT64_C(1) << (lane % 64);
    words[lane / 64] = on ? words[lane / 64] | b : words[lane / 64] & ~b;
}
/** Mask row of an arc of the network: looked up only where it can differ from row 0. */
static inline uint32_t arc_row(const struct pack *p, struct arc a)
{
    return ARC_SWITCHED(a) || p->n_own_rows ? p->row_of[ARC_MASK(a)] : 0;
}
/* A group's lanes are a power of two and aligned to it: part of one word, or whole words. */
static inline uint64_t lanes_mask(uint32_t lane, uint32_t n)
{
    return n >= 64 ? ~UINT64_C(0) : ((UINT64_C(1) << n) - 1) << lane % 64;
}
/** Are all of a group's lanes set? Is any? */
static inline bool lanes_all(const uint64_t *words, uint32_t lane, uint32_t n)
{
    uint64_t mask = lanes_mask(lane, n), all = mask;
    for (uint32_t k = lane / 64; k * 64 < lane + n; k++)
        all &= words[k];
    return all == mask;
}
static inline bool lanes_some(const uint64_t *words, uint32_t lane, uint32_t n)
{
    uint64_t mask = lanes_mask(lane, n), some = 0;
    for (uint32_t k = lane / 64; k * 64 < lane + n; k++)
        some |= words[k] & mask;
    return some;
}
static inline void lanes_set(uint64_t *words, uint32_t lane, uint32_t n, bool on)
{
    uint64_t mask = lanes_mask(lane, n);
    for (uint32_t k = lane / 64; k * 64 < lane + n; k++)
        words[k] = on ? words[k] | mask : words[k] & ~mask;
}
/** Mask row of an arc of an added element. */
static inline uint32_t added_mask(const struct pack *p, struct arc a)
{
    return p->added_row[ARC_MASK(a) - p->network->n_elements - p->network->n_seats];
}

/** Lanes in which a mover has one position (a MAY_* or SEAT_* bit), in p->now or p->sets. */
static inline uint64_t *position_lanes(const struct pack *p, uint64_t *planes, uint32_t mover, unsigned position)
{
    return planes + ((size_t)mover * POSITIONS + (position >> 1)) * p->width; /* 1, 2, 4: bits 0, 1, 2 */
}

/** Conditions of all passages by the MASKS_NOW masks, into `cond` (p->cond, alt or reduced).
 *  @param gone [n_nodes * width] lanes in which a node is taken out of the network, or NULL.  @param lanes [width] the
 * lanes that are asked for (in the others every passage is trapped), or NULL: all.
 *  @param watch node whose level of decision goes to p->decided_at, or NONE. */
void conditions_find(struct pack *p, uint64_t *cond, const uint64_t *gone, const uint64_t *lanes, uint32_t watch);

/** Marks in p->unsure what the doubtful elements of fallback groups reach, roots excepted and not passed.
 *  @param sets_of as above.  @param skip mover that is not doubtful here, or NONE. */
void unsure_find(struct pack *p, const uint8_t *(*sets_of)(const struct group *g), uint32_t skip);

/** Follows oil from nodes already marked in `reach` and pushed with follow_push(), into nodes whose `allowed` words
 * (stride words apart) let the lane in, through elements at least `least` strong by mask set `masks`. */
void follow(struct pack *p, uint64_t *reach, const uint64_t *allowed, size_t stride, enum mask_set masks, enum way way,
            enum strength least);
void follow_push(struct pack *p, uint32_t node);

/** Allocates a plane of n_nodes x width words at *at unless it is there; its content is not cleared. */
void plane_make(struct pack *p, uint64_t **at);

/** Marks sump and the sources that are on in `cond`, as decided. @param lanes as in conditions_find(). */
void roots_put(struct pack *p, uint64_t *cond, const uint64_t *lanes);

/** Takes a node from the queue that follow_push() fills; the queue must not be empty. */
uint32_t follow_pop(struct pack *p);

/** Fills p->root. */
void roots_find(struct pack *p);

/** Estimated pressures: the widest path from sources.
 *  @param allowed live lanes by node.  @param capped [n_limits * width] lanes in which each limiting valve caps.
 *  @param nodes [n] asked for.  @param out [n * 64 width] Pa, by lane; 0 where no route. */
void estimate_find(struct pack *p, const uint64_t *allowed, size_t stride, enum mask_set masks, const uint64_t *capped,
                   const uint32_t *nodes, uint32_t n, double *out);
#endif
