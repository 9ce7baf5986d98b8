/* The parts of two models side by side: each part as a list of fields in words, and the lists compared. */
#include "base/mem.h"
#include "report/compare.h"
#include <math.h>
#include <string.h>

struct fields {
    struct arena *arena;
    const struct model *model;
    struct field *rows;
    size_t n, cap;
};

static void field(struct fields *f, const char *key, const char *value)
{
    MEM_GROW(f->rows, f->n, f->cap);
    f->rows[f->n++] = (struct field){key, value};
}

static void quantity(struct fields *f, const char *key, double value, enum dimension dim)
{
    struct text t = {0};
    if (isnan(value))
        return;
    quantity_add(&t, value, dim, &f->model->units);
    field(f, key, arena_text(f->arena, text_string(&t), t.n));
    text_release(&t);
}

static const char *passage_id(const struct fields *f, passage_ix p)
{
    return p.i == NONE ? "-" : f->model->passages[p.i].part.id;
}

static void passage_fields(struct fields *f, uint32_t i)
{
    const struct passage *p = &f->model->passages[i];
    if (p->layer.i == NONE)
        return;
    field(f, "layer", f->model->layers[p->layer.i].part.id);
    field(f, "circuit", f->model->circuits[p->circuit.i].part.id);
    quantity(f, "volume", p->volume, DIM_VOLUME);
}

static void joint_fields(struct fields *f, uint32_t i)
{
    const struct joint *j = &f->model->joints[i];
    field(f, "joins", arena_format(f->arena, "%s and %s", passage_id(f, j->joins[0]), passage_id(f, j->joins[1])));
    quantity(f, "diameter", j->diameter, DIM_LENGTH);
    field(f, "strength", strength_word(j->strength));
}

static void hole_fields(struct fields *f, uint32_t i)
{
    const struct hole *h = &f->model->holes[i];
    field(f, "joins", arena_format(f->arena, "%s and %s", passage_id(f, h->joins[0]), passage_id(f, h->joins[1])));
    quantity(f, "diameter", hole_diameter(h), DIM_LENGTH);
    field(f, "strength", strength_word(h->strength));
    if (!isnan(h->at[0])) {
        quantity(f, "place, across", h->at[0], DIM_LENGTH);
        quantity(f, "place, up", h->at[1], DIM_LENGTH);
    }
    struct text t = {0};
    for (uint32_t k = 0; k < h->n_leaks_to; k++)
        text_addf(&t, "%s%s", k ? ", " : "", passage_id(f, h->leaks_to[k]));
    if (t.n)
        field(f, "neighbours", arena_text(f->arena, text_string(&t), t.n));
    text_release(&t);
}

static void ball_fields(struct fields *f, uint32_t i)
{
    const struct ball *b = &f->model->balls[i];
    for (uint32_t k = 0; k < b->n_seats; k++)
        field(f, k ? "second seat" : "seat", f->model->holes[b->seats_on[k].i].part.id);
    field(f, "lies in", passage_id(f, b->lies_in));
}

static void ports_fields(struct fields *f, const struct port *ports, uint32_t n)
{
    for (uint32_t k = 0; k < n; k++)
        field(f, arena_format(f->arena, "port %s", ports[k].name), passage_id(f, ports[k].passage));
}

static void positions_fields(struct fields *f, const struct valve *v)
{
    for (uint32_t p = 0; p < v->n_positions; p++) {
        struct text t = {0};
        for (uint32_t w = 0; w < v->positions[p].n_windows; w++)
            text_addf(&t, "%s%s to %s", w ? ", " : "", v->ports[v->positions[p].windows[w].a].name,
                      v->ports[v->positions[p].windows[w].b].name);
        field(f, arena_format(f->arena, "open at %s", v->positions[p].name),
              arena_text(f->arena, t.n ? text_string(&t) : "nothing", t.n ? t.n : 7));
        text_release(&t);
    }
}

