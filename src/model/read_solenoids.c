/* Solenoids: bleed, three-way and duty. */
#include "model/valves.h"
#include <math.h>
#include <string.h>

#define SOLENOIDS_FORM "sol_a: {kind: bleed, normally: open, joins: [body.sig_a, sump], diameter: 2.0}"
#define THREE_WAY_FORM "sol_c: {kind: three_way, normally: low, supply: body.sup, output: body.sig_c, exhaust: sump}"

static const char *const kind_words[] = {
    [SOLENOID_BLEED] = "bleed", [SOLENOID_THREE_WAY] = "three_way", [SOLENOID_DUTY] = "duty", NULL};

bool define_solenoids(struct reader *r, const struct node *section)
{
    bool ok = define_section(r, section, "solenoids", SOLENOIDS_FORM, NAME_SOLENOID);
    if (section->kind != NODE_MAP)
        return ok;
    uint32_t row = 0;
    for (const struct node *key = section->first; key; key = key->next->next, row++)
        ok = define_setting(r, NAME_SOLENOID, row, key) && ok;
    return ok;
}

/* What the two forms have in common. */
#define SOLENOID_KEYS                                                                                                  \
    PART_KEYS, {"kind", KEY_NODE, true, 0, 0, NULL},                                                                   \
        {"diameter", KEY_QUANTITY, false, offsetof(struct solenoid, diameter), DIM_LENGTH, NULL},                      \
        {"strength", KEY_WORD, false, offsetof(struct solenoid, strength), 0, strength_words},                         \
    {                                                                                                                  \
        "normally", KEY_NODE, true, 0, 0, NULL                                                                         \
    }
enum { STRENGTH_AT = 6, NORMALLY_AT = 7, PORTS_AT = 8 }; /* where the keys stand: four of PART_KEYS come first */

/* `normally:` as a flag: off passes. */
static bool read_normally(struct reader *r, const struct node *node, const char *const *words, struct solenoid *s)
{
    unsigned word;
    if (!node || !read_word(r, node, "`normally`", words, &word))
        return false;
    s->off_passes = word == 1;
    return true;
}

static bool read_bleed(struct reader *r, const struct node *map, const char *entry, struct solenoid *s)
{
    static const char *const normally[] = {"closed", "open", NULL};
    static const struct key keys[] = {SOLENOID_KEYS, {"joins", KEY_NODE, true, 0, 0, NULL}};
    const struct node *values[N_OF(keys)] = {0};
    bool ok = read_keys(r, map, entry, SOLENOIDS_FORM, keys, N_OF(keys), s, values);
    s->strength_given = values[STRENGTH_AT] != NULL;
    ok = read_normally(r, values[NORMALLY_AT], normally, s) && ok;
    passage_ix joins[2] = {{NONE}, {NONE}};
    if (values[PORTS_AT])
        ok = read_joins(r, values[PORTS_AT], entry, "joins: [body.sig_a, sump]", joins) && ok;
    s->ports = arena_rows(r->arena, 2, sizeof *s->ports);
    s->n_ports = 2;
    for (uint32_t i = 0; i < 2; i++)
        s->ports[i] =
            (struct port){i ? "b" : "a", joins[i], values[PORTS_AT] ? values[PORTS_AT]->where : s->part.where};
    return ok;
}

static bool read_three_way(struct reader *r, const struct node *map, const char *entry, struct solenoid *s)
{
    static const char *const normally[] = {"low", "high", NULL};
    static const struct key keys[] = {
        SOLENOID_KEYS,
        {"supply", KEY_NODE, true, 0, 0, NULL},
        {"output", KEY_NODE, true, 0, 0, NULL},
        {"exhaust", KEY_NODE, true, 0, 0, NULL},
    };
    const struct node *values[N_OF(keys)] = {0};
    bool ok = read_keys(r, map, entry, THREE_WAY_FORM, keys, N_OF(keys), s, values);
    s->strength_given = values[STRENGTH_AT] != NULL;
    ok = read_normally(r, values[NORMALLY_AT], normally, s) && ok;
    s->ports = arena_rows(r->arena, 3, sizeof *s->ports);
    s->n_ports = 3;
    for (uint32_t i = 0; i < 3; i++) {
        const struct key *key = &keys[PORTS_AT + i];
        const struct node *node = values[PORTS_AT + i];
        s->ports[i] = (struct port){key->name, {NONE}, node ? node->where : s->part.where};
        if (!node)
            continue;
        struct text what = {0};
        text_addf(&what, "`%s` of %s", key->name, entry);
        s->ports[i].passage = read_passage(r, node, i == 2, text_string(&what));
        text_release(&what);
        ok = s->ports[i].passage.i != NONE && ok;
    }
    return ok;
}

static bool read_solenoid(struct reader *r, const struct node *key, struct solenoid *s)
{
    const struct node *map = key->next;
    const char *entry = entry_name(r, "solenoid", key);
    s->kind = SOLENOID_UNREAD;
    s->diameter = NAN;
    s->strength = STRENGTH_OPEN;
    if (!read_shape(r, map, NODE_MAP, entry, SOLENOIDS_FORM))
        return false;
    const struct node *kind = tree_get(map, "kind", NULL);
    unsigned word;
    if (!kind) {
        diag(r->d, MISSING_KEY, key->where, "%s has no `kind`", entry);
        diag_help(r->d, "add `kind:` bleed, three_way or duty");
        return false;
    }
    if (!read_word(r, kind, "`kind`", kind_words, &word))
        return false;
    s->kind = (enum solenoid_kind)word;
    return s->kind == SOLENOID_BLEED ? read_bleed(r, map, entry, s) : read_three_way(r, map, entry, s);
}

bool read_solenoids(struct reader *r, const struct node *section)
{
    if (!read_section_map(r, section, "solenoids", SOLENOIDS_FORM, true))
        return false;
    bool ok = true;
    uint32_t row = 0;
    for (const struct node *key = section->first; key; key = key->next->next, row++)
        ok = read_solenoid(r, key, &r->m->solenoids[row]) && ok;
    return ok;
}
