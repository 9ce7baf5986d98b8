/* Parts that are gone, new or changed. */
#include "base/mem.h"
#include "compare/compare.h"
#include <math.h>
#include <string.h>

struct comparing {
    const struct model *was, *now;
    const struct units *u;
    struct arena *a;
    struct part_change *rows;
    size_t n, cap;
};

/* Row in `m` of the part with this ID, NONE: there is none. */
static uint32_t row_of(const struct model *m, enum described_kind kind, const char *id)
{
    static const enum part_kind parts[N_DESCRIBED] = {
        [DESCRIBED_CIRCUIT] = PART_CIRCUIT,   [DESCRIBED_PASSAGE] = PART_PASSAGE, [DESCRIBED_JOINT] = PART_JOINT,
        [DESCRIBED_BALL] = PART_BALL,         [DESCRIBED_VALVE] = PART_VALVE,     [DESCRIBED_SOLENOID] = PART_SOLENOID,
        [DESCRIBED_ACTUATOR] = PART_ACTUATOR, [DESCRIBED_TAP] = PART_TAP,         [DESCRIBED_SWITCH] = PART_SWITCH,
    };
    switch (kind) {
    case DESCRIBED_MODEL:
        return 0;
    case DESCRIBED_FEED:
        return model_feed(m, id, strlen(id)).i;
    case DESCRIBED_GEAR:
        return model_gear(m, id, strlen(id)).i;
    case DESCRIBED_STATE:
        return model_state(m, id, strlen(id)).i;
    case DESCRIBED_LAYER:
        for (uint32_t i = 0; i < m->n_layers; i++)
            if (!strcmp(m->layers[i].part.id, id))
                return i;
        return NONE;
    default:
        break;
    }
    struct part_ref ref = model_find(m, id, strlen(id));
    return ref.kind == parts[kind] ? ref.i : NONE;
}

/* Row in the old model of each row of the new one. */
static uint32_t *rows_match(const struct comparing *c, enum described_kind kind)
{
    if (kind == DESCRIBED_HOLE)
        return holes_match(c->was, c->now);
    uint32_t n = described_rows(c->now, kind), *match = mem_alloc(((size_t)n + 1) * sizeof *match);
    for (uint32_t i = 0; i < n; i++) {
        const struct part *part = described_part(c->now, kind, i);
        match[i] = row_of(c->was, kind, part ? part->id : "");
    }
    return match;
}

static struct part_change *change_add(struct comparing *c, enum part_status status, enum described_kind kind,
                                      uint32_t was_row, uint32_t now_row)
{
    const struct part *part =
        now_row == NONE ? described_part(c->was, kind, was_row) : described_part(c->now, kind, now_row);
    MEM_GROW(c->rows, c->n, c->cap);
    struct part_change *row = &c->rows[c->n++];
    *row = (struct part_change){
        .status = status, .kind = kind, .was_row = was_row, .now_row = now_row, .id = part ? part->id : ""};
    return row;
}

/* A part that only one of the models has. */
static void add_single(struct comparing *c, enum part_status status, enum described_kind kind, uint32_t row)
{
    struct description d = {0};
    bool gone = status == PART_GONE;
    part_describe(gone ? c->was : c->now, kind, row, c->u, c->a, &d);
    struct part_change *change = change_add(c, status, kind, gone ? row : NONE, gone ? NONE : row);
    change->rows = arena_rows(c->a, d.n, sizeof *change->rows);
    for (size_t i = 0; i < d.n; i++)
        change->rows[change->n++] =
            (struct attribute_change){d.rows[i].name, gone ? d.rows[i].words : NULL, gone ? NULL : d.rows[i].words};
    mem_free(d.rows);
}

static const char *attribute(const struct description *d, const char *name)
{
    for (size_t i = 0; i < d->n; i++)
        if (!strcmp(d->rows[i].name, name))
            return d->rows[i].words;
    return NULL;
}

