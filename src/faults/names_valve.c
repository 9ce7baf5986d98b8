/* Names of valves, their positions and ports, solenoids and sources in a fault. */
#include "base/mem.h"
#include "faults/names.h"
#include <math.h>
#include <string.h>

/* What each kind of valve takes. Positions of manual valves and spools are those of the model. */
static const struct {
    const char *positions[3]; /* of `stick`, in the order of PIN_*; none: the model's own */
    bool spring, wears;
    const char *word;
} kinds[] = {
    [VALVE_MANUAL] = {{NULL}, false, true, "a manual valve"},
    [VALVE_SPOOL] = {{"rest", "stroked"}, true, true, "a spool valve"},
    [VALVE_LIMITING] = {{"wide", "shut"}, true, true, "a limiting valve"},
    [VALVE_REGULATING] = {{"open", "shut"}, true, false, "a regulating valve"},
    [VALVE_RELIEF] = {{"open", "shut"}, true, false, "a relief valve"},
};
static const char *const shares[] = {"off", "on"};

static const struct valve *valve_of(const struct fault_text *t, const struct fault *f)
{
    return &t->model->valves[f->part.i];
}

/* ---- stick */

bool name_sticking(const struct fault_text *t, const char *id, struct fault *f)
{
    f->part = model_find(t->model, id, strlen(id));
    if (f->part.kind == PART_VALVE || f->part.kind == PART_SOLENOID)
        return true;
    if (f->part.kind == PART_NONE)
        return name_unknown(t, PART_NONE, id);
    name_wrong_kind(t, f->part, "a valve or a solenoid");
    struct list l = {0};
    if (f->part.kind == PART_BALL)
        list_add(&l, "seat %s%s", id, t->model->balls[f->part.i].n_seats == 2 ? " on HOLE" : "");
    list_help(t, &l, f->kind);
    return false;
}

/* Name of the i-th position that the part of f may stick at, or NULL. */
static const char *position_name(const struct fault_text *t, const struct fault *f, uint32_t i)
{
    if (f->part.kind == PART_SOLENOID)
        return i < 2 ? shares[i] : NULL;
    const struct valve *v = valve_of(t, f);
    if (v->kind == VALVE_MANUAL)
        return i < v->n_positions ? v->positions[i].name : NULL;
    return i < 2 ? kinds[v->kind].positions[i] : NULL;
}

static uint32_t position_find(const struct fault_text *t, const struct fault *f, const char *name)
{
    const char *p;
    for (uint32_t i = 0; (p = position_name(t, f, i)); i++)
        if (strcmp(p, name) == 0)
            return i;
    return NONE;
}

static bool position_unknown(const struct fault_text *t, const struct fault *f, const char *position)
{
    diag(t->d, BAD_FAULT, NO_SPAN, "%s has no position `%s` to stick at, in `%s`", model_id(t->model, f->part),
         word_cut(t, position), t->whole);
    struct list l = {0};
    const char *p;
    for (uint32_t i = 0; (p = position_name(t, f, i)); i++)
        list_add(&l, "stick %s at %s", model_id(t->model, f->part), p);
    list_help(t, &l, f->kind);
    return false;
}

bool name_position(const struct fault_text *t, const char *position, struct fault *f)
{
    f->position = position_find(t, f, position);
    return f->position != NONE || position_unknown(t, f, position);
}

/* ---- wear */

uint32_t valve_neighbours(const struct valve *v, uint32_t (*pairs)[2])
{
    uint32_t n = 0;
    for (uint32_t i = 0; i + 1 < v->n_along; i++) {
        uint32_t p = v->along[i], q = v->along[i + 1];
        if (v->ports[p].passage.i == v->ports[q].passage.i)
            continue; /* both sides of that land are one passage */
        pairs[n][0] = p;
        pairs[n++][1] = q;
    }
    return n;
}

