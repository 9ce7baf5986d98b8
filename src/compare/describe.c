/* What a model says of each part, in words: one small function a kind. Only what decides how oil runs, and when: titles
 * and notes may change. */
#include "base/mem.h"
#include "base/text.h"
#include "compare/compare.h"
#include <math.h>
#include <string.h>

struct describing {
    const struct model *m;
    const struct units *u;
    struct arena *a;
    struct description *out;
};

static void tell(struct describing *d, const char *name, const char *words)
{
    if (!words || !*words)
        return;
    MEM_GROW(d->out->rows, d->out->n, d->out->cap);
    d->out->rows[d->out->n++] = (struct attribute){name, words};
}

static void tell_text(struct describing *d, const char *name, struct text *t)
{
    tell(d, name, t->n ? arena_text(d->a, t->at, t->n) : NULL);
    text_release(t);
}

/* Six digits: what two files say differently must not look the same. */
static void add_size(struct text *t, double value, enum dimension dim, const struct units *u)
{
    double unit = 1;
    if (dim == DIM_TEMPERATURE) {
        quantity_add(t, value, dim, u);
        return;
    }
    quantity_read("1", 1, dim, u, &unit, NULL);
    text_addf(t, "%.6g%s%s", value / unit, dim == DIM_NUMBER ? "" : " ", dim == DIM_NUMBER ? "" : u->name[dim]);
}

static void tell_size(struct describing *d, const char *name, double value, enum dimension dim)
{
    struct text t = {0};
    if (isfinite(value))
        add_size(&t, value, dim, d->u);
    tell_text(d, name, &t);
}

static const char *passage(const struct describing *d, passage_ix p)
{
    return p.i == NONE ? NULL : d->m->passages[p.i].part.id;
}

/* Two passages have no order. */
static void tell_joins(struct describing *d, const passage_ix joins[2])
{
    const char *one = passage(d, joins[0]), *two = passage(d, joins[1]);
    bool turn = strcmp(one, two) > 0;
    tell(d, "joins", arena_format(d->a, "%s and %s", turn ? two : one, turn ? one : two));
}

static void add_comma(struct text *t, const char *word)
{
    text_addf(t, "%s%s", t->n ? ", " : "", word);
}

static void tell_part(struct describing *d, const struct part *part)
{
    tell_size(d, "discharge coefficient", part->cd, DIM_NUMBER);
}

/* ---- what oil lies in */

static void layer(struct describing *d, uint32_t row)
{
    tell(d, "kind", d->m->layers[row].kind == LAYER_PLATE ? "plate" : "casting");
}

static void circuit(struct describing *d, uint32_t row)
{
    const struct circuit *c = &d->m->circuits[row];
    struct text feeds = {0};
    for (uint32_t i = 0; i < c->n_fed_by; i++)
        add_comma(&feeds, d->m->feeds[c->fed_by[i].i].part.id);
    if (c->any_feed)
        text_add(&feeds, "any feed");
    else if (!feeds.n)
        text_add(&feeds, "no feed");
    tell_text(d, "may be fed by", &feeds);
    if (c->limited_by.i != NONE)
        tell(d, "limited by", d->m->valves[c->limited_by.i].part.id);
    if (c->flows)
        tell(d, "fed and drained at once", "by design");
}

static void passage_part(struct describing *d, uint32_t row)
{
    const struct passage *p = &d->m->passages[row];
    tell(d, "circuit", p->circuit.i == NONE ? NULL : d->m->circuits[p->circuit.i].part.id);
    tell(d, "layer", p->layer.i == NONE ? NULL : d->m->layers[p->layer.i].part.id);
    tell_size(d, "volume", p->volume, DIM_VOLUME);
}

/* ---- what oil crosses */

static void joint(struct describing *d, uint32_t row)
{
    const struct joint *j = &d->m->joints[row];
    tell_joins(d, j->joins);
    tell_size(d, "diameter", j->diameter, DIM_LENGTH);
    if (!isnan(j->diameter))
        tell(d, "strength", strength_word(j->strength));
    if (j->screen)
        tell(d, "kind", "screen");
    tell_part(d, &j->part);
}

