/* Valves: their kinds, ports and windows; manual and spool valves whole. Limiting, regulating and relief valves are in
 * read_limits.c. */
#include "model/valves.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

#define VALVES_FORM                                                                                                    \
    "shift_a: {kind: spool, ports: {in: body.in, out: body.out, x: sump}, rest: [[out, x]], stroked: [[in, out]]}"
#define PORTS_FORM   "ports: {in: body.line_man, d: body.drive, x: sump}"
#define WINDOWS_FORM "[[in, d], [r, x]]: pairs of port names"

static const char *const kind_words[] = {
    [VALVE_MANUAL] = "manual",         [VALVE_SPOOL] = "spool",   [VALVE_LIMITING] = "limiting",
    [VALVE_REGULATING] = "regulating", [VALVE_RELIEF] = "relief", NULL};

/* The kind that an entry names, or VALVE_UNREAD; says nothing. */
static enum valve_kind kind_of(const struct node *map)
{
    const struct node *kind = map->kind == NODE_MAP ? tree_get(map, "kind", NULL) : NULL;
    if (kind && kind->kind == NODE_SCALAR)
        for (unsigned i = 0; kind_words[i]; i++)
            if (!strcmp(kind->text, kind_words[i]))
                return (enum valve_kind)i;
    return VALVE_UNREAD;
}

bool define_valves(struct reader *r, const struct node *section)
{
    bool ok = define_section(r, section, "valves", VALVES_FORM, NAME_VALVE);
    if (section->kind != NODE_MAP)
        return ok;
    uint32_t row = 0;
    for (const struct node *key = section->first; key; key = key->next->next, row++) {
        enum valve_kind kind = r->m->valves[row].kind = kind_of(key->next);
        if (kind == VALVE_MANUAL || kind == VALVE_UNREAD) /* an unread one may have been meant as a manual valve */
            ok = define_setting(r, NAME_VALVE, row, key) && ok;
    }
    return ok;
}

/* ---- ports */

static bool is_name(const char *s, size_t n)
{
    for (size_t i = 0; i < n; i++)
        if (!strchr("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_-.", s[i]) || !s[i])
            return false;
    return n > 0;
}

/* A name that stands only inside its valve: of a port or a detent. */
static bool read_inner_name(struct valve_reading *b, const struct node *node, const char *what, const char **out)
{
    if (node->kind == NODE_SCALAR && is_name(node->text, node->n_text)) {
        *out = node->text;
        return true;
    }
    diag(b->r->d, BAD_ID, node->where, "`%s` cannot be the name of a %s", shown(node).text, what);
    diag_help(b->r->d, "use letters, digits, `_`, `-` and `.`");
    return false;
}

bool valve_add_port(struct valve_reading *b, const struct node *name, const struct node *passage, bool sump_allowed)
{
    struct port *port = &b->v->ports[b->v->n_ports++];
    *port = (struct port){"", {NONE}, name->where};
    bool named = read_inner_name(b, name, "port", &port->name);
    struct text what = {0};
    text_addf(&what, "port `%s` of %s", shown(name).text, b->entry);
    port->passage = read_passage(b->r, passage, sump_allowed, text_string(&what));
    text_release(&what);
    bool ok = named && port->passage.i != NONE;
    b->ports_good = b->ports_good && ok;
    b->name_unread = b->name_unread || !named;
    return ok;
}

struct named_row {
    const char *name;
    uint32_t row;
};

static int by_name(const void *a, const void *b)
{
    return strcmp(((const struct named_row *)a)->name, ((const struct named_row *)b)->name);
}

bool valve_end_ports(struct valve_reading *b)
{
    struct valve *v = b->v;
    struct named_row *rows = arena_rows(&b->r->scratch, v->n_ports, sizeof *rows);
    for (uint32_t i = 0; i < v->n_ports; i++)
        rows[i] = (struct named_row){v->ports[i].name, i};
    qsort(rows, v->n_ports, sizeof *rows, by_name);
    b->by_name = arena_rows(&b->r->scratch, v->n_ports, sizeof *b->by_name);
    for (uint32_t i = 0; i < v->n_ports; i++)
        b->by_name[i] = rows[i].row;

    bool ok = true;
    struct text id = {0};
    for (uint32_t i = 0; i < v->n_ports && v->part.id; i++) {
        text_clear(&id);
        text_addf(&id, "%s.%s", v->part.id, v->ports[i].name);
        struct name other = names_find(b->r->m, SPACE_PARTS, id.at, id.n);
        if (other.kind == NAME_NONE)
            continue;
        diag(b->r->d, REPEATED_ID, v->ports[i].where, "the port `%s` of %s and a %s have the same name", id.at,
             b->entry, name_kind_word(other.kind));
        diag_second(b->r->d, part_of(b->r->m, other.kind, other.row)->where, "`%s` is defined here", id.at);
        ok = false;
    }
    text_release(&id);
    return ok;
}

