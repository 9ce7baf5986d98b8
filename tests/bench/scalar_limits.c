/* Limiting valves of one case: has the reaction passage a feed that does not come through the outlet? */
#include "base/mem.h"
#include "scalar.h"
#include <string.h>

/* One valve in one alternative. */
struct judging {
    struct scalar *s;
    uint32_t row;
    const struct valve *valve;
    uint32_t outlet, reaction; /* nodes */
    const uint8_t *choice, *cond;
    uint8_t *conduct; /* without the valve's window */
};

/* Takes out the outlet's circuit but the reaction. */
static void circuit_take_out(const struct judging *j)
{
    struct scalar *s = j->s;
    const struct model *m = s->network->model;
    uint32_t circuit = m->passages[j->valve->ports[j->valve->outlet].passage.i].circuit.i;
    memset(s->gone, 0, s->grid->n_nodes);
    for (uint32_t i = 0; circuit != NONE && i < m->circuits[circuit].n_passages; i++)
        s->gone[s->grid->node_of[m->circuits[circuit].passages[i].i]] = 1;
    s->gone[j->reaction] = 0;
}

/* Does any source lead to the reaction in what is left? Looked at backwards, for little leads there. */
static bool source_leads_there(const struct judging *j)
{
    struct scalar *s = j->s;
    bool sump_gone = s->gone[0], found = false;
    s->gone[0] = 1;
    s->queue[0] = j->reaction;
    s->mark[j->reaction] = 1;
    uint32_t n = spread(s, 1, j->conduct, AGAINST_FLOW, 0, s->gone);
    for (uint32_t i = 0; i < n; i++)
        found |= s->is_root[s->queue[i]];
    marks_clear(s, n);
    s->gone[0] = sump_gone;
    return found;
}

/* One more than the strength of the strongest route along the flow from outlet to reaction, 0: none. */
static uint32_t route_level(const struct judging *j)
{
    struct scalar *s = j->s;
    for (uint32_t i = 0; i < s->grid->n_nodes; i++)
        s->live[i] = cond_is_dead(j->cond[i]) || s->is_root[i]; /* closed */
    s->live[j->reaction] = 0;
    for (uint32_t least = LEVELS; !cond_is_dead(j->cond[j->outlet]) && least-- > 0;) {
        s->queue[0] = j->outlet;
        s->mark[j->outlet] = 1;
        uint32_t n = spread(s, 1, j->conduct, WITH_FLOW, least, s->live);
        bool there = s->mark[j->reaction];
        marks_clear(s, n);
        if (there)
            return least + 1;
    }
    return 0;
}

static uint8_t own_feed_judge(const struct judging *j, uint8_t own, uint32_t own_level)
{
    struct scalar *s = j->s;
    const struct network *n = s->network;
    if (cond_is_dead(own))
        return MAY_LIMIT;
    uint8_t *capping = mem_alloc(n->n_limits);
    for (uint32_t i = 0; i < n->n_limits; i++)
        capping[i] = j->choice[n->n_spools + i] == MAY_LIMIT;
    widest(s, j->conduct, capping, s->cond_own, s->through);
    mem_free(capping);
    uint32_t route = route_level(j);
    if (s->through[j->reaction] <= j->valve->limit || own_level < route)
        return MAY_LIMIT;
    return own_level == route || own != FED ? MAY_LIMIT | MAY_SHUT : MAY_SHUT;
}

/* What the reaction's condition says by itself; 0: it is fed, look further. */
static uint8_t reaction_judge(const struct judging *j)
{
    uint8_t now = j->cond[j->reaction];
    if (j->s->scene.broken[j->s->network->limits[j->row].valve.i])
        return cond_is_dead(now) ? MAY_WIDE : MAY_SHUT;
    if (cond_is_dead(now))
        return MAY_WIDE;
    if (now != FED)
        return MAY_WIDE | MAY_LIMIT;
    return j->outlet == j->reaction ? MAY_LIMIT : 0;
}