static void hole(struct describing *d, uint32_t row)
{
    const struct hole *h = &d->m->holes[row];
    struct text leaks = {0}, at = {0};
    tell_joins(d, h->joins);
    tell_size(d, "diameter", h->diameter, DIM_LENGTH);
    tell_size(d, "equivalent diameter", h->equivalent_diameter, DIM_LENGTH);
    tell(d, "strength", strength_word(h->strength));
    tell(d, "plate", d->m->layers[h->plate.i].part.id);
    if (!isnan(h->at[0])) {
        add_size(&at, h->at[0], DIM_LENGTH, d->u);
        text_add(&at, ", ");
        add_size(&at, h->at[1], DIM_LENGTH, d->u);
    }
    tell_text(d, "place", &at);
    for (uint32_t i = 0; i < h->n_leaks_to; i++)
        add_comma(&leaks, passage(d, h->leaks_to[i]));
    tell_text(d, "neighbours behind its seal", &leaks);
    tell_part(d, &h->part);
}

static void ball(struct describing *d, uint32_t row)
{
    const struct ball *b = &d->m->balls[row];
    struct text seats = {0};
    for (uint32_t i = 0; i < b->n_seats; i++)
        add_comma(&seats, d->m->holes[b->seats_on[i].i].part.id);
    tell_text(d, "seats on", &seats);
    tell(d, "lies in", passage(d, b->lies_in));
}

/* ---- what steers */

static void tell_ports(struct describing *d, const struct port *ports, uint32_t n)
{
    for (uint32_t i = 0; i < n; i++)
        tell(d, arena_format(d->a, "port %s", ports[i].name), passage(d, ports[i].passage));
}

static void tell_windows(struct describing *d, const struct valve *v)
{
    for (uint32_t p = 0; p < v->n_positions; p++) {
        struct text open = {0};
        for (uint32_t i = 0; i < v->positions[p].n_windows; i++) {
            const struct window *w = &v->positions[p].windows[i];
            const char *a = v->ports[w->a].name, *b = v->ports[w->b].name;
            bool turn = strcmp(a, b) > 0;
            text_addf(&open, "%s%s to %s", open.n ? ", " : "", turn ? b : a, turn ? a : b);
        }
        if (!open.n)
            text_add(&open, "nothing");
        tell_text(d, arena_format(d->a, "%s opens", v->positions[p].name), &open);
    }
}

static void tell_ends(struct describing *d, const struct valve *v)
{
    for (uint32_t i = 0; i < v->n_ends; i++) {
        struct text t = {0};
        text_add(&t, v->ends[i].pushes > 0 ? "towards stroked" : "towards rest");
        if (isfinite(v->ends[i].area)) {
            text_add(&t, " on ");
            add_size(&t, v->ends[i].area, DIM_AREA, d->u);
        }
        tell_text(d, arena_format(d->a, "%s pushes", v->ports[v->ends[i].port].name), &t);
    }
}

static void tell_spring(struct describing *d, bool has, double preload, double rate)
{
    if (!has)
        return;
    tell_size(d, "spring preload", preload, DIM_FORCE);
    tell_size(d, "spring rate", rate, DIM_SPRING_RATE);
}

static void tell_plug(struct describing *d, const struct valve *v)
{
    if (v->plug != PLUG_NONE)
        tell(d, "plug", v->plug == PLUG_SPRING ? "spring" : v->ports[v->plug].name);
}

static void tell_sets(struct describing *d, const struct valve *v)
{
    if (!v->sets)
        return;
    tell_size(d, "sets", v->base, DIM_PRESSURE);
    tell_size(d, "at most", v->at_most, DIM_PRESSURE);
    for (uint32_t i = 0; i < v->n_plus; i++)
        tell(d, arena_format(d->a, "boost from %s", passage(d, v->plus[i].from)),
             arena_format(d->a, "%.6g", v->plus[i].gain));
}

