/* What oil works on and what shows it: actuators, taps, switches; and what the actuators make: gears, clashes. */
#include "base/text.h"
#include "model/read.h"
#include <math.h>
#include <string.h>

#define ACTUATORS_FORM "fwd: {kind: clutch, apply: case.c1, applies_at: 40, volume: 25}"
#define TAPS_FORM      "T_line: case.line_b"
#define SWITCHES_FORM  "W2: {on: case.b2, closes_at: 20}"
#define GEARS_FORM     "first: [fwd]"
#define CLASH_FORM     "clash: [[third, low_rev]]"

/* ---- actuators */

bool define_actuators(struct reader *r, const struct node *section)
{
    return define_section(r, section, "actuators", ACTUATORS_FORM, NAME_ACTUATOR);
}

/* An area is above 0. With a release side forces decide, and they need both areas and the spring: what is given in part
 * would be passed over unsaid. */
static bool check_forces(struct reader *r, const struct node *map, const struct actuator *a, const char *entry)
{
    if (a->apply_area == 0 || a->release_area == 0) {
        diag(r->d, BAD_QUANTITY, map->where, "`%s` of %s is 0", a->apply_area == 0 ? "apply_area" : "release_area",
             entry);
        diag_help(r->d, "write an area above 0, or leave the key out");
        return false;
    }
    const struct {
        const char *name;
        bool given;
    } keys[] = {
        {"apply_area", !isnan(a->apply_area)}, {"release_area", !isnan(a->release_area)}, {"spring", a->has_spring}};
    struct text missing = {0};
    size_t n_missing = 0;
    for (size_t i = 0; i < N_OF(keys); i++)
        if (!keys[i].given)
            text_addf(&missing, "%s`%s`", n_missing++ ? " and " : "", keys[i].name);
    bool partly = a->release.i != NONE && n_missing && n_missing < N_OF(keys);
    if (partly) {
        diag(r->d, MISSING_KEY, map->where, "the forces of %s cannot be weighed without %s", entry,
             text_string(&missing));
        diag_help(r->d, "give `apply_area`, `release_area` and `spring`, or none of them: then the difference of its "
                        "pressures counts, against `applies_at`");
    }
    text_release(&missing);
    return !partly;
}

static bool read_actuator(struct reader *r, const struct node *key, struct actuator *a)
{
    static const char *const kind_words[] = {[ACTUATOR_CLUTCH] = "clutch",
                                             [ACTUATOR_BAND] = "band",
                                             [ACTUATOR_ACCUMULATOR] = "accumulator",
                                             [ACTUATOR_CONVERTER] = "converter",
                                             NULL};
    static const struct key keys[] = {
        PART_KEYS,
        {"kind", KEY_WORD, true, offsetof(struct actuator, kind), 0, kind_words},
        {"apply", KEY_INNER, true, offsetof(struct actuator, apply), 0, NULL},
        {"release", KEY_INNER, false, offsetof(struct actuator, release), 0, NULL},
        {"applies_at", KEY_QUANTITY, false, offsetof(struct actuator, applies_at), DIM_PRESSURE, NULL},
        {"volume", KEY_QUANTITY, false, offsetof(struct actuator, volume), DIM_VOLUME, NULL},
        {"apply_area", KEY_QUANTITY, false, offsetof(struct actuator, apply_area), DIM_AREA, NULL},
        {"release_area", KEY_QUANTITY, false, offsetof(struct actuator, release_area), DIM_AREA, NULL},
        {"spring", KEY_NODE, false, 0, 0, NULL},
        {"seal", KEY_QUANTITY, false, offsetof(struct actuator, seal), DIM_LENGTH, NULL},
    };
    enum { SPRING_AT = 11 };
    const char *entry = entry_name(r, "actuator", key);
    const struct node *values[N_OF(keys)] = {0};
    a->apply.i = a->release.i = NONE;
    a->applies_at = a->volume = a->apply_area = a->release_area = a->preload = a->rate = a->seal = NAN;
    bool ok = read_keys(r, key->next, entry, ACTUATORS_FORM, keys, N_OF(keys), a, values);
    struct spring spring = {false, NAN, NAN};
    if (values[SPRING_AT])
        ok = read_spring(r, values[SPRING_AT], entry, &spring) && ok;
    a->has_spring = spring.has;
    a->preload = spring.preload;
    a->rate = spring.rate;
    return ok && check_forces(r, key->next, a, entry);
}

bool read_actuators(struct reader *r, const struct node *section)
{
    if (!read_section_map(r, section, "actuators", ACTUATORS_FORM, true))
        return false;
    bool ok = true;
    uint32_t row = 0;
    for (const struct node *key = section->first; key; key = key->next->next, row++)
        ok = read_actuator(r, key, &r->m->actuators[row]) && ok;
    return ok;
}

/* ---- taps and switches */

bool define_taps(struct reader *r, const struct node *section)
{
    return define_section(r, section, "taps", TAPS_FORM, NAME_TAP);
}

bool read_taps(struct reader *r, const struct node *section)
{
    static const struct key keys[] = {PART_KEYS, {"on", KEY_INNER, true, offsetof(struct tap, on), 0, NULL}};
    if (!read_section_map(r, section, "taps", TAPS_FORM, true))
        return false;
    bool ok = true;
    uint32_t row = 0;
    for (const struct node *key = section->first; key; key = key->next->next, row++) {
        struct tap *tap = &r->m->taps[row];
        const char *entry = entry_name(r, "tap", key);
        tap->on.i = NONE;
        if (key->next->kind == NODE_MAP) {
            ok =
                read_keys(r, key->next, entry, "T_line: {on: case.line_b, title: Line}", keys, N_OF(keys), tap, NULL) &&
                ok;
            continue;
        }
        tap->on = read_passage(r, key->next, false, entry);
        ok = tap->on.i != NONE && ok;
    }
    return ok;
}