/* Holes that were matched by place differ a little in it: that is how far parts and scans are off. */
static bool same_place(const struct comparing *c, enum described_kind kind, uint32_t was, uint32_t now)
{
    if (kind != DESCRIBED_HOLE)
        return false;
    const struct hole *a = &c->was->holes[was], *b = &c->now->holes[now];
    double fit = isnan(c->now->fit) ? 0.3e-3 : c->now->fit;
    return hypot(a->at[0] - b->at[0], a->at[1] - b->at[1]) <= fit; /* false where one has none */
}

static void add_differing(struct comparing *c, enum described_kind kind, uint32_t was_row, uint32_t now_row)
{
    struct description was = {0}, now = {0};
    part_describe(c->was, kind, was_row, c->u, c->a, &was);
    part_describe(c->now, kind, now_row, c->u, c->a, &now);
    struct attribute_change *rows = mem_alloc((was.n + now.n + 2) * sizeof *rows);
    uint32_t n = 0;
    const struct part *a = described_part(c->was, kind, was_row), *b = described_part(c->now, kind, now_row);
    if (a && strcmp(a->id, b->id) != 0)
        rows[n++] = (struct attribute_change){"name", a->id, b->id};
    for (size_t i = 0; i < now.n; i++) {
        const char *before = attribute(&was, now.rows[i].name);
        if (before && !strcmp(before, now.rows[i].words))
            continue;
        if (!strcmp(now.rows[i].name, "place") && same_place(c, kind, was_row, now_row))
            continue;
        rows[n++] = (struct attribute_change){now.rows[i].name, before, now.rows[i].words};
    }
    for (size_t i = 0; i < was.n; i++)
        if (!attribute(&now, was.rows[i].name))
            rows[n++] = (struct attribute_change){was.rows[i].name, was.rows[i].words, NULL};
    if (n) {
        struct part_change *change = change_add(c, PART_CHANGED, kind, was_row, now_row);
        change->rows = arena_rows(c->a, n, sizeof *rows);
        memcpy(change->rows, rows, n * sizeof *rows);
        change->n = n;
    }
    mem_free(rows);
    mem_free(was.rows);
    mem_free(now.rows);
}

void parts_compare(const struct model *was, const struct model *now, const struct units *u, struct arena *a,
                   struct parts_compared *out)
{
    struct comparing c = {.was = was, .now = now, .u = u, .a = a};
    uint32_t *match[N_DESCRIBED];
    *out = (struct parts_compared){0};
    for (int kind = 0; kind < N_DESCRIBED; kind++)
        match[kind] = rows_match(&c, (enum described_kind)kind);
    for (int kind = 0; kind < N_DESCRIBED; kind++) {
        uint32_t n = described_rows(was, (enum described_kind)kind);
        bool *kept = mem_zero((size_t)n + 1, sizeof *kept);
        for (uint32_t i = 0; i < described_rows(now, (enum described_kind)kind); i++)
            if (match[kind][i] != NONE)
                kept[match[kind][i]] = true;
        for (uint32_t i = 0; i < n; i++)
            if (!kept[i])
                add_single(&c, PART_GONE, (enum described_kind)kind, i);
        mem_free(kept);
    }
    for (int kind = 0; kind < N_DESCRIBED; kind++)
        for (uint32_t i = 0; i < described_rows(now, (enum described_kind)kind); i++)
            if (match[kind][i] == NONE)
                add_single(&c, PART_NEW, (enum described_kind)kind, i);
    for (int kind = 0; kind < N_DESCRIBED; kind++)
        for (uint32_t i = 0; i < described_rows(now, (enum described_kind)kind); i++)
            if (match[kind][i] != NONE)
                add_differing(&c, (enum described_kind)kind, match[kind][i], i);
    for (int kind = 0; kind < N_DESCRIBED; kind++)
        mem_free(match[kind]);
    out->rows = arena_rows(a, c.n, sizeof *out->rows);
    if (c.n)
        memcpy(out->rows, c.rows, c.n * sizeof *c.rows);
    out->n = (uint32_t)c.n;
    for (size_t i = 0; i < c.n; i++)
        out->n_status[c.rows[i].status]++;
    mem_free(c.rows);
}
