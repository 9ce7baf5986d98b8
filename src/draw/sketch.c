#include "draw/sketch.h"
#include "base/mem.h"
#include <math.h>
#include <string.h>

/* ---- questions */

bool sketch_live(const struct sketch *s, passage_ix p)
{
    if (!s->settled)
        return true;
    if (p.i == SUMP.i)
        return false;
    enum condition now = trace_condition(s->t, s->c, p);
    return now == FED || now == PARTIAL || now == UNSURE;
}

bool sketch_changed(const struct sketch *s, passage_ix p, enum condition *was)
{
    if (!s->compares || p.i == SUMP.i)
        return false;
    *was = trace_condition(s->healthy, s->was, p);
    return *was != trace_condition(s->t, s->c, p);
}

bool sketch_marked(const struct sketch *s, enum part_kind kind, uint32_t row)
{
    return kind < PART_CIRCUIT && s->part_marked[kind] && s->part_marked[kind][row];
}

static bool shows_passage(const struct sketch *s, passage_ix p)
{
    return p.i != NONE && p.i != SUMP.i && s->shown[s->box[p.i]];
}

bool sketch_shows(const struct sketch *s, const struct port *ports, uint32_t n)
{
    for (uint32_t i = 0; i < n; i++)
        if (shows_passage(s, ports[i].passage))
            return true;
    return false;
}

bool sketch_shows_actuator(const struct sketch *s, const struct actuator *d)
{
    return shows_passage(s, d->apply) || shows_passage(s, d->release);
}

layer_ix sketch_home(const struct sketch *s, const struct port *ports, uint32_t n)
{
    layer_ix home = {NONE};
    uint32_t most = 0;
    for (uint32_t i = 0; i < n; i++) {
        layer_ix layer = s->model->passages[ports[i].passage.i].layer;
        uint32_t count = 0;
        for (uint32_t k = 0; k < n; k++)
            count += s->model->passages[ports[k].passage.i].layer.i == layer.i;
        if (layer.i != NONE && count > most) {
            most = count;
            home = layer;
        }
    }
    return home;
}

/* ---- boxes: passages of one casting that an open joint makes one */

static uint32_t box_root(uint32_t *up, uint32_t i)
{
    while (up[i] != i)
        i = up[i] = up[up[i]];
    return i;
}

static bool joins_boxes(const struct sketch *s, const struct line *l)
{
    const struct element *e = &l->element;
    uint32_t a = s->model->passages[e->from.i].layer.i, b = s->model->passages[e->to.i].layer.i;
    return e->strength == STRENGTH_JOINED && !l->blocked && a == b && a != NONE;
}

static void boxes_make(struct sketch *s, struct arena *a)
{
    uint32_t n = s->model->n_passages;
    s->box = arena_rows(a, n, sizeof *s->box);
    for (uint32_t i = 0; i < n; i++)
        s->box[i] = i;
    for (uint32_t i = 0; i < s->n_lines; i++)
        if (joins_boxes(s, &s->lines[i])) {
            uint32_t x = box_root(s->box, s->lines[i].element.from.i), y = box_root(s->box, s->lines[i].element.to.i);
            s->box[x < y ? y : x] = x < y ? x : y;
        }
    for (uint32_t i = 0; i < n; i++)
        s->box[i] = box_root(s->box, i);

    uint32_t *last = arena_rows(a, n, sizeof *last); /* by box */
    s->next = arena_rows(a, n, sizeof *s->next);
    for (uint32_t i = 0; i < n; i++) {
        s->next[i] = NONE;
        if (s->box[i] != i)
            s->next[last[s->box[i]]] = i;
        last[s->box[i]] = i;
    }
}

static void users_make(struct sketch *s, struct arena *a)
{
    const struct model *m = s->model;
    s->used = arena_rows(a, m->n_passages, sizeof *s->used);
    for (uint32_t i = 0; i < m->n_feeds; i++)
        s->used[m->feeds[i].passage.i] |= !m->feeds[i].is_source;
    for (uint32_t i = 0; i < m->n_taps; i++)
        s->used[m->taps[i].on.i] = true;
    for (uint32_t i = 0; i < m->n_switches; i++)
        s->used[m->switches[i].on.i] = true;
}