bool name_wearing(const struct fault_text *t, const char *id, struct fault *f)
{
    if (!name_part(t, id, PART_VALVE, f))
        return false;
    if (kinds[valve_of(t, f)->kind].wears)
        return true;
    diag(t->d, BAD_FAULT, NO_SPAN, "%s is %s, whose bore cannot be worn in this model, in `%s`", id,
         kinds[valve_of(t, f)->kind].word, t->whole);
    const struct valve *v = valve_of(t, f);
    struct list l = {0};
    if (v->n_ports == 2)
        list_add(&l, "leak %s into %s", t->model->passages[v->ports[0].passage.i].part.id,
                 t->model->passages[v->ports[1].passage.i].part.id);
    list_add(&l, "stick %s at open", id);
    list_help(t, &l, f->kind);
    return false;
}

bool name_neighbours(const struct fault_text *t, const char *p, const char *q, struct fault *f)
{
    const struct valve *v = valve_of(t, f);
    uint32_t a = valve_port(v, p, strlen(p)), b = valve_port(v, q, strlen(q));
    uint32_t(*pairs)[2] = mem_zero(v->n_ports + 1, sizeof *pairs);
    uint32_t n = valve_neighbours(v, pairs);
    bool found = false;
    for (uint32_t i = 0; i < n && !found; i++)
        if ((pairs[i][0] == a && pairs[i][1] == b) || (pairs[i][0] == b && pairs[i][1] == a)) {
            f->ports[0] = pairs[i][0]; /* bore order, whatever order the words have */
            f->ports[1] = pairs[i][1];
            found = true;
        }
    if (!found) {
        if (a == NONE || b == NONE)
            diag(t->d, UNKNOWN_NAME, NO_SPAN, "valve %s has no port `%s`, in `%s`", v->part.id,
                 word_cut(t, a == NONE ? p : q), t->whole);
        else
            diag(t->d, BAD_FAULT, NO_SPAN, "%s and %s are no neighbours along the bore of %s, in `%s`", p, q,
                 v->part.id, t->whole);
        struct list l = {0};
        for (uint32_t i = 0; i < n; i++)
            list_add(&l, "wear %s between %s and %s", v->part.id, v->ports[pairs[i][0]].name,
                     v->ports[pairs[i][1]].name);
        list_help(t, &l, f->kind);
    }
    mem_free(pairs);
    return found;
}

/* ---- break, unplug */

/* Lists up to a line's worth of valves for which the fault makes sense. */
static void help_valves(const struct fault_text *t, enum fault_kind kind)
{
    struct list l = {0};
    for (uint32_t i = 0; i < t->model->n_valves; i++) {
        const struct valve *v = &t->model->valves[i];
        if (kind == FAULT_BREAK ? kinds[v->kind].spring : v->plug != PLUG_NONE)
            list_add(&l, "%s %s", fault_kind_row(kind)->word, v->part.id);
    }
    if (kind == FAULT_UNPLUG && !l.n)
        diag_help(t->d, "add `plug:` to the valve in the model: the name of a port, or `spring`");
    else
        list_help(t, &l, kind);
}

bool name_valve_with(const struct fault_text *t, const char *id, struct fault *f)
{
    if (!name_part(t, id, PART_VALVE, f))
        return false;
    const struct valve *v = valve_of(t, f);
    if (f->kind == FAULT_BREAK && !kinds[v->kind].spring)
        diag(t->d, BAD_FAULT, NO_SPAN, "%s is %s and has no spring that could break, in `%s`", id, kinds[v->kind].word,
             t->whole);
    else if (f->kind == FAULT_UNPLUG && v->plug == PLUG_NONE)
        diag(t->d, BAD_FAULT, NO_SPAN, "the model does not say which end of %s the bore plug closes, for `%s`", id,
             t->whole);
    else
        return true;
    help_valves(t, f->kind);
    return false;
}

/* ---- weaken */

