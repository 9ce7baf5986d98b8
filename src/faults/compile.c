/* Faults into edits of a network. What a fault means to oil is here and nowhere else. */
#include "base/mem.h"
#include "faults/fault.h"
#include <math.h>

struct compiling {
    const struct fault *faults;
    uint32_t n_faults;
    const struct network *network;
    const struct model *model;
    struct edit *rows;
    size_t n, cap;
    bool splits_joint, regulator_shut;
};

static struct edit *edit_add(struct compiling *c, enum edit_kind kind, struct part_ref part)
{
    MEM_GROW(c->rows, c->n, c->cap);
    struct edit *e = &c->rows[c->n++];
    *e = (struct edit){.kind = kind,
                       .element = {NONE},
                       .from = {NONE},
                       .to = {NONE},
                       .diameter = NAN,
                       .ball = {NONE},
                       .valve = {NONE},
                       .solenoid = {NONE},
                       .feed = {NONE},
                       .position = NONE,
                       .position2 = NONE,
                       .value = NAN,
                       .part = part};
    return e;
}

static void remove_element(struct compiling *c, uint32_t element, struct part_ref part)
{
    edit_add(c, EDIT_REMOVE, part)->element.i = element;
}

static struct edit *add_element(struct compiling *c, passage_ix from, passage_ix to, enum strength strength,
                                struct part_ref part)
{
    struct edit *e = edit_add(c, EDIT_ADD, part);
    e->from = from;
    e->to = to;
    e->strength = strength;
    return e;
}

/* The fault of this kind on the same part, or NULL. */
static const struct fault *other_fault(const struct compiling *c, enum fault_kind kind, struct part_ref part)
{
    for (uint32_t i = 0; i < c->n_faults; i++)
        if (c->faults[i].kind == kind && c->faults[i].part.kind == part.kind && c->faults[i].part.i == part.i)
            return &c->faults[i];
    return NULL;
}

static struct part_ref hole_ref(hole_ix h)
{
    return (struct part_ref){PART_HOLE, h.i};
}

/* ---- block, leak, resize */

static void block_hole(struct compiling *c, uint32_t hole, struct part_ref part)
{
    remove_element(c, c->network->hole_element[hole], part);
    if (c->model->holes[hole].bridges.i != NONE)
        remove_element(c, c->network->hole_element[hole] + 1, part);
}

/* All windows of the port; and what stands at an end no longer pushes the spool. */
static void block_port(struct compiling *c, const struct fault *f)
{
    const struct network *n = c->network;
    uint32_t valve = f->part.i, port = f->ports[0];
    for (uint32_t e = n->valve_element[valve]; e < n->valve_element[valve + 1]; e++)
        if (n->elements[e].ports[0] == port || n->elements[e].ports[1] == port)
            remove_element(c, e, f->part);
    if (!valve_port_is_end(&c->model->valves[valve], port))
        return;
    struct edit *e = edit_add(c, EDIT_BLOCK_END, f->part);
    e->valve.i = valve;
    e->position = port;
}

static void compile_block(struct compiling *c, const struct fault *f)
{
    const struct network *n = c->network;
    switch (f->part.kind) {
    case PART_JOINT:
        remove_element(c, n->joint_element[f->part.i], f->part);
        c->splits_joint |= isnan(c->model->joints[f->part.i].diameter);
        break;
    case PART_HOLE:
        block_hole(c, f->part.i, f->part);
        break;
    case PART_SOLENOID:
        for (uint32_t e = n->solenoid_element[f->part.i]; e < n->solenoid_element[f->part.i + 1]; e++)
            remove_element(c, e, f->part);
        break;
    default:
        block_port(c, f);
        break;
    }
}

static void compile_leak(struct compiling *c, const struct fault *f)
{
    add_element(c, f->from, f->to, strength_of_size(f->size), f->part)->diameter = f->size;
}