/* ---- lines */

static void marks_make(struct sketch *s, struct arena *a)
{
    const struct model *m = s->model;
    const uint32_t rows[PART_CIRCUIT] = {
        [PART_JOINT] = m->n_joints, [PART_HOLE] = m->n_holes,         [PART_BALL] = m->n_balls,
        [PART_VALVE] = m->n_valves, [PART_SOLENOID] = m->n_solenoids, [PART_ACTUATOR] = m->n_actuators};
    for (int kind = 0; kind < PART_CIRCUIT; kind++)
        s->part_marked[kind] = arena_rows(a, rows[kind], sizeof(bool));
    for (uint32_t i = 0; i < s->edits->n; i++) {
        struct part_ref part = s->edits->rows[i].part;
        if (part.kind != PART_NONE && part.kind < PART_CIRCUIT && part.i < rows[part.kind])
            s->part_marked[part.kind][part.i] = true;
    }
}

/* A resized hole under a shuttle that may be shut. */
static bool seat_in_doubt(const struct sketch *s, const struct element *e)
{
    uint32_t first = s->network->n_spools + s->network->n_limits;
    return e->opens == OPENS_BY_SEAT && s->t->cases[s->c].positions[first + e->mover] != SEAT_OPEN;
}

static void lines_make(struct sketch *s, struct arena *a)
{
    const struct network *n = s->network;
    struct element *added = NULL;
    uint32_t n_added = s->settled ? trace_added(s->t, s->c, &added) : 0;
    s->lines = arena_rows(a, (size_t)n->n_elements + n_added, sizeof *s->lines);
    s->n_lines = n->n_elements;
    for (uint32_t i = 0; i < n->n_elements; i++) {
        s->lines[i].element = n->elements[i];
        s->lines[i].conducts = s->settled ? trace_conducts(s->t, s->c, (element_ix){i}) : CERTAIN_MAY;
    }
    for (uint32_t i = 0; i < s->edits->n; i++) {
        const struct edit *e = &s->edits->rows[i];
        if (e->kind == EDIT_REMOVE)
            s->lines[e->element.i].blocked = true;
        if (e->kind != EDIT_RESIZE)
            continue;
        struct line *l = &s->lines[e->element.i];
        l->resized = true;
        l->element.strength = e->strength;
        l->element.diameter = e->diameter;
        l->conducts = CERTAIN_NO; /* until it is found among the added ones */
    }
    for (uint32_t i = 0; i < n_added; i++) {
        if (added[i].kind != ELEMENT_ADDED) { /* a resized one that conducts */
            for (uint32_t k = 0; k < n->n_elements; k++)
                if (s->lines[k].resized && n->elements[k].part.kind == added[i].part.kind &&
                    n->elements[k].part.i == added[i].part.i)
                    s->lines[k].conducts = seat_in_doubt(s, &added[i]) ? CERTAIN_MAY : CERTAIN_YES;
            continue;
        }
        s->lines[s->n_lines++] = (struct line){.element = added[i], .conducts = CERTAIN_YES, .added = true};
    }
    /* The hole of a lost ball is drawn as itself, open both ways. */
    for (uint32_t i = n->n_elements; i < s->n_lines; i++) {
        struct line *l = &s->lines[i];
        if (l->element.part.kind != PART_HOLE)
            continue;
        struct line *hole = &s->lines[n->hole_element[l->element.part.i]];
        if (hole->blocked && hole->element.from.i == l->element.from.i && hole->element.to.i == l->element.to.i) {
            hole->blocked = false;
            hole->conducts = CERTAIN_YES;
            hole->resized = !(hole->element.diameter == l->element.diameter ||
                              (isnan(hole->element.diameter) && isnan(l->element.diameter)));
            hole->element.one_way = false;
            hole->element.diameter = l->element.diameter;
            *l = s->lines[--s->n_lines];
            i--;
        }
    }
    mem_free(added);
}

/* ---- what is shown */

