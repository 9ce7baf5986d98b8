/* A model from its file: the order of the sections, and those that are a few lines each. */
#include "model/read.h"
#include "base/mem.h"
#include "model/stack.h"
#include <math.h>
#include <string.h>

typedef bool section_reader(struct reader *r, const struct node *section);

static section_reader read_fluid, read_leakdown, read_layout, read_strengths, read_accept, read_costs;

/* In the order of both passes: what is read later may look at what was read before, not the other way round. */
static const struct {
    const char *key;
    bool is_map; /* what is no mapping was reported by `define` and is not read */
    section_reader *define, *read;
} sections[N_SECTIONS] = {
    [SECTION_LAYERS] = {"layers", false, define_layers, read_layers},
    [SECTION_CIRCUITS] = {"circuits", true, define_circuits, read_circuits},
    [SECTION_PASSAGES] = {"passages", true, NULL, NULL},    /* with those of circuits' lists */
    [SECTION_JOINTS] = {"joints", true, NULL, read_joints}, /* joints and screens share a table */
    [SECTION_SCREENS] = {"screens", true, NULL, read_screens},
    [SECTION_HOLES] = {"holes", true, define_holes, read_holes},
    [SECTION_BALLS] = {"check_balls", true, define_balls, read_balls},
    [SECTION_VALVES] = {"valves", true, define_valves, read_valves},
    [SECTION_SOLENOIDS] = {"solenoids", true, define_solenoids, read_solenoids},
    [SECTION_ACTUATORS] = {"actuators", true, define_actuators, read_actuators},
    [SECTION_FEEDS] = {"feeds", true, define_feeds, read_feeds},
    [SECTION_TAPS] = {"taps", true, define_taps, read_taps},
    [SECTION_SWITCHES] = {"switches", true, define_switches, read_switches},
    [SECTION_GEARS] = {"gears", true, define_gears, read_gears},
    [SECTION_CLASH] = {"clash", false, NULL, read_clash},
    [SECTION_DEFAULTS] = {"defaults", true, NULL, NULL}, /* read with the states */
    [SECTION_FLUID] = {"fluid", false, NULL, read_fluid},
    [SECTION_LEAKDOWN] = {"leakdown", false, NULL, read_leakdown},
    [SECTION_LAYOUT] = {"layout", false, NULL, read_layout},
    [SECTION_STRENGTHS] = {"strengths", false, NULL, read_strengths},
    [SECTION_ACCEPT] = {"accept", false, NULL, read_accept},
    [SECTION_COSTS] = {"costs", false, NULL, read_costs},
    [SECTION_STATES] = {"states", true, define_states, read_states},
    [SECTION_SYMPTOMS] = {"symptoms", true, define_symptoms, read_symptoms},
};

const char *section_key(enum section section)
{
    return sections[section].key;
}

/* Finds the sections among the keys of the top level. */
static void find_sections(struct reader *r)
{
    static const char *const heads[] = {"feedtrace", "model", "title", "note", "units", "extends", "change", "stack"};
    const char *known[N_OF(heads) + N_SECTIONS + 1];
    for (size_t i = 0; i < N_OF(heads); i++)
        known[i] = heads[i];
    for (size_t i = 0; i < N_SECTIONS; i++)
        known[N_OF(heads) + i] = sections[i].key;
    known[N_OF(known) - 1] = NULL;
    for (const struct node *key = r->root->first; key; key = key->next->next) {
        size_t i = 0;
        while (known[i] && strcmp(known[i], key->text))
            i++;
        if (!known[i]) {
            diag(r->d, UNKNOWN_KEY, key->where, "a model has no key `%s`", shown(key).text);
            help_words(r, key->text, known);
        } else if (i >= N_OF(heads) && !key->next->plain_null) {
            r->section[i - N_OF(heads)] = key->next;
        }
    }
}

