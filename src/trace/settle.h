/* Inner to trace/: how one case finds its positions, round by round. */
#ifndef TRACE_SETTLE_H
#define TRACE_SETTLE_H
#include "trace/pack.h"

enum settle_phase { SETTLE_ROUNDS, SETTLE_ONE_AT_A_TIME, SETTLE_DONE };

struct settling {
    struct scene scene;
    uint32_t bit;       /* of the case in the planes of answers */
    uint32_t c;         /* row of the case in the trace */
    uint32_t healthy_c; /* row of the same state in the healthy trace */
    struct trace_case *out;
    enum settle_phase phase;
    uint8_t *now;     /* [n_movers] sets of positions */
    uint8_t *next;    /* [n_movers] what the round in progress finds */
    uint8_t *pinned;  /* [n_movers] the set that an element was pinned to, or 0 */
    uint8_t *history; /* [n_history * n_movers] sets seen, oldest first */
    uint32_t n_history, cap_history;
    struct arena *arena; /* of the history */
    double low, high;    /* setting_bounds(), where `bounded` */
    bool bounded;
    uint32_t cycle_first; /* row of history where the cycle began */
    uint32_t n_rounds, n_tries;
    uint32_t lanes; /* most lanes that it has needed */
    bool waiting;   /* needs more lanes than its place has: left as it was, to be placed anew */
    bool answered;
    bool careful; /* takes rounds of its own (settle.c): doubt, cycles, second feeds; the others settle in bulk (bulk.c)
                   */
};

/** Puts a case where it starts: spools at rest or where the state before (NULL: none) left them, limiting valves
 * limiting, seats open. All that it owns lies in the arena. */
void settling_make(struct settling *s, const struct scene *scene, const struct trace_case *before,
                   struct trace_case *out, struct arena *a);

/** Adds the positions that a case has now to its history. */
void settling_remember(struct settling *s);

/** True when a round is to judge the group's case. */
static inline bool settle_asked(const struct group *g)
{
    return g->of->phase != SETTLE_DONE && !g->of->waiting;
}

/** One round of all groups' cases that are not done: shuttles, conditions, limiting valves, spools. Cases that need
 * more lanes than they have wait as they were, with `lanes` saying what they need. Afterwards p->cond and the masks
 * hold for every case that is done.
 *  @return how many cases are neither done nor waiting. */
uint32_t settle_round(struct pack *p, const struct trace *healthy);

/** The group's sets of positions in the round in progress (for pack_doubt() and unsure_find()). */
const uint8_t *settle_sets(const struct group *g);

/** Condition of a node in a group: what all its lanes agree on, else UNSURE. */
static inline enum condition group_condition(const struct pack *p, const uint64_t *cond, uint32_t node,
                                             const struct group *g)
{
    const uint64_t *c = cond + (size_t)node * 3 * p->width, *x = c + p->width;
    if (g->fallback && bit(plane(p->unsure, p->width, node), g->lane))
        return UNSURE;
    bool feed = bit(c, g->lane), exhaust = bit(x, g->lane);
    if (g->n_lanes > 1 && ((feed ? !lanes_all(c, g->lane, g->n_lanes) : lanes_some(c, g->lane, g->n_lanes)) ||
                           (exhaust ? !lanes_all(x, g->lane, g->n_lanes) : lanes_some(x, g->lane, g->n_lanes))))
        return UNSURE;
    return feed && exhaust ? PARTIAL : feed ? FED : exhaust ? EXHAUSTED : TRAPPED;
}

/** Marks in p->live the lanes in which each node is live (fed, partial or unsure) for its whole group; returns what to
 * give as `allowed`, and its stride. */
const uint64_t *live_find(struct pack *p, size_t *stride);

/** Lanes in which each limiting valve caps an estimate: in all of a group unless it may stand wide. [n_limits * width]
 */
void capped_find(struct pack *p, uint64_t *capped);

/** Step 3 of a round: fills settling.next for the limiting valves of groups that are not done. */
void limits_judge(struct pack *p);

/** The same for lanes without doubt, as planes: fills next (MAY_WIDE and MAY_LIMIT lanes) for one limiting valve in the
 * lanes `asked`; lanes that need more than that are marked in `eject`. */
void limit_judge_plain(struct pack *p, uint32_t limit, const uint64_t *asked, uint64_t *wide, uint64_t *limiting,
                       uint64_t *eject);

/** One spool of one group by the bounds of its pressures: its set of positions, or 0 where they do not tell. */
uint8_t spool_bounded(const struct pack *p, const struct group *g, uint32_t row, const struct trace *healthy);

/** Judges by estimates the spools whose settling.next is 0. */
void spools_by_estimate(struct pack *p, const struct trace *healthy);

/** The least and the greatest pressure that a live passage of the case can have. */
void setting_bounds(const struct network *n, const struct settling *s, double *low, double *high);

/** Rounds in bulk, in a pack of cases without doubt, one lane each; cases that need care are put back to their start
 * and marked careful. Afterwards p->cond and the masks hold for every case that is done.
 *  @param n_pending cases that wait for a pack, these included.  @return rounds made. */
uint32_t bulk_run(struct pack *p, const struct trace *healthy, uint32_t n_pending);

/** Step 4: fills settling.next for the spools. */
void spools_judge(struct pack *p, const struct trace *healthy);
#endif
