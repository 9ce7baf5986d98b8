/* Keys that stand twice in one mapping, in time that grows with the mapping alone. */
#include "base/mem.h"
#include "model/names.h"
#include "model/tree.h"
#include <string.h>

#define FEW_KEYS 16 /* keys up to which comparing each with each is quicker */
#define AHEAD                                                                                                          \
    16 /* keys by which the table's slots are asked for before they are needed: each is a miss of the cache            \
        */

static bool same_text(const struct node *a, const struct node *b)
{
    return a->n_text == b->n_text && !memcmp(a->text, b->text, a->n_text);
}

static void say_duplicate(struct diags *d, const struct node *key, const struct node *before)
{
    diag(d, DUPLICATE_KEY, key->where, "the key `%.60s` stands twice in this mapping", key->text);
    diag_second(d, before->where, "first here");
}

/* Takes the pair that follows `last_value` (the value of the pair before) out of the mapping. */
static void drop_pair(struct node *map, struct node *last_value)
{
    last_value->next = last_value->next->next->next;
    map->n_children -= 2;
}

static void drop_from_few(struct node *map, struct diags *d)
{
    struct node *last_value = NULL;
    for (struct node *key = map->first; key; key = key->next->next) {
        struct node *before = map->first;
        while (before != key && !same_text(before, key))
            before = before->next->next;
        if (before == key) {
            last_value = key->next;
            continue;
        }
        say_duplicate(d, key, before);
        drop_pair(map, last_value); /* there is one: the first key cannot be a repeat */
    }
}

struct seen { /* open addressing */
    uint32_t hash;
    uint32_t key; /* row in the array of keys + 1; 0: empty */
};

static void drop_from_many(struct node *map, struct diags *d)
{
    uint32_t n = map->n_children / 2, slots = 64;
    while (slots < n + n / 2)
        slots *= 2;
    struct node **keys = mem_alloc(n * sizeof *keys);
    uint32_t *hashes = mem_alloc(n * sizeof *hashes), mask = slots - 1;
    struct seen *table = mem_zero(slots, sizeof *table);
    uint32_t i = 0;
    for (struct node *key = map->first; key; key = key->next->next, i++) {
        keys[i] = key;
        hashes[i] = names_hash(key->text, key->n_text);
    }
    struct node *last_value = NULL;
    for (i = 0; i < n; i++) {
        if (i + AHEAD < n)
            __builtin_prefetch(&table[hashes[i + AHEAD] & mask], 1);
        uint32_t at = hashes[i] & mask;
        while (table[at].key && !(table[at].hash == hashes[i] && same_text(keys[table[at].key - 1], keys[i])))
            at = (at + 1) & mask;
        if (!table[at].key) {
            table[at] = (struct seen){hashes[i], i + 1};
            last_value = keys[i]->next;
            continue;
        }
        say_duplicate(d, keys[i], keys[table[at].key - 1]);
        drop_pair(map, last_value);
    }
    mem_free(table);
    mem_free(hashes);
    mem_free(keys);
}

void tree_drop_duplicates(struct node *map, struct diags *d)
{
    if (map->n_children / 2 <= FEW_KEYS)
        drop_from_few(map, d);
    else
        drop_from_many(map, d);
}
