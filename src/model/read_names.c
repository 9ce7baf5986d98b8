/* Names: defining them in their namespaces, and finding what an entry refers to. */
#include "base/mem.h"
#include "model/read.h"
#include <stdlib.h>
#include <string.h>

static const char *const reserved[] = {"sump", "any",  "every", "not",    "some",  "and",
                                       "air",  "gear", "none",  "tie-up", "unsure"};
/* What a state's keys are beside settings: no manual valve, solenoid or source may be called so. */
static const char *const state_keys[] = {"gear", "after", "expect", "temperature", "title", "note", "odds", "cd"};

static bool is_among(const char *text, const char *const *words, size_t n)
{
    for (size_t i = 0; i < n; i++)
        if (!strcmp(text, words[i]))
            return true;
    return false;
}

static bool id_byte(char c)
{
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '_' || c == '-' ||
           c == '.';
}

static bool id_fine(struct reader *r, const struct node *key, enum name_kind kind)
{
    const char *word = name_kind_a(kind);
    if (key->kind == NODE_BAD)
        return false;
    if (key->kind != NODE_SCALAR) {
        diag(r->d, BAD_ID, key->where, "the ID of %s must be a text", word);
        return false;
    }
    for (uint32_t i = 0; i < key->n_text; i++)
        if (!id_byte(key->text[i])) {
            diag(r->d, BAD_ID, key->where, "`%s` cannot be the ID of %s", shown(key).text, word);
            diag_help(r->d, "an ID is letters a to z, A to Z, digits, `_`, `-` and `.`");
            return false;
        }
    if (!key->n_text) {
        diag(r->d, BAD_ID, key->where, "the ID of %s is empty", word);
        return false;
    }
    if (is_among(key->text, reserved, N_OF(reserved))) {
        diag(r->d, BAD_ID, key->where, "`%s` is a reserved word and cannot be the ID of %s", key->text, word);
        diag_help(r->d, "choose another name");
        return false;
    }
    return true;
}

static bool repeated(struct reader *r, const struct node *key, enum name_kind kind, struct name before)
{
    diag(r->d, REPEATED_ID, key->where, "the name `%s` of this %s is taken", shown(key).text, name_kind_word(kind));
    diag_second(r->d, part_of(r->m, before.kind, before.row)->where, "first defined here, as %s",
                name_kind_a(before.kind));
    if (before.kind != kind)
        diag_help(r->d, "both kinds share one set of names; choose another for one of the two");
    return false;
}

bool define_name(struct reader *r, enum name_kind kind, uint32_t row, const struct node *key)
{
    struct part *part = part_of(r->m, kind, row);
    part->id = key->kind == NODE_SCALAR ? key->text : "";
    part->where = key->where;
    if (!id_fine(r, key, kind))
        return false;
    struct name before = names_add(r->m, name_space(kind), kind, row);
    return before.kind == NAME_NONE || repeated(r, key, kind, before);
}

bool define_setting(struct reader *r, enum name_kind kind, uint32_t row, const struct node *key)
{
    const char *id = part_of(r->m, kind, row)->id;
    if (!*id)
        return false;
    if (is_among(id, state_keys, N_OF(state_keys)) && !is_among(id, reserved, N_OF(reserved))) {
        diag(r->d, BAD_ID, key->where, "`%s` is a key of states and cannot be the ID of what a state sets", id);
        diag_help(r->d, "choose another name");
        return false;
    }
    struct name before = names_add(r->m, SPACE_SETTINGS, kind, row);
    if (before.kind == NAME_NONE)
        return true;
    /* Two of one namespace were reported as such already. */
    return before.kind != NAME_FEED && kind != NAME_FEED ? false : repeated(r, key, kind, before);
}

#define AHEAD 16 /* entries by which names are looked at before they are defined */

bool define_names(struct reader *r, enum name_kind kind, uint32_t row, const struct node *first, bool pairs)
{
    const struct node *ahead = first;
    for (int i = 0; i < AHEAD && ahead; i++)
        ahead = pairs ? ahead->next->next : ahead->next;
    bool fine = true;
    for (const struct node *key = first; key; key = pairs ? key->next->next : key->next) {
        if (ahead) {
            if (ahead->kind == NODE_SCALAR)
                names_ahead(r->m, name_space(kind), ahead->text, ahead->n_text);
            ahead = pairs ? ahead->next->next : ahead->next;
        }
        fine = define_name(r, kind, row++, key) && fine;
    }
    return fine;
}

bool define_section(struct reader *r, const struct node *section, const char *name, const char *form,
                    enum name_kind kind)
{
    if (!read_section_map(r, section, name, form, false))
        return false;
    rows_make(r->m, kind, section->n_children / 2);
    return define_names(r, kind, 0, section->first, true);
}

/* ---- references */

void say_unknown(struct reader *r, const struct node *node, const char *entry, const char *wanted)
{
    const struct removal *gone = names_removed(r->m, node->text, node->n_text);
    if (gone && !gone->why) {
        diag(r->d, STILL_USED, node->where, "%s still uses `%s`, which was removed", entry, shown(node).text);
        diag_second(r->d, gone->where, "removed here");
        diag_help(r->d, "remove or change this user too");
        return;
    }
    diag(r->d, UNKNOWN_NAME, node->where, "%s: there is no %s `%s`", entry, wanted, shown(node).text);
    if (!gone)
        return;
    diag_second(r->d, gone->where, "%s", gone->why);
    diag_help(r->d, "take that layer and `rest` from one model, or change this user in a variant of the stack");
}

