#include "trace/touch.h"
#include "base/mem.h"
#include "trace/answers.h"
#include "trace/settle.h"
#include "trace/touching.h"
#include <string.h>

struct search {
    const struct trace *singles, *healthy;
    struct touches *out;
    struct pack pack;
    struct touching touching;
};

static void search_init(struct search *s)
{
    const struct network *n = s->singles->network;
    struct touching *t = &s->touching;
    pack_init(&s->pack, n, WIDTH_MANY);
    t->nodes = mem_zero((size_t)n->n_nodes * WIDTH_MANY + 1, sizeof *t->nodes);
    t->movers = mem_zero((size_t)network_movers(n) * WIDTH_MANY + 1, sizeof *t->movers);
    t->fresh = mem_zero((size_t)n->n_nodes * 2 * WIDTH_MANY + 1, sizeof *t->fresh);
    t->next = mem_zero((size_t)n->n_nodes * 2 * WIDTH_MANY + 1, sizeof *t->next);
    t->now_list = mem_alloc(((size_t)n->n_nodes + 1) * sizeof *t->now_list);
    t->next_list = mem_alloc(((size_t)n->n_nodes + 1) * sizeof *t->next_list);
    t->listed = mem_zero((size_t)n->n_nodes + 1, 1);
    s->pack.touching = t;
}

static void search_release(struct search *s)
{
    struct touching *t = &s->touching;
    mem_free(t->nodes);
    mem_free(t->movers);
    mem_free(t->fresh);
    mem_free(t->next);
    mem_free(t->now_list);
    mem_free(t->next_list);
    mem_free(t->listed);
    pack_release(&s->pack);
}

static void node_touch(struct search *s, passage_ix p, uint32_t lane)
{
    bit_set(plane(s->touching.nodes, WIDTH_MANY, s->singles->network->node_of[p.i]), lane, true);
}

static void elements_touch(struct search *s, uint32_t first, uint32_t last, uint32_t lane)
{
    for (uint32_t e = first; e < last; e++) {
        node_touch(s, s->singles->network->elements[e].from, lane);
        node_touch(s, s->singles->network->elements[e].to, lane);
    }
}

static void mover_touch(struct search *s, uint32_t mover, uint32_t lane)
{
    bit_set(s->touching.movers + (size_t)mover * WIDTH_MANY, lane, true);
}

/* What an edit changes by itself: the ends of its elements. An edit that puts a source off changes a root, which all
 * others see. */
static void edit_touch(struct search *s, const struct edit *e, uint32_t lane)
{
    const struct network *n = s->singles->network;
    switch (e->kind) {
    case EDIT_REMOVE:
    case EDIT_RESIZE:
        elements_touch(s, e->element.i, e->element.i + 1, lane);
        if (n->elements[e->element.i].opens == OPENS_BY_SEAT)
            mover_touch(s, n->n_spools + n->n_limits + n->elements[e->element.i].mover, lane);
        break;
    case EDIT_ADD:
        node_touch(s, e->from, lane);
        node_touch(s, e->to, lane);
        break;
    case EDIT_FREE_BALL:
        for (uint32_t k = 0; k < n->n_seats; k++) {
            if (n->seats[k].ball.i != e->ball.i)
                continue;
            elements_touch(s, n->seats[k].element.i, n->seats[k].element.i + 1, lane);
            mover_touch(s, n->n_spools + n->n_limits + k, lane);
        }
        break;
    case EDIT_PIN:
    case EDIT_BREAK_SPRING:
    case EDIT_BOTH_DETENTS:
        elements_touch(s, n->valve_element[e->valve.i], n->valve_element[e->valve.i + 1], lane);
        if (n->mover_of[e->valve.i] != NONE)
            mover_touch(
                s, n->mover_of[e->valve.i] + (n->model->valves[e->valve.i].kind == VALVE_LIMITING ? n->n_spools : 0),
                lane);
        if (n->model->valves[e->valve.i].kind == VALVE_REGULATING)
            bit_set(s->touching.alone, lane, true);
        break;
    case EDIT_SOLENOID:
        elements_touch(s, n->solenoid_element[e->solenoid.i], n->solenoid_element[e->solenoid.i + 1], lane);
        break;
    case EDIT_WEAKEN:
    case EDIT_BLOCK_END:
        break;
    }
}

/* Roots hold whatever happens, so they pass nothing on and are no meeting place. */
static bool is_root(const struct search *s, uint32_t node, uint32_t state)
{
    const struct model *m = s->singles->network->model;
    bool root = node == 0;
    for (uint32_t f = 0; f < m->n_feeds; f++)
        root |= m->feeds[f].is_source && trace_setting(s->healthy, state, (feed_ix){f}) > 0 &&
                s->singles->network->node_of[m->feeds[f].passage.i] == node;
    return root;
}

/* The neighbourhood of one lane: touched nodes, the nodes next to them through what may conduct, and
 * touched movers. */
