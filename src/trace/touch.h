/* Which single faults cannot meddle with each other in a state: where their touched neighbourhoods are apart, a pair
 * does just what its two faults do alone, and need not be settled. A touched passage is one whose value, or the step at
 * which it gets it, differs from healthy at any time while the case settles: the steps matter, for a loop fed from both
 * sides loses nothing when one side is cut. */
#ifndef TRACE_TOUCH_H
#define TRACE_TOUCH_H
#include "trace/trace.h"

struct touches {
    uint32_t n_sets, n_states;
    uint32_t words;  /* of a neighbourhood: nodes, then what moves */
    uint64_t *near;  /* [n_sets * n_states * words] touched, and next to it through what may conduct */
    uint8_t *alone;  /* [n_sets * n_states] 1: nothing can be told of its pairs: doubt, a race, a source put off */
    uint8_t *device; /* [n_sets * n_states] 1: a device or the gear differs from healthy */
    uint32_t *after; /* [n_states] the state before, or NONE */
};

/** Settles every set in every state again, next to the healthy case, and writes down what it touches.
 *  @param singles the trace of these sets (for where an `after` starts, and for devices); @param healthy of the same
 * network. Caller releases with touches_release(). */
void touches_find(const struct trace *singles, const struct trace *healthy, struct touches *out);
void touches_release(struct touches *t);

/** True when the pair of sets a and b is, in this state, the union of what both do alone: conditions, reach, past,
 * positions and devices each from the one that changes it. False: not known. */
bool touches_apart(const struct touches *t, uint32_t a, uint32_t b, state_ix state);
#endif
