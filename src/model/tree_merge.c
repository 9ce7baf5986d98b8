/* A change merged over a base, key by key. The walk keeps its own list of mappings to merge. */
#include "base/mem.h"
#include "model/names.h"
#include "model/tree.h"
#include <string.h>

/* Entries that may be written short: the key that the short form stands for. */
static const struct {
    const char *section, *key;
} short_forms[] = {
    {"passages", "circuit"}, {"joints", "joins"}, {"screens", "joins"},
    {"taps", "on"},          {"gears", "on"},     {"defaults", "pressure"},
};
#define STATES_SHORT "pressure" /* a source in a state */
static const char *const state_keys[] = {"gear", "after", "expect", "temperature", "title", "note"}; /* no sources */

struct job { /* two mappings to be merged */
    struct node *base, *change;
    const char *short_key; /* its entries' short form stands for this key; NULL: they have none */
    bool is_root, is_states;
};
struct merger {
    struct job *jobs;
    size_t n, cap;
    struct arena *nodes;
    struct removals *removals;
    struct diags *d;
};

/* The pairs of a change, found by key. */
struct changes {
    struct node **pairs; /* keys, in order */
    bool *used;
    uint32_t *slots; /* rows of pairs + 1; 0: empty */
    uint32_t n, mask;
};

static void changes_make(struct changes *c, const struct node *change)
{
    uint32_t n = change->n_children / 2, slots = 4;
    while (slots < 2 * n)
        slots *= 2;
    *c = (struct changes){mem_alloc((n + 1) * sizeof(struct node *)), mem_zero(n + 1, sizeof(bool)),
                          mem_zero(slots, sizeof(uint32_t)), 0, slots - 1};
    for (struct node *key = change->first; key; key = key->next->next) {
        uint32_t i = names_hash(key->text, key->n_text) & c->mask;
        while (c->slots[i])
            i = (i + 1) & c->mask;
        c->pairs[c->n++] = key;
        c->slots[i] = c->n;
    }
}

static void changes_release(struct changes *c)
{
    mem_free(c->pairs);
    mem_free(c->used);
    mem_free(c->slots);
}

/* Row of the pair with this key, or NONE. */
static uint32_t changes_find(const struct changes *c, const struct node *key)
{
    for (uint32_t i = names_hash(key->text, key->n_text) & c->mask; c->slots[i]; i = (i + 1) & c->mask) {
        const struct node *k = c->pairs[c->slots[i] - 1];
        if (k->n_text == key->n_text && !memcmp(k->text, key->text, k->n_text))
            return c->slots[i] - 1;
    }
    return NONE;
}

static void removal_add(struct removals *r, const struct node *name, struct span where)
{
    MEM_GROW(r->rows, r->n, r->cap);
    r->rows[r->n++] = (struct removal){name->text, name->n_text, where, NULL};
}

/* Notes the key and every scalar below its value as removed at `where`. */
static void note_removed(struct merger *g, const struct node *key, const struct node *value, struct span where)
{
    if (key)
        removal_add(g->removals, key, where);
    const struct node *up[TREE_DEPTH_MAX + 2]; /* where to go on after a collection */
    uint32_t depth = 0;
    for (const struct node *at = value; at;) {
        if (at->kind == NODE_SCALAR)
            removal_add(g->removals, at, where);
        const struct node *next = at == value ? NULL : at->next;
        if ((at->kind == NODE_LIST || at->kind == NODE_MAP) && at->first) {
            up[depth++] = next;
            next = at->first;
        }
        while (!next && depth)
            next = up[--depth];
        at = next;
    }
}

/* The long form of a short entry: {KEY: value}. */
static struct node *long_form(struct merger *g, struct node *value, const char *short_key)
{
    struct node *map = arena_alloc(g->nodes, sizeof *map), *key = arena_alloc(g->nodes, sizeof *key);
    *map = (struct node){.kind = NODE_MAP, .n_children = 2, .where = value->where, .first = key};
    *key = (struct node){.kind = NODE_SCALAR,
                         .n_text = (uint32_t)strlen(short_key),
                         .where = value->where,
                         .text = short_key,
                         .next = value};
    value->next = NULL;
    return map;
}