bool name_source(const struct fault_text *t, const char *id, struct fault *f)
{
    const struct model *m = t->model;
    f->feed = model_feed(m, id, strlen(id));
    if (f->feed.i != NONE && m->feeds[f->feed.i].is_source)
        return true;
    if (f->feed.i != NONE)
        diag(t->d, BAD_FAULT, NO_SPAN, "feed %s is derived from another and has no flow of its own, in `%s`", id,
             t->whole);
    else
        diag(t->d, UNKNOWN_NAME, NO_SPAN, "`%s` in `%s` names no source of %s", word_cut(t, id), t->whole, m->id);
    struct list l = {0};
    for (uint32_t i = 0; i < m->n_feeds; i++)
        if (m->feeds[i].is_source)
            list_add(&l, "weaken %s to FLOW", m->feeds[i].part.id);
    list_help(t, &l, f->kind);
    return false;
}

/* The most that a source can give in any state, INFINITY without a limit. */
static double capacity_most(const struct model *m, feed_ix feed)
{
    double most = m->feeds[feed.i].capacity;
    if (isnan(most))
        most = m->n_states ? 0 : INFINITY;
    for (uint32_t s = 0; s < m->n_states; s++) {
        double capacity = m->states[s].sources[feed.i].capacity;
        most = fmax(most, isnan(capacity) ? INFINITY : capacity);
    }
    return most;
}

#define ROUNDING 1e-9 /* a share: the capacity itself, written in another unit, is no more than the capacity */

bool name_weaker(const struct fault_text *t, const struct fault *f)
{
    double most = capacity_most(t->model, f->feed);
    if (f->size <= most * (1 + ROUNDING))
        return true;
    struct text gives = {0};
    quantity_add(&gives, most, DIM_FLOW, &t->model->units);
    diag(t->d, BAD_FAULT, NO_SPAN, "source %s gives %s at most, so `%s` makes it no weaker",
         t->model->feeds[f->feed.i].part.id, text_string(&gives), t->whole);
    diag_help(t->d, "write a flow below %s", text_string(&gives));
    text_release(&gives);
    return false;
}

/* ---- misadjust */

bool name_manual(const struct fault_text *t, const char *id, struct fault *f)
{
    if (!name_part(t, id, PART_VALVE, f))
        return false;
    if (valve_of(t, f)->kind == VALVE_MANUAL)
        return true;
    diag(t->d, WRONG_KIND, NO_SPAN, "%s is %s, and a manual valve is needed in `%s`", id,
         kinds[valve_of(t, f)->kind].word, t->whole);
    struct list l = {0};
    for (uint32_t i = 0; i < t->model->n_valves; i++)
        if (t->model->valves[i].kind == VALVE_MANUAL)
            list_add(&l, "misadjust %s between DETENT and DETENT", t->model->valves[i].part.id);
    list_help(t, &l, f->kind);
    return false;
}

bool name_detents(const struct fault_text *t, const char *p, const char *q, struct fault *f)
{
    const struct valve *v = valve_of(t, f);
    uint32_t a = position_find(t, f, p), b = position_find(t, f, q);
    if (a != NONE && b != NONE && a != b) {
        f->position = a < b ? a : b;
        f->position2 = a < b ? b : a;
        return true;
    }
    if (a == b && a != NONE)
        diag(t->d, BAD_FAULT, NO_SPAN, "`%s` names one detent twice", t->whole);
    else
        diag(t->d, UNKNOWN_NAME, NO_SPAN, "manual valve %s has no detent `%s`, in `%s`", v->part.id,
             word_cut(t, a == NONE ? p : q), t->whole);
    struct list l = {0};
    for (uint32_t i = 0; i + 1 < v->n_positions; i++)
        list_add(&l, "misadjust %s between %s and %s", v->part.id, v->positions[i].name, v->positions[i + 1].name);
    list_help(t, &l, f->kind);
    return false;
}
