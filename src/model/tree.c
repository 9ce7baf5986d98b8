/* libyaml's events into a tree, and what of YAML a model may not use. The raw text is looked through first for what
 * libyaml places badly (bytes that are not UTF-8, control characters) or takes too long over (directives). */
#include "model/tree.h"
#include "base/mem.h"
#include "model/names.h"
#include <string.h>
#include <yaml.h>

/* ---- events into nodes */

#define RECENT 1024 /* texts of late that an equal one shares: keys, circuits and sizes stand again and again */

struct builder {
    yaml_parser_t parser;
    struct sources *files;
    int file;
    struct tree_arenas a;
    uint32_t *n_nodes;
    struct diags *d;
    struct node *open[TREE_DEPTH_MAX]; /* collections that are open */
    struct node *last[TREE_DEPTH_MAX]; /* their last child */
    bool bad_key[TREE_DEPTH_MAX];      /* the key just read is no key: its pair is left out */
    uint32_t depth;
    const char *recent[RECENT];
    struct node *root;
    bool document; /* a document has begun */
};

static struct span mark_span(const struct builder *b, const yaml_mark_t *start, const yaml_mark_t *end)
{
    size_t length = end && end->line == start->line ? end->column - start->column : 1;
    return tree_span((uint32_t)start->line + 1, start->column + 1, length, b->file);
}

static void feature(struct builder *b, struct span where, const char *what, const char *instead)
{
    diag(b->d, YAML_FEATURE, where, "%s", what);
    diag_help(b->d, "%s", instead);
}

/* True when the next child of the innermost collection is a key. */
static bool at_key(const struct builder *b)
{
    const struct node *in = b->depth ? b->open[b->depth - 1] : NULL;
    return in && in->kind == NODE_MAP && in->n_children % 2 == 0;
}

static struct node *node_new(struct builder *b, enum node_kind kind, struct span where)
{
    if (*b->n_nodes == TREE_ENTRIES_MAX) {
        diag(b->d, TOO_LARGE, where, "more than %u entries in the files of this model", TREE_ENTRIES_MAX);
        return NULL;
    }
    ++*b->n_nodes;
    struct node *node = arena_alloc(b->a.nodes, sizeof *node);
    node->kind = (uint8_t)kind;
    node->where = where;
    return node;
}

static void node_add(struct builder *b, struct node *node)
{
    if (!b->depth) {
        b->root = node;
        return;
    }
    uint32_t top = b->depth - 1;
    struct node *in = b->open[top];
    if (b->last[top])
        b->last[top]->next = node;
    else
        in->first = node;
    b->last[top] = node;
    in->n_children++;
}

/* The pair whose key is no text: said where the key stands, then the key goes in as an empty text that drop_bad_pair()
 * takes out once its value is there. */
static void say_bad_key(struct builder *b, struct span where)
{
    diag(b->d, WRONG_SHAPE, where, "a key must be a text, not a list or a mapping");
    diag_help(b->d, "KEY: VALUE");
}

static const char anchors_instead[] =
    "write it out; circuits share values by `under`, states by `defaults`, models by `extends`";

static void say_properties(struct builder *b, const yaml_char_t *anchor, const yaml_char_t *tag, struct span where)
{
    if (anchor)
        feature(b, where, "an anchor (`&`), which models do not have", anchors_instead);
    if (tag)
        feature(b, where, "a tag (`!`), which models do not have",
                "remove it; a text that begins with ! goes into quotes");
}

static bool is_null(const yaml_event_t *e)
{
    const char *text = (const char *)e->data.scalar.value;
    size_t n = e->data.scalar.length;
    return e->data.scalar.style == YAML_PLAIN_SCALAR_STYLE &&
           (!n || (n == 1 && *text == '~') || (n == 4 && !memcmp(text, "null", 4)));
}

/* A copy of a scalar's text, or an equal one made before. */
static const char *text_of(struct builder *b, const char *text, size_t n)
{
    if (n > 32)
        return arena_text(b->a.texts, text, n);
    const char **recent = &b->recent[names_hash(text, n) % RECENT];
    if (!*recent || strncmp(*recent, text, n) || (*recent)[n]) /* no text holds a NUL */
        *recent = arena_text(b->a.texts, text, n);
    return *recent;
}

