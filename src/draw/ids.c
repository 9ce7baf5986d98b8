#include "draw/ids.h"
#include "base/mem.h"
#include <stdint.h>
#include <string.h>

/* Names by number and numbers by name. The library has such a table as well, but leaks it when a graph has subgraphs.
 */
struct names {
    Agraph_t *graph;
    char **by_id; /* [n] name of number row + 1, a string of the graph's, which frees it; NULL: nameless */
    size_t n, cap;
    uint32_t *slots; /* [n_slots] numbers, 0: empty; at most half full */
    size_t n_slots;
};

static void *ids_open(Agraph_t *g, Agdisc_t *disc)
{
    (void)disc;
    struct names *t = mem_zero(1, sizeof *t);
    t->graph = g;
    return t;
}

/* FNV-1a, public domain, by G. Fowler, L. C. Noll and K.-P. Vo. */
static uint32_t hash(const char *s)
{
    uint32_t h = 2166136261u;
    for (; *s; s++)
        h = (h ^ (unsigned char)*s) * 16777619u;
    return h;
}

/* The slot that holds a name, or the empty one where it would stand. */
static uint32_t *slot_of(struct names *t, const char *name)
{
    size_t i = hash(name) & (t->n_slots - 1);
    while (t->slots[i] && strcmp(t->by_id[t->slots[i] - 1], name) != 0)
        i = (i + 1) & (t->n_slots - 1);
    return &t->slots[i];
}

static void slots_grow(struct names *t)
{
    if (2 * (t->n + 1) <= t->n_slots)
        return;
    mem_free(t->slots);
    t->n_slots = t->n_slots ? 4 * t->n_slots : 256;
    t->slots = mem_zero(t->n_slots, sizeof *t->slots);
    for (size_t i = 0; i < t->n; i++)
        if (t->by_id[i])
            *slot_of(t, t->by_id[i]) = (uint32_t)i + 1;
}

static long ids_map(void *state, int kind, char *name, IDTYPE *id, int create)
{
    struct names *t = state;
    (void)kind; /* our names are apart whatever they name */
    slots_grow(t);
    uint32_t *slot = name ? slot_of(t, name) : NULL;
    if (slot && *slot) {
        *id = *slot;
        return 1;
    }
    if (!create)
        return 0;
    MEM_GROW(t->by_id, t->n, t->cap);
    t->by_id[t->n++] = name ? agstrdup(t->graph, name) : NULL;
    *id = t->n;
    if (slot)
        *slot = (uint32_t)t->n;
    return 1;
}

static long ids_alloc(void *state, int kind, IDTYPE id)
{
    (void)state;
    (void)kind;
    (void)id;
    return 0; /* nobody asks for a number of their own */
}

/* Numbers are not given twice. */
static void ids_free(void *state, int kind, IDTYPE id)
{
    (void)state;
    (void)kind;
    (void)id;
}

static char *ids_print(void *state, int kind, IDTYPE id)
{
    const struct names *t = state;
    (void)kind;
    return id && id <= t->n ? t->by_id[id - 1] : NULL;
}

static void ids_close(void *state)
{
    struct names *t = state;
    mem_free(t->by_id);
    mem_free(t->slots);
    mem_free(t);
}

static void ids_register(void *state, int kind, void *object)
{
    (void)state;
    (void)kind;
    (void)object;
}

Agiddisc_t counting_ids = {ids_open, ids_map, ids_alloc, ids_free, ids_print, ids_close, ids_register};
