/* Feeds: sources, and what is named from a passage on. */
#include "base/mem.h"
#include "model/read.h"
#include <math.h>

static const char form[] = "feeds: {line: {into: pump.out}, solenoid_supply: {from: body.sup_a}}";

static bool is_source(const struct node *entry)
{
    return entry->kind == NODE_MAP && tree_get(entry, "into", NULL);
}

/* Rows: sources first, then derived feeds, each in written order. */
bool define_feeds(struct reader *r, const struct node *section)
{
    if (!read_section_map(r, section, section_key(SECTION_FEEDS), form, false))
        return false;
    rows_make(r->m, NAME_FEED, section->n_children / 2);
    bool fine = true;
    uint32_t row = 0;
    for (int sources = 1; sources >= 0; sources--)
        for (const struct node *key = section->first; key; key = key->next->next) {
            if (is_source(key->next) != sources)
                continue;
            r->m->feeds[row].is_source = sources;
            fine = define_name(r, NAME_FEED, row, key) && fine;
            if (sources)
                fine = define_setting(r, NAME_FEED, row, key) && fine;
            row++;
        }
    return fine;
}

static bool read_feed(struct reader *r, const struct node *key, struct feed *f)
{
    static const struct key source_keys[] = {
        {"into", KEY_INNER, true, offsetof(struct feed, passage), 0, NULL},
        {"capacity", KEY_QUANTITY, false, offsetof(struct feed, capacity), DIM_FLOW, NULL},
        PART_KEYS,
    };
    static const struct key derived_keys[] = {
        {"from", KEY_INNER, true, offsetof(struct feed, passage), 0, NULL},
        PART_KEYS,
    };
    const char *entry = entry_name(r, f->is_source ? "source" : "feed", key);
    f->passage.i = NONE;
    f->capacity = NAN;
    if (f->is_source)
        return read_keys(r, key->next, entry, form, source_keys, N_OF(source_keys), f, NULL);
    return read_keys(r, key->next, entry, form, derived_keys, N_OF(derived_keys), f, NULL);
}

bool read_feeds(struct reader *r, const struct node *section)
{
    bool fine = true;
    struct feed *f = r->m->feeds;
    for (int sources = 1; sources >= 0; sources--)
        for (const struct node *key = section->first; key; key = key->next->next)
            if (is_source(key->next) == sources)
                fine = read_feed(r, key, f++) && fine;
    return fine;
}

/* ---- sources joined */

static uint32_t group_of(uint32_t *group, uint32_t i)
{
    while (group[i] != i)
        i = group[i] = group[group[i]];
    return i;
}

/* Passages joined without loss are one group; no group may hold two sources, or a source and the sump. */
void check_sources(struct reader *r)
{
    const struct model *m = r->m;
    uint32_t *group = mem_alloc(m->n_passages * sizeof *group), *first = mem_alloc(m->n_passages * sizeof *first);
    for (uint32_t i = 0; i < m->n_passages; i++) {
        group[i] = i;
        first[i] = NONE;
    }
    for (uint32_t i = 0; i < m->n_joints; i++) {
        const struct joint *j = &m->joints[i];
        if (!isnan(j->diameter) || j->joins[0].i == NONE || j->joins[1].i == NONE)
            continue;
        uint32_t a = group_of(group, j->joins[0].i), b = group_of(group, j->joins[1].i);
        group[a > b ? a : b] = a > b ? b : a; /* sump, row 0, stays the head of its group */
    }
    for (uint32_t i = 0; i < m->n_feeds; i++) {
        const struct feed *f = &m->feeds[i];
        if (!f->is_source || f->passage.i == NONE)
            continue;
        uint32_t g = group_of(group, f->passage.i);
        if (g == SUMP.i) {
            diag(r->d, SOURCES_JOINED, f->part.where,
                 "the source `%.60s` is joined to the sump without an element between", f->part.id);
            diag_help(r->d, "put a hole, or a joint or screen with a diameter, between them");
        } else if (first[g] != NONE) {
            const struct feed *other = &m->feeds[first[g]];
            diag(r->d, SOURCES_JOINED, f->part.where,
                 "the sources `%.60s` and `%.60s` are joined without an element between", f->part.id, other->part.id);
            diag_second(r->d, other->part.where, "the other source");
            diag_help(r->d, "put a hole, or a joint or screen with a diameter, between them");
        } else {
            first[g] = i;
        }
    }
    mem_free(group);
    mem_free(first);
}
