/* What the suites of model/ share: texts as files, trees as texts, models from texts. */
#ifndef MODEL_TEXT_H
#define MODEL_TEXT_H
#include "base/mem.h"
#include "base/text.h"
#include "model/tree.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

struct fixture {
    struct sources files;
    struct diags d;
    struct arena arena;
    uint32_t n_nodes;
    struct text told; /* of fixture_told() */
};

static inline void fixture_init(struct fixture *f)
{
    memset(f, 0, sizeof *f);
    sources_init(&f->files);
    diags_init(&f->d);
    arena_init(&f->arena);
}

static inline void fixture_release(struct fixture *f)
{
    sources_release(&f->files);
    diags_release(&f->d);
    arena_release(&f->arena);
    text_release(&f->told);
}

/* The tree of n bytes of text as one more file, or NULL. */
static inline struct node *fixture_tree_bytes(struct fixture *f, const char *text, size_t n)
{
    MEM_GROW(f->files.files, f->files.n_files, f->files.cap);
    struct source *file = &f->files.files[f->files.n_files++];
    *file = (struct source){.name = mem_copy_text("text"), .bytes = mem_alloc(n + 1), .n_bytes = n};
    memcpy(file->bytes, text, n);
    file->bytes[n] = '\0';
    return tree_read(&f->files, (int)f->files.n_files - 1, (struct tree_arenas){&f->arena, &f->arena}, &f->n_nodes,
                     &f->d);
}

static inline struct node *fixture_tree(struct fixture *f, const char *text)
{
    return fixture_tree_bytes(f, text, strlen(text));
}

/* All messages so far as "LINE:COLUMN code" joined by ", ". */
static inline const char *fixture_told(struct fixture *f)
{
    text_clear(&f->told);
    diags_sort(&f->d);
    for (size_t i = 0; i < f->d.n; i++)
        text_addf(&f->told, "%s%u:%u %s", i ? ", " : "", f->d.rows[i].where.line, f->d.rows[i].where.column,
                  code_row(f->d.rows[i].code)->id);
    return text_string(&f->told);
}

/* Appends a tree in YAML's flow form without spaces. Test trees are flat enough to recurse. */
static inline void tree_text(struct text *t, const struct node *node)
{
    if (node->kind == NODE_BAD)
        text_add(t, "?");
    if (node->kind == NODE_SCALAR)
        text_add(t, node->plain_null ? "null" : node->text);
    if (node->kind == NODE_SCALAR || node->kind == NODE_BAD)
        return;
    uint32_t n = 0;
    text_add(t, node->kind == NODE_LIST ? "[" : "{");
    for (const struct node *child = node->first; child; child = child->next, n++) {
        if (n)
            text_add(t, node->kind == NODE_MAP && n % 2 ? ":" : ",");
        tree_text(t, child);
    }
    text_add(t, node->kind == NODE_LIST ? "]" : "}");
    if (n != node->n_children)
        text_addf(t, " but n_children is %u", node->n_children);
}
#endif
