/* Inner to trace/: which elements conduct in one case, given the positions of what moves. */
#ifndef TRACE_CONDUCT_H
#define TRACE_CONDUCT_H
#include "trace/trace.h"

/* A case as the engine sees it: a state under edits, with what the edits change already looked up. */
struct scene {
    const struct network *network;
    const struct state *state;
    const struct edits *edits;
    bool plain;          /* edits change nothing of what the state sets: detents, shares, settings, reliefs */
    uint64_t *detents;   /* [n_valves] open detents, a bit each */
    double *shares;      /* [n_solenoids] */
    double *settings;    /* [n_feeds] Pa, 0: off */
    uint8_t *fixed;      /* [n_movers] set of one position where an edit pins it, else 0 */
    uint8_t *broken;     /* [n_valves] spring gone */
    uint8_t *stuck_open; /* [n_valves] relief or regulating */
};

/** Rows of all that moves: spools, then limits, then seats. */
static inline uint32_t network_movers(const struct network *n)
{
    return n->n_spools + n->n_limits + n->n_seats;
}

/** Looks up what a state and edits say. Everything lies in the arena. */
void scene_build(const struct network *n, const struct state *state, const struct edits *edits, struct arena *a,
                 struct scene *out);

/** True when an edit removes the element. */
bool element_is_removed(const struct scene *s, element_ix e);

/** True when an edit blocks this end of the valve: by pressure it pushes with 0. By structure a blocked end still feels
 * its passage. */
bool end_is_blocked(const struct scene *s, valve_ix valve, uint32_t port);

/** Does a network's element conduct by itself (edits that remove or resize are the caller's), given sets of positions
 * [n_movers]?  One position in each set gives YES or NO. */
enum certainty element_conducts(const struct scene *s, const struct element *e, const uint8_t *positions);
#endif
