/* Inner to trace/: writing down, while a pack settles, where its lanes go another way than lane 0, which is healthy. */
#ifndef TRACE_TOUCHING_H
#define TRACE_TOUCHING_H
#include "trace/pack.h"

struct touching {
    uint64_t *nodes;  /* [n_nodes * width] lanes in which a node was touched at any step */
    uint64_t *movers; /* [n_movers * width] lanes in which what moves read or did something else than in lane 0 */
    uint64_t alone[WIDTH_MANY];     /* lanes of which nothing can be told */
    uint64_t *fresh, *next;         /* [n_nodes * 2 width] what the last and the coming step reach anew */
    uint32_t *now_list, *next_list; /* nodes of both; [n_nodes] */
    uint8_t *listed;                /* [n_nodes] bit 1: in now_list, bit 2: in next_list */
};

/** conditions_find() step by step: after each step every node that some lane reached and lane 0 did not, or the other
 * way round, is touched. So a lane that touches a node neither in value nor in the step at which it is reached leaves
 * it alone. */
void conditions_touch(struct pack *p, uint64_t *cond);

/** follow() in the same way. */
void follow_touch(struct pack *p, uint64_t *reach, const uint64_t *allowed, size_t stride, uint32_t ways,
                  enum strength least);

/** At the end of a round: what reads a touched node is touched, and so are the ends of what stands elsewhere than in
 * lane 0. */
void round_touch(struct pack *p);

/** answers.c: follows all feeds and past all limiting valves once, for what that touches. */
void reach_touch(struct pack *p);
#endif