static uint8_t alternative_judge(struct judging *j)
{
    struct scalar *s = j->s;
    uint8_t verdict = reaction_judge(j);
    if (verdict)
        return verdict;
    uint8_t *window = &j->conduct[s->network->limits[j->row].window.i], kept = *window;
    *window = 0;
    circuit_take_out(j);
    verdict = MAY_LIMIT;
    if (source_leads_there(j)) {
        s->rule(s, j->conduct, s->gone, s->cond_own, s->level_own);
        verdict = own_feed_judge(j, s->cond_own[j->reaction], s->level_own[j->reaction]);
    }
    *window = kept;
    return verdict;
}

/* With more doubt than is tried out: all by the first alternative and where doubt comes. */
static uint8_t beyond_judge(struct judging *j, uint8_t set)
{
    struct scalar *s = j->s;
    uint32_t mover = s->network->n_spools + j->row;
    uint8_t *sets = mem_alloc(2 * (size_t)s->n_movers), *first = sets + s->n_movers,
            *cond = mem_alloc(s->grid->n_nodes), *level = mem_alloc(s->grid->n_nodes), verdict;
    memcpy(sets, s->sets, s->n_movers);
    sets[mover] = set;
    beyond_find(s, s->sets[mover] == MAY_SHUT ? sets : s->sets, false, NONE, NULL, j->conduct, cond, level);
    j->cond = cond;
    verdict = reaction_judge(j);
    if (!verdict) {
        circuit_take_out(j);
        beyond_find(s, sets, false, j->row, s->gone, j->conduct, s->cond_own, s->level_own);
        for (uint32_t i = 0; i < s->n_movers; i++)
            first[i] = (uint8_t)(sets[i] & -sets[i]);
        j->choice = first;
        verdict = own_feed_judge(j, s->cond_own[j->reaction], s->level_own[j->reaction]);
    }
    mem_free(sets);
    mem_free(cond);
    mem_free(level);
    return verdict;
}

uint8_t limit_judge(struct scalar *s, uint32_t row)
{
    const struct network *n = s->network;
    const struct valve *v = &n->model->valves[n->limits[row].valve.i];
    uint32_t mover = n->n_spools + row, window = n->limits[row].window.i;
    struct judging j = {.s = s, .row = row, .valve = v};
    if (s->scene.fixed[mover] || s->pinned[mover])
        return s->scene.fixed[mover] ? s->scene.fixed[mover] : s->pinned[mover];
    j.outlet = s->grid->node_of[v->ports[v->outlet].passage.i];
    j.reaction = s->grid->node_of[v->ports[v->reaction].passage.i];
    bool opened = s->sets[mover] == MAY_SHUT; /* judged with its window open all the same */
    uint8_t set = opened ? MAY_LIMIT : s->sets[mover] & (uint8_t)~MAY_SHUT, answer = 0;
    if (s->beyond) {
        j.conduct = mem_alloc(s->n_slots);
        answer = beyond_judge(&j, set);
        mem_free(j.conduct);
        return answer;
    }
    uint8_t *cond = opened ? mem_alloc(s->grid->n_nodes) : NULL;
    for (uint32_t k = 0; k < s->alts.n; k++) {
        uint8_t *choice = s->alts.choices + (size_t)k * s->n_movers;
        if (choice[mover] == MAY_SHUT && !opened)
            continue; /* another alternative has it open */
        j.choice = choice;
        j.conduct = s->alts.conduct + (size_t)k * s->n_slots;
        j.cond = s->alts.cond + (size_t)k * n->model->n_passages;
        if (opened) {
            choice[mover] = MAY_LIMIT;
            j.conduct[window] = !s->removed[window];
            s->rule(s, j.conduct, NULL, cond, s->level);
            j.cond = cond;
        }
        answer |= alternative_judge(&j);
        if (opened) {
            choice[mover] = MAY_SHUT;
            j.conduct[window] = 0;
        }
    }
    mem_free(cond);
    return answer;
}