static bool in_circuit(const struct model *m, passage_ix p, circuit_ix wanted)
{
    for (circuit_ix c = m->passages[p.i].circuit; c.i != NONE; c = m->circuits[c.i].under)
        if (c.i == wanted.i)
            return true;
    return false;
}

static bool wanted_itself(const struct sketch *s, passage_ix p)
{
    enum condition was;
    bool changed = sketch_changed(s, p, &was) && (was == FED || was == PARTIAL || was == UNSURE);
    if (!s->o->all && !sketch_live(s, p) && !changed)
        return false;
    if (s->o->feed.i != NONE && s->settled && trace_reach(s->t, s->c, s->o->feed, p) == CERTAIN_NO &&
        !(changed && trace_reach(s->healthy, s->was, s->o->feed, p) != CERTAIN_NO))
        return false;
    return s->o->circuit.i == NONE || in_circuit(s->model, p, s->o->circuit);
}

/* Can the line be part of the picture: it conducts, or a fault touched it, or all is asked for. */
static bool line_open(const struct sketch *s, const struct line *l)
{
    return s->o->all || l->conducts != CERTAIN_NO || l->blocked || l->resized || l->added;
}

/* What a circuit touches: one element further, as far as it is live. */
static void show_neighbours(struct sketch *s, const bool *wanted)
{
    for (uint32_t i = 0; i < s->n_lines; i++) {
        const struct line *l = &s->lines[i];
        uint32_t a = s->box[l->element.from.i], b = s->box[l->element.to.i];
        if (!line_open(s, l) || a == SUMP.i || b == SUMP.i)
            continue;
        if (wanted[a] && (s->o->all || sketch_live(s, (passage_ix){b})))
            s->shown[b] = true;
        if (wanted[b] && (s->o->all || sketch_live(s, (passage_ix){a})))
            s->shown[a] = true;
    }
}

static void near_add(const struct sketch *s, uint32_t *near, passage_ix p)
{
    if (p.i != NONE && p.i != SUMP.i)
        near[s->box[p.i]] = 0;
}

/* The passages that a part stands at. */
static void near_part(const struct sketch *s, struct part_ref part, uint32_t *near)
{
    const struct model *m = s->model;
    switch (part.kind) {
    case PART_PASSAGE:
        near_add(s, near, (passage_ix){part.i});
        break;
    case PART_JOINT:
        near_add(s, near, m->joints[part.i].joins[0]);
        near_add(s, near, m->joints[part.i].joins[1]);
        break;
    case PART_HOLE:
        near_add(s, near, m->holes[part.i].joins[0]);
        near_add(s, near, m->holes[part.i].joins[1]);
        break;
    case PART_BALL:
        near_add(s, near, m->balls[part.i].lies_in);
        break;
    case PART_VALVE:
        for (uint32_t i = 0; i < m->valves[part.i].n_ports; i++)
            near_add(s, near, m->valves[part.i].ports[i].passage);
        break;
    case PART_SOLENOID:
        for (uint32_t i = 0; i < m->solenoids[part.i].n_ports; i++)
            near_add(s, near, m->solenoids[part.i].ports[i].passage);
        break;
    case PART_ACTUATOR:
        near_add(s, near, m->actuators[part.i].apply);
        near_add(s, near, m->actuators[part.i].release);
        break;
    case PART_TAP:
        near_add(s, near, m->taps[part.i].on);
        break;
    case PART_SWITCH:
        near_add(s, near, m->switches[part.i].on);
        break;
    case PART_CIRCUIT:
        for (uint32_t i = 0; i < m->circuits[part.i].n_passages; i++)
            near_add(s, near, m->circuits[part.i].passages[i]);
        break;
    case PART_NONE:
        break;
    }
}

#define HOPS_DEFAULT 2u