static void valve_fields(struct fields *f, uint32_t i)
{
    static const char *const kinds[] = {"manual", "spool", "limiting", "regulating", "relief"};
    const struct valve *v = &f->model->valves[i];
    field(f, "kind", kinds[v->kind]);
    ports_fields(f, v->ports, v->n_ports);
    positions_fields(f, v);
    for (uint32_t e = 0; e < v->n_ends; e++) {
        const char *key = arena_format(f->arena, "%s pushes", v->ports[v->ends[e].port].name);
        field(f, key, v->ends[e].pushes > 0 ? "to stroked" : "to rest");
        quantity(f, arena_format(f->arena, "%s area", v->ports[v->ends[e].port].name), v->ends[e].area, DIM_AREA);
    }
    quantity(f, "window", v->window_diameter, DIM_LENGTH);
    quantity(f, "preload", v->preload, DIM_FORCE);
    quantity(f, "rate", v->rate, DIM_SPRING_RATE);
    quantity(f, "area", v->area, DIM_AREA);
    quantity(f, "travel", v->travel, DIM_LENGTH);
    if (v->kind == VALVE_LIMITING) {
        quantity(f, "limit", v->limit, DIM_PRESSURE);
        quantity(f, "droop", v->droop, DIM_SHARE);
    }
    if (v->kind == VALVE_RELIEF)
        quantity(f, "cracks at", v->cracks_at, DIM_PRESSURE);
}

static void solenoid_fields(struct fields *f, uint32_t i)
{
    static const char *const kinds[] = {"bleed", "three_way", "duty"};
    const struct solenoid *s = &f->model->solenoids[i];
    field(f, "kind", kinds[s->kind]);
    field(f, "off", s->off_passes ? "passes" : "drains or shuts");
    ports_fields(f, s->ports, s->n_ports);
    quantity(f, "diameter", s->diameter, DIM_LENGTH);
}

static void actuator_fields(struct fields *f, uint32_t i)
{
    const struct actuator *a = &f->model->actuators[i];
    field(f, "apply", passage_id(f, a->apply));
    if (a->release.i != NONE)
        field(f, "release", passage_id(f, a->release));
    quantity(f, "applies at", a->applies_at, DIM_PRESSURE);
    quantity(f, "volume", a->volume, DIM_VOLUME);
}

static void tap_fields(struct fields *f, uint32_t i)
{
    field(f, "on", passage_id(f, f->model->taps[i].on));
}

static void switch_fields(struct fields *f, uint32_t i)
{
    field(f, "on", passage_id(f, f->model->switches[i].on));
    quantity(f, "closes at", f->model->switches[i].closes_at, DIM_PRESSURE);
}

static void circuit_fields(struct fields *f, uint32_t i)
{
    const struct circuit *c = &f->model->circuits[i];
    if (c->limited_by.i != NONE)
        field(f, "limited by", f->model->valves[c->limited_by.i].part.id);
    field(f, "flows by design", c->flows ? "yes" : "no");
    struct text t = {0};
    for (uint32_t k = 0; k < c->n_fed_by; k++)
        text_addf(&t, "%s%s", k ? ", " : "", f->model->feeds[c->fed_by[k].i].part.id);
    field(f, "fed by", c->any_feed ? "any feed" : t.n ? arena_text(f->arena, text_string(&t), t.n) : "no feed");
    text_release(&t);
}

static uint32_t rows_of(const struct model *m, enum part_kind kind)
{
    switch (kind) {
    case PART_PASSAGE:
        return m->n_passages;
    case PART_JOINT:
        return m->n_joints;
    case PART_HOLE:
        return m->n_holes;
    case PART_BALL:
        return m->n_balls;
    case PART_VALVE:
        return m->n_valves;
    case PART_SOLENOID:
        return m->n_solenoids;
    case PART_ACTUATOR:
        return m->n_actuators;
    case PART_TAP:
        return m->n_taps;
    case PART_SWITCH:
        return m->n_switches;
    case PART_CIRCUIT:
        return m->n_circuits;
    case PART_NONE:
        break;
    }
    return 0;
}

/* In the order of importance to somebody who compares two plates. */
static const struct {
    enum part_kind kind;
    void (*fields)(struct fields *f, uint32_t row);
} kinds[] = {{PART_HOLE, hole_fields},         {PART_BALL, ball_fields},       {PART_VALVE, valve_fields},
             {PART_SOLENOID, solenoid_fields}, {PART_JOINT, joint_fields},     {PART_PASSAGE, passage_fields},
             {PART_ACTUATOR, actuator_fields}, {PART_CIRCUIT, circuit_fields}, {PART_TAP, tap_fields},
             {PART_SWITCH, switch_fields}};
#define N_KINDS (sizeof kinds / sizeof *kinds)

