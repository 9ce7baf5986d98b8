#include "faults/list.h"
#include "base/mem.h"
#include "base/text.h"
#include "faults/fault.h"
#include <math.h>
#include <string.h>

struct listing {
    const struct network *network;
    const struct model *model;
    struct fault_list *out;
    size_t cap;
    unsigned kinds;
    const char *only;
    const char *part; /* whose faults are being listed */
};

static const char *const sizes[] = {"0.5 mm", "1 mm", "3 mm"}; /* leak, orifice, open */
static const enum strength size_strength[] = {STRENGTH_LEAK, STRENGTH_ORIFICE, STRENGTH_OPEN};
#define N_SIZES 3

/* Reads the words just as a user's are read: one door for what a fault means. A fault that does not fit is left out. */
static void add(struct listing *l, enum fault_kind kind, const char *format, ...) __attribute__((format(printf, 3, 4)));
static void add(struct listing *l, enum fault_kind kind, const char *format, ...)
{
    if ((l->kinds && !(l->kinds >> kind & 1)) || (l->only && strcmp(l->only, l->part) != 0))
        return;
    struct text words = {0};
    struct diags d;
    va_list args;
    va_start(args, format);
    text_vaddf(&words, format, args);
    va_end(args);
    diags_init(&d);
    struct fault_set set;
    if (faults_read(text_string(&words), l->network, &l->out->arena, &set, &d)) {
        MEM_GROW(l->out->rows, l->out->n, l->cap);
        l->out->rows[l->out->n++] = (struct listed_fault){
            .kind = kind, .part = l->part, .words = set.words, .set = set, .splits_joint = set.edits.splits_joint};
    }
    diags_release(&d);
    text_release(&words);
}

static void list_blocks(struct listing *l)
{
    const struct model *m = l->model;
    for (uint32_t i = 0; i < m->n_joints; i++)
        add(l, FAULT_BLOCK, "block %s", l->part = m->joints[i].part.id);
    for (uint32_t i = 0; i < m->n_holes; i++)
        add(l, FAULT_BLOCK, "block %s", l->part = m->holes[i].part.id);
    for (uint32_t i = 0; i < m->n_solenoids; i++)
        add(l, FAULT_BLOCK, "block %s", l->part = m->solenoids[i].part.id);
    for (uint32_t i = 0; i < m->n_valves; i++) {
        l->part = m->valves[i].part.id;
        for (uint32_t p = 0; p < m->valves[i].n_ports; p++) {
            bool acts = valve_port_is_end(&m->valves[i], p);
            for (uint32_t e = l->network->valve_element[i]; e < l->network->valve_element[i + 1]; e++)
                acts |= l->network->elements[e].ports[0] == p || l->network->elements[e].ports[1] == p;
            if (acts)
                add(l, FAULT_BLOCK, "block %s.%s", l->part, m->valves[i].ports[p].name);
        }
    }
}

/* Where oil goes that leaves a hole at a bad seal: the hole's passage in the neighbour's layer. */
static passage_ix leak_from(const struct model *m, const struct hole *h, passage_ix to)
{
    return m->passages[h->joins[0].i].layer.i == m->passages[to.i].layer.i ? h->joins[0] : h->joins[1];
}

static void list_leaks(struct listing *l)
{
    const struct model *m = l->model;
    for (uint32_t i = 0; i < m->n_holes; i++) {
        const struct hole *h = &m->holes[i];
        l->part = h->part.id;
        for (uint32_t k = 0; k < h->n_leaks_to; k++) {
            for (int s = 0; s < N_SIZES; s++) {
                if (h->n_leaks_to == 1)
                    add(l, FAULT_LEAK, "leak %s at %s", h->part.id, sizes[s]);
                else
                    add(l, FAULT_LEAK, "leak %s into %s at %s", m->passages[leak_from(m, h, h->leaks_to[k]).i].part.id,
                        m->passages[h->leaks_to[k].i].part.id, sizes[s]);
            }
        }
    }
    for (uint32_t i = 0; i < m->n_actuators; i++) {
        for (int s = 0; s < N_SIZES; s++)
            add(l, FAULT_LEAK, "leak %s at %s", l->part = m->actuators[i].part.id, sizes[s]);
    }
}

static void list_resizes(struct listing *l)
{
    const struct model *m = l->model;
    for (uint32_t i = 0; i < m->n_holes; i++) {
        for (int s = 0; s < N_SIZES; s++) {
            if (m->holes[i].strength != size_strength[s])
                add(l, FAULT_RESIZE, "resize %s to %s", l->part = m->holes[i].part.id, sizes[s]);
        }
    }
}

static void list_balls(struct listing *l)
{
    const struct model *m = l->model;
    for (uint32_t i = 0; i < m->n_balls; i++)
        add(l, FAULT_LOSE, "lose %s", l->part = m->balls[i].part.id);
    for (int unseat = 0; unseat < 2; unseat++) {
        for (uint32_t i = 0; i < m->n_balls; i++) {
            const struct ball *b = &m->balls[i];
            l->part = b->part.id;
            for (uint32_t k = 0; k < b->n_seats; k++) {
                const char *hole = m->holes[b->seats_on[k].i].part.id, *on = b->n_seats == 2 ? " on " : "";
                if (!unseat)
                    add(l, FAULT_SEAT, "seat %s%s%s", l->part, on, *on ? hole : "");
                for (int s = 0; unseat && s < N_SIZES; s++)
                    add(l, FAULT_UNSEAT, "unseat %s%s%s at %s", l->part, on, *on ? hole : "", sizes[s]);
            }
        }
    }
}

