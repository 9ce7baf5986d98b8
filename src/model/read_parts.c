/* Layers, circuits and passages: what oil lies in. */
#include "base/mem.h"
#include "model/read.h"
#include <math.h>
#include <string.h>

static const char layers_form[] = "layers: [{id: case, kind: casting}, {id: plate, kind: plate}]";
static const char circuits_form[] = "circuits: {line: {title: Line, fed_by: [line]}}";
static const char passages_form[] = "passages: {case.line_a: line, case.line_b: {layer: case, circuit: line}}";

/* ---- layers */

bool define_layers(struct reader *r, const struct node *section)
{
    if (!read_shape(r, section, NODE_LIST, "`layers`", layers_form))
        return false;
    rows_make(r->m, NAME_LAYER, section->n_children);
    bool fine = true;
    uint32_t row = 0;
    for (const struct node *item = section->first; item; item = item->next, row++) {
        const struct node *id = tree_get(item, "id", NULL);
        if (id)
            fine = define_name(r, NAME_LAYER, row, id) && fine;
        else
            *part_of(r->m, NAME_LAYER, row) = (struct part){.id = "", .where = item->where};
    }
    return fine;
}

bool read_layers(struct reader *r, const struct node *section)
{
    static const char *const kinds[] = {"casting", "plate", NULL};
    static const struct key keys[] = {
        {"id", KEY_NODE, true, 0, 0, NULL},
        {"kind", KEY_WORD, true, offsetof(struct layer, kind), 0, kinds},
        PART_KEYS,
    };
    if (section->kind != NODE_LIST)
        return false;
    bool fine = true, all = true;
    struct layer *layer = r->m->layers;
    for (const struct node *item = section->first; item; item = item->next, layer++) {
        bool before = fine;
        fine = read_keys(r, item, "a layer", layers_form, keys, N_OF(keys), layer, NULL);
        all = fine && all;
        if (!fine || !before || layer == r->m->layers || layer->kind != LAYER_PLATE || layer[-1].kind != LAYER_PLATE)
            continue;
        diag(r->d, WRONG_VALUE, item->where, "the plate `%s` lies on the plate `%s`", layer->part.id,
             layer[-1].part.id);
        diag_help(r->d, "layers stand in stacking order: a plate lies between two castings, or covers one");
        all = false;
    }
    return all;
}

/* ---- circuits */

bool define_circuits(struct reader *r, const struct node *section)
{
    return define_section(r, section, "circuits", circuits_form, NAME_CIRCUIT);
}

static const struct node *passage_list(const struct node *circuit)
{
    return circuit->kind == NODE_MAP ? tree_get(circuit, "passages", NULL) : NULL;
}

/* Working table of the circuits' inheritance. */
struct heir {
    const struct node *under; /* the value of `under`, or NULL */
    bool has_fed_by;
    uint32_t walk; /* number of the walk that came by; 0: none yet */
};

static bool read_circuit(struct reader *r, const struct node *key, struct circuit *c, struct heir *h)
{
    enum { UNDER, FED_BY, LIMITED_BY, PASSAGES, FLOWS };
    static const struct key keys[] = {
        [UNDER] = {"under", KEY_NODE, false, 0, 0, NULL},
        [FED_BY] = {"fed_by", KEY_NODE, false, 0, 0, NULL},
        [LIMITED_BY] = {"limited_by", KEY_NODE, false, 0, 0, NULL},
        [PASSAGES] = {"passages", KEY_NODE, false, 0, 0, NULL}, /* by define_passages() */
        [FLOWS] = {"flows", KEY_FLAG, false, offsetof(struct circuit, flows), 0, NULL},
        PART_KEYS,
    };
    const struct node *values[N_OF(keys)];
    bool fine = read_keys(r, key->next, entry_name(r, "circuit", key), circuits_form, keys, N_OF(keys), c, values);
    if (values[UNDER]) {
        c->under.i = read_ref(r, values[UNDER], NAME_CIRCUIT, "`under` of a circuit");
        h->under = values[UNDER];
    }
    if (values[FED_BY]) {
        h->has_fed_by = true;
        c->any_feed = false;
        fine = read_refs(r, values[FED_BY], NAME_FEED, false, "`fed_by` of a circuit", "fed_by: [line]",
                         (uint32_t **)&c->fed_by, &c->n_fed_by) &&
               fine;
    }
    if (values[LIMITED_BY]) {
        c->limited_by.i = read_ref(r, values[LIMITED_BY], NAME_VALVE, "`limited_by` of a circuit");
        if (c->limited_by.i != NONE && r->m->valves[c->limited_by.i].kind != VALVE_LIMITING) {
            const struct valve *v = &r->m->valves[c->limited_by.i];
            diag(r->d, WRONG_KIND, values[LIMITED_BY]->where, "`%s` is no limiting valve", v->part.id);
            diag_second(r->d, v->part.where, "defined here");
            fine = false;
        }
    }
    return fine;
}