static void near_take(struct search *s, uint32_t lane, uint64_t *near, const uint8_t *roots)
{
    const struct network *n = s->singles->network;
    const struct pack *p = &s->pack;
    for (uint32_t x = 0; x < n->n_nodes; x++) {
        if (roots[x] || !bit(plane(s->touching.nodes, WIDTH_MANY, x), lane))
            continue;
        bit_set(near, x, true);
        for (uint32_t i = n->first_arc[x]; i < n->first_arc[x + 1]; i++) {
            uint32_t mask = ARC_MASK(n->arcs[i]);
            const struct element *e = mask < n->n_elements ? &n->elements[mask] : NULL;
            bool may = !e || e->mover != NONE || bit(p->masks[MASKS_NOW] + (size_t)p->row_of[mask] * p->width, 0);
            if (may && !roots[n->arcs[i].node])
                bit_set(near, n->arcs[i].node, true);
        }
        for (uint32_t k = p->added_head[x]; k != NONE; k = p->added_arcs[k].next) {
            struct arc a = p->added_arcs[k].arc;
            if (bit(p->masks[MASKS_NOW] + (size_t)added_mask(p, a) * p->width, lane) && !roots[a.node])
                bit_set(near, a.node, true);
        }
    }
    for (uint32_t i = 0; i < network_movers(n); i++)
        bit_set(near, n->n_nodes + i, bit(s->touching.movers + (size_t)i * WIDTH_MANY, lane));
}

static bool devices_differ(const struct search *s, uint32_t c, uint32_t state)
{
    const struct trace_case *now = &s->singles->cases[c], *was = &s->healthy->cases[state];
    return now->gear.gear != was->gear.gear ||
           memcmp(now->applied, was->applied, s->singles->network->model->n_actuators) != 0;
}

/* Lane 0 healthy, the others sets first .. first + n - 1, all in one state. */
static void chunk_run(struct search *s, uint32_t state, uint32_t first, uint32_t n, const uint8_t *roots)
{
    const struct network *net = s->singles->network;
    const struct model *m = net->model;
    static const struct edits none = {0};
    struct arena a;
    struct settling *rows = mem_zero((size_t)n + 1, sizeof *rows);
    struct trace_case *out = mem_zero((size_t)n + 1, sizeof *out);
    state_ix after = m->states[state].after;
    arena_init(&a);
    pack_clear(&s->pack);
    memset(s->touching.nodes, 0, (size_t)net->n_nodes * WIDTH_MANY * sizeof(uint64_t));
    memset(s->touching.movers, 0, (size_t)network_movers(net) * WIDTH_MANY * sizeof(uint64_t));
    memset(s->touching.alone, 0, sizeof s->touching.alone);
    for (uint32_t l = 0; l <= n; l++) {
        struct scene scene;
        const struct trace *t = l ? s->singles : s->healthy;
        uint32_t set = l ? first + l - 1 : 0;
        scene_build(net, &m->states[state], l ? &s->singles->sets[set] : &none, &a, &scene);
        settling_make(&rows[l], &scene, after.i == NONE ? NULL : &t->cases[set * t->n_states + after.i], &out[l], &a);
        rows[l].healthy_c = state;
        pack_place(&s->pack, &rows[l], 1);
        for (uint32_t i = 0; i < scene.edits->n; i++)
            edit_touch(s, &scene.edits->rows[i], l);
    }
    pack_load(&s->pack);
    bulk_run(&s->pack, s->healthy, 0);
    reach_touch(&s->pack);
    for (uint32_t l = 1; l <= n; l++) {
        uint32_t c = (first + l - 1) * m->n_states + state;
        near_take(s, l, s->out->near + (size_t)c * s->out->words, roots);
        s->out->alone[c] = rows[0].careful || rows[l].careful || rows[l].phase != SETTLE_DONE ||
                           bit(s->touching.alone, l) || bit(s->touching.alone, 0) || !s->healthy->cases[state].settled;
        s->out->device[c] = devices_differ(s, c, state);
    }
    mem_free(rows);
    mem_free(out);
    arena_release(&a);
}

void touches_find(const struct trace *singles, const struct trace *healthy, struct touches *out)
{
    const struct network *n = singles->network;
    const struct model *m = n->model;
    struct search s = {.singles = singles, .healthy = healthy, .out = out};
    size_t cases = (size_t)singles->n_sets * m->n_states;
    *out = (struct touches){
        .n_sets = singles->n_sets, .n_states = m->n_states, .words = (n->n_nodes + network_movers(n) + 63) / 64};
    out->near = mem_zero(cases * out->words + 1, sizeof *out->near);
    out->alone = mem_zero(cases + 1, 1);
    out->device = mem_zero(cases + 1, 1);
    out->after = mem_alloc(((size_t)m->n_states + 1) * sizeof *out->after);
    uint8_t *roots = mem_zero((size_t)n->n_nodes + 1, 1);
    search_init(&s);
    for (uint32_t state = 0; state < m->n_states; state++) {
        out->after[state] = m->states[state].after.i;
        for (uint32_t x = 0; x < n->n_nodes; x++)
            roots[x] = is_root(&s, x, state);
        for (uint32_t first = 0; first < singles->n_sets; first += 64 * WIDTH_MANY - 1) {
            uint32_t left = singles->n_sets - first, most = 64 * WIDTH_MANY - 1;
            chunk_run(&s, state, first, left < most ? left : most, roots);
        }
    }
    search_release(&s);
    mem_free(roots);
}

void touches_release(struct touches *t)
{
    mem_free(t->near);
    mem_free(t->alone);
    mem_free(t->device);
    mem_free(t->after);
    *t = (struct touches){0};
}

bool touches_apart(const struct touches *t, uint32_t a, uint32_t b, state_ix state)
{
    for (uint32_t s = state.i; s != NONE; s = t->after[s]) {
        size_t ca = (size_t)a * t->n_states + s, cb = (size_t)b * t->n_states + s;
        if (t->alone[ca] | t->alone[cb] | (t->device[ca] & t->device[cb]))
            return false;
        uint64_t meet = 0;
        for (uint32_t k = 0; k < t->words; k++)
            meet |= t->near[ca * t->words + k] & t->near[cb * t->words + k];
        if (meet)
            return false;
    }
    return true;
}
