/* Nodes and arcs: passages joined without loss become one node, and each node gets the list of what leads away from it.
 */
#include "network/network.h"
#include "base/escape.h"
#include "base/mem.h"
#include "network/elements.h"
#include <string.h>

static uint32_t root_find(uint32_t *up, uint32_t i)
{
    while (up[i] != i)
        i = up[i] = up[up[i]];
    return i;
}

/* Numbers the nodes in the order of their first passage, so node 0 holds sump. */
static void nodes_merge(const struct model *m, struct network *out)
{
    uint32_t *up = mem_alloc((m->n_passages + 1) * sizeof *up);
    for (uint32_t i = 0; i < m->n_passages; i++)
        up[i] = i;
    for (uint32_t k = 0; k < m->n_joints && !out->apart; k++) {
        const struct element *e = &out->elements[out->joint_element[k]];
        if (e->strength != STRENGTH_JOINED)
            continue;
        uint32_t a = root_find(up, e->from.i), b = root_find(up, e->to.i);
        up[a > b ? a : b] = a > b ? b : a; /* the lowest passage is the root, so its row comes first below */
    }
    out->node_of = mem_alloc((m->n_passages + 1) * sizeof *out->node_of);
    out->n_nodes = 0;
    for (uint32_t i = 0; i < m->n_passages; i++) {
        uint32_t r = root_find(up, i);
        out->node_of[i] = r == i ? out->n_nodes++ : out->node_of[r];
    }
    mem_free(up);
}

static void edge_add(struct network *out, enum strength s, struct edge e)
{
    out->by_strength[s][out->n_by_strength[s]++] = e;
    out->first_arc[e.from + 1]++;
    out->first_arc[e.to + 1]++;
}

static void edges_list(struct network *out)
{
    uint32_t room[STRENGTH_JOINED + 1] = {0};
    for (uint32_t i = 0; i < out->n_elements; i++)
        room[out->elements[i].strength] += out->elements[i].opens == OPENS_BY_SEAT ? 2 : 1;
    for (int s = 0; s <= STRENGTH_JOINED; s++)
        out->by_strength[s] = mem_alloc(((size_t)room[s] + 1) * sizeof(struct edge));
    out->first_arc = mem_zero((size_t)out->n_nodes + 2, sizeof *out->first_arc);
    for (uint32_t i = 0; i < out->n_elements; i++) {
        const struct element *e = &out->elements[i];
        uint32_t a = out->node_of[e->from.i], b = out->node_of[e->to.i];
        if (a == b)
            continue;
        bool seat = e->opens == OPENS_BY_SEAT;
        edge_add(out, e->strength, (struct edge){a, b, i, e->one_way || seat});
        if (seat)
            edge_add(out, e->strength, (struct edge){b, a, out->n_elements + e->mover, true});
    }
}

/* Counting sort by strength, then by node: the arcs of a node stand strongest first, in file order within a strength.
 */
static void arcs_build(struct network *out)
{
    edges_list(out);
    for (uint32_t i = 0; i < out->n_nodes; i++)
        out->first_arc[i + 1] += out->first_arc[i];
    uint32_t *fill = mem_alloc(((size_t)out->n_nodes + 1) * sizeof *fill);
    memcpy(fill, out->first_arc, out->n_nodes * sizeof *fill);
    out->arcs = mem_alloc(((size_t)out->first_arc[out->n_nodes] + 1) * sizeof *out->arcs);
    for (int s = STRENGTH_JOINED; s >= STRENGTH_LEAK; s--) {
        for (uint32_t k = 0; k < out->n_by_strength[s]; k++) {
            const struct edge *e = &out->by_strength[s][k];
            bool switched = e->mask >= out->n_elements || out->elements[e->mask].opens != OPENS_ALWAYS;
            uint32_t packed = e->mask << 6 | (switched ? 32u : 0u) | (uint32_t)s << 2;
            out->arcs[fill[e->from]++] = (struct arc){e->to, packed | 2u | (e->one_way ? 0u : 1u)};
            out->arcs[fill[e->to]++] = (struct arc){e->from, packed | 1u | (e->one_way ? 0u : 2u)};
        }
    }
    mem_free(fill);
}

void network_build(const struct model *m, bool apart, struct network *out)
{
    *out = (struct network){.model = m, .apart = apart};
    elements_build(m, out);
    nodes_merge(m, out);
    arcs_build(out);
}

void network_release(struct network *n)
{
    mem_free(n->elements);
    mem_free(n->node_of);
    mem_free(n->first_arc);
    mem_free(n->arcs);
    for (int s = 0; s <= STRENGTH_JOINED; s++)
        mem_free(n->by_strength[s]);
    mem_free(n->spools);
    mem_free(n->limits);
    mem_free(n->seats);
    mem_free(n->joint_element);
    mem_free(n->hole_element);
    mem_free(n->valve_element);
    mem_free(n->solenoid_element);
    mem_free(n->mover_of);
    *n = (struct network){0};
}

const char *element_id(const struct network *n, const struct element *e)
{
    return e->part.kind == PART_NONE ? "leak" : model_id(n->model, e->part);
}

static const char *element_port(const struct network *n, const struct element *e, int side)
{
    return e->kind == ELEMENT_VALVE ? n->model->valves[e->part.i].ports[e->ports[side]].name
                                    : n->model->solenoids[e->part.i].ports[e->ports[side]].name;
}

void element_words(const struct network *n, const struct element *e, struct text *t)
{
    if (e->part.kind == PART_NONE) {
        text_add(t, "leak");
        return;
    }
    const char *id = element_id(n, e);
    const char *kind = part_kind_word(e->part.kind);
    if (e->part.kind == PART_JOINT && n->model->joints[e->part.i].screen)
        kind = "screen";
    text_addf(t, "%s ", kind);
    escape_plain(t, id, strlen(id));
    if (e->ports[0] != NONE && e->ports[1] != NONE) {
        const char *a = element_port(n, e, 0), *b = element_port(n, e, 1);
        text_add(t, " (ports ");
        escape_plain(t, a, strlen(a));
        text_add(t, " and ");
        escape_plain(t, b, strlen(b));
        text_add(t, ")");
    }
}