/* A generic automatic-transmission fluid. */
static const struct fluid generic_fluid = {
    .density = 850, .t = {313.15, 373.15}, .nu = {34e-6, 7.2e-6}, .temperature = 353.15};
#define LEAKDOWN_DEFAULT 1e-16 /* m3/s per Pa: a tie-break, not a model of leakage */

static bool read_viscosity(struct reader *r, const struct node *node, struct fluid *f)
{
    static const char form[] = "viscosity: {40 degC: 34 cSt, 100 degC: 7.2 cSt}";
    if (!read_shape(r, node, NODE_MAP, "`viscosity`", form))
        return false;
    if (node->n_children != 4) {
        diag(r->d, WRONG_SHAPE, node->where, "`viscosity` must give two points");
        diag_help(r->d, "%s", form);
        return false;
    }
    bool fine = true;
    int i = 0;
    for (const struct node *key = node->first; key; key = key->next->next, i++) {
        fine = read_signed(r, key, "a temperature of `viscosity`", DIM_TEMPERATURE, &f->t[i]) && fine;
        fine = read_quantity(r, key->next, "a value of `viscosity`", DIM_VISCOSITY, &f->nu[i]) && fine;
    }
    if (fine && (f->t[0] == f->t[1] || f->nu[0] == f->nu[1] || !(f->nu[0] > 0) || !(f->nu[1] > 0) ||
                 (f->t[0] < f->t[1]) != (f->nu[0] > f->nu[1]))) {
        diag(r->d, BAD_QUANTITY, node->where, "the two points of `viscosity` make no line that falls with temperature");
        diag_help(r->d, "%s", form);
        return false;
    }
    return fine;
}

static bool read_fluid(struct reader *r, const struct node *section)
{
    static const struct key keys[] = {
        {"density", KEY_QUANTITY, false, offsetof(struct fluid, density), DIM_DENSITY, NULL},
        {"viscosity", KEY_NODE, false, 0, 0, NULL},
        {"temperature", KEY_SIGNED, false, offsetof(struct fluid, temperature), DIM_TEMPERATURE, NULL},
    };
    const struct node *values[N_OF(keys)];
    struct fluid *f = &r->m->fluid;
    bool fine = read_keys(r, section, "`fluid`", "fluid: {density: 850 kg/m3, temperature: 80 degC}", keys, N_OF(keys),
                          f, values);
    if (values[0] && fine && !(f->density > 0)) {
        diag(r->d, BAD_QUANTITY, values[0]->where, "`density` must be more than 0");
        fine = false;
    }
    return (!values[1] || read_viscosity(r, values[1], f)) && fine;
}

static bool read_leakdown(struct reader *r, const struct node *section)
{
    return read_quantity(r, section, "`leakdown` (m3/s per Pa)", DIM_NUMBER, &r->m->leakdown);
}

static bool read_layout(struct reader *r, const struct node *section)
{
    static const struct key keys[] = {
        {"seen_from", KEY_NODE, false, 0, 0, NULL},
        {"land", KEY_QUANTITY, false, offsetof(struct model, land), DIM_LENGTH, NULL},
        {"fit", KEY_QUANTITY, false, offsetof(struct model, fit), DIM_LENGTH, NULL},
    };
    const struct node *values[N_OF(keys)];
    r->m->has_layout = true;
    bool fine = read_keys(r, section, "`layout`", "layout: {seen_from: body, land: 1.5 mm, fit: 0.3 mm}", keys,
                          N_OF(keys), r->m, values);
    if (!values[0])
        return fine;
    uint32_t row = read_ref(r, values[0], NAME_LAYER, "`seen_from` of `layout`");
    if (row == NONE)
        return false;
    const struct layer *layer = &r->m->layers[row];
    r->m->seen_from = layer->part.id;
    if (layer->kind == LAYER_CASTING)
        return fine;
    diag(r->d, WRONG_KIND, values[0]->where, "`seen_from` must be a casting, but `%s` is a plate", layer->part.id);
    diag_second(r->d, layer->part.where, "defined here");
    return false;
}

