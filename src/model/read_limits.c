/* Limiting, regulating and relief valves: those whose ports have fixed names. */
#include "model/valves.h"
#include <math.h>
#include <string.h>

#define DROOP_USUAL 0.05 /* of the limit, where the model says nothing */

static const struct node *entry_of(const struct node *map, const char *name)
{
    for (const struct node *key = map->first; key; key = key->next->next)
        if (!strcmp(key->text, name))
            return key;
    return NULL;
}

/* Adds the ports whose keys are among `names`, in that order; rows[i] becomes the row of names[i] or NONE.
 * Bit i of sump_allowed: the port may be `sump`. */
static bool read_named_ports(struct valve_reading *b, const struct node *map, const char *const *names,
                             unsigned sump_allowed, uint32_t *rows)
{
    uint32_t n = 0;
    while (names[n])
        rows[n++] = NONE;
    b->v->ports = arena_rows(b->r->arena, n, sizeof *b->v->ports);
    bool ok = true;
    for (uint32_t i = 0; i < n && map && map->kind == NODE_MAP; i++) {
        const struct node *key = entry_of(map, names[i]);
        if (!key)
            continue;
        rows[i] = b->v->n_ports;
        ok = valve_add_port(b, key, key->next, sump_allowed >> i & 1) && ok;
    }
    return valve_end_ports(b) && ok;
}

/* What follows from spring, area and travel: shut at (preload + rate x travel) / area, wide open at preload / area. */
static bool settle_limit(struct valve_reading *b, const struct node *spring, bool good)
{
    struct valve *v = b->v;
    bool known = v->has_spring && v->area > 0 && v->travel >= 0; /* NAN: false */
    double shut = v->preload + v->rate * v->travel;              /* N */
    if (!v->droop_given)
        v->droop = known && shut > 0 ? v->rate * v->travel / shut : DROOP_USUAL;
    if (v->limit_given || !good)
        return true;
    if (!known) {
        diag(b->r->d, MISSING_KEY, b->key->where, "%s has no `limit`, nor `spring`, `area` and `travel` to tell it",
             b->entry);
        diag_help(b->r->d, "add `limit: 115 psi`, or all three of the others");
        return false;
    }
    if (shut <= 0) {
        diag(b->r->d, WRONG_VALUE, spring->where, "the spring of %s never pushes, so nothing sets its limit", b->entry);
        diag_help(b->r->d, "correct the spring, or add `limit: 115 psi`");
        return false;
    }
    v->limit = shut / v->area;
    return true;
}

/* The ports of a limiting valve stand along its bore in written order. */
static bool read_limiting_ports(struct valve_reading *b)
{
    struct valve *v = b->v;
    const struct {
        const char *name;
        uint32_t *row;
    } ports[] = {{"supply", &v->supply}, {"outlet", &v->outlet}, {"reaction", &v->reaction}, {"exhaust", &v->exhaust}};
    v->ports = arena_rows(b->r->arena, N_OF(ports), sizeof *v->ports);
    bool ok = true;
    for (const struct node *key = b->map->first; key; key = key->next->next)
        for (size_t i = 0; i < N_OF(ports); i++)
            if (!strcmp(key->text, ports[i].name)) {
                *ports[i].row = v->n_ports;
                ok = valve_add_port(b, key, key->next, ports[i].row == &v->exhaust) && ok;
            }
    return valve_end_ports(b) && ok;
}