#define PORTS_SHOWN_MAX 100 /* valves with more ports are no help to anybody */

uint32_t valve_read_port(struct valve_reading *b, const struct node *node, const char *what)
{
    const struct valve *v = b->v;
    if (node->kind != NODE_SCALAR) {
        read_shape(b->r, node, NODE_SCALAR, what, "the name of a port");
        return NONE;
    }
    uint32_t low = 0, high = v->n_ports;
    while (low < high) {
        uint32_t mid = low + (high - low) / 2;
        int order = strcmp(node->text, v->ports[b->by_name[mid]].name);
        if (!order)
            return b->by_name[mid];
        if (order < 0)
            high = mid;
        else
            low = mid + 1;
    }
    if (b->name_unread) /* it may be the one that is meant */
        return NONE;
    diag(b->r->d, UNKNOWN_NAME, node->where, "%s has no port `%s`", b->entry, shown(node).text);
    const char *words[PORTS_SHOWN_MAX + 1] = {0};
    for (uint32_t i = 0; i < v->n_ports && v->n_ports <= PORTS_SHOWN_MAX; i++)
        words[i] = v->ports[i].name;
    if (words[0])
        help_words(b->r, node->text, words);
    return NONE;
}

/* `ports: {name: passage}`. */
static bool read_ports(struct valve_reading *b, const struct node *ports)
{
    if (!ports || !read_shape(b->r, ports, NODE_MAP, "`ports`", PORTS_FORM)) {
        b->ports_good = false;
        return false;
    }
    b->v->ports = arena_rows(b->r->arena, ports->n_children / 2, sizeof *b->v->ports);
    bool ok = true;
    for (const struct node *key = ports->first; key; key = key->next->next)
        ok = valve_add_port(b, key, key->next, true) && ok;
    return valve_end_ports(b) && ok;
}

/* ---- windows and positions */

static bool read_windows(struct valve_reading *b, const struct node *list, struct position *p)
{
    struct reader *r = b->r;
    if (!read_shape(r, list, NODE_LIST, "a position's windows", WINDOWS_FORM))
        return false;
    p->windows = arena_rows(r->arena, list->n_children, sizeof *p->windows);
    bool ok = true;
    for (const struct node *pair = list->first; pair; pair = pair->next) {
        if (!read_shape(r, pair, NODE_LIST, "a window", WINDOWS_FORM)) {
            ok = false;
            continue;
        }
        if (pair->n_children != 2) {
            diag(r->d, WRONG_SHAPE, pair->where, "a window joins two ports, not %u", (unsigned)pair->n_children);
            diag_help(r->d, "write " WINDOWS_FORM);
            ok = false;
            continue;
        }
        struct window w = {valve_read_port(b, pair->first, "a window"),
                           valve_read_port(b, pair->first->next, "a window"), pair->where};
        if (w.a == NONE || w.b == NONE) {
            ok = false;
        } else if (w.a == w.b) {
            diag(r->d, WRONG_VALUE, pair->where, "a window joins port `%s` to itself", b->v->ports[w.a].name);
            ok = false;
        }
        p->windows[p->n_windows++] = w;
    }
    return ok;
}

/* `positions: {P: [[d, x]]}` of a manual valve. */
static bool read_positions(struct valve_reading *b, const struct node *positions)
{
    if (!positions || !read_shape(b->r, positions, NODE_MAP, "`positions`", "positions: {P: [[d, x]], D: [[in, d]]}"))
        return false;
    struct valve *v = b->v;
    if (!positions->n_children) {
        diag(b->r->d, WRONG_VALUE, positions->where, "%s has no position", b->entry);
        return false;
    }
    if (positions->n_children / 2 > POSITIONS_MAX) {
        diag(b->r->d, TOO_LARGE, positions->where, "%s has more than %d positions", b->entry, POSITIONS_MAX);
        return false;
    }
    v->positions = arena_rows(b->r->arena, positions->n_children / 2, sizeof *v->positions);
    bool ok = true;
    for (const struct node *key = positions->first; key; key = key->next->next) {
        struct position *p = &v->positions[v->n_positions++];
        p->where = key->where;
        ok = read_inner_name(b, key, "detent", &p->name) && ok;
        ok =
            (!v->n_ports || read_windows(b, key->next, p)) && ok; /* without ports every window would be an error too */
    }
    return ok;
}

