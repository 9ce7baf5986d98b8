/* The files of a model: the one that was asked for, what it extends, and the changes merged from the base upwards. */
#include "base/mem.h"
#include "base/text.h"
#include "model/stack.h"
#include <string.h>

#define EXTENDS_DEPTH_MAX 32 /* variants of variants */

struct chain { /* [0] is the file that was asked for, the last one is the base */
    int file[EXTENDS_DEPTH_MAX + 1];
    struct node *root[EXTENDS_DEPTH_MAX + 1];
    uint32_t n;
};

/* Keys of the top level beside the sections. */
enum head {
    HEAD_FEEDTRACE,
    HEAD_MODEL,
    HEAD_TITLE,
    HEAD_NOTE,
    HEAD_UNITS,
    HEAD_EXTENDS,
    HEAD_CHANGE,
    HEAD_STACK,
    N_HEADS
};
static const char *const heads[N_HEADS] = {"feedtrace", "model",   "title",  "note",
                                           "units",     "extends", "change", "stack"};

static bool is_head(const char *key)
{
    for (int i = 0; i < N_HEADS; i++)
        if (!strcmp(heads[i], key))
            return true;
    return false;
}

/* A first key and a version that this program reads. */
static bool head_fine(struct reader *r, const struct node *root)
{
    if (root->kind != NODE_MAP || !root->first || strcmp(root->first->text, heads[HEAD_FEEDTRACE])) {
        struct span where = root->kind == NODE_MAP && root->first ? root->first->where : root->where;
        diag(r->d, NOT_A_MODEL, where, "the first key is not `feedtrace`");
        diag_help(r->d, "a model begins with `feedtrace: 1`");
        return false;
    }
    const struct node *version = root->first->next;
    if (version->kind == NODE_SCALAR && !strcmp(version->text, "1"))
        return true;
    diag(r->d, UNKNOWN_VERSION, version->where, "format version `%s` is not one that this program reads",
         shown(version).text);
    diag_help(r->d, "write `feedtrace: 1`");
    return false;
}

/* The keys of a variant: none but the head's. */
static void check_variant(struct reader *r, const struct node *root)
{
    for (const struct node *key = root->first; key; key = key->next->next) {
        if (is_head(key->text))
            continue;
        diag(r->d, UNKNOWN_KEY, key->where, "`%s` cannot stand beside `extends`", shown(key).text);
        diag_help(r->d, "put it under `change:`");
    }
    if (!tree_get(root, heads[HEAD_CHANGE], NULL) && !tree_get(root, heads[HEAD_STACK], NULL))
        return;
    const struct node *change = tree_get(root, heads[HEAD_CHANGE], NULL);
    if (!change || change->kind != NODE_MAP)
        return;
    for (const struct node *key = change->first; key; key = key->next->next)
        if (is_head(key->text)) {
            diag(r->d, UNKNOWN_KEY, key->where, "`%s` cannot stand under `change`", key->text);
            diag_help(r->d, "put it beside `extends`, or remove it");
        }
}

char *joined_path(const char *from, const char *path)
{
    const char *slash = strrchr(from, '/');
    struct text t = {0};
    if (slash)
        text_add_bytes(&t, from, (size_t)(slash - from) + 1);
    text_add(&t, path);
    char *joined = mem_copy_text(text_string(&t));
    text_release(&t);
    return joined;
}

bool path_is_relative(struct reader *r, const struct node *node, const char *entry, const char *path)
{
    if (*path != '/')
        return true;
    diag(r->d, WRONG_VALUE, node->where, "%s must be a relative path", entry);
    diag_help(r->d, "write the path from this file's folder: `../base.yaml`");
    return false;
}

/* A file that is read again, as a base of one member of a stack and as another member, keeps its first row: what is
 * wrong in it is then told once. */
static int first_reading(const struct sources *files, int file)
{
    int first = 0;
    while (files->files[first].device != files->files[file].device ||
           files->files[first].inode != files->files[file].inode)
        first++;
    return first;
}

/* Reads one more file of the chain. */
static bool chain_add(struct reader *r, struct chain *c, const char *name, struct span from, uint32_t *n_nodes)
{
    if (c->n > EXTENDS_DEPTH_MAX) {
        diag(r->d, TOO_LARGE, from, "`extends` goes deeper than %d files", EXTENDS_DEPTH_MAX);
        return false;
    }
    int file = sources_read(r->files, name, from, r->d);
    if (file < 0)
        return false;
    file = first_reading(r->files, file);
    const struct source *f = &r->files->files[file];
    for (uint32_t i = 0; i < c->n; i++) {
        const struct source *other = &r->files->files[c->file[i]];
        if (other->device == f->device && other->inode == f->inode) {
            diag(r->d, CYCLE, from, "`extends` leads back to %s, which is being read already", other->name);
            diag_help(r->d, "let one of the files extend another one, or none");
            return false;
        }
    }
    struct node *root = tree_read(r->files, file, (struct tree_arenas){&r->scratch, r->arena}, n_nodes, r->d);
    if (!root || !head_fine(r, root))
        return false;
    c->file[c->n] = file;
    c->root[c->n++] = root;
    return true;
}