/* Another way to give `strength:` to elements that can have one. */
static bool read_strengths(struct reader *r, const struct node *section)
{
    static const char form[] = "strengths: {H01: main}";
    if (!read_shape(r, section, NODE_MAP, "`strengths`", form))
        return false;
    struct model *m = r->m;
    bool all = true;
    for (const struct node *key = section->first; key; key = key->next->next) {
        unsigned strength;
        bool *given = NULL;
        enum strength *to = NULL;
        struct name name = names_find(m, SPACE_PARTS, key->text, key->n_text);
        if (name.kind == NAME_HOLE) {
            given = &m->holes[name.row].strength_given;
            to = &m->holes[name.row].strength;
        } else if (name.kind == NAME_JOINT) {
            given = &m->joints[name.row].strength_given;
            to = &m->joints[name.row].strength;
        } else if (name.kind == NAME_SOLENOID) {
            given = &m->solenoids[name.row].strength_given;
            to = &m->solenoids[name.row].strength;
        } else if (name.kind == NAME_NONE) {
            all = read_ref(r, key, NAME_HOLE, "a key of `strengths`") != NONE && all;
            continue;
        } else {
            diag(r->d, WRONG_KIND, key->where, "%s has no strength", name_kind_a(name.kind));
            diag_help(r->d, "name a plate hole, a joint, a screen or a solenoid");
            all = false;
            continue;
        }
        if (!read_word(r, key->next, "a strength", strength_words, &strength)) {
            all = false;
        } else if (*given) {
            diag(r->d, WRONG_VALUE, key->where, "the strength of `%s` is given twice", key->text);
            diag_second(r->d, part_of(m, name.kind, name.row)->where, "its entry has `strength:` too");
            all = false;
        } else if (name.kind == NAME_JOINT && isnan(m->joints[name.row].diameter)) {
            diag(r->d, MISSING_KEY, key->where, "`%s` has a strength but no diameter", key->text);
            diag_help(r->d, "without a diameter its two passages are one; give its entry a `diameter:`");
            all = false;
        } else {
            *given = true;
            *to = (enum strength)strength;
        }
    }
    return all;
}

static bool read_accept(struct reader *r, const struct node *section)
{
    static const char form[] = "accept: [{code: may-exceed, at: supply, why: \"by design\"}]";
    static const struct key keys[] = {
        {"code", KEY_NODE, true, 0, 0, NULL},
        {"at", KEY_TEXT, true, offsetof(struct accept, at), 0, NULL},
        {"why", KEY_TEXT, true, offsetof(struct accept, why), 0, NULL},
    };
    if (!read_shape(r, section, NODE_LIST, "`accept`", form))
        return false;
    struct model *m = r->m;
    m->accepts = arena_rows(r->arena, section->n_children, sizeof *m->accepts);
    bool all = true;
    for (const struct node *item = section->first; item; item = item->next) {
        struct accept *a = &m->accepts[m->n_accepts++];
        const struct node *values[N_OF(keys)];
        a->where = item->where;
        bool fine = read_keys(r, item, "an entry of `accept`", form, keys, N_OF(keys), a, values);
        const char *code;
        all = fine && all;
        if (!values[0] || !read_text(r, values[0], "`code` of `accept`", &code))
            continue;
        a->code = code_find(code);
        if (a->code != N_CODES && code_row(a->code)->kind == CODE_FINDING)
            continue;
        const char *known[N_CODES + 1];
        size_t n = 0;
        for (int c = 0; c < N_CODES; c++)
            if (code_row((enum code)c)->kind == CODE_FINDING)
                known[n++] = code_row((enum code)c)->id;
        known[n] = NULL;
        diag(r->d, WRONG_VALUE, values[0]->where, "`%s` is no finding", shown(values[0]).text);
        help_words(r, code, known);
        all = false;
    }
    return all;
}