bool read_limiting(struct valve_reading *b)
{
    static const struct key keys[] = {
        PART_KEYS,
        {"kind", KEY_NODE, true, 0, 0, NULL},
        {"supply", KEY_NODE, true, 0, 0, NULL},
        {"outlet", KEY_NODE, true, 0, 0, NULL},
        {"reaction", KEY_NODE, true, 0, 0, NULL},
        {"exhaust", KEY_NODE, false, 0, 0, NULL},
        {"limit", KEY_QUANTITY, false, offsetof(struct valve, limit), DIM_PRESSURE, NULL},
        {"droop", KEY_QUANTITY, false, offsetof(struct valve, droop), DIM_SHARE, NULL},
        {"open_diameter", KEY_QUANTITY, false, offsetof(struct valve, window_diameter), DIM_LENGTH, NULL},
        {"spring", KEY_NODE, false, 0, 0, NULL},
        {"area", KEY_QUANTITY, false, offsetof(struct valve, area), DIM_AREA, NULL},
        {"travel", KEY_QUANTITY, false, offsetof(struct valve, travel), DIM_LENGTH, NULL},
        {"plug", KEY_NODE, false, 0, 0, NULL},
        {"along", KEY_NODE, false, 0, 0, NULL},
        {"clearance", KEY_NODE, false, 0, 0, NULL},
    };
    struct valve *v = b->v;
    const struct node *values[N_OF(keys)] = {0};
    bool ok = read_keys(
        b->r, b->map, b->entry,
        "feed_limit: {kind: limiting, supply: body.line, outlet: body.sup, reaction: body.react, limit: 115 psi}", keys,
        N_OF(keys), v, values);
    bool ports_ok = read_limiting_ports(b);

    const struct node *limit = valve_node(keys, N_OF(keys), values, "limit");
    const struct node *droop = valve_node(keys, N_OF(keys), values, "droop");
    const struct node *area = valve_node(keys, N_OF(keys), values, "area");
    const struct node *node = valve_node(keys, N_OF(keys), values, "spring");
    struct spring spring = {0};
    if (node)
        ok = read_spring(b->r, node, b->entry, &spring) && ok;
    v->has_spring = spring.has;
    v->preload = spring.preload;
    v->rate = spring.rate;
    v->limit_given = limit != NULL;
    v->droop_given = droop != NULL;
    if (limit && v->limit <= 0) {
        diag(b->r->d, BAD_QUANTITY, limit->where, "the limit of %s must be more than nothing", b->entry);
        ok = false;
    }
    if (droop && v->droop >= 1) {
        diag(b->r->d, BAD_QUANTITY, droop->where, "the droop of %s is a share of its limit, below 100 %%", b->entry);
        ok = false;
    }
    if (area && v->area <= 0) {
        diag(b->r->d, BAD_QUANTITY, area->where, "the area of %s must be larger than nothing", b->entry);
        ok = false;
    }
    ok = settle_limit(b, node, ok) && ok;
    ok = valve_read_plug(b, valve_node(keys, N_OF(keys), values, "plug"), true) && ok;
    ok = valve_read_along(b, valve_node(keys, N_OF(keys), values, "along")) && ok;
    return valve_read_clearance(b, valve_node(keys, N_OF(keys), values, "clearance")) && ports_ok && ok;
}

/* ---- regulating */

static bool read_boosts(struct valve_reading *b, const struct node *plus)
{
    static const struct key keys[] = {
        {"from", KEY_INNER, true, offsetof(struct boost, from), 0, NULL},
        {"gain", KEY_SIGNED, true, offsetof(struct boost, gain), DIM_NUMBER, NULL},
    };
    static const char form[] = "plus: [{from: body.boost, gain: 2.6}]";
    if (!plus)
        return true;
    if (!read_shape(b->r, plus, NODE_LIST, "`plus`", form))
        return false;
    struct valve *v = b->v;
    v->plus = arena_rows(b->r->arena, plus->n_children, sizeof *v->plus);
    bool ok = true;
    for (const struct node *item = plus->first; item; item = item->next)
        ok = read_keys(b->r, item, "an entry of `plus`", form, keys, N_OF(keys), &v->plus[v->n_plus++], NULL) && ok;
    return ok;
}