static void list_sticks(struct listing *l)
{
    const struct model *m = l->model;
    for (uint32_t i = 0; i < m->n_valves; i++) {
        const struct valve *v = &m->valves[i];
        l->part = v->part.id;
        for (uint32_t p = 0; p < v->n_positions; p++)
            add(l, FAULT_STICK, "stick %s at %s", l->part, v->positions[p].name);
        if (v->kind == VALVE_LIMITING || v->kind == VALVE_REGULATING || v->kind == VALVE_RELIEF) {
            add(l, FAULT_STICK, "stick %s at %s", l->part, v->kind == VALVE_LIMITING ? "wide" : "open");
            add(l, FAULT_STICK, "stick %s at shut", l->part);
        }
    }
    for (uint32_t i = 0; i < m->n_solenoids; i++) {
        add(l, FAULT_STICK, "stick %s at on", l->part = m->solenoids[i].part.id);
        add(l, FAULT_STICK, "stick %s at off", l->part);
    }
}

static void list_wears(struct listing *l)
{
    const struct model *m = l->model;
    for (uint32_t i = 0; i < m->n_valves; i++) {
        const struct valve *v = &m->valves[i];
        if (v->kind == VALVE_REGULATING || v->kind == VALVE_RELIEF)
            continue;
        uint32_t(*pairs)[2] = mem_alloc(((size_t)v->n_ports + 1) * sizeof *pairs), n = valve_neighbours(v, pairs);
        for (uint32_t k = 0; k < n; k++)
            add(l, FAULT_WEAR, "wear %s between %s and %s", l->part = v->part.id, v->ports[pairs[k][0]].name,
                v->ports[pairs[k][1]].name);
        mem_free(pairs);
    }
}

static void list_valve_ends(struct listing *l)
{
    const struct model *m = l->model;
    for (uint32_t i = 0; i < m->n_valves; i++) {
        const struct valve *v = &m->valves[i];
        if (v->has_spring || (v->kind != VALVE_MANUAL && v->kind != VALVE_SPOOL))
            add(l, FAULT_BREAK, "break %s", l->part = v->part.id);
    }
    for (uint32_t i = 0; i < m->n_valves; i++) {
        if (m->valves[i].plug != PLUG_NONE)
            add(l, FAULT_UNPLUG, "unplug %s", l->part = m->valves[i].part.id);
    }
}

/* The capacity that a source is weakened from: its own, else the least that a state gives it; NAN: none has a limit. */
static double source_capacity(const struct model *m, uint32_t feed)
{
    double least = m->feeds[feed].capacity;
    bool own = !isnan(least);
    for (uint32_t s = 0; !own && s < m->n_states; s++) {
        double capacity = m->states[s].sources[feed].capacity;
        if (isnan(least) || capacity < least)
            least = capacity;
    }
    return least;
}

/* A worn pump gives half its capacity, a bad one a quarter: round figures in the model's unit. */
static void list_weakens(struct listing *l)
{
    const struct model *m = l->model;
    double unit = 1;
    quantity_read("1", 1, DIM_FLOW, &m->units, &unit, NULL);
    for (uint32_t i = 0; i < m->n_feeds; i++) {
        double capacity = m->feeds[i].is_source ? source_capacity(m, i) : NAN;
        l->part = m->feeds[i].part.id;
        for (int share = 2; capacity > 0 && share <= 4; share += 2)
            add(l, FAULT_WEAKEN, "weaken %s to %.2g", l->part, capacity / unit / share);
    }
}

static void list_misadjusts(struct listing *l)
{
    const struct model *m = l->model;
    for (uint32_t i = 0; i < m->n_valves; i++) {
        const struct valve *v = &m->valves[i];
        l->part = v->part.id;
        for (uint32_t p = 0; v->kind == VALVE_MANUAL && p + 1 < v->n_positions;
             p++) /* a lever stands between neighbours */
            add(l, FAULT_MISADJUST, "misadjust %s between %s and %s", l->part, v->positions[p].name,
                v->positions[p + 1].name);
    }
}

void fault_list_make(const struct network *n, unsigned kinds, const char *part, struct fault_list *out)
{
    *out = (struct fault_list){0};
    arena_init(&out->arena);
    struct listing l = {.network = n, .model = n->model, .out = out, .kinds = kinds, .only = part};
    list_blocks(&l);
    list_leaks(&l);
    list_resizes(&l);
    list_balls(&l);
    list_sticks(&l);
    list_wears(&l);
    list_valve_ends(&l);
    list_weakens(&l);
    list_misadjusts(&l);
}

void fault_list_release(struct fault_list *l)
{
    mem_free(l->rows);
    arena_release(&l->arena);
    *l = (struct fault_list){0};
}