static bool read_costs(struct reader *r, const struct node *section)
{
    static const char *const tests[] = {"switch", "gauge", "road", "apart", "air", "vacuum", "look", NULL};
    if (!read_shape(r, section, NODE_MAP, "`costs`", "costs: {gauge: 1, look: 5}"))
        return false;
    struct model *m = r->m;
    m->costs = arena_rows(r->arena, section->n_children / 2, sizeof *m->costs);
    bool all = true;
    for (const struct node *key = section->first; key; key = key->next->next) {
        struct cost *c = &m->costs[m->n_costs++];
        *c = (struct cost){.what = key->text, .where = key->where};
        all = read_quantity(r, key->next, "a cost", DIM_NUMBER, &c->cost) && all;
        bool known = names_find(m, SPACE_PARTS, key->text, key->n_text).kind != NAME_NONE;
        for (size_t i = 0; tests[i]; i++)
            known = known || !strcmp(tests[i], key->text);
        if (known)
            continue;
        say_unknown(r, key, "`costs`", "kind of test or part");
        help_words(r, key->text, tests);
        all = false;
    }
    return all;
}

static void read_sections(struct reader *r)
{
    rows_make(r->m, NAME_LAYER, 0);
    if (r->section[SECTION_LAYERS])
        define_layers(r, r->section[SECTION_LAYERS]);
    if (r->section[SECTION_CIRCUITS])
        define_circuits(r, r->section[SECTION_CIRCUITS]);
    define_passages(r);
    define_joints(r);
    for (int i = SECTION_HOLES; i < N_SECTIONS; i++)
        if (r->section[i] && sections[i].define)
            sections[i].define(r, r->section[i]);
    for (int i = 0; i < N_SECTIONS; i++) {
        if (i == SECTION_PASSAGES)
            read_passages(r);
        if (r->section[i] && sections[i].read && (!sections[i].is_map || r->section[i]->kind == NODE_MAP))
            sections[i].read(r, r->section[i]);
    }
    check_sources(r);
}

void read_tables(struct reader *r)
{
    find_sections(r);
    read_sections(r);
}

static struct model *model_new(void)
{
    struct model *m = mem_zero(1, sizeof *m);
    arena_init(&m->arena);
    m->names = arena_alloc(&m->arena, sizeof *m->names);
    m->fluid = generic_fluid;
    m->leakdown = LEAKDOWN_DEFAULT;
    m->land = m->fit = NAN;
    return m;
}

struct reader *reader_new(const struct reader *shared)
{
    struct reader *r = mem_zero(1, sizeof *r);
    *r = (struct reader){
        .m = model_new(), .arena = shared->arena, .files = shared->files, .d = shared->d, .units = shared->units};
    arena_init(&r->scratch);
    return r;
}

void reader_release(struct reader *r)
{
    arena_release(&r->scratch);
    model_free(r->m);
    mem_free(r);
}

struct model *model_read(const char *path, struct sources *files, struct diags *d)
{
    struct model *m = model_new();
    struct reader *r = mem_zero(1, sizeof *r);
    struct units *units = mem_alloc(SOURCE_FILES_MAX * sizeof *units);
    size_t errors = d->n_errors;
    uint32_t n_nodes = 0;
    for (size_t i = 0; i < SOURCE_FILES_MAX; i++)
        units[i] = units_default();
    *r = (struct reader){.m = m, .arena = &m->arena, .files = files, .d = d, .units = units};
    arena_init(&r->scratch);
    if (read_files(r, path, NO_SPAN, false, &n_nodes) >= 0)
        read_tables(r);
    stack_release(r->stack);
    arena_release(&r->scratch);
    mem_free(units);
    mem_free(r);
    bool fine = d->n_errors == errors;
    diags_sort(d);
    if (fine)
        return m;
    model_free(m);
    return NULL;
}

void model_free(struct model *m)
{
    if (!m)
        return;
    names_release(m->names);
    arena_release(&m->arena);
    mem_free(m);
}
