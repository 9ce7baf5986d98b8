/* YAML text as a tree of nodes with places: what libyaml's events say, before anything is known about models.
 * Inside model/ only. Events, an iterative builder; no tags, anchors, aliases, merge keys; one document; duplicate keys are
 * errors; scalars stay text. */
#ifndef MODEL_TREE_H
#define MODEL_TREE_H
#include "base/arena.h"
#include "base/diag.h"
#include "base/source.h"
#include <stdbool.h>
#include <stdint.h>

#define TREE_DEPTH_MAX 32          /* nesting */
#define TREE_SCALAR_MAX (64u << 10) /* bytes of one scalar */
#define TREE_ENTRIES_MAX 5000000u  /* nodes of all files of one model */

enum node_kind { NODE_SCALAR, NODE_LIST, NODE_MAP };
struct node { /* a mapping's children alternate key, value; a list's children are its items */
    enum node_kind kind;
    bool plain_null;    /* an unquoted `null`, `~` or nothing at all */
    struct span where;
    const char *text;   /* scalar; NUL at its end */
    uint32_t n_text;    /* bytes */
    uint32_t n_children;
    struct node *first; /* first child */
    struct node *next;  /* next sibling; of a value: the next key */
};

/** Parses the file `file` of `files` into a tree in arena `a`.
 *  @param n_nodes in and out: nodes of this model so far.  @return NULL with the reasons in d. */
struct node *tree_read(struct sources *files, int file, struct arena *a, uint32_t *n_nodes, struct diags *d);

/** The value of a key in a mapping, or NULL; *key (may be NULL) the key's node. */
struct node *tree_get(const struct node *map, const char *key, struct node **key_node);

/** Merges `change` over `base` key by key: lists replace, null removes, short and long forms of entries merge as long.
 *  Returns the merged tree, which shares nodes with both. */
struct node *tree_merge(struct node *base, struct node *change, struct arena *a, struct diags *d);
#endif