static void valve(struct describing *d, uint32_t row)
{
    static const char *const kinds[] = {"manual", "spool", "limiting", "regulating", "relief"};
    const struct valve *v = &d->m->valves[row];
    tell(d, "kind", kinds[v->kind]);
    tell_size(d, "limit", v->kind == VALVE_LIMITING ? v->limit : NAN, DIM_PRESSURE);
    tell_size(d, "opens at", v->kind == VALVE_RELIEF ? v->cracks_at : NAN, DIM_PRESSURE);
    tell_ports(d, v->ports, v->n_ports);
    tell_windows(d, v);
    tell_ends(d, v);
    tell_spring(d, v->has_spring, v->preload, v->rate);
    tell_size(d, "window diameter", v->window_diameter, DIM_LENGTH);
    tell_size(d, "droop", v->kind == VALVE_LIMITING ? v->droop : NAN, DIM_SHARE);
    tell_size(d, "area", v->area, DIM_AREA);
    tell_size(d, "travel", v->travel, DIM_LENGTH);
    tell_size(d, "lap", v->lap > 0 ? v->lap : NAN, DIM_SHARE);
    tell_plug(d, v);
    if (v->kind == VALVE_REGULATING)
        tell(d, "source", v->source.i == NONE ? NULL : d->m->feeds[v->source.i].part.id);
    tell_sets(d, v);
    if (v->has_clearance) {
        tell_size(d, "bore", v->bore, DIM_LENGTH);
        tell_size(d, "gap", v->gap, DIM_LENGTH);
        tell_size(d, "land", v->land, DIM_LENGTH);
        tell_size(d, "eccentricity", v->eccentricity, DIM_SHARE);
    }
    tell_part(d, &v->part);
}

static void solenoid(struct describing *d, uint32_t row)
{
    static const char *const kinds[] = {"bleed", "three-way", "duty"};
    const struct solenoid *s = &d->m->solenoids[row];
    tell(d, "kind", kinds[s->kind]);
    tell(d, "off", s->off_passes ? "passes oil" : s->kind == SOLENOID_BLEED ? "shut" : "drains");
    tell_ports(d, s->ports, s->n_ports);
    tell_size(d, "diameter", s->diameter, DIM_LENGTH);
    if (s->strength_given)
        tell(d, "strength", strength_word(s->strength));
    tell_part(d, &s->part);
}

/* ---- what works, and what is looked at */

static void actuator(struct describing *d, uint32_t row)
{
    static const char *const kinds[] = {"clutch", "band", "accumulator", "converter"};
    const struct actuator *a = &d->m->actuators[row];
    tell(d, "kind", kinds[a->kind]);
    tell(d, "apply side", passage(d, a->apply));
    tell(d, "release side", passage(d, a->release));
    tell_size(d, "applies at", a->applies_at, DIM_PRESSURE);
    tell_size(d, "volume", a->volume, DIM_VOLUME);
    tell_size(d, "apply area", a->apply_area, DIM_AREA);
    tell_size(d, "release area", a->release_area, DIM_AREA);
    tell_spring(d, a->has_spring, a->preload, a->rate);
    tell_size(d, "seal", a->seal, DIM_LENGTH);
}

static void feed(struct describing *d, uint32_t row)
{
    const struct feed *f = &d->m->feeds[row];
    tell(d, f->is_source ? "into" : "from", passage(d, f->passage));
    tell_size(d, "capacity", f->capacity, DIM_FLOW);
}

static void tap(struct describing *d, uint32_t row)
{
    tell(d, "on", passage(d, d->m->taps[row].on));
}

static void pressure_switch(struct describing *d, uint32_t row)
{
    tell(d, "on", passage(d, d->m->switches[row].on));
    tell_size(d, "closes at", d->m->switches[row].closes_at, DIM_PRESSURE);
}

static void tell_actuators(struct describing *d, const char *name, const actuator_ix *rows, uint32_t n)
{
    struct text t = {0};
    for (uint32_t i = 0; i < n; i++)
        add_comma(&t, d->m->actuators[rows[i].i].part.id);
    if (!n && !strcmp(name, "on"))
        text_add(&t, "nothing");
    tell_text(d, name, &t);
}

static void gear(struct describing *d, uint32_t row)
{
    tell_actuators(d, "on", d->m->gears[row].on, d->m->gears[row].n_on);
    tell_actuators(d, "on or off", d->m->gears[row].either, d->m->gears[row].n_either);
}

static void tell_source(struct describing *d, const char *name, const struct source_setting *s)
{
    struct text t = {0};
    if (s->regulated)
        text_add(&t, "regulated");
    else if (s->pressure > 0)
        add_size(&t, s->pressure, DIM_PRESSURE, d->u);
    else
        text_add(&t, "off");
    if (isfinite(s->capacity)) {
        text_add(&t, ", up to ");
        add_size(&t, s->capacity, DIM_FLOW, d->u);
    }
    tell_text(d, name, &t);
}