static bool hole_is_gone(const struct compiling *c, hole_ix hole)
{
    if (other_fault(c, FAULT_BLOCK, hole_ref(hole)))
        return true;
    ball_ix ball = c->model->holes[hole.i].ball;
    const struct fault *seat = ball.i == NONE ? NULL : other_fault(c, FAULT_SEAT, (struct part_ref){PART_BALL, ball.i});
    return seat && seat->hole.i == hole.i;
}

static void compile_resize(struct compiling *c, const struct fault *f)
{
    ball_ix ball = c->model->holes[f->part.i].ball;
    bool replaced = ball.i != NONE && c->model->balls[ball.i].n_seats == 1 &&
                    other_fault(c, FAULT_LOSE, (struct part_ref){PART_BALL, ball.i});
    if (replaced || hole_is_gone(c, (hole_ix){f->part.i}))
        return; /* what replaces the element has the new size */
    struct edit *e = edit_add(c, EDIT_RESIZE, f->part);
    e->element.i = c->network->hole_element[f->part.i];
    e->diameter = f->size;
    e->strength = strength_of_size(f->size);
}

/* ---- balls */

static void free_ball(struct compiling *c, uint32_t ball)
{
    edit_add(c, EDIT_FREE_BALL, (struct part_ref){PART_BALL, ball})->ball.i = ball;
}

static void compile_lose(struct compiling *c, const struct fault *f)
{
    const struct ball *ball = &c->model->balls[f->part.i];
    free_ball(c, f->part.i);
    if (ball->n_seats == 2)
        return; /* both seats stay open, both ways */
    hole_ix hole = ball->seats_on[0];
    uint32_t element = c->network->hole_element[hole.i];
    const struct element *was = &c->network->elements[element];
    if (hole_is_gone(c, hole))
        return;
    remove_element(c, element, hole_ref(hole));
    const struct fault *resize = other_fault(c, FAULT_RESIZE, hole_ref(hole));
    enum strength strength = resize ? strength_of_size(resize->size) : was->strength;
    add_element(c, was->from, was->to, strength, hole_ref(hole))->diameter = resize ? resize->size : was->diameter;
}

static void compile_seat(struct compiling *c, const struct fault *f)
{
    remove_element(c, c->network->hole_element[f->hole.i], f->part);
    if (c->model->balls[f->part.i].n_seats == 2)
        free_ball(c, f->part.i); /* it no longer guards its other seat */
}

passage_ix seat_inlet(const struct model *m, ball_ix ball, hole_ix hole)
{
    const struct hole *h = &m->holes[hole.i];
    passage_ix pocket = m->balls[ball.i].lies_in;
    if (h->joins[0].i == pocket.i)
        return h->joins[1];
    if (h->joins[1].i == pocket.i)
        return h->joins[0];
    /* The pocket is the passage that the hole bridges into: its inlet is on the other side of the plate. */
    return m->passages[h->joins[0].i].layer.i == m->passages[pocket.i].layer.i ? h->joins[1] : h->joins[0];
}

static void compile_unseat(struct compiling *c, const struct fault *f)
{
    passage_ix inlet = seat_inlet(c->model, (ball_ix){f->part.i}, f->hole);
    struct edit *e = add_element(c, c->model->balls[f->part.i].lies_in, inlet, strength_of_size(f->size), f->part);
    e->diameter = f->size;
    e->one_way = true;
}

/* ---- valves and solenoids */

static void compile_stick(struct compiling *c, const struct fault *f)
{
    if (f->part.kind == PART_SOLENOID) {
        struct edit *e = edit_add(c, EDIT_SOLENOID, f->part);
        e->solenoid.i = f->part.i;
        e->value = f->position;
        return;
    }
    const struct valve *v = &c->model->valves[f->part.i];
    struct edit *e = edit_add(c, EDIT_PIN, f->part);
    e->valve.i = f->part.i;
    e->position = f->position;
    if (v->kind != VALVE_REGULATING)
        return;
    c->regulator_shut |= f->position == PIN_SHUT;
    if (f->position == PIN_OPEN)
        add_element(c, c->model->feeds[v->source.i].passage, SUMP, STRENGTH_OPEN, f->part);
}

