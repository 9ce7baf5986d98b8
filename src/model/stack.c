/* A stack's members: which models, which layers of them, all read whole. */
#include "model/stack.h"
#include "base/mem.h"
#include <string.h>

static const char stack_form[] = "stack: {case: a.yaml, plate: b.yaml, body: a.yaml, rest: a.yaml}";
static const char rest[] = "rest";

/* The member that the node names, read when it is met first; NONE when there is nothing to use. */
static uint32_t member_take(struct stack *s, int file, const struct node *node, uint32_t *n_nodes)
{
    struct reader *r = s->reader;
    const char *path;
    if (!read_text(r, node, "a model of `stack`", &path) || !path_is_relative(r, node, "a model of `stack`", path))
        return NONE;
    for (uint32_t i = 0; i < s->n_members; i++)
        if (!strcmp(s->members[i].name, path))
            return s->members[i].reader->root ? i : NONE;
    if (s->n_members == SOURCE_FILES_MAX) {
        if (!s->too_many)
            diag(r->d, TOO_LARGE, node->where, "a stack takes parts from no more than %d models", SOURCE_FILES_MAX);
        s->too_many = true;
        return NONE;
    }
    struct member m = {.name = path, .reader = reader_new(r)};
    size_t errors = r->d->n_errors;
    char *name = joined_path(r->files->files[file].name, path);
    m.file = read_files(m.reader, name, node->where, true, n_nodes);
    mem_free(name);
    for (uint32_t i = 0; m.file >= 0 && i < s->n_members; i++)
        if (s->members[i].file == m.file) { /* another path to the same file */
            reader_release(m.reader);
            return s->members[i].reader->root ? i : NONE;
        }
    if (m.file >= 0)
        read_tables(m.reader);
    if (r->d->n_errors != errors)
        m.reader->root = NULL;
    MEM_GROW(s->members, s->n_members, s->cap_members);
    s->members[s->n_members++] = m;
    return m.reader->root ? (uint32_t)s->n_members - 1 : NONE;
}

/* Tells each member which entry of the stack each of its layers has. */
static void entries_find(struct stack *s)
{
    for (size_t k = 0; k < s->n_members; k++) {
        struct member *member = &s->members[k];
        const struct model *m = member->reader->m;
        member->owned = mem_zero((size_t)m->n_layers + 1, sizeof *member->owned);
        member->entry = mem_alloc(((size_t)m->n_layers + 1) * sizeof *member->entry);
        for (uint32_t i = 0; i < m->n_layers; i++)
            member->entry[i] = NONE;
        for (uint32_t i = 0; i < s->n_layers; i++) {
            const struct node *key = s->layers[i].key;
            struct name layer = names_find(m, SPACE_LAYERS, key->text, key->n_text);
            if (layer.kind == NAME_LAYER)
                member->entry[layer.row] = i;
        }
    }
    for (size_t i = 0; i < s->n_layers; i++)
        s->members[s->layers[i].member].owned[s->layers[i].row] = true;
}

/* The layer of an entry of the stack in its member's model. */
static bool layer_take(struct stack *s, const struct node *key, uint32_t member)
{
    const struct model *m = s->members[member].reader->m;
    struct name layer = names_find(m, SPACE_LAYERS, key->text, key->n_text);
    if (layer.kind == NAME_LAYER) {
        MEM_GROW(s->layers, s->n_layers, s->cap_layers);
        s->layers[s->n_layers++] = (struct stack_layer){key, member, layer.row};
        return true;
    }
    struct reader *r = s->reader;
    diag(r->d, UNKNOWN_NAME, key->where, "%s has no layer `%s`", s->members[member].name, shown(key).text);
    const char *near = names_nearest(m, SPACE_LAYERS, NAME_LAYER, key->text);
    if (near)
        diag_help(r->d, "did you mean `%s`?", near);
    else
        diag_help(r->d, "the keys of `stack` are layers, and `rest`");
    return false;
}

/* All layers of `rest` must be there, in its order. */
static bool layers_fine(struct stack *s)
{
    struct reader *r = s->reader;
    const struct member *from = &s->members[s->rest];
    const struct model *m = from->reader->m;
    const struct node *last = NULL;
    uint32_t last_at = 0;
    bool fine = true;
    for (uint32_t i = 0; i < m->n_layers; i++) {
        uint32_t at = from->entry[i];
        if (at == NONE) {
            diag(r->d, MISSING_KEY, s->key->where, "the stack does not say which model its layer `%.60s` is from",
                 m->layers[i].part.id);
            diag_second(r->d, m->layers[i].part.where, "%s has it", from->name);
            diag_help(r->d, "%.60s: %s", m->layers[i].part.id, from->name);
            fine = false;
            continue;
        }
        const struct node *key = s->layers[at].key;
        if (last && at < last_at) {
            diag(r->d, WRONG_VALUE, key->where, "the layer `%s` stands above `%s`", shown(key).text, shown(last).text);
            diag_second(r->d, m->layers[i].part.where, "in %s it stands below", from->name);
            diag_help(r->d, "a stack names its layers in stacking order");
            fine = false;
        }
        last = key;
        last_at = at;
    }
    return fine;
}

struct node *stack_read(struct reader *r, int file, const struct node *key, struct units *units,
                        struct removals *removals, uint32_t *n_nodes)
{
    const struct node *map = key->next;
    struct stack *s = r->stack = mem_zero(1, sizeof *s);
    *s = (struct stack){.reader = r, .key = key, .rest = NONE};
    if (!read_shape(r, map, NODE_MAP, "`stack`", stack_form))
        return NULL;
    bool fine = true, has_rest = false;
    for (const struct node *k = map->first; k; k = k->next->next) {
        bool is_rest = !strcmp(k->text, rest);
        uint32_t member = member_take(s, file, k->next, n_nodes);
        has_rest = has_rest || is_rest;
        if (member == NONE)
            fine = false;
        else if (is_rest)
            s->rest = member;
        else
            fine = layer_take(s, k, member) && fine;
    }
    if (!has_rest) {
        diag(r->d, MISSING_KEY, key->where, "`stack` needs `rest`");
        diag_help(r->d, "rest: a.yaml (the model that gives circuits, feeds, devices, gears and states)");
        return NULL;
    }
    if (!fine)
        return NULL;
    entries_find(s);
    if (!layers_fine(s))
        return NULL;
    *units = s->members[s->rest].reader->m->units;
    return stack_join(s, removals);
}

void stack_release(struct stack *s)
{
    if (!s)
        return;
    for (size_t i = 0; i < s->n_members; i++) {
        mem_free(s->members[i].owned);
        mem_free(s->members[i].entry);
        for (int kind = 0; kind < N_NAME_KINDS; kind++)
            mem_free(s->members[i].taken[kind]);
        reader_release(s->members[i].reader);
    }
    mem_free(s->members);
    mem_free(s->layers);
    mem_free(s);
}
