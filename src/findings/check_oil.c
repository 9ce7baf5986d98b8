/* Findings about where oil goes: never fed, cannot drain, crossfeed. */
#include "base/mem.h"
#include "findings/check.h"
#include <string.h>

/* ---- never fed */

static bool live(enum condition c)
{
    return c == FED || c == PARTIAL || c == UNSURE;
}

/* Marks every node that can be reached from the marked ones through what conducts in the case, along the flow or
 * against it. `queue` holds the marked nodes at first, `n` of them; it has room for all. */
static void walk(const struct looking *l, uint32_t row, bool along, bool *mark, uint32_t *queue, uint32_t n)
{
    const struct network *net = l->network;
    for (uint32_t at = 0; at < n; at++) {
        uint32_t node = queue[at];
        if (along && node == 0)
            continue; /* nothing comes back out of the pan */
        for (uint32_t i = net->first_arc[node]; i < net->first_arc[node + 1]; i++) {
            struct arc a = net->arcs[i];
            uint32_t mask = ARC_MASK(a); /* beyond the elements: a shuttle's hole, out of the pocket */
            uint32_t e = mask < net->n_elements ? mask : net->seats[mask - net->n_elements].element.i;
            if (mark[a.node] || !(along ? ARC_LEAVES(a) : ARC_ENTERS(a)) ||
                trace_conducts(l->trace, row, (element_ix){e}) == CERTAIN_NO)
                continue;
            mark[a.node] = true;
            queue[n++] = a.node;
        }
    }
}

/* Clears `idle` for nodes that lie, in some state, on a way from a once-fed node (not `idle` at the start) to sump. */
static void pardon_drains(const struct looking *l, bool *idle)
{
    uint32_t n_nodes = l->network->n_nodes;
    bool *from = mem_alloc(n_nodes), *to = mem_alloc(n_nodes), *drains = mem_zero(n_nodes, 1);
    uint32_t *queue = mem_alloc(n_nodes * sizeof *queue);
    for (uint32_t s = 0; s < l->model->n_states; s++) {
        uint32_t n = 0;
        memset(to, 0, n_nodes);
        for (uint32_t i = 0; i < n_nodes; i++) {
            from[i] = i && !idle[i];
            if (from[i])
                queue[n++] = i;
        }
        walk(l, case_row(l, s), true, from, queue, n);
        to[0] = true;
        queue[0] = 0;
        walk(l, case_row(l, s), false, to, queue, 1);
        for (uint32_t i = 0; i < n_nodes; i++)
            drains[i] = drains[i] || (from[i] && to[i]);
    }
    for (uint32_t i = 0; i < n_nodes; i++)
        idle[i] = idle[i] && !drains[i];
    mem_free(queue);
    mem_free(drains);
    mem_free(to);
    mem_free(from);
}

const bool *nodes_idle(struct looking *l)
{
    const struct model *m = l->model;
    const uint32_t *node_of = l->network->node_of;
    if (l->idle || !l->all_settled || !m->n_states)
        return l->idle;
    bool any = false;
    l->idle = mem_zero(l->network->n_nodes, sizeof *l->idle);
    for (uint32_t p = 1; p < m->n_passages; p++)
        l->idle[node_of[p]] = node_of[p] != 0;
    for (uint32_t s = 0; s < m->n_states; s++)
        for (uint32_t p = 1; p < m->n_passages; p++)
            if (l->idle[node_of[p]] && live(trace_condition(l->trace, case_row(l, s), (passage_ix){p})))
                l->idle[node_of[p]] = false;
    for (uint32_t i = 0; i < l->network->n_nodes; i++)
        any = any || l->idle[i];
    if (any)
        pardon_drains(l, l->idle);
    return l->idle;
}

void check_never_fed(struct looking *l)
{
    const struct model *m = l->model;
    const bool *idle = nodes_idle(l);
    for (uint32_t p = 1; idle && p < m->n_passages; p++)
        if (idle[l->network->node_of[p]])
            found(l, NEVER_FED, m->passages[p].part.where, m->passages[p].part.id, NULL,
                  "no feed reaches %s in any state, and no oil drains through it", m->passages[p].part.id);
}

/* ---- cannot drain */

/* With every source off, what is trapped was left there by the engine's stop: that says nothing. */
static bool engine_runs(const struct model *m, const struct state *s)
{
    bool runs = false;
    for (uint32_t f = 0; f < m->n_feeds; f++)
        runs = runs || (m->feeds[f].is_source && s->sources[f].pressure > 0);
    return runs;
}

struct drain {
    uint32_t fed_in, trapped_in; /* first states, NONE */
};

/* A node is told of once, by its first passage. */
static void cannot_drain(struct looking *l, uint32_t p, struct drain drain, uint32_t *n_at_node)
{
    const struct model *m = l->model;
    uint32_t node = l->network->node_of[p];
    if (drain.fed_in == NONE || drain.trapped_in == NONE || !n_at_node[node])
        return;
    uint32_t n_joined = n_at_node[node] - 1;
    n_at_node[node] = 0;
    if (!found(l, CANNOT_DRAIN, m->passages[p].part.where, m->passages[p].part.id, &m->states[drain.trapped_in],
               "%s is fed in %s and closed off (trapped) in %s: its oil cannot drain", m->passages[p].part.id,
               m->states[drain.fed_in].part.id, m->states[drain.trapped_in].part.id))
        return;
    if (n_joined)
        diag_help(l->d, "the same holds for %u %s joined with it", n_joined, n_joined == 1 ? "passage" : "passages");
}

