/* The values that every section is made of: shapes, texts, words, quantities, and mappings read by a table of keys. */
#include "base/text.h"
#include "model/read.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

struct shown shown(const struct node *node)
{
    struct shown s;
    if (node->kind != NODE_SCALAR) {
        snprintf(s.text, sizeof s.text, "%s", node->kind == NODE_LIST ? "a list" : "a mapping");
        return s;
    }
    size_t n = node->n_text;
    if (n <= 60) {
        memcpy(s.text, node->text, n + 1);
        return s;
    }
    n = 60;
    while (n && (node->text[n] & 0xC0) == 0x80)
        n--; /* not within a character */
    snprintf(s.text, sizeof s.text, "%.*s...", (int)n, node->text);
    return s;
}

void help_words(struct reader *r, const char *word, const char *const *words)
{
    size_t n = 0;
    while (words[n])
        n++;
    const char *near = r->d->n_errors < SUGGESTIONS_MAX ? text_nearest(word, words, n) : NULL;
    if (near) {
        diag_help(r->d, "did you mean `%s`?", near);
        return;
    }
    struct text list = {0};
    for (size_t i = 0; i < n; i++)
        text_addf(&list, "%s`%s`", !i ? "" : i + 1 == n ? " or " : ", ", words[i]);
    diag_help(r->d, n == 1 ? "write %s" : "write one of %s", text_string(&list));
    text_release(&list);
}

const char *entry_name(struct reader *r, const char *kind, const struct node *key)
{ /* once for each entry of a large model, so by hand */
    struct shown s = shown(key);
    size_t n_kind = strlen(kind), n_id = strlen(s.text);
    char *name = arena_alloc(&r->scratch, n_kind + n_id + 2);
    memcpy(name, kind, n_kind);
    name[n_kind] = ' ';
    memcpy(name + n_kind + 1, s.text, n_id + 1);
    return name;
}

bool read_shape(struct reader *r, const struct node *node, enum node_kind kind, const char *entry, const char *form)
{
    static const char *const words[] = {[NODE_SCALAR] = "a text", [NODE_LIST] = "a list", [NODE_MAP] = "a mapping"};
    if (node->kind == NODE_BAD)
        return false;
    if (node->kind == kind && !(kind == NODE_SCALAR && node->plain_null))
        return true;
    diag(r->d, WRONG_SHAPE, node->where, "%s must be %s, not %s", entry, words[kind],
         node->plain_null ? "empty" : words[node->kind]);
    diag_help(r->d, "%s", form);
    return false;
}

bool read_section_map(struct reader *r, const struct node *section, const char *name, const char *form, bool quiet)
{
    if (quiet || section->kind == NODE_BAD)
        return section->kind == NODE_MAP;
    char entry[64];
    snprintf(entry, sizeof entry, "`%s`", name);
    return read_shape(r, section, NODE_MAP, entry, form);
}

bool read_text(struct reader *r, const struct node *node, const char *entry, const char **out)
{
    if (!read_shape(r, node, NODE_SCALAR, entry, "KEY: TEXT"))
        return false;
    if (!node->n_text) {
        diag(r->d, WRONG_VALUE, node->where, "%s is empty", entry);
        diag_help(r->d, "write a text, or leave the key out");
        return false;
    }
    *out = node->text;
    return true;
}

bool read_word(struct reader *r, const struct node *node, const char *entry, const char *const *words, unsigned *out)
{
    char form[32];
    snprintf(form, sizeof form, "KEY: %s", words[0]);
    if (!read_shape(r, node, NODE_SCALAR, entry, form))
        return false;
    for (unsigned i = 0; words[i]; i++)
        if (!strcmp(words[i], node->text)) {
            *out = i;
            return true;
        }
    diag(r->d, WRONG_VALUE, node->where, "%s cannot be `%s`", entry, shown(node).text);
    help_words(r, node->text, words);
    return false;
}

bool read_flag(struct reader *r, const struct node *node, const char *entry, bool *out)
{
    static const char *const words[] = {"false", "true", NULL};
    unsigned row;
    if (!read_word(r, node, entry, words, &row))
        return false;
    *out = row;
    return true;
}

/* What a quantity of each dimension measures, and an example. */
static const struct {
    const char *what, *example;
} dimensions[N_DIMENSIONS] = {
    [DIM_PRESSURE] = {"a pressure", "115 psi"},
    [DIM_LENGTH] = {"a length", "0.9 mm"},
    [DIM_AREA] = {"an area", "55 mm2"},
    [DIM_VOLUME] = {"a volume", "25 cm3"},
    [DIM_FLOW] = {"a flow", "20 L/min"},
    [DIM_FORCE] = {"a force", "41.4 N"},
    [DIM_SPRING_RATE] = {"a spring rate", "0.73 N/mm"},
    [DIM_DENSITY] = {"a density", "850 kg/m3"},
    [DIM_VISCOSITY] = {"a kinematic viscosity", "34 cSt"},
    [DIM_TEMPERATURE] = {"a temperature", "80 degC"},
    [DIM_SHARE] = {"a share", "5 %"},
    [DIM_NUMBER] = {"a number without a unit", "2.6"},
};