static bool text_usable(struct builder *b, const yaml_event_t *e, struct span where)
{
    size_t n = e->data.scalar.length;
    if (n > TREE_SCALAR_MAX)
        diag(b->d, TOO_LARGE, where, "a text of more than %u KB", TREE_SCALAR_MAX >> 10);
    else if (memchr(e->data.scalar.value, 0, n))
        diag(b->d, WRONG_VALUE, where, "a text with a NUL character in it");
    else
        return true;
    return false;
}

static bool add_scalar(struct builder *b, const yaml_event_t *e)
{
    struct span where = mark_span(b, &e->start_mark, &e->end_mark);
    size_t n = e->data.scalar.length;
    bool key = at_key(b), bad = !text_usable(b, e, where);
    say_properties(b, e->data.scalar.anchor, e->data.scalar.tag, where);
    struct node *node = node_new(b, bad && !key ? NODE_BAD : NODE_SCALAR, where);
    if (!node)
        return false;
    bool merge =
        key && n == 2 && !memcmp(e->data.scalar.value, "<<", 2) && e->data.scalar.style == YAML_PLAIN_SCALAR_STYLE;
    if (merge)
        feature(b, where, "a merge key (`<<`), which models do not have", anchors_instead);
    if (node->kind == NODE_SCALAR) {
        if (bad)
            n = 0;
        node->text = text_of(b, (const char *)e->data.scalar.value, n);
        node->n_text = (uint32_t)n;
        node->plain_null = is_null(e);
    }
    if (key)
        b->bad_key[b->depth - 1] = merge || bad;
    node_add(b, node);
    return true;
}

static bool open_collection(struct builder *b, enum node_kind kind, const yaml_event_t *e)
{
    struct span where = tree_span((uint32_t)e->start_mark.line + 1, e->start_mark.column + 1, 1, b->file);
    if (b->depth == TREE_DEPTH_MAX) {
        diag(b->d, TOO_LARGE, where, "nested deeper than %d levels", TREE_DEPTH_MAX);
        return false;
    }
    bool flow = kind == NODE_MAP ? e->data.mapping_start.style == YAML_FLOW_MAPPING_STYLE
                                 : e->data.sequence_start.style == YAML_FLOW_SEQUENCE_STYLE;
    if (kind == NODE_MAP)
        say_properties(b, e->data.mapping_start.anchor, e->data.mapping_start.tag, where);
    else
        say_properties(b, e->data.sequence_start.anchor, e->data.sequence_start.tag, where);
    if (!flow && b->depth && b->open[b->depth - 1]->kind == NODE_MAP && !at_key(b))
        where = b->last[b->depth - 1]->where; /* a block below its key: the key shows better what is meant */
    struct node *node = node_new(b, kind, where);
    if (!node)
        return false;
    if (at_key(b)) {
        say_bad_key(b, where);
        b->bad_key[b->depth - 1] = true;
    }
    node_add(b, node);
    b->open[b->depth] = node;
    b->last[b->depth] = NULL;
    b->depth++;
    return true;
}

/* Takes pairs with a bad key out of a mapping that is complete. */
static void drop_bad_pairs(struct node *map)
{
    struct node **link = &map->first;
    while (*link) {
        struct node *key = *link, *value = key->next;
        if (key->kind == NODE_SCALAR) {
            link = &value->next;
        } else {
            *link = value->next;
            map->n_children -= 2;
        }
    }
}

static void close_collection(struct builder *b, const yaml_event_t *e)
{
    struct node *node = b->open[--b->depth];
    size_t column = e->end_mark.column + 1;
    if (e->end_mark.line + 1 == node->where.line && column > node->where.column)
        node->where = tree_span(node->where.line, node->where.column, column - node->where.column, node->where.file);
    if (node->kind == NODE_MAP) {
        drop_bad_pairs(node);
        tree_drop_duplicates(node, b->d);
    }
}

static bool add_alias(struct builder *b, const yaml_event_t *e)
{
    struct span where = mark_span(b, &e->start_mark, &e->end_mark);
    feature(b, where, "an alias (`*`), which models do not have", anchors_instead);
    bool key = at_key(b);
    struct node *node = node_new(b, NODE_BAD, where);
    if (!node)
        return false;
    if (key)
        b->bad_key[b->depth - 1] = true;
    node_add(b, node);
    return true;
}