static void inherit(struct circuit *c, struct heir *h, const struct circuit *from, bool from_has_fed_by)
{
    if (!h->has_fed_by && from_has_fed_by) {
        h->has_fed_by = true;
        c->any_feed = false;
        c->fed_by = from->fed_by;
        c->n_fed_by = from->n_fed_by;
    }
    if (c->limited_by.i == NONE)
        c->limited_by = from->limited_by;
}

/* Follows `under` from each circuit upwards, to one that is complete, and comes back handing down. */
static bool inherit_all(struct reader *r, struct heir *heirs)
{
    struct circuit *circuits = r->m->circuits;
    uint32_t n = r->m->n_circuits, *way = mem_alloc((n + 1) * sizeof *way);
    bool fine = true;
    for (uint32_t i = 0; i < n; i++) {
        uint32_t n_way = 0, at = i;
        while (at != NONE && !heirs[at].walk) {
            heirs[at].walk = i + 1;
            way[n_way++] = at;
            at = circuits[at].under.i;
        }
        if (n_way && at != NONE && heirs[at].walk == i + 1) {
            diag(r->d, CYCLE, heirs[at].under->where, "circuit `%s` is `under` itself", circuits[at].part.id);
            diag_help(r->d, "follow `under` upwards from here: one of the circuits must be under none");
            fine = false;
        }
        while (n_way) {
            uint32_t c = way[--n_way], up = circuits[c].under.i;
            if (up != NONE)
                inherit(&circuits[c], &heirs[c], &circuits[up], heirs[up].has_fed_by);
        }
    }
    mem_free(way);
    return fine;
}

bool read_circuits(struct reader *r, const struct node *section)
{
    struct heir *heirs = arena_rows(&r->scratch, r->m->n_circuits, sizeof *heirs);
    bool fine = true;
    uint32_t row = 0;
    for (const struct node *key = section->first; key; key = key->next->next, row++) {
        struct circuit *c = &r->m->circuits[row];
        c->under = (circuit_ix){NONE};
        c->limited_by = (valve_ix){NONE};
        c->any_feed = true;
        fine = read_circuit(r, key, c, &heirs[row]) && fine;
    }
    return inherit_all(r, heirs) && fine;
}

/* ---- passages */

bool define_passages(struct reader *r)
{
    struct model *m = r->m;
    const struct node *circuits = r->section[SECTION_CIRCUITS], *section = r->section[SECTION_PASSAGES];
    bool fine = !section || read_section_map(r, section, "passages", passages_form, false);
    bool has_section = section && section->kind == NODE_MAP;
    bool listed = circuits && circuits->kind == NODE_MAP;
    uint32_t n = 1 + (has_section ? section->n_children / 2 : 0);
    for (const struct node *key = listed ? circuits->first : NULL; key; key = key->next->next) {
        const struct node *list = passage_list(key->next);
        if (list && read_shape(r, list, NODE_LIST, "`passages` of a circuit", "passages: [case.lube, body.lube]"))
            n += list->n_children;
    }
    rows_make(m, NAME_PASSAGE, n);
    m->passages[0].part.id = "sump";
    m->passages[0].part.title = "Sump";
    m->passages[0].layer = (layer_ix){NONE};
    m->passages[0].circuit = (circuit_ix){NONE};
    m->passages[0].volume = NAN;
    names_add(m, SPACE_PARTS, NAME_PASSAGE, 0);
    uint32_t row = 1, circuit = 0;
    for (const struct node *key = listed ? circuits->first : NULL; key; key = key->next->next, circuit++) {
        const struct node *list = passage_list(key->next);
        if (!list || list->kind != NODE_LIST)
            continue;
        fine = define_names(r, NAME_PASSAGE, row, list->first, false) && fine;
        for (uint32_t i = 0; i < list->n_children; i++)
            m->passages[row++].circuit.i = circuit;
    }
    if (has_section)
        fine = define_names(r, NAME_PASSAGE, row, section->first, true) && fine;
    for (; row < n; row++)
        m->passages[row].circuit.i = NONE;
    return fine;
}

/* The layer with which the ID begins: up to one of its dots. */
static uint32_t layer_of_id(const struct model *m, const char *id, size_t n)
{
    while (n--)
        if (id[n] == '.') {
            struct name layer = names_find(m, SPACE_LAYERS, id, n);
            if (layer.kind == NAME_LAYER)
                return layer.row;
        }
    return NONE;
}

