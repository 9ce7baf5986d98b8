/* Conditions level by level: a worklist that follows feed along the flow and exhaust against it, one after the other.
 */
#include "scalar.h"
#include <string.h>

/* Marks of a node while a level is worked out. */
enum { BY_FEED = 1, BY_EXHAUST = 2, IN_FIGHT = 4, FEED_ALONE = 8, EXHAUST_ALONE = 16 };

struct signal {
    uint8_t mark;     /* that it leaves */
    unsigned ways;    /* in which it runs */
    uint8_t word;     /* condition that hands it on */
    bool fights;      /* so do partial nodes */
    uint8_t kept_out; /* nodes with this mark it does not enter */
    uint32_t *queue;
    uint32_t n;
};

void roots_take(const struct scalar *s, const uint8_t *gone, uint8_t *cond, uint8_t *level)
{
    const struct model *m = s->network->model;
    memset(cond, UNDECIDED, s->grid->n_nodes);
    memset(level, 0, s->grid->n_nodes);
    for (uint32_t i = 0; i < s->n_sources; i++) {
        uint32_t node = s->grid->node_of[m->feeds[s->sources[i]].passage.i];
        cond[node] = FED;
        level[node] = LEVEL_ROOT;
    }
    cond[0] = EXHAUSTED;
    level[0] = LEVEL_ROOT;
    for (uint32_t i = 0; gone && i < s->grid->n_nodes; i++)
        if (gone[i]) {
            cond[i] = GONE;
            level[i] = 0;
        }
}

void rest_take(const struct scalar *s, uint8_t *cond)
{
    for (uint32_t i = 0; i < s->grid->n_nodes; i++)
        if (cond[i] == UNDECIDED || cond[i] == GONE)
            cond[i] = TRAPPED;
}

static bool hands_on(const struct signal *x, uint8_t cond)
{
    return cond == x->word || (x->fights && cond == PARTIAL);
}

static void enter(struct scalar *s, struct signal *x, const uint8_t *cond, uint32_t node)
{
    if (cond[node] == UNDECIDED && !(s->mark[node] & (x->mark | x->kept_out))) {
        s->mark[node] |= x->mark;
        x->queue[x->n++] = node;
    }
}

/* Over one element from what is decided already. */
static void seed(struct scalar *s, struct signal *x, const uint8_t *cond, const struct grid_edge *e)
{
    uint32_t from = x->ways == WITH_FLOW ? e->from : e->to, to = x->ways == WITH_FLOW ? e->to : e->from;
    if (hands_on(x, cond[from]))
        enter(s, x, cond, to);
    if (!e->one_way && hands_on(x, cond[to]))
        enter(s, x, cond, from);
}

/* Spreads a signal from all that is decided into what is not. Stronger elements have handed on what is decided at
 * levels before, so only those of this very level are new to it; what is reached goes on through all. */
static void level_spread(struct scalar *s, struct signal *x, const uint8_t *conduct, const uint8_t *cond,
                         uint32_t least, uint32_t n_drawn_in)
{
    const struct grid *g = s->grid;
    uint32_t to;
    x->n = 0;
    for (uint32_t k = g->first_edge[least]; k < g->first_edge[least + 1]; k++)
        if (conduct[g->edges[k].slot])
            seed(s, x, cond, &g->edges[k]);
    for (uint32_t k = 0; k < s->n_extras; k++)
        if (s->extras[k].strength == least && conduct[s->extras[k].edge.slot])
            seed(s, x, cond, &s->extras[k].edge);
    /* what a fight drew in one level ago was reached by one signal then, and now hands on both */
    for (uint32_t at = 0; at < n_drawn_in + x->n; at++) {
        uint32_t node = at < n_drawn_in ? s->drawn_in[at] : x->queue[at - n_drawn_in];
        for (uint32_t k = g->first_arc[node]; k < g->first_arc[node + 1] && g->arcs[k].strength >= least; k++)
            if ((g->arcs[k].ways & x->ways) && conduct[g->arcs[k].slot])
                enter(s, x, cond, g->arcs[k].node);
        for (uint32_t k = 0; s->has_extra[node] && k < s->n_extras; k++)
            if (s->extras[k].strength >= least && conduct[s->extras[k].edge.slot] &&
                extra_leads(&s->extras[k], node, x->ways, &to))
                enter(s, x, cond, to);
    }
}