static const char *short_key_of(const struct job *job, const struct node *key)
{
    if (!job->short_key)
        return NULL;
    for (size_t i = 0; !strcmp(job->short_key, STATES_SHORT) && i < sizeof state_keys / sizeof *state_keys; i++)
        if (!strcmp(key->text, state_keys[i]))
            return NULL;
    return job->short_key;
}

static void push(struct merger *g, const struct job *in, const struct node *key, struct node *base, struct node *change)
{
    struct job job = {.base = base, .change = change};
    if (in->is_root) {
        job.is_states = !strcmp(key->text, "states");
        for (size_t i = 0; i < sizeof short_forms / sizeof *short_forms; i++)
            if (!strcmp(key->text, short_forms[i].section))
                job.short_key = short_forms[i].key;
    } else if (in->is_states) {
        job.short_key = STATES_SHORT;
    }
    MEM_GROW(g->jobs, g->n, g->cap);
    g->jobs[g->n++] = job;
}

static bool is_value(const struct node *n)
{
    return (n->kind == NODE_SCALAR && !n->plain_null) || n->kind == NODE_LIST;
}

/* The pair (key, value) of the base under the change (change_key, change_value), which is no null: links the result at
 * *link. The base's key stays where entries are merged, so that it shows where the entry is defined. */
static struct node **merge_pair(struct merger *g, const struct job *job, struct node **link, struct node *key,
                                struct node *change_key)
{
    struct node *value = key->next, *change = change_key->next;
    const char *short_key = short_key_of(job, key);
    if (short_key && value->kind == NODE_MAP && is_value(change))
        change = long_form(g, change, short_key);
    else if (short_key && change->kind == NODE_MAP && is_value(value))
        value = long_form(g, value, short_key);
    if (value->kind == NODE_MAP && change->kind == NODE_MAP) {
        push(g, job, key, value, change);
        *link = key;
        key->next = value;
        return &value->next;
    }
    if (value->kind == NODE_LIST)
        note_removed(g, NULL, value, change->where);
    *link = change_key;
    change_key->next = change;
    return &change->next;
}

static void merge_maps(struct merger *g, const struct job *job)
{
    struct changes c;
    changes_make(&c, job->change);
    struct node **link = &job->base->first;
    uint32_t n = 0;
    for (struct node *key = job->base->first, *after; key; key = after) {
        struct node *value = key->next;
        after = value->next;
        uint32_t row = changes_find(&c, key);
        if (row == NONE) {
            *link = key;
            link = &value->next;
            n += 2;
            continue;
        }
        c.used[row] = true;
        struct node *change_key = c.pairs[row];
        if (change_key->next->plain_null) {
            note_removed(g, key, value, change_key->where);
        } else {
            link = merge_pair(g, job, link, key, change_key);
            n += 2;
        }
    }
    for (uint32_t i = 0; i < c.n; i++) {
        struct node *key = c.pairs[i];
        if (c.used[i])
            continue;
        if (key->next->plain_null) {
            diag(g->d, UNKNOWN_NAME, key->where, "nothing to remove: the base has no `%.60s` here", key->text);
            diag_help(g->d, "correct the spelling, or remove the line");
            continue;
        }
        *link = key;
        link = &key->next->next;
        n += 2;
    }
    *link = NULL;
    job->base->n_children = n;
    changes_release(&c);
}

struct node *tree_merge(struct node *base, struct node *change, struct arena *nodes, struct removals *removals,
                        struct diags *d)
{
    struct merger g = {.nodes = nodes, .removals = removals, .d = d};
    MEM_GROW(g.jobs, g.n, g.cap);
    g.jobs[g.n++] = (struct job){.base = base, .change = change, .is_root = true};
    while (g.n) {
        struct job job = g.jobs[--g.n];
        merge_maps(&g, &job);
    }
    mem_free(g.jobs);
    return base;
}