static void compile_wear(struct compiling *c, const struct fault *f)
{
    const struct valve *v = &c->model->valves[f->part.i];
    uint32_t(*pairs)[2] = mem_zero(v->n_ports + 1, sizeof *pairs);
    uint32_t n = valve_neighbours(v, pairs);
    for (uint32_t i = 0; i < n; i++) {
        if (f->ports[0] != NONE && (pairs[i][0] != f->ports[0] || pairs[i][1] != f->ports[1]))
            continue;
        /* A gap passes oil as a film: a leak whatever its size. */
        struct edit *e =
            add_element(c, v->ports[pairs[i][0]].passage, v->ports[pairs[i][1]].passage, STRENGTH_LEAK, f->part);
        e->valve.i = f->part.i;
        e->position = pairs[i][0];
        e->position2 = pairs[i][1];
        e->value = f->size;
    }
    mem_free(pairs);
}

static void break_spring(struct compiling *c, const struct fault *f)
{
    if (other_fault(c, FAULT_STICK, f->part))
        return; /* a stuck valve does not feel its spring */
    bool relief = c->model->valves[f->part.i].kind == VALVE_RELIEF;
    struct edit *e = edit_add(c, relief ? EDIT_PIN : EDIT_BREAK_SPRING, f->part);
    e->valve.i = f->part.i;
    if (relief)
        e->position = PIN_OPEN;
}

static void compile_unplug(struct compiling *c, const struct fault *f)
{
    const struct valve *v = &c->model->valves[f->part.i];
    if (v->plug == PLUG_SPRING)
        break_spring(c, f);
    else
        add_element(c, v->ports[v->plug].passage, SUMP, STRENGTH_OPEN, f->part);
}

static void compile_weaken(struct compiling *c, const struct fault *f)
{
    struct edit *e = edit_add(c, EDIT_WEAKEN, f->part);
    e->feed = f->feed;
    e->value = f->size;
}

static void compile_misadjust(struct compiling *c, const struct fault *f)
{
    struct edit *e = edit_add(c, EDIT_BOTH_DETENTS, f->part);
    e->valve.i = f->part.i;
    e->position = f->position;
    e->position2 = f->position2;
}

static void (*const compilers[N_FAULT_KINDS])(struct compiling *, const struct fault *) = {
    [FAULT_BLOCK] = compile_block,   [FAULT_LEAK] = compile_leak,     [FAULT_RESIZE] = compile_resize,
    [FAULT_LOSE] = compile_lose,     [FAULT_SEAT] = compile_seat,     [FAULT_UNSEAT] = compile_unseat,
    [FAULT_STICK] = compile_stick,   [FAULT_WEAR] = compile_wear,     [FAULT_BREAK] = break_spring,
    [FAULT_UNPLUG] = compile_unplug, [FAULT_WEAKEN] = compile_weaken, [FAULT_MISADJUST] = compile_misadjust,
};

void faults_compile(const struct fault *faults, uint32_t n, const struct network *network, struct arena *a,
                    struct fault_set *out)
{
    struct compiling c = {.faults = faults, .n_faults = n, .network = network, .model = network->model};
    for (uint32_t i = 0; i < n; i++)
        compilers[faults[i].kind](&c, &faults[i]);
    out->edits.rows = arena_rows(a, c.n, sizeof *out->edits.rows);
    for (size_t i = 0; i < c.n; i++)
        out->edits.rows[i] = c.rows[i];
    out->edits.n = (uint32_t)c.n;
    out->edits.splits_joint = c.splits_joint;
    out->regulator_shut = c.regulator_shut;
    mem_free(c.rows);
}