bool define_switches(struct reader *r, const struct node *section)
{
    return define_section(r, section, "switches", SWITCHES_FORM, NAME_SWITCH);
}

bool read_switches(struct reader *r, const struct node *section)
{
    static const struct key keys[] = {
        PART_KEYS,
        {"on", KEY_INNER, true, offsetof(struct pressure_switch, on), 0, NULL},
        {"closes_at", KEY_QUANTITY, true, offsetof(struct pressure_switch, closes_at), DIM_PRESSURE, NULL},
    };
    if (!read_section_map(r, section, "switches", SWITCHES_FORM, true))
        return false;
    bool ok = true;
    uint32_t row = 0;
    for (const struct node *key = section->first; key; key = key->next->next, row++) {
        struct pressure_switch *s = &r->m->switches[row];
        s->on.i = NONE;
        s->closes_at = NAN;
        ok = read_keys(r, key->next, entry_name(r, "switch", key), SWITCHES_FORM, keys, N_OF(keys), s, NULL) && ok;
    }
    return ok;
}

/* ---- gears and clashes */

bool define_gears(struct reader *r, const struct node *section)
{
    return define_section(r, section, "gears", GEARS_FORM, NAME_GEAR);
}

/* Refuses a device that stands in both lists. stamp [n_actuators] holds the last gear that had the device on. */
static bool check_either(struct reader *r, const struct node *either, const struct gear *g, uint32_t row,
                         uint32_t *stamp)
{
    for (uint32_t i = 0; i < g->n_on; i++)
        stamp[g->on[i].i] = row + 1;
    for (uint32_t i = 0; i < g->n_either; i++) {
        uint32_t device = g->either[i].i;
        if (stamp[device] != row + 1)
            continue;
        diag(r->d, WRONG_VALUE, either->where, "%s is `on` and `either` in gear %s", r->m->actuators[device].part.id,
             g->part.id);
        diag_help(r->d, "a device that must be on stands in `on` only");
        return false;
    }
    return true;
}

static bool read_devices(struct reader *r, const struct node *list, const char *entry, actuator_ix **out, uint32_t *n)
{
    uint32_t *rows = NULL;
    bool ok = read_refs(r, list, NAME_ACTUATOR, false, entry, "first: [fwd], the devices that are on", &rows, n);
    *out = arena_rows(r->arena, *n, sizeof **out);
    for (uint32_t i = 0; i < *n; i++)
        (*out)[i].i = rows[i];
    return ok;
}

bool read_gears(struct reader *r, const struct node *section)
{
    static const struct key keys[] = {
        {"title", KEY_TEXT, false, offsetof(struct part, title), 0, NULL},
        {"note", KEY_TEXT, false, offsetof(struct part, note), 0, NULL},
        {"on", KEY_NODE, true, 0, 0, NULL},
        {"either", KEY_NODE, false, 0, 0, NULL},
    };
    if (!read_section_map(r, section, "gears", GEARS_FORM, true))
        return false;
    bool ok = true;
    uint32_t row = 0;
    uint32_t *stamp = arena_rows(&r->scratch, r->m->n_actuators, sizeof *stamp);
    for (const struct node *key = section->first; key; key = key->next->next, row++) {
        struct gear *g = &r->m->gears[row];
        const char *entry = entry_name(r, "gear", key);
        if (key->next->kind != NODE_MAP) {
            ok = read_devices(r, key->next, entry, &g->on, &g->n_on) && ok;
            continue;
        }
        const struct node *values[N_OF(keys)] = {0};
        ok =
            read_keys(r, key->next, entry, "third: {on: [fwd, third], either: [coast]}", keys, N_OF(keys), g, values) &&
            ok;
        if (values[2])
            ok = read_devices(r, values[2], entry, &g->on, &g->n_on) && ok;
        if (values[3]) {
            ok = read_devices(r, values[3], entry, &g->either, &g->n_either) && ok;
            ok = check_either(r, values[3], g, row, stamp) && ok;
        }
    }
    return ok;
}

bool read_clash(struct reader *r, const struct node *section)
{
    if (!read_shape(r, section, NODE_LIST, "`clash`", CLASH_FORM))
        return false;
    struct model *m = r->m;
    m->clashes = arena_rows(r->arena, section->n_children, sizeof *m->clashes);
    bool all = true;
    for (const struct node *pair = section->first; pair; pair = pair->next) {
        if (!read_shape(r, pair, NODE_LIST, "a clash", CLASH_FORM)) {
            all = false;
            continue;
        }
        uint32_t *rows = NULL, n = 0;
        bool ok = read_refs(r, pair, NAME_ACTUATOR, false, "a clash", CLASH_FORM, &rows, &n);
        if (ok && n != 2) {
            diag(r->d, WRONG_SHAPE, pair->where, "a clash is a pair of devices, not %u", (unsigned)n);
            diag_help(r->d, "write " CLASH_FORM);
            ok = false;
        }
        if (ok)
            m->clashes[m->n_clashes++] = (struct clash){{{rows[0]}, {rows[1]}}, pair->where};
        all = all && ok;
    }
    return all;
}