/* After a value: a key that was marked bad becomes NODE_BAD, for drop_bad_pairs(). */
static void mark_bad_key(struct builder *b, struct node *key)
{
    uint32_t top = b->depth - 1;
    if (b->bad_key[top]) {
        key->kind = NODE_BAD;
        b->bad_key[top] = false;
    }
}

/* One event. False: reading ends. */
static bool take(struct builder *b, const yaml_event_t *e)
{
    struct node *before = b->depth ? b->last[b->depth - 1] : NULL;
    bool value = b->depth && b->open[b->depth - 1]->kind == NODE_MAP && !at_key(b);
    bool fine = true;
    switch (e->type) {
    case YAML_DOCUMENT_START_EVENT:
        if (b->document) {
            feature(b, mark_span(b, &e->start_mark, NULL), "a second document in one file", "keep one model a file");
            return false;
        }
        b->document = true;
        return true;
    case YAML_SCALAR_EVENT:
        fine = add_scalar(b, e);
        break;
    case YAML_ALIAS_EVENT:
        fine = add_alias(b, e);
        break;
    case YAML_SEQUENCE_START_EVENT:
    case YAML_MAPPING_START_EVENT:
        if (value)
            mark_bad_key(b, before);
        return open_collection(b, e->type == YAML_MAPPING_START_EVENT ? NODE_MAP : NODE_LIST, e);
    case YAML_SEQUENCE_END_EVENT:
    case YAML_MAPPING_END_EVENT:
        close_collection(b, e);
        return true;
    default:
        return true;
    }
    if (fine && value)
        mark_bad_key(b, before);
    return fine;
}

static void say_syntax(struct builder *b)
{
    const yaml_parser_t *p = &b->parser;
    if (p->error == YAML_MEMORY_ERROR)
        mem_ended();
    struct span where = mark_span(b, &p->problem_mark, NULL);
    diag(b->d, YAML_SYNTAX, where, "%s%s%s", p->problem ? p->problem : "this is not YAML", p->context ? " " : "",
         p->context ? p->context : "");
    size_t n;
    const char *line = source_line(&b->files->files[b->file], where.line, &n);
    if (n && memchr(line, '\t', n))
        diag_help(b->d, "there is a tab in this line: indent with spaces");
    else
        diag_help(b->d, "check indentation, colons, brackets and quotes just before this place");
    if (p->context && p->context_mark.line != p->problem_mark.line)
        diag_second(b->d, mark_span(b, &p->context_mark, NULL), "it began here");
}

static bool build(struct builder *b)
{
    yaml_event_t event;
    for (bool more = true; more;) {
        if (!yaml_parser_parse(&b->parser, &event)) {
            say_syntax(b);
            return false;
        }
        more = event.type != YAML_STREAM_END_EVENT;
        bool fine = take(b, &event);
        yaml_event_delete(&event);
        if (!fine)
            return false;
    }
    return true;
}

struct node *tree_read(struct sources *files, int file, struct tree_arenas a, uint32_t *n_nodes, struct diags *d)
{
    const char *bytes = files->files[file].bytes;
    size_t n = files->files[file].n_bytes;
    if (n >= 3 && !memcmp(bytes, "\xEF\xBB\xBF", 3)) {
        bytes += 3; /* a byte order mark says nothing in UTF-8 */
        n -= 3;
    }
    if (!tree_text_fine(bytes, n, file, d))
        return NULL;
    struct builder b = {.files = files, .file = file, .a = a, .n_nodes = n_nodes, .d = d};
    if (!yaml_parser_initialize(&b.parser))
        mem_ended();
    yaml_parser_set_encoding(&b.parser, YAML_UTF8_ENCODING);
    yaml_parser_set_input_string(&b.parser, (const unsigned char *)bytes, n);
    bool fine = build(&b);
    yaml_parser_delete(&b.parser);
    if (!fine)
        return NULL;
    if (!b.root) {
        diag(d, NOT_A_MODEL, tree_span(1, 1, 1, file), "the file is empty");
        diag_help(d, "a model begins with `feedtrace: 1`");
    }
    return b.root;
}

struct node *tree_get(const struct node *map, const char *key, struct node **key_node)
{
    if (map->kind != NODE_MAP)
        return NULL;
    for (struct node *k = map->first; k; k = k->next->next)
        if (!strcmp(k->text, key)) {
            if (key_node)
                *key_node = k;
            return k->next;
        }
    return NULL;
}