/* What only a fight lets through is in the fight too; @return whether there was such a node. */
static bool fight_widen(struct scalar *s, const uint32_t *reached, uint32_t n)
{
    bool more = false;
    for (uint32_t i = 0; i < n; i++)
        if (!(s->mark[reached[i]] & (IN_FIGHT | FEED_ALONE | EXHAUST_ALONE))) {
            s->mark[reached[i]] |= IN_FIGHT;
            more = true;
        }
    return more;
}

/* Marks in which nodes feed and exhaust meet, and what lies behind them. */
static void fights_find(struct scalar *s, const uint8_t *conduct, const uint8_t *cond, uint32_t least,
                        const struct signal reached[2])
{
    for (uint32_t i = 0; i < reached[0].n; i++)
        if (s->mark[reached[0].queue[i]] & BY_EXHAUST)
            s->mark[reached[0].queue[i]] |= IN_FIGHT;
    for (bool more = true; more;) {
        for (int k = 0; k < 2; k++)
            for (uint32_t i = 0; i < reached[k].n; i++)
                s->mark[reached[k].queue[i]] &= (uint8_t) ~(FEED_ALONE | EXHAUST_ALONE);
        struct signal feed = {FEED_ALONE, WITH_FLOW, FED, false, IN_FIGHT, s->queue, 0};
        struct signal exhaust = {EXHAUST_ALONE, AGAINST_FLOW, EXHAUSTED, false, IN_FIGHT, s->queue, 0};
        level_spread(s, &feed, conduct, cond, least, 0);
        level_spread(s, &exhaust, conduct, cond, least, 0);
        more = fight_widen(s, reached[0].queue, reached[0].n);
        more |= fight_widen(s, reached[1].queue, reached[1].n);
    }
}

void conditions_scalar(struct scalar *s, const uint8_t *conduct, const uint8_t *gone, uint8_t *cond, uint8_t *level)
{
    uint32_t n_drawn_in = 0;
    bool fought = false; /* some node is partial */
    roots_take(s, gone, cond, level);
    for (uint32_t least = LEVELS; least-- > 0;) {
        struct signal both[2] = {{BY_FEED, WITH_FLOW, FED, true, 0, s->queues[0], 0},
                                 {BY_EXHAUST, AGAINST_FLOW, EXHAUSTED, true, 0, s->queues[1], 0}};
        bool meet = fought;
        for (int k = 0; k < 2; k++)
            level_spread(s, &both[k], conduct, cond, least, n_drawn_in);
        for (uint32_t i = 0; !meet && i < both[0].n; i++)
            meet = s->mark[both[0].queue[i]] & BY_EXHAUST;
        if (meet)
            fights_find(s, conduct, cond, least, both);
        n_drawn_in = 0;
        for (int k = 0; k < 2; k++)
            for (uint32_t i = 0; i < both[k].n; i++) {
                uint32_t node = both[k].queue[i];
                uint8_t mark = s->mark[node];
                s->mark[node] = 0;
                if (cond[node] != UNDECIDED)
                    continue; /* reached by both, and done */
                level[node] = (uint8_t)(least + 1);
                cond[node] = mark & IN_FIGHT ? PARTIAL : k ? EXHAUSTED : FED;
                fought |= mark & IN_FIGHT;
                if ((mark & IN_FIGHT) && (mark & (BY_FEED | BY_EXHAUST)) != (BY_FEED | BY_EXHAUST))
                    s->drawn_in[n_drawn_in++] = node;
            }
    }
    rest_take(s, cond);
}
