/* Names by namespace, and the small questions of model.h that they answer. */
#include "model/names.h"
#include "base/mem.h"
#include "base/text.h"
#include <math.h>
#include <string.h>

#define KIND_SHIFT 27 /* rows below, kind above */
#define EMPTY      UINT32_MAX
static_assert(TREE_ENTRIES_MAX < 1u << KIND_SHIFT && N_NAME_KINDS < 1u << (32 - KIND_SHIFT),
              "kind and row fit 32 bits");

/* Each kind: its words with their article, where its table lies in struct model, its namespace. */
static const struct {
    const char *word;
    size_t rows, n, size;
    enum space space;
} kinds[N_NAME_KINDS] = {
#define KIND(name, word, table, type, space)                                                                           \
    [name] = {word, offsetof(struct model, table), offsetof(struct model, n_##table), sizeof(struct type), space}
    KIND(NAME_PASSAGE, "a passage", passages, passage, SPACE_PARTS),
    KIND(NAME_JOINT, "a joint", joints, joint, SPACE_PARTS),
    KIND(NAME_HOLE, "a plate hole", holes, hole, SPACE_PARTS),
    KIND(NAME_BALL, "a check ball", balls, ball, SPACE_PARTS),
    KIND(NAME_VALVE, "a valve", valves, valve, SPACE_PARTS),
    KIND(NAME_SOLENOID, "a solenoid", solenoids, solenoid, SPACE_PARTS),
    KIND(NAME_ACTUATOR, "an actuator", actuators, actuator, SPACE_PARTS),
    KIND(NAME_TAP, "a tap", taps, tap, SPACE_PARTS),
    KIND(NAME_SWITCH, "a switch", switches, pressure_switch, SPACE_PARTS),
    KIND(NAME_CIRCUIT, "a circuit", circuits, circuit, SPACE_PARTS),
    KIND(NAME_FEED, "a feed", feeds, feed, SPACE_FEEDS),
    KIND(NAME_GEAR, "a gear", gears, gear, SPACE_GEARS),
    KIND(NAME_STATE, "a state", states, state, SPACE_STATES),
    KIND(NAME_SYMPTOM, "a symptom", symptoms, symptom, SPACE_SYMPTOMS),
    KIND(NAME_LAYER, "a layer", layers, layer, SPACE_LAYERS),
#undef KIND
};

static uint32_t *count_of(const struct model *m, enum name_kind kind)
{
    return (uint32_t *)((char *)m + kinds[kind].n);
}

struct part *part_of(const struct model *m, enum name_kind kind, uint32_t row)
{
    char *rows;
    memcpy(&rows, (const char *)m + kinds[kind].rows, sizeof rows);
    return (struct part *)(rows + row * kinds[kind].size);
}

enum space name_space(enum name_kind kind)
{
    return kinds[kind].space;
}

const char *name_kind_a(enum name_kind kind)
{
    return kind == NAME_NONE ? "a part" : kinds[kind].word;
}

const char *name_kind_word(enum name_kind kind)
{
    return strchr(name_kind_a(kind), ' ') + 1;
}

uint32_t names_hash(const char *id, size_t n)
{
    uint64_t h = 0x9E3779B97F4A7C15u ^ n, w;
    for (; n >= 8; id += 8, n -= 8) {
        memcpy(&w, id, 8);
        h = (h ^ w) * 0xD6E8FEB86659FD93u;
        h ^= h >> 32;
    }
    w = 0;
    memcpy(&w, id, n);
    h = (h ^ w) * 0xD6E8FEB86659FD93u;
    h ^= h >> 32;
    h *= 0xD6E8FEB86659FD93u;
    return (uint32_t)(h >> 32);
}

static void table_grow(struct name_table *t, uint32_t slots)
{
    struct name_table old = *t;
    t->slots = mem_alloc(slots * sizeof *t->slots);
    memset(t->slots, 0xFF, slots * sizeof *t->slots);
    t->mask = slots - 1;
    for (uint32_t i = 0; old.slots && i <= old.mask; i++) {
        if (old.slots[i].ref == EMPTY)
            continue;
        uint32_t at = old.slots[i].hash & t->mask;
        while (t->slots[at].ref != EMPTY)
            at = (at + 1) & t->mask;
        t->slots[at] = old.slots[i];
    }
    mem_free(old.slots);
}

/* The slot of `hash` for which `same` holds, or the empty one where it would go. */
typedef bool same_id(const void *of, uint32_t ref, const char *id, size_t n);

static struct name_slot *table_slot(const struct name_table *t, uint32_t hash, const char *id, size_t n, same_id *same,
                                    const void *of)
{
    for (uint32_t i = hash & t->mask;; i = (i + 1) & t->mask) {
        struct name_slot *slot = &t->slots[i];
        if (slot->ref == EMPTY || (slot->hash == hash && same(of, slot->ref, id, n)))
            return slot;
    }
}

static void table_room(struct name_table *t)
{
    if (!t->slots)
        table_grow(t, 64);
    else if (t->n > t->mask / 5 * 4)
        table_grow(t, (t->mask + 1) * 2);
}

/* Makes room for n more names at once. */
static void table_reserve(struct name_table *t, uint32_t n)
{
    uint32_t slots = t->slots ? t->mask + 1 : 64;
    while (slots / 5 * 4 < t->n + n)
        slots *= 2;
    if (!t->slots || slots > t->mask + 1)
        table_grow(t, slots);
}

static struct name name_of(uint32_t ref)
{
    return (struct name){(enum name_kind)(ref >> KIND_SHIFT), ref & ((1u << KIND_SHIFT) - 1)};
}

static bool same_part(const void *model, uint32_t ref, const char *id, size_t n)
{
    struct name name = name_of(ref);
    const char *other = part_of(model, name.kind, name.row)->id;
    return !strncmp(other, id, n) && !other[n];
}

static bool same_removal(const void *names, uint32_t ref, const char *id, size_t n)
{
    const struct removal *r = &((const struct names *)names)->removals[ref];
    return r->n == n && !memcmp(r->name, id, n);
}

void rows_make(struct model *m, enum name_kind kind, uint32_t n)
{
    void *rows = arena_rows(&m->arena, n, kinds[kind].size);
    memcpy((char *)m + kinds[kind].rows, &rows, sizeof rows);
    *count_of(m, kind) = n;
    table_reserve(&m->names->table[kinds[kind].space], n);
    for (uint32_t i = 0; i < n; i++) {
        struct part *part = part_of(m, kind, i);
        part->odds = 1;
        part->cd = NAN;
    }
}

struct name names_find(const struct model *m, enum space space, const char *id, size_t n)
{
    const struct name_table *t = &m->names->table[space];
    if (!t->slots)
        return (struct name){NAME_NONE, NONE};
    const struct name_slot *slot = table_slot(t, names_hash(id, n), id, n, same_part, m);
    return slot->ref == EMPTY ? (struct name){NAME_NONE, NONE} : name_of(slot->ref);
}

void names_ahead(const struct model *m, enum space space, const char *id, size_t n)
{
    const struct name_table *t = &m->names->table[space];
    if (t->slots)
        __builtin_prefetch(&t->slots[names_hash(id, n) & t->mask], 1);
}

struct name names_add(struct model *m, enum space space, enum name_kind kind, uint32_t row)
{
    struct name_table *t = &m->names->table[space];
    const char *id = part_of(m, kind, row)->id;
    size_t n = strlen(id);
    table_room(t);
    uint32_t hash = names_hash(id, n);
    struct name_slot *slot = table_slot(t, hash, id, n, same_part, m);
    if (slot->ref != EMPTY)
        return name_of(slot->ref);
    *slot = (struct name_slot){hash, (uint32_t)kind << KIND_SHIFT | row};
    t->n++;
    return (struct name){NAME_NONE, NONE};
}

void names_set_removals(struct names *names, struct removals *removals)
{
    names->removals = removals->rows;
    for (size_t i = 0; i < removals->n && i < EMPTY; i++) {
        const struct removal *r = &removals->rows[i];
        table_room(&names->removed);
        uint32_t hash = names_hash(r->name, r->n);
        struct name_slot *slot = table_slot(&names->removed, hash, r->name, r->n, same_removal, names);
        if (slot->ref == EMPTY)
            names->removed.n++;
        *slot = (struct name_slot){hash, (uint32_t)i}; /* the last removal counts */
    }
    *removals = (struct removals){0};
}

const struct removal *names_removed(const struct model *m, const char *id, size_t n)
{
    const struct names *names = m->names;
    if (!names->removed.slots)
        return NULL;
    const struct name_slot *slot = table_slot(&names->removed, names_hash(id, n), id, n, same_removal, names);
    return slot->ref == EMPTY ? NULL : &names->removals[slot->ref];
}

void names_release(struct names *names)
{
    for (int i = 0; i < N_SPACES; i++)
        mem_free(names->table[i].slots);
    mem_free(names->removed.slots);
    mem_free(names->removals);
    *names = (struct names){0};
}

#define NEAREST_ROWS_MAX 5000

const char *names_nearest(const struct model *m, enum space space, enum name_kind kind, const char *id)
{
    const char **candidates = mem_alloc(NEAREST_ROWS_MAX * sizeof *candidates);
    size_t n = 0;
    for (int k = NAME_NONE + 1; k < N_NAME_KINDS; k++) {
        if ((kind != NAME_NONE && k != (int)kind) || kinds[k].space != space)
            continue;
        for (uint32_t i = 0; i < *count_of(m, (enum name_kind)k) && n < NEAREST_ROWS_MAX; i++) {
            const char *other = part_of(m, (enum name_kind)k, i)->id;
            if (other && *other)
                candidates[n++] = other;
        }
    }
    const char *nearest = text_nearest(id, candidates, n);
    mem_free(candidates);
    return nearest;
}

/* ---- model.h */

struct part_ref model_find(const struct model *m, const char *id, size_t n)
{
    struct name name = names_find(m, SPACE_PARTS, id, n);
    return (struct part_ref){(enum part_kind)name.kind, name.row};
}

feed_ix model_feed(const struct model *m, const char *id, size_t n)
{
    return (feed_ix){names_find(m, SPACE_FEEDS, id, n).row};
}

gear_ix model_gear(const struct model *m, const char *id, size_t n)
{
    return (gear_ix){names_find(m, SPACE_GEARS, id, n).row};
}

state_ix model_state(const struct model *m, const char *id, size_t n)
{
    return (state_ix){names_find(m, SPACE_STATES, id, n).row};
}

const char *model_id(const struct model *m, struct part_ref ref)
{
    return ref.kind == PART_NONE ? "" : part_of(m, (enum name_kind)ref.kind, ref.i)->id;
}

struct span model_where(const struct model *m, struct part_ref ref)
{
    return ref.kind == PART_NONE ? NO_SPAN : part_of(m, (enum name_kind)ref.kind, ref.i)->where;
}

const char *model_nearest(const struct model *m, enum part_kind kind, const char *id)
{
    return names_nearest(m, SPACE_PARTS, (enum name_kind)kind, id);
}

const char *part_kind_word(enum part_kind kind)
{
    return name_kind_word((enum name_kind)kind);
}

double hole_diameter(const struct hole *h)
{
    return isnan(h->equivalent_diameter) ? h->diameter : h->equivalent_diameter;
}

uint32_t valve_port(const struct valve *v, const char *name, size_t n)
{
    for (uint32_t i = 0; i < v->n_ports; i++)
        if (v->ports[i].name && !strncmp(v->ports[i].name, name, n) && !v->ports[i].name[n])
            return i;
    return NONE;
}

bool valve_port_is_end(const struct valve *v, uint32_t port)
{
    for (uint32_t i = 0; i < v->n_ends; i++)
        if (v->ends[i].port == port)
            return true;
    return v->kind == VALVE_LIMITING && port == v->reaction;
}

bool valve_is_sized(const struct valve *v)
{
    for (uint32_t i = 0; i < v->n_ends; i++)
        if (isnan(v->ends[i].area))
            return false;
    return v->has_spring && v->n_ends;
}

const char *const strength_words[] = {"leak", "orifice", "open", "main", NULL};

const char *strength_word(enum strength s)
{
    return s < STRENGTH_JOINED ? strength_words[s] : "main";
}

enum strength strength_of_size(double diameter)
{
    if (isnan(diameter))
        diameter = 0.5e-3;
    const double rounding = 1e-12; /* m: a size just on the limit, read in another unit */
    return diameter >= 2.5e-3 - rounding   ? STRENGTH_OPEN
           : diameter >= 0.6e-3 - rounding ? STRENGTH_ORIFICE
                                           : STRENGTH_LEAK;
}