static void help_units(struct reader *r, enum dimension dim)
{
    struct text list = {0};
    const char *const *units = units_of(dim);
    for (size_t i = 0; units && units[i]; i++)
        text_addf(&list, "%s%s", i ? ", " : "", units[i]);
    if (list.n)
        diag_help(r->d, "%s, such as `%s`; its units: %s", dimensions[dim].what, dimensions[dim].example,
                  text_string(&list));
    else
        diag_help(r->d, "%s, such as `%s`", dimensions[dim].what, dimensions[dim].example);
    text_release(&list);
}

bool read_signed(struct reader *r, const struct node *node, const char *entry, enum dimension dim, double *out)
{
    char form[96];
    snprintf(form, sizeof form, "%s, such as `%s`", dimensions[dim].what, dimensions[dim].example);
    if (!read_shape(r, node, NODE_SCALAR, entry, form))
        return false;
    size_t unit_at = 0;
    struct shown s = shown(node);
    enum quantity_problem problem =
        quantity_read(node->text, node->n_text, dim, &r->units[node->where.file], out, &unit_at);
    const char *unit = unit_at < strlen(s.text) ? s.text + unit_at : "";
    switch (problem) {
    case QUANTITY_OK:
        return true;
    case QUANTITY_WRONG_DIMENSION:
        diag(r->d, WRONG_DIMENSION, node->where, "%s must be %s, but `%s` measures something else", entry,
             dimensions[dim].what, *unit ? unit : s.text);
        break;
    case QUANTITY_UNKNOWN_UNIT:
        diag(r->d, BAD_QUANTITY, node->where, "%s: there is no unit `%s`", entry, unit);
        break;
    case QUANTITY_UNKNOWN_DRILL:
        diag(r->d, BAD_QUANTITY, node->where, "%s: there is no twist drill `%s`", entry, s.text);
        diag_help(r->d, "number drills are 1 to 80, letter drills A to Z: `drill 65`");
        return false;
    case QUANTITY_OUT_OF_RANGE:
        diag(r->d, BAD_QUANTITY, node->where, "%s: `%s` is out of range", entry, s.text);
        break;
    case QUANTITY_NOT_A_NUMBER:
        diag(r->d, BAD_QUANTITY, node->where, "%s: `%s` is no quantity", entry, s.text);
        break;
    }
    help_units(r, dim);
    return false;
}

bool read_quantity(struct reader *r, const struct node *node, const char *entry, enum dimension dim, double *out)
{
    double value;
    if (!read_signed(r, node, entry, dim, &value))
        return false;
    if (value < 0) {
        diag(r->d, BAD_QUANTITY, node->where, "%s is negative", entry);
        diag_help(r->d, "write %s of 0 or more", dimensions[dim].what);
        return false;
    }
    *out = value;
    return true;
}

bool read_spring(struct reader *r, const struct node *node, const char *entry, struct spring *out)
{
    static const struct key keys[] = {
        {"preload", KEY_QUANTITY, true, offsetof(struct spring, preload), DIM_FORCE, NULL},
        {"rate", KEY_QUANTITY, true, offsetof(struct spring, rate), DIM_SPRING_RATE, NULL},
    };
    if (!read_keys(r, node, entry, "spring: {preload: 41.4, rate: 0.73}", keys, N_OF(keys), out, NULL))
        return false;
    out->has = true;
    return true;
}

/* One value of a mapping, stored at its place in the row. */
static bool read_value(struct reader *r, const struct node *node, const char *entry, const struct key *key, void *row)
{
    char *at = (char *)row + key->at;
    switch (key->kind) {
    case KEY_NODE:
        return true;
    case KEY_TEXT:
        return read_text(r, node, entry, (const char **)at);
    case KEY_QUANTITY:
        return read_quantity(r, node, entry, key->dim, (double *)at);
    case KEY_SIGNED:
        return read_signed(r, node, entry, key->dim, (double *)at);
    case KEY_FLAG:
        return read_flag(r, node, entry, (bool *)at);
    case KEY_WORD:
        return read_word(r, node, entry, key->words, (unsigned *)at);
    case KEY_SPRING:
        return read_spring(r, node, entry, (struct spring *)at);
    case KEY_PASSAGE:
    case KEY_INNER: {
        passage_ix p = read_passage(r, node, key->kind == KEY_PASSAGE, entry);
        if (p.i != NONE)
            *(passage_ix *)at = p;
        return p.i != NONE;
    }
    }
    return false;
}