/* ---- plug, along, clearance, shares */

const struct node *valve_node(const struct key *keys, size_t n, const struct node *const *values, const char *name)
{
    for (size_t i = 0; i < n; i++)
        if (!strcmp(keys[i].name, name))
            return values[i];
    return NULL;
}

bool valve_read_plug(struct valve_reading *b, const struct node *plug, bool spring_end)
{
    b->v->plug = PLUG_NONE;
    if (!plug)
        return true;
    if (spring_end && plug->kind == NODE_SCALAR && !strcmp(plug->text, "spring")) {
        b->v->plug = PLUG_SPRING;
        return true;
    }
    if (!b->ports_good)
        return false;
    b->v->plug = valve_read_port(b, plug, "`plug`"); /* NONE is PLUG_NONE */
    return b->v->plug != PLUG_NONE;
}

bool valve_read_along(struct valve_reading *b, const struct node *along)
{
    struct valve *v = b->v;
    struct reader *r = b->r;
    bool ok = true;
    if (along && !read_shape(r, along, NODE_LIST, "`along`", "along: [sig, x, out, in], port names in bore order"))
        return false;
    if (!along) {
        v->along = arena_rows(r->arena, v->n_ports, sizeof *v->along);
        for (v->n_along = 0; v->n_along < v->n_ports; v->n_along++)
            v->along[v->n_along] = v->n_along;
        return true;
    }
    if (!b->ports_good)
        return false;
    v->along = arena_rows(r->arena, along->n_children, sizeof *v->along);
    bool *seen = arena_rows(&r->scratch, v->n_ports, sizeof *seen);
    for (const struct node *item = along->first; item; item = item->next) {
        uint32_t port = valve_read_port(b, item, "`along`");
        if (port == NONE) {
            ok = false;
        } else if (seen[port]) {
            diag(r->d, WRONG_VALUE, item->where, "port `%s` stands twice in `along`", v->ports[port].name);
            ok = false;
        } else {
            seen[port] = true;
            v->along[v->n_along++] = port;
        }
    }
    return ok;
}

bool valve_read_share(struct reader *r, const struct node *node, const char *entry, double most, double *out)
{
    double share;
    bool per_cent = node->kind == NODE_SCALAR && strchr(node->text, '%');
    if (!read_quantity(r, node, entry, per_cent ? DIM_SHARE : DIM_NUMBER, &share))
        return false;
    if (share > most) {
        diag(r->d, BAD_QUANTITY, node->where, "%s is at most %g, not %s", entry, most, shown(node).text);
        return false;
    }
    *out = share;
    return true;
}

#define GAP_OF_BORE 0.1 /* from here on it is a slip of unit or decimal point: common practice, no source */

bool valve_read_clearance(struct valve_reading *b, const struct node *clearance)
{
    static const struct key keys[] = {
        {"bore", KEY_QUANTITY, true, offsetof(struct valve, bore), DIM_LENGTH, NULL},
        {"gap", KEY_QUANTITY, true, offsetof(struct valve, gap), DIM_LENGTH, NULL},
        {"land", KEY_QUANTITY, true, offsetof(struct valve, land), DIM_LENGTH, NULL},
        {"eccentricity", KEY_NODE, false, 0, 0, NULL},
    };
    struct valve *v = b->v;
    v->has_clearance = clearance != NULL;
    if (!clearance)
        return true;
    const struct node *values[N_OF(keys)] = {0};
    struct text entry = {0};
    text_addf(&entry, "the clearance of %s", b->entry);
    bool ok = read_keys(b->r, clearance, text_string(&entry), "clearance: {bore: 12, gap: 0.02, land: 6}", keys,
                        N_OF(keys), v, values);
    text_release(&entry);
    if (values[3])
        ok = valve_read_share(b->r, values[3], "`eccentricity`", 1, &v->eccentricity) && ok;
    if (ok && (v->bore <= 0 || v->land <= 0)) {
        diag(b->r->d, BAD_QUANTITY, clearance->where, "the bore and the land of %s must be longer than nothing",
             b->entry);
        ok = false;
    } else if (ok && v->gap / v->bore >= GAP_OF_BORE - 1e-9 /* rounding */) {
        diag(b->r->d, BAD_QUANTITY, values[1]->where, "the gap of %s is %.2g of its bore, and no valve is so loose",
             b->entry, v->gap / v->bore);
        diag_help(b->r->d, "`gap` is radial, hundredths of a millimetre: clearance: {bore: 12 mm, gap: 0.02 mm, "
                           "land: 6 mm}");
        ok = false;
    }
    return ok;
}