static bool layer_from_id(struct reader *r, struct passage *p)
{
    p->layer.i = layer_of_id(r->m, p->part.id, strlen(p->part.id));
    if (p->layer.i != NONE || !*p->part.id)
        return p->layer.i != NONE;
    if (!r->m->n_layers) { /* once, not at each passage */
        if (p == &r->m->passages[SUMP.i + 1]) {
            diag(r->d, UNKNOWN_NAME, p->part.where,
                 "the passage `%.60s`, like all others, lies in no layer: there are none", p->part.id);
            diag_help(r->d, "add `layers: [{id: case, kind: casting}, ...]`");
        }
        return false;
    }
    diag(r->d, UNKNOWN_NAME, p->part.where, "the passage `%.60s` begins with no layer's name", p->part.id);
    const char *dot = strchr(p->part.id, '.');
    const char *near = dot ? names_nearest(r->m, SPACE_LAYERS, NAME_LAYER,
                                           arena_text(&r->scratch, p->part.id, (size_t)(dot - p->part.id)))
                           : NULL;
    if (near)
        diag_help(r->d, "did you mean `%s%.60s`?", near, dot);
    else
        diag_help(r->d, "write LAYER.NAME, or give its layer: `%.60s: {layer: LAYER, circuit: CIRCUIT}`", p->part.id);
    return false;
}

static bool layer_is_casting(struct reader *r, const struct passage *p, struct span where)
{
    const struct layer *layer = &r->m->layers[p->layer.i];
    if (layer->kind == LAYER_CASTING)
        return true;
    diag(r->d, WRONG_KIND, where, "passage `%.60s` lies in a casting, but `%.60s` is a plate", p->part.id,
         layer->part.id);
    diag_second(r->d, layer->part.where, "defined here");
    return false;
}

static bool read_passage_long(struct reader *r, const struct node *key, struct passage *p)
{
    enum { LAYER, CIRCUIT, OUTLINE };
    static const struct key keys[] = {
        [LAYER] = {"layer", KEY_NODE, false, 0, 0, NULL},
        [CIRCUIT] = {"circuit", KEY_NODE, true, 0, 0, NULL},
        [OUTLINE] = {"outline", KEY_NODE, false, 0, 0, NULL},
        {"volume", KEY_QUANTITY, false, offsetof(struct passage, volume), DIM_VOLUME, NULL},
        PART_KEYS,
    };
    const struct node *values[N_OF(keys)];
    const char *entry = entry_name(r, "passage", key);
    bool fine = read_keys(r, key->next, entry, passages_form, keys, N_OF(keys), p, values);
    if (values[CIRCUIT])
        p->circuit.i = read_ref(r, values[CIRCUIT], NAME_CIRCUIT, "`circuit` of a passage");
    if (values[LAYER]) {
        p->layer.i = read_ref(r, values[LAYER], NAME_LAYER, "`layer` of a passage");
        fine = p->layer.i != NONE && layer_is_casting(r, p, values[LAYER]->where) && fine;
    } else {
        fine = key->next->kind == NODE_MAP && layer_from_id(r, p) && layer_is_casting(r, p, key->where) && fine;
    }
    if (values[OUTLINE])
        fine = read_outline(r, values[OUTLINE], entry, &p->outline) && fine;
    return fine;
}

/* Gives each circuit the list of its passages. */
static void list_passages(struct model *m)
{
    for (uint32_t i = 1; i < m->n_passages; i++)
        if (m->passages[i].circuit.i != NONE)
            m->circuits[m->passages[i].circuit.i].n_passages++;
    for (uint32_t i = 0; i < m->n_circuits; i++) {
        struct circuit *c = &m->circuits[i];
        c->passages = arena_rows(&m->arena, c->n_passages, sizeof *c->passages);
        c->n_passages = 0;
    }
    for (uint32_t i = 1; i < m->n_passages; i++)
        if (m->passages[i].circuit.i != NONE) {
            struct circuit *c = &m->circuits[m->passages[i].circuit.i];
            c->passages[c->n_passages++] = (passage_ix){i};
        }
}

bool read_passages(struct reader *r)
{
    struct model *m = r->m;
    const struct node *section = r->section[SECTION_PASSAGES];
    bool fine = true;
    uint32_t row = 1;
    for (; row < m->n_passages && m->passages[row].circuit.i != NONE; row++) { /* those of circuits' lists */
        struct passage *p = &m->passages[row];
        p->volume = NAN;
        fine = layer_from_id(r, p) && layer_is_casting(r, p, p->part.where) && fine;
    }
    for (const struct node *key = section && section->kind == NODE_MAP ? section->first : NULL; key;
         key = key->next->next, row++) {
        struct passage *p = &m->passages[row];
        p->volume = NAN;
        if (key->next->kind == NODE_SCALAR && !key->next->plain_null) {
            p->circuit.i = read_ref(r, key->next, NAME_CIRCUIT, "the circuit of a passage");
            fine = layer_from_id(r, p) && layer_is_casting(r, p, p->part.where) && p->circuit.i != NONE && fine;
        } else {
            fine = read_passage_long(r, key, p) && fine;
        }
    }
    list_passages(m);
    return fine;
}