/* Leaves only what is at most `hops` open elements away from the part. */
static void keep_near(struct sketch *s, struct arena *a)
{
    uint32_t n = s->model->n_passages, hops = s->o->hops ? s->o->hops : HOPS_DEFAULT;
    uint32_t *near = arena_rows(a, n, sizeof *near);
    memset(near, 0xFF, n * sizeof *near);
    near_part(s, s->o->around, near);
    for (uint32_t i = 0; i < n; i++)
        if (near[i] == 0)
            s->shown[i] = true; /* the part itself is there even where nothing flows */
    for (uint32_t hop = 0; hop < hops; hop++)
        for (uint32_t i = 0; i < s->n_lines; i++) {
            uint32_t x = s->box[s->lines[i].element.from.i], y = s->box[s->lines[i].element.to.i];
            if (!line_open(s, &s->lines[i]) || x == SUMP.i || y == SUMP.i || !s->shown[x] || !s->shown[y])
                continue;
            if (near[x] == hop && near[y] == NONE)
                near[y] = hop + 1;
            if (near[y] == hop && near[x] == NONE)
                near[x] = hop + 1;
        }
    for (uint32_t i = 0; i < n; i++)
        s->shown[i] = s->shown[i] && near[i] != NONE;
}

static void show_ends(struct sketch *s, const struct element *e)
{
    s->shown[s->box[e->from.i]] = true;
    s->shown[s->box[e->to.i]] = true;
}

static bool same_element(const struct element *a, const struct element *b)
{
    return a->kind == b->kind && a->part.kind == b->part.kind && a->part.i == b->part.i &&
           ((a->from.i == b->from.i && a->to.i == b->to.i) || (a->from.i == b->to.i && a->to.i == b->from.i));
}

static void show_route(struct sketch *s)
{
    for (uint32_t i = 0; s->o->route && i < s->o->route->n; i++) {
        const struct element *e = &s->o->route->steps[i].element;
        show_ends(s, e);
        for (uint32_t k = 0; k < s->n_lines; k++) {
            struct line *l = &s->lines[k];
            if (l->conducts == CERTAIN_NO || !same_element(&l->element, e))
                continue;
            l->heavy = true;
            l->heavy_flow = l->element.from.i == e->from.i ? 1 : -1;
        }
    }
}

static void show_all(struct sketch *s, struct arena *a)
{
    const struct model *m = s->model;
    bool *wanted = arena_rows(a, m->n_passages, sizeof *wanted);
    s->shown = arena_rows(a, m->n_passages, sizeof *s->shown);
    for (uint32_t i = SUMP.i + 1; i < m->n_passages; i++)
        wanted[s->box[i]] |= wanted_itself(s, (passage_ix){i});
    memcpy(s->shown, wanted, m->n_passages * sizeof *wanted);
    if (s->o->circuit.i != NONE)
        show_neighbours(s, wanted);
    if (s->o->around.kind != PART_NONE)
        keep_near(s, a);
    for (uint32_t i = 0; i < s->n_lines; i++) /* a fault is marked where it is */
        if (s->lines[i].blocked || s->lines[i].resized || s->lines[i].added)
            show_ends(s, &s->lines[i].element);
    show_route(s);
    s->shown[SUMP.i] = false; /* drawn at each drain by itself */
    for (uint32_t i = 0; i < s->n_lines; i++) {
        struct line *l = &s->lines[i];
        uint32_t x = s->box[l->element.from.i], y = s->box[l->element.to.i];
        bool ends = x == SUMP.i ? s->shown[y] : y == SUMP.i ? s->shown[x] : s->shown[x] && s->shown[y];
        l->shown = x != y && ends && line_open(s, l);
    }
}

void sketch_make(const struct trace *t, uint32_t set, const struct trace *healthy, const struct draw_options *o,
                 struct arena *a, struct sketch *out)
{
    *out = (struct sketch){.t = t,
                           .healthy = healthy,
                           .network = t->network,
                           .model = t->network->model,
                           .o = o,
                           .edits = &t->sets[set],
                           .c = trace_case(t, set, o->state),
                           .was = o->state.i};
    out->settled = t->cases[out->c].settled;
    out->compares = out->settled && healthy && healthy->cases[out->was].settled;
    marks_make(out, a);
    lines_make(out, a);
    boxes_make(out, a);
    users_make(out, a);
    show_all(out, a);
    sketch_flow(out, a);
}
