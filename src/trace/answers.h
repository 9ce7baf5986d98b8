/* Inner to trace/: from the lanes of settled cases to the answers that trace.h gives. */
#ifndef TRACE_ANSWERS_H
#define TRACE_ANSWERS_H
#include "trace/gear.h"
#include "trace/settle.h"

/* Answers as planes over the cases of a trace: `words` words a node, a bit a case. Bits stand wave by wave (states
 * after states), in a wave set by set, so that neighbours in a pack are neighbours here. */
struct trace_planes {
    uint32_t words;
    uint32_t *wave_first;               /* [n_states] first bit of the state's wave */
    uint32_t *wave_size;                /* [n_states] states in its wave */
    uint32_t *wave_row;                 /* [n_states] its row among them */
    uint64_t *fed, *exhausted, *unsure; /* [n_nodes * words]; fed and exhausted: partial */
    uint64_t **reach_sure, **reach_may; /* [n_feeds] planes; may: sure or through doubt */
    uint64_t **past_sure, **past_may;   /* [n_limits] */
    uint64_t **past_weak;               /* [n_limits]; NULL where the valve has no exhaust */
    struct scene *scenes;               /* [n_cases] */
    struct gear_names gears;
};

/** The bit of a case. */
static inline uint32_t case_bit(const struct trace *t, uint32_t c)
{
    uint32_t set = c / t->n_states, state = c % t->n_states;
    const struct trace_planes *a = t->planes;
    return a->wave_first[state] + set * a->wave_size[state] + a->wave_row[state];
}

/** Makes empty planes for a trace whose network and cases are set. */
void answers_init(struct trace *t);
void answers_release(struct trace *t);

/** Writes down the answers of all cases of the pack that are done and not yet answered. p->cond must hold their
 * conditions. */
void answers_take(struct trace *t, struct pack *p, const struct trace *healthy);
#endif