/* A stack has no base, and holds no stack. */
static bool stack_fine(struct reader *r, const struct node *root, bool in_stack)
{
    struct node *key;
    if (!tree_get(root, heads[HEAD_STACK], &key))
        return true;
    if (in_stack) {
        diag(r->d, UNKNOWN_KEY, key->where, "a model that a stack takes parts from cannot be a stack itself");
        diag_help(r->d, "take the parts from the models that this stack names");
    } else if (tree_get(root, heads[HEAD_EXTENDS], NULL)) {
        diag(r->d, UNKNOWN_KEY, key->where, "`stack` cannot stand beside `extends`");
        diag_help(r->d, "a variant of a stack is a file of its own, with `extends` and `change`");
    } else {
        return true;
    }
    return false;
}

/* Follows `extends` to the base. */
static bool chain_read(struct reader *r, struct chain *c, const char *path, struct span from, bool in_stack,
                       uint32_t *n_nodes)
{
    if (!chain_add(r, c, path, from, n_nodes))
        return false;
    for (;;) {
        const struct node *root = c->root[c->n - 1];
        const struct node *extends = tree_get(root, heads[HEAD_EXTENDS], NULL);
        if (!stack_fine(r, root, in_stack))
            return false;
        if (!extends)
            return true;
        const char *base;
        if (!read_text(r, extends, "`extends`", &base) || !path_is_relative(r, extends, "`extends`", base))
            return false;
        char *name = joined_path(r->files->files[c->file[c->n - 1]].name, base);
        bool fine = chain_add(r, c, name, extends->where, n_nodes);
        mem_free(name);
        if (!fine)
            return false;
    }
}

void read_units(struct reader *r, const struct node *root, struct units *units)
{
    const struct node *map = tree_get(root, heads[HEAD_UNITS], NULL);
    if (!map || map->plain_null || !read_shape(r, map, NODE_MAP, "`units`", "units: {pressure: psi, length: mm}"))
        return;
    for (const struct node *key = map->first; key; key = key->next->next) {
        enum dimension dim = units_dimension(key->text);
        if (dim == N_DIMENSIONS) {
            diag(r->d, UNKNOWN_KEY, key->where, "`units` has no key `%s`", shown(key).text);
            static const char *const known[] = {"pressure", "length",  "area",      "volume",      "flow",
                                                "force",    "density", "viscosity", "temperature", NULL};
            help_words(r, key->text, known);
        } else if (read_shape(r, key->next, NODE_SCALAR, "a unit", "units: {pressure: psi, length: mm}") &&
                   !units_set(units, dim, key->next->text)) {
            diag(r->d, WRONG_VALUE, key->next->where, "`%s` is no unit of %s", shown(key->next).text, key->text);
            help_words(r, key->next->text, units_of(dim));
        }
    }
}

/* `model`, `title` and `note` of one file, over those of its base. */
static void read_head(struct reader *r, const struct node *root)
{
    struct model *m = r->m;
    struct node *key;
    const struct node *value = tree_get(root, heads[HEAD_MODEL], &key);
    if (value && read_text(r, value, "`model`", &m->id))
        m->where = value->where;
    if ((value = tree_get(root, heads[HEAD_TITLE], NULL)))
        read_text(r, value, "`title`", &m->title);
    if ((value = tree_get(root, heads[HEAD_NOTE], NULL)))
        read_text(r, value, "`note`", &m->note);
}

static void check_base(struct reader *r, const struct node *root)
{
    struct node *key;
    if (!tree_get(root, heads[HEAD_MODEL], NULL)) {
        diag(r->d, MISSING_KEY, root->first->where, "the model has no name");
        diag_help(r->d, "model: ID");
    }
    if (tree_get(root, heads[HEAD_CHANGE], &key)) {
        diag(r->d, MISSING_KEY, key->where, "`change` needs `extends`");
        diag_help(r->d, "extends: base.yaml");
    }
}

/* The keys of a stack: none but the head's. */
static void check_stack(struct reader *r, const struct node *root)
{
    for (const struct node *key = root->first; key; key = key->next->next) {
        if (is_head(key->text))
            continue;
        diag(r->d, UNKNOWN_KEY, key->where, "`%s` cannot stand beside `stack`", shown(key).text);
        diag_help(r->d, "put it into a variant of the stack: a file with `extends` and `change`");
    }
}

int read_files(struct reader *r, const char *path, struct span from, bool in_stack, uint32_t *n_nodes)
{
    struct chain c = {.n = 0};
    r->m->file = arena_text(r->arena, path, strlen(path));
    if (!chain_read(r, &c, path, from, in_stack, n_nodes))
        return -1;
    struct units units = units_default();
    struct removals removals = {0};
    struct node *merged = c.root[c.n - 1], *key, *stack = tree_get(merged, heads[HEAD_STACK], &key);
    if (stack) {
        check_stack(r, merged);
        merged = stack_read(r, c.file[c.n - 1], key, &units, &removals, n_nodes);
    }
    for (uint32_t i = c.n; i-- > 0;) {
        struct node *root = c.root[i];
        read_units(r, root, &units);
        r->units[c.file[i]] = units;
        read_head(r, root);
        if (i + 1 == c.n) {
            check_base(r, root);
            continue;
        }
        check_variant(r, root);
        struct node *change = tree_get(root, heads[HEAD_CHANGE], NULL);
        if (merged && change && !change->plain_null &&
            read_shape(r, change, NODE_MAP, "`change`", "change: {SECTION: {ID: ...}}"))
            merged = tree_merge(merged, change, &r->scratch, &removals, r->d);
    }
    names_set_removals(r->m->names, &removals);
    r->m->units = units;
    r->root = merged;
    return merged ? c.file[0] : -1;
}