static void say_not_found(struct reader *r, const struct node *node, enum name_kind kind, const char *entry)
{
    say_unknown(r, node, entry, name_kind_word(kind));
    if (names_removed(r->m, node->text, node->n_text) || r->d->n_errors >= SUGGESTIONS_MAX)
        return;
    const char *near = names_nearest(r->m, name_space(kind), kind, node->text);
    if (near)
        diag_help(r->d, "did you mean `%s`?", near);
}

uint32_t read_ref(struct reader *r, const struct node *node, enum name_kind kind, const char *entry)
{
    if (node->kind != NODE_SCALAR || node->plain_null) {
        char form[48] = "the ID of ";
        strncat(form, name_kind_a(kind), 24);
        read_shape(r, node, NODE_SCALAR, entry, form);
        return NONE;
    }
    struct name name = names_find(r->m, name_space(kind), node->text, node->n_text);
    if (name.kind == kind)
        return name.row;
    if (name.kind == NAME_NONE) {
        say_not_found(r, node, kind, entry);
        return NONE;
    }
    diag(r->d, WRONG_KIND, node->where, "%s must name %s, but `%s` is %s", entry, name_kind_a(kind), shown(node).text,
         name_kind_a(name.kind));
    struct span where = part_of(r->m, name.kind, name.row)->where;
    if (where.line) /* `sump` is defined nowhere */
        diag_second(r->d, where, "defined here");
    return NONE;
}

passage_ix read_passage(struct reader *r, const struct node *node, bool sump_allowed, const char *entry)
{
    if (node->kind == NODE_SCALAR && !strcmp(node->text, "sump")) {
        if (sump_allowed)
            return SUMP;
        diag(r->d, WRONG_KIND, node->where, "%s cannot be `sump`", entry);
        diag_help(r->d, "name a passage of the model");
        return (passage_ix){NONE};
    }
    return (passage_ix){read_ref(r, node, NAME_PASSAGE, entry)};
}

static int compare_rows(const void *a, const void *b)
{
    uint64_t x = *(const uint64_t *)a, y = *(const uint64_t *)b;
    return x < y ? -1 : x > y;
}

/* Says which of `refs` [n], in the order of `nodes`, stand twice. Sorted pairs of row and place in the list find them.
 */
static bool refs_repeat(struct reader *r, const uint32_t *refs, const struct node *const *nodes, uint32_t n,
                        const char *entry)
{
    uint64_t *order = mem_alloc(n * sizeof *order);
    bool repeat = false;
    for (uint32_t i = 0; i < n; i++)
        order[i] = (uint64_t)refs[i] << 32 | i;
    qsort(order, n, sizeof *order, compare_rows);
    for (uint32_t i = 1; i < n; i++)
        if (order[i] >> 32 == order[i - 1] >> 32) {
            const struct node *node = nodes[(uint32_t)order[i]];
            diag(r->d, WRONG_VALUE, node->where, "%s names `%s` twice", entry, shown(node).text);
            diag_second(r->d, nodes[(uint32_t)order[i - 1]]->where, "first here");
            repeat = true;
        }
    mem_free(order);
    return repeat;
}

bool read_refs(struct reader *r, const struct node *node, enum name_kind kind, bool one_is_list, const char *entry,
               const char *form, uint32_t **out, uint32_t *n)
{
    bool one = one_is_list && node->kind == NODE_SCALAR && !node->plain_null;
    if (!one && !read_shape(r, node, NODE_LIST, entry, form))
        return false;
    uint32_t cap = one ? 1 : node->n_children;
    *out = arena_rows(r->arena, cap, sizeof **out);
    *n = 0;
    if (!cap)
        return true;
    const struct node **nodes = mem_alloc(cap * sizeof *nodes);
    bool fine = true;
    for (const struct node *item = one ? node : node->first; item; item = one ? NULL : item->next) {
        uint32_t row = kind == NAME_PASSAGE ? read_passage(r, item, false, entry).i : read_ref(r, item, kind, entry);
        if (row == NONE) {
            fine = false;
            continue;
        }
        nodes[*n] = item;
        (*out)[(*n)++] = row;
    }
    fine = !refs_repeat(r, *out, nodes, *n, entry) && fine;
    mem_free(nodes);
    return fine;
}

bool read_joins(struct reader *r, const struct node *node, const char *entry, const char *form, passage_ix joins[2])
{
    joins[0] = joins[1] = (passage_ix){NONE};
    if (!read_shape(r, node, NODE_LIST, entry, form))
        return false;
    if (node->n_children != 2) {
        diag(r->d, WRONG_SHAPE, node->where, "%s must name two passages, not %u", entry, node->n_children);
        diag_help(r->d, "%s", form);
        return false;
    }
    joins[0] = read_passage(r, node->first, true, entry);
    joins[1] = read_passage(r, node->first->next, true, entry);
    if (joins[0].i == NONE || joins[1].i == NONE)
        return false;
    if (joins[0].i == joins[1].i) {
        diag(r->d, WRONG_VALUE, node->first->next->where, "%s names `%s` twice", entry, shown(node->first).text);
        diag_help(r->d, "%s", form);
        return false;
    }
    return true;
}