static const struct key *key_row(const struct key *keys, size_t n, const struct node *key)
{
    for (size_t i = 0; i < n; i++)
        if (!strcmp(keys[i].name, key->text))
            return &keys[i];
    return NULL;
}

static void say_unknown_key(struct reader *r, const struct node *key, const char *entry, const struct key *keys,
                            size_t n)
{
    const char *names[64];
    size_t n_names = 0;
    for (size_t i = 0; i < n && n_names + 1 < N_OF(names); i++)
        names[n_names++] = keys[i].name;
    names[n_names] = NULL;
    diag(r->d, UNKNOWN_KEY, key->where, "%s has no key `%s`", entry, shown(key).text);
    help_words(r, key->text, names);
}

/* Stores a quantity that is good, and says nothing otherwise. */
static bool quantity_good(struct reader *r, const struct node *node, const struct key *key, void *row)
{
    double value;
    if (node->kind != NODE_SCALAR ||
        quantity_read(node->text, node->n_text, key->dim, &r->units[node->where.file], &value, NULL) != QUANTITY_OK)
        return false;
    if (value < 0)
        return false;
    *(double *)((char *)row + key->at) = value;
    return true;
}

bool read_keys(struct reader *r, const struct node *map, const char *entry, const char *form, const struct key *keys,
               size_t n, void *row, const struct node **values)
{
    for (size_t i = 0; values && i < n; i++)
        values[i] = NULL;
    if (!read_shape(r, map, NODE_MAP, entry, form))
        return false;
    bool fine = true;
    uint64_t there = 0; /* bit i: keys[i] stands in the mapping; tables are shorter than 64 */
    char name[160];
    for (const struct node *key = map->first; key; key = key->next->next) {
        const struct key *k = key_row(keys, n, key);
        if (!k) {
            say_unknown_key(r, key, entry, keys, n);
            fine = false;
            continue;
        }
        there |= 1ull << (k - keys);
        if (values)
            values[k - keys] = key->next;
        if (k->kind == KEY_NODE)
            continue;
        if (k->kind == KEY_QUANTITY && quantity_good(r, key->next, k, row))
            continue; /* the way of nearly all: no name to make for a message */
        snprintf(name, sizeof name, "`%s` of %s", k->name, entry);
        fine = read_value(r, key->next, name, k, row) && fine;
    }
    for (size_t i = 0; i < n; i++)
        if (keys[i].needed && !(there >> i & 1)) {
            diag(r->d, MISSING_KEY, map->where, "%s needs `%s`", entry, keys[i].name);
            diag_help(r->d, "%s", form);
            fine = false;
        }
    return fine;
}

/* ---- outlines */

static bool bad_outline(struct reader *r, const struct node *node, const char *entry, const char *why)
{
    if (node->kind == NODE_BAD)
        return false;
    diag(r->d, BAD_OUTLINE, node->where, "%s: %s", entry, why);
    diag_help(r->d, "outline: [[12, 40], [30, 40], [30, 52], [12, 52]]; several rings: a list of such lists");
    return false;
}

static bool read_point(struct reader *r, const struct node *point, const char *entry, double *xy)
{
    if (point->kind != NODE_LIST || point->n_children != 2)
        return bad_outline(r, point, entry, "a point must be [x, y]");
    bool fine = read_signed(r, point->first, entry, DIM_LENGTH, &xy[0]);
    return read_signed(r, point->first->next, entry, DIM_LENGTH, &xy[1]) && fine;
}

static bool read_ring(struct reader *r, const struct node *node, const char *entry, struct ring *ring)
{
    if (node->kind != NODE_LIST)
        return bad_outline(r, node, entry, "a ring must be a list of points");
    if (node->n_children < 3)
        return bad_outline(r, node, entry, "a ring needs three points at least");
    ring->n = node->n_children;
    ring->xy = arena_rows(r->arena, ring->n, 2 * sizeof(double));
    bool fine = true;
    double *xy = ring->xy;
    for (const struct node *point = node->first; point; point = point->next, xy += 2)
        fine = read_point(r, point, entry, xy) && fine;
    return fine;
}

bool read_outline(struct reader *r, const struct node *node, const char *entry, struct outline *out)
{
    if (node->kind != NODE_LIST || !node->n_children)
        return bad_outline(r, node, entry, "an outline must be a list of points");
    const struct node *first = node->first; /* [[x, y], ...] or [[[x, y], ...], ...] */
    bool rings = first->kind == NODE_LIST && first->n_children && first->first->kind == NODE_LIST;
    uint32_t n = rings ? node->n_children : 1;
    out->rings = arena_rows(r->arena, n, sizeof *out->rings);
    out->n = n;
    bool fine = true;
    if (!rings)
        return read_ring(r, node, entry, &out->rings[0]);
    struct ring *ring = out->rings;
    for (const struct node *list = first; list; list = list->next)
        fine = read_ring(r, list, entry, ring++) && fine;
    return fine;
}