#define SAME_PLACE                                                                                                     \
    0.3e-3 /* m; closer than this two holes are one: dowel play and scan error, common practice, no source */

/* The hole of `m` at the same place, NONE where there is none, or the place is not told. */
static uint32_t hole_at(const struct model *m, const struct hole *h)
{
    uint32_t best = NONE;
    double least = SAME_PLACE;
    for (uint32_t i = 0; !isnan(h->at[0]) && i < m->n_holes; i++) {
        double d = hypot(m->holes[i].at[0] - h->at[0], m->holes[i].at[1] - h->at[1]);
        if (d <= least) {
            least = d;
            best = i;
        }
    }
    return best;
}

/* The row of the other model that is the same part, or NONE. A hole with a place in both is known by its place. */
static uint32_t match(const struct model *from, const struct model *to, enum part_kind kind, uint32_t row)
{
    const char *id = model_id(from, (struct part_ref){kind, row});
    if (kind == PART_HOLE) {
        uint32_t there = hole_at(to, &from->holes[row]);
        if (there != NONE)
            return there;
    }
    struct part_ref r = model_find(to, id, strlen(id));
    if (r.kind != kind)
        return NONE;
    if (kind == PART_HOLE && !isnan(from->holes[row].at[0]) && !isnan(to->holes[r.i].at[0]) &&
        hole_at(from, &to->holes[r.i]) != NONE)
        return NONE; /* that one is another hole of ours */
    return r.i;
}

static void fields_compare(struct comparison *c, struct part_difference *d, const struct fields *was,
                           const struct fields *now)
{
    size_t most = was->n + now->n;
    d->keys = arena_rows(&c->arena, most, sizeof *d->keys);
    d->was = arena_rows(&c->arena, most, sizeof *d->was);
    d->now = arena_rows(&c->arena, most, sizeof *d->now);
    for (int new = 0; new < 2; new ++) {
        const struct fields *one = new ? now : was, *other = new ? was : now;
        for (size_t i = 0; i < one->n; i++) {
            const char *value = NULL;
            for (size_t k = 0; k < other->n; k++)
                value = strcmp(one->rows[i].key, other->rows[k].key) ? value : other->rows[k].value;
            if (new ? value != NULL : value && !strcmp(value, one->rows[i].value))
                continue; /* told from the old side already, or equal */
            d->keys[d->n] = one->rows[i].key;
            d->was[d->n] = new ? NULL : one->rows[i].value;
            d->now[d->n++] = new ? one->rows[i].value : value;
        }
    }
}

static void kind_compare(struct comparison *c, size_t *cap, size_t kind, const struct model *old,
                         const struct model *new)
{
    for (int side = 0; side < 2; side++) {
        const struct model *from = side ? new : old, *to = side ? old : new;
        for (uint32_t i = kinds[kind].kind == PART_PASSAGE; i < rows_of(from, kinds[kind].kind); i++) {
            uint32_t row = match(from, to, kinds[kind].kind, i);
            if (side && row != NONE)
                continue;
            struct part_difference d = {.kind = kinds[kind].kind,
                                        .id = model_id(from, (struct part_ref){kinds[kind].kind, i})};
            struct fields was = {.arena = &c->arena, .model = old}, now = {.arena = &c->arena, .model = new};
            d.what = row != NONE ? 0 : side ? 1 : -1;
            if (!side)
                kinds[kind].fields(&was, i);
            if (side || row != NONE)
                kinds[kind].fields(&now, side ? i : row);
            fields_compare(c, &d, &was, &now);
            mem_free(was.rows);
            mem_free(now.rows);
            const char *other = row == NONE ? d.id : model_id(to, (struct part_ref){kinds[kind].kind, row});
            d.renamed = strcmp(other, d.id) ? other : NULL;
            if (!d.n && !d.what && !d.renamed)
                continue;
            MEM_GROW(c->parts, c->n_parts, *cap);
            c->parts[c->n_parts++] = d;
        }
    }
}

void comparison_find(const struct model *old, const struct model *new, struct comparison *out)
{
    size_t cap = 0;
    *out = (struct comparison){.n_parts = 0};
    arena_init(&out->arena);
    for (size_t k = 0; k < N_KINDS; k++)
        kind_compare(out, &cap, k, old, new);
}

void comparison_release(struct comparison *c)
{
    mem_free(c->parts);
    arena_release(&c->arena);
    *c = (struct comparison){.n_parts = 0};
}