void check_cannot_drain(struct looking *l)
{
    const struct model *m = l->model;
    struct drain *drains = mem_alloc(m->n_passages * sizeof *drains);
    uint32_t *n_at_node = mem_zero(l->network->n_nodes, sizeof *n_at_node); /* passages; 0 once it was told of */
    for (uint32_t p = 0; p < m->n_passages; p++) {
        drains[p] = (struct drain){NONE, NONE};
        n_at_node[l->network->node_of[p]]++;
    }
    for (uint32_t s = 0; s < m->n_states; s++) {
        if (!case_of(l, s)->settled || !engine_runs(m, &m->states[s]))
            continue;
        for (uint32_t p = 1; p < m->n_passages; p++) {
            enum condition c = trace_condition(l->trace, case_row(l, s), (passage_ix){p});
            if (c == FED && drains[p].fed_in == NONE)
                drains[p].fed_in = s;
            if (c == TRAPPED && drains[p].trapped_in == NONE)
                drains[p].trapped_in = s;
        }
    }
    for (uint32_t p = 1; p < m->n_passages; p++)
        cannot_drain(l, p, drains[p], n_at_node);
    mem_free(n_at_node);
    mem_free(drains);
}

/* ---- crossfeed */

static bool may_reach(const struct circuit *c, uint32_t feed)
{
    if (c->any_feed)
        return true;
    for (uint32_t i = 0; i < c->n_fed_by; i++)
        if (c->fed_by[i].i == feed)
            return true;
    return false;
}

/* Where a feed enters circuits that it must not reach: the first element that leads from a passage that it may be in.
 */
struct entry {
    struct element element;
    bool known, added;
};

static void entry_note(const struct looking *l, uint32_t row, uint32_t feed, const struct element *e, bool added,
                       struct entry *entries)
{
    const struct model *m = l->model;
    for (int way = 0; way < (e->one_way ? 1 : 2); way++) {
        passage_ix from = way ? e->to : e->from, to = way ? e->from : e->to;
        uint32_t into = m->passages[to.i].circuit.i, out_of = m->passages[from.i].circuit.i;
        if (into == NONE || out_of == NONE || into == out_of || entries[into].known ||
            may_reach(&m->circuits[into], feed) || !may_reach(&m->circuits[out_of], feed))
            continue;
        if (trace_reach(l->trace, row, (feed_ix){feed}, from) == CERTAIN_NO ||
            trace_reach(l->trace, row, (feed_ix){feed}, to) == CERTAIN_NO)
            continue;
        entries[into] = (struct entry){*e, true, added};
        entries[into].element.from = from;
        entries[into].element.to = to;
    }
}

static void entries_find(const struct looking *l, uint32_t row, uint32_t feed, struct entry *entries)
{
    struct element *added;
    uint32_t n_added = trace_added(l->trace, row, &added);
    for (uint32_t i = 0; i < n_added; i++)
        entry_note(l, row, feed, &added[i], true, entries);
    mem_free(added);
    for (uint32_t e = 0; e < l->network->n_elements; e++)
        if (trace_conducts(l->trace, row, (element_ix){e}) != CERTAIN_NO)
            entry_note(l, row, feed, &l->network->elements[e], false, entries);
}

static void crossfeed(struct looking *l, uint32_t s, uint32_t feed, const struct circuit *c, passage_ix first,
                      enum certainty reach, const struct entry *entry)
{
    const struct model *m = l->model;
    const char *id = m->feeds[feed].part.id;
    const char *verb = reach == CERTAIN_YES ? "reaches" : "may reach";
    if (!entry->known) {
        if (found(l, CROSSFEED, m->passages[first.i].part.where, c->part.id, &m->states[s],
                  "oil of feed %s %s circuit %s at %s, by way of another circuit that it must not reach", id, verb,
                  c->part.id, m->passages[first.i].part.id))
            diag_second(l->d, c->part.where, "circuit %s is here", c->part.id);
        return;
    }
    struct text through = {0};
    element_words(l->network, &entry->element, &through);
    struct span where = entry->element.where;
    if (found(l, CROSSFEED, where.line ? where : c->part.where, c->part.id, &m->states[s],
              "oil of feed %s %s circuit %s through %s, from %s into %s", id, verb, c->part.id, text_string(&through),
              m->passages[entry->element.from.i].part.id, m->passages[entry->element.to.i].part.id) &&
        where.line)
        diag_second(l->d, c->part.where, "circuit %s is here", c->part.id);
    text_release(&through);
}

void check_crossfeed(struct looking *l)
{
    const struct model *m = l->model;
    struct entry *entries = mem_alloc((m->n_circuits + 1) * sizeof *entries);
    for (uint32_t s = 0; s < m->n_states; s++) {
        if (!case_of(l, s)->settled)
            continue;
        for (uint32_t f = 0; f < m->n_feeds; f++) {
            bool looked = false;
            for (uint32_t c = 0; c < m->n_circuits; c++) {
                const struct circuit *circuit = &m->circuits[c];
                enum certainty worst = CERTAIN_NO;
                passage_ix first = SUMP;
                for (uint32_t i = 0; i < circuit->n_passages && !may_reach(circuit, f) && worst != CERTAIN_YES; i++) {
                    enum certainty r = trace_reach(l->trace, case_row(l, s), (feed_ix){f}, circuit->passages[i]);
                    if (r > worst) {
                        worst = r;
                        first = circuit->passages[i];
                    }
                }
                if (worst == CERTAIN_NO)
                    continue;
                if (!looked) {
                    memset(entries, 0, m->n_circuits * sizeof *entries);
                    entries_find(l, case_row(l, s), f, entries);
                    looked = true;
                }
                crossfeed(l, s, f, circuit, first, worst, &entries[c]);
            }
        }
    }
    mem_free(entries);
}
