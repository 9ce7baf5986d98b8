/* YAML text as a tree of nodes with places: what libyaml's events say, before anything is known about models.
 * Inside model/ only. Events, an iterative builder; no tags, anchors, aliases, merge keys; one document; duplicate keys
 * are errors; scalars stay text. */
#ifndef MODEL_TREE_H
#define MODEL_TREE_H
#include "base/arena.h"
#include "base/diag.h"
#include "base/source.h"
#include <stdbool.h>
#include <stdint.h>

#define TREE_DEPTH_MAX   32          /* nesting */
#define TREE_SCALAR_MAX  (64u << 10) /* bytes of one scalar */
#define TREE_ENTRIES_MAX 20000000u   /* nodes of all files of one model: a million passages take some nine million */

/* NODE_BAD stands where something that was reported already stood (an alias, a scalar that is too long): the readers of
 * values take it for wrong and say nothing. */
enum node_kind { NODE_SCALAR, NODE_LIST, NODE_MAP, NODE_BAD };
struct node {        /* a mapping's children alternate key, value (keys are scalars); a list's children are its items */
    uint8_t kind;    /* enum node_kind */
    bool plain_null; /* an unquoted `null`, `~` or nothing at all */
    union {          /* look at `kind` first */
        uint32_t n_text;     /* scalar: bytes */
        uint32_t n_children; /* list, mapping (a pair counts two) */
    };
    struct span where;
    union {
        const char *text;   /* scalar; NUL at its end */
        struct node *first; /* list, mapping: first child */
    };
    struct node *next; /* next sibling; of a value: the next key */
};
static_assert(sizeof(struct node) == 32, "a million passages are millions of nodes");

/* Where the parts of a tree lie: nodes may go once a model is built, while texts stay as the model's IDs. */
struct tree_arenas {
    struct arena *nodes, *texts;
};

/** Parses the file `file` of `files` into a tree, and sets its `is_model`.
 *  @param n_nodes in and out: nodes of this model so far.  @return NULL with the reasons in d; a tree may come with
 * errors in d too (duplicate keys, features that models do not have), its good rest is worth reading on. */
struct node *tree_read(struct sources *files, int file, struct tree_arenas a, uint32_t *n_nodes, struct diags *d);

/** A place, its numbers cut to what fits. */
struct span tree_span(uint32_t line, size_t column, size_t length, int file);

/** True when the raw text (without a byte order mark) may go to libyaml: UTF-8, no control characters, no directives
 * but
 *  `%YAML 1.1` and `%YAML 1.2`; else the reason in d. */
bool tree_text_fine(const char *bytes, size_t n, int file, struct diags *d);

/** Reports keys that stand twice in a mapping and takes the later pairs out, so that nothing else is said about them.
 */
void tree_drop_duplicates(struct node *map, struct diags *d);

/** The value of a key in a mapping, or NULL; *key (may be NULL) the key's node. */
struct node *tree_get(const struct node *map, const char *key, struct node **key_node);

/* A name that a change took out (a removed key, an item of a list that another replaces, and all scalars below), or
 * that a stack leaves behind with the part that it belongs to. */
struct removal {
    const char *name;
    uint32_t n;        /* bytes */
    struct span where; /* in the change; the layer in the stack */
    const char *why;   /* of a stack, where the name was left, a sentence; NULL: a change */
};
struct removals {
    struct removal *rows; /* freed by the caller with mem_free() */
    size_t n, cap;
};

/** Merges `change` over `base` key by key: lists replace, null removes, short and long forms of entries merge as long.
 * A null for a key that the base does not have is UNKNOWN_NAME. Both trees are used up.
 *  @param nodes for the nodes that a long form needs.  @param removals what was taken out is added.
 *  @return the merged tree. */
struct node *tree_merge(struct node *base, struct node *change, struct arena *nodes, struct removals *removals,
                        struct diags *d);
#endif