static bool read_sets(struct valve_reading *b, const struct node *sets)
{
    static const struct key keys[] = {
        {"base", KEY_QUANTITY, true, offsetof(struct valve, base), DIM_PRESSURE, NULL},
        {"at_most", KEY_QUANTITY, false, offsetof(struct valve, at_most), DIM_PRESSURE, NULL},
        {"plus", KEY_NODE, false, 0, 0, NULL},
    };
    struct valve *v = b->v;
    v->sets = sets != NULL; /* also when it is bad: a state that says `regulated` is no error then */
    if (!sets)
        return true;
    const struct node *values[N_OF(keys)] = {0};
    bool ok = read_keys(b->r, sets, "`sets`", "sets: {base: 55, plus: [{from: body.boost, gain: 2.6}], at_most: 300}",
                        keys, N_OF(keys), v, values);
    ok = read_boosts(b, values[2]) && ok;
    if (ok && v->at_most < v->base) {
        diag(b->r->d, WRONG_VALUE, values[1]->where, "%s holds its source at %s at most, which is less than `base`",
             b->entry, shown(values[1]).text);
        ok = false;
    }
    return ok;
}

bool read_regulating(struct valve_reading *b)
{
    static const struct key keys[] = {
        PART_KEYS,
        {"kind", KEY_NODE, true, 0, 0, NULL},
        {"source", KEY_NODE, true, 0, 0, NULL},
        {"also_feeds", KEY_NODE, false, 0, 0, NULL},
        {"sets", KEY_NODE, false, 0, 0, NULL},
        {"plug", KEY_NODE, false, 0, 0, NULL},
    };
    static const struct key also_keys[] = {
        {"from", KEY_NODE, true, 0, 0, NULL},
        {"to", KEY_NODE, true, 0, 0, NULL},
    };
    static const char *const ports[] = {"from", "to", NULL};
    struct reader *r = b->r;
    struct valve *v = b->v;
    const struct node *values[N_OF(keys)] = {0};
    bool ok =
        read_keys(r, b->map, b->entry, "regulator: {kind: regulating, source: line}", keys, N_OF(keys), v, values);
    const struct node *source = valve_node(keys, N_OF(keys), values, "source");
    if (source) {
        v->source.i = read_ref(r, source, NAME_FEED, "`source`");
        ok = v->source.i != NONE && ok;
        if (v->source.i != NONE && !r->m->feeds[v->source.i].is_source) {
            diag(r->d, WRONG_KIND, source->where,
                 "`%s` is a derived feed, and a regulating valve sets the pressure of a source", shown(source).text);
            diag_second(r->d, r->m->feeds[v->source.i].part.where, "defined here");
            v->source.i = NONE;
            ok = false;
        }
    }
    const struct node *also = valve_node(keys, N_OF(keys), values, "also_feeds");
    v->also_feeds = also != NULL;
    if (also) {
        ok = read_keys(r, also, "`also_feeds`", "also_feeds: {from: pump.out, to: body.conv_in}", also_keys,
                       N_OF(also_keys), NULL, NULL) &&
             ok;
    }
    uint32_t rows[2];
    ok = read_named_ports(b, also, ports, 1u << 1, rows) && ok;
    ok = read_sets(b, valve_node(keys, N_OF(keys), values, "sets")) && ok;
    return valve_read_plug(b, valve_node(keys, N_OF(keys), values, "plug"), true) && ok;
}

bool read_relief(struct valve_reading *b)
{
    static const struct key keys[] = {
        PART_KEYS,
        {"kind", KEY_NODE, true, 0, 0, NULL},
        {"inlet", KEY_NODE, true, 0, 0, NULL},
        {"outlet", KEY_NODE, true, 0, 0, NULL},
        {"cracks_at", KEY_QUANTITY, true, offsetof(struct valve, cracks_at), DIM_PRESSURE, NULL},
        {"diameter", KEY_QUANTITY, false, offsetof(struct valve, window_diameter), DIM_LENGTH, NULL},
        {"plug", KEY_NODE, false, 0, 0, NULL},
    };
    static const char *const ports[] = {"inlet", "outlet", NULL};
    const struct node *values[N_OF(keys)] = {0};
    bool ok =
        read_keys(b->r, b->map, b->entry, "safety: {kind: relief, inlet: case.line, outlet: sump, cracks_at: 320 psi}",
                  keys, N_OF(keys), b->v, values);
    uint32_t rows[2];
    ok = read_named_ports(b, b->map, ports, 1u << 1, rows) && ok;
    return valve_read_plug(b, valve_node(keys, N_OF(keys), values, "plug"), true) && ok;
}