/* ---- manual and spool valves */

#define VALVE_SPRING_KEYS                                                                                              \
    {"spring", KEY_NODE, false, 0, 0, NULL},                                                                           \
    {                                                                                                                  \
        "travel", KEY_QUANTITY, false, offsetof(struct valve, travel), DIM_LENGTH, NULL                                \
    }

static bool read_manual(struct valve_reading *b)
{
    static const struct key keys[] = {
        PART_KEYS,
        {"kind", KEY_NODE, true, 0, 0, NULL},
        {"ports", KEY_NODE, true, 0, 0, NULL},
        {"positions", KEY_NODE, true, 0, 0, NULL},
        {"window_diameter", KEY_QUANTITY, false, offsetof(struct valve, window_diameter), DIM_LENGTH, NULL},
        {"plug", KEY_NODE, false, 0, 0, NULL},
        {"along", KEY_NODE, false, 0, 0, NULL},
        {"clearance", KEY_NODE, false, 0, 0, NULL},
    };
    const struct node *values[N_OF(keys)] = {0};
    bool ok = read_keys(
        b->r, b->map, b->entry,
        "manual: {kind: manual, ports: {in: body.in, d: body.d, x: sump}, positions: {P: [[d, x]], D: [[in, d]]}}",
        keys, N_OF(keys), b->v, values);
    ok = read_ports(b, valve_node(keys, N_OF(keys), values, "ports")) && ok;
    ok = read_positions(b, valve_node(keys, N_OF(keys), values, "positions")) && ok;
    ok = valve_read_plug(b, valve_node(keys, N_OF(keys), values, "plug"), false) && ok;
    ok = valve_read_along(b, valve_node(keys, N_OF(keys), values, "along")) && ok;
    return valve_read_clearance(b, valve_node(keys, N_OF(keys), values, "clearance")) && ok;
}

static bool read_ends(struct valve_reading *b, const struct node *ends)
{
    static const char *const pushes_words[] = {"rest", "stroke", NULL};
    struct end_row {
        unsigned pushes;
        double area;
    };
    static const struct key keys[] = {
        {"port", KEY_NODE, true, 0, 0, NULL},
        {"pushes", KEY_WORD, true, offsetof(struct end_row, pushes), 0, pushes_words},
        {"area", KEY_QUANTITY, false, offsetof(struct end_row, area), DIM_AREA, NULL},
    };
    static const char form[] = "ends: [{port: sig, pushes: stroke, area: 80}]";
    if (!ends)
        return true;
    if (!read_shape(b->r, ends, NODE_LIST, "`ends`", form))
        return false;
    struct valve *v = b->v;
    v->ends = arena_rows(b->r->arena, ends->n_children, sizeof *v->ends);
    struct text entry = {0};
    text_addf(&entry, "an end of %s", b->entry);
    bool all = true;
    for (const struct node *item = ends->first; item; item = item->next) {
        const struct node *values[N_OF(keys)] = {0};
        struct end_row row = {1, NAN};
        bool ok = read_keys(b->r, item, text_string(&entry), form, keys, N_OF(keys), &row, values);
        if (values[2] && ok && row.area <= 0) {
            diag(b->r->d, BAD_QUANTITY, values[2]->where, "the area of %s must be larger than nothing",
                 text_string(&entry));
            ok = false;
        }
        uint32_t port = values[0] && v->n_ports ? valve_read_port(b, values[0], "`port`") : NONE;
        v->ends[v->n_ends++] = (struct end){port, row.pushes ? 1 : -1, row.area, item->where};
        all = all && ok && port != NONE;
    }
    text_release(&entry);
    return all;
}