static void state(struct describing *d, uint32_t row)
{
    const struct model *m = d->m;
    const struct state *s = &m->states[row];
    tell(d, "gear commanded", s->gear.i == NONE ? NULL : m->gears[s->gear.i].part.id);
    for (uint32_t i = 0; i < m->n_valves; i++)
        if (s->detents[i] != NONE)
            tell(d, m->valves[i].part.id, m->valves[i].positions[s->detents[i]].name);
    for (uint32_t i = 0; i < m->n_solenoids; i++)
        if (s->shares[i] > 0)
            tell(d, m->solenoids[i].part.id,
                 s->shares[i] >= 1 ? "on" : arena_format(d->a, "%.6g %%", 100 * s->shares[i]));
    for (uint32_t i = 0; i < m->n_feeds; i++)
        if (m->feeds[i].is_source)
            tell_source(d, m->feeds[i].part.id, &s->sources[i]);
    if (s->after.i != NONE)
        tell(d, "after", m->states[s->after.i].part.id);
    tell_size(d, "temperature", s->temperature == m->fluid.temperature ? NAN : s->temperature, DIM_TEMPERATURE);
}

static void whole_model(struct describing *d, uint32_t row)
{
    const struct model *m = d->m;
    (void)row;
    tell_size(d, "density", m->fluid.density, DIM_DENSITY);
    for (int i = 0; i < 2; i++) {
        struct text t = {0};
        text_add(&t, "viscosity at ");
        quantity_add(&t, m->fluid.t[i], DIM_TEMPERATURE, d->u);
        const char *name = arena_text(d->a, text_string(&t), t.n);
        text_release(&t);
        tell_size(d, name, m->fluid.nu[i], DIM_VISCOSITY);
    }
    tell_size(d, "temperature", m->fluid.temperature, DIM_TEMPERATURE);
    struct text t = {0};
    for (uint32_t i = 0; i < m->n_clashes; i++)
        text_addf(&t, "%s%s with %s", t.n ? ", " : "", m->actuators[m->clashes[i].pair[0].i].part.id,
                  m->actuators[m->clashes[i].pair[1].i].part.id);
    tell_text(d, "never on together", &t);
}

/* ---- the table of kinds */

static const struct {
    const char *word;
    size_t rows, n, size;
    void (*describe)(struct describing *d, uint32_t row);
} kinds[N_DESCRIBED] = {
#define KIND(name, word, table, type, describe)                                                                        \
    [name] = {word, offsetof(struct model, table), offsetof(struct model, n_##table), sizeof(struct type), describe}
    KIND(DESCRIBED_LAYER, "layer", layers, layer, layer),
    KIND(DESCRIBED_CIRCUIT, "circuit", circuits, circuit, circuit),
    KIND(DESCRIBED_PASSAGE, "passage", passages, passage, passage_part),
    KIND(DESCRIBED_JOINT, "joint", joints, joint, joint),
    KIND(DESCRIBED_HOLE, "plate hole", holes, hole, hole),
    KIND(DESCRIBED_BALL, "check ball", balls, ball, ball),
    KIND(DESCRIBED_VALVE, "valve", valves, valve, valve),
    KIND(DESCRIBED_SOLENOID, "solenoid", solenoids, solenoid, solenoid),
    KIND(DESCRIBED_ACTUATOR, "device", actuators, actuator, actuator),
    KIND(DESCRIBED_FEED, "feed", feeds, feed, feed),
    KIND(DESCRIBED_TAP, "tap", taps, tap, tap),
    KIND(DESCRIBED_SWITCH, "switch", switches, pressure_switch, pressure_switch),
    KIND(DESCRIBED_GEAR, "gear", gears, gear, gear),
    KIND(DESCRIBED_STATE, "state", states, state, state),
#undef KIND
    [DESCRIBED_MODEL] = {"model", 0, 0, 0, whole_model},
};

const char *described_word(enum described_kind kind)
{
    return kinds[kind].word;
}

uint32_t described_rows(const struct model *m, enum described_kind kind)
{
    return kind == DESCRIBED_MODEL ? 1 : *(const uint32_t *)((const char *)m + kinds[kind].n);
}

const struct part *described_part(const struct model *m, enum described_kind kind, uint32_t row)
{
    const char *rows;
    if (kind == DESCRIBED_MODEL)
        return NULL;
    memcpy(&rows, (const char *)m + kinds[kind].rows, sizeof rows);
    return (const struct part *)(rows + row * kinds[kind].size);
}

void part_describe(const struct model *m, enum described_kind kind, uint32_t row, const struct units *u,
                   struct arena *a, struct description *out)
{
    struct describing d = {m, u, a, out};
    kinds[kind].describe(&d, row);
}