static bool read_spool(struct valve_reading *b)
{
    static const struct key keys[] = {
        PART_KEYS,
        {"kind", KEY_NODE, true, 0, 0, NULL},
        {"ports", KEY_NODE, true, 0, 0, NULL},
        {"rest", KEY_NODE, false, 0, 0, NULL},
        {"stroked", KEY_NODE, false, 0, 0, NULL},
        {"window_diameter", KEY_QUANTITY, false, offsetof(struct valve, window_diameter), DIM_LENGTH, NULL},
        {"ends", KEY_NODE, false, 0, 0, NULL},
        VALVE_SPRING_KEYS,
        {"plug", KEY_NODE, false, 0, 0, NULL},
        {"along", KEY_NODE, false, 0, 0, NULL},
        {"clearance", KEY_NODE, false, 0, 0, NULL},
        {"lap", KEY_NODE, false, 0, 0, NULL},
    };
    struct valve *v = b->v;
    const struct node *values[N_OF(keys)] = {0};
    bool ok = read_keys(b->r, b->map, b->entry, VALVES_FORM, keys, N_OF(keys), v, values);
    ok = read_ports(b, valve_node(keys, N_OF(keys), values, "ports")) && ok;
    v->positions = arena_rows(b->r->arena, 2, sizeof *v->positions);
    v->n_positions = 2;
    bool any = false;
    for (uint32_t i = SPOOL_REST; i <= SPOOL_STROKED; i++) {
        struct position *p = &v->positions[i];
        p->name = i == SPOOL_REST ? "rest" : "stroked";
        p->where = b->key->where;
        const struct node *windows = valve_node(keys, N_OF(keys), values, p->name);
        if (!windows)
            continue;
        any = true;
        p->where = windows->where;
        ok = (!v->n_ports || read_windows(b, windows, p)) && ok;
    }
    if (!any) {
        diag(b->r->d, MISSING_KEY, b->key->where, "%s has neither `rest` nor `stroked`", b->entry);
        diag_help(b->r->d, "write the windows open in each: " WINDOWS_FORM);
        ok = false;
    }
    ok = read_ends(b, valve_node(keys, N_OF(keys), values, "ends")) && ok;
    struct spring spring = {0};
    const struct node *node = valve_node(keys, N_OF(keys), values, "spring");
    if (node)
        ok = read_spring(b->r, node, b->entry, &spring) && ok;
    v->has_spring = spring.has;
    v->preload = spring.preload;
    v->rate = spring.rate;
    ok = valve_read_plug(b, valve_node(keys, N_OF(keys), values, "plug"), true) && ok;
    ok = valve_read_along(b, valve_node(keys, N_OF(keys), values, "along")) && ok;
    ok = valve_read_clearance(b, valve_node(keys, N_OF(keys), values, "clearance")) && ok;
    node = valve_node(keys, N_OF(keys), values, "lap");
    if (node && valve_read_share(b->r, node, "`lap`", 1, &v->lap) && v->lap >= 1) {
        diag(b->r->d, BAD_QUANTITY, node->where, "`lap` is a share of the travel below 1");
        ok = false;
    }
    return ok;
}

static bool read_valve(struct reader *r, const struct node *key, struct valve *v)
{
    static bool (*const reads[])(struct valve_reading *) = {
        [VALVE_MANUAL] = read_manual,         [VALVE_SPOOL] = read_spool,   [VALVE_LIMITING] = read_limiting,
        [VALVE_REGULATING] = read_regulating, [VALVE_RELIEF] = read_relief,
    };
    struct valve_reading b = {r, key, key->next, entry_name(r, "valve", key), v, NULL, true, false};
    v->window_diameter = v->area = v->travel = v->preload = v->rate = v->limit = v->base = v->at_most = v->cracks_at =
        NAN;
    v->bore = v->gap = v->land = NAN;
    v->plug = PLUG_NONE;
    v->supply = v->outlet = v->reaction = v->exhaust = NONE;
    v->source.i = NONE;
    if (!read_shape(r, b.map, NODE_MAP, b.entry, VALVES_FORM))
        return false;
    if (v->kind == VALVE_UNREAD) {
        const struct node *kind = tree_get(b.map, "kind", NULL);
        unsigned word;
        if (kind)
            return read_word(r, kind, "`kind`", kind_words, &word);
        diag(r->d, MISSING_KEY, key->where, "%s has no `kind`", b.entry);
        diag_help(r->d, "add `kind:` manual, spool, limiting, regulating or relief");
        return false;
    }
    return reads[v->kind](&b);
}

bool read_valves(struct reader *r, const struct node *section)
{
    if (!read_section_map(r, section, "valves", VALVES_FORM, true))
        return false;
    bool ok = true;
    uint32_t row = 0;
    for (const struct node *key = section->first; key; key = key->next->next, row++)
        ok = read_valve(r, key, &r->m->valves[row]) && ok;
    return ok;
}
