/* The parts of a sweep, read back a group at a time and joined. */
#include "base/mem.h"
#include "report/jsonout.h"
#include "report/sweep_table.h"
#include <string.h>

struct reading {
    struct sweep_table *table;
    const char *name;
    const char *at, *end;
    struct diags *d;
    bool further;      /* not the first part: it must agree with what is there */
    uint32_t n_faults; /* read so far */
    json_t *head;
    bool has_groups, bad;
};

static void complain(struct reading *r, const char *what)
{
    if (!r->bad)
        diag(r->d, BAD_USAGE, NO_SPAN, "%s %s", r->name, what);
    r->bad = true;
}

static void blanks(struct reading *r)
{
    r->at += strspn(r->at, " \t\r\n"); /* a NUL stands behind the file's last byte */
}

static bool take(struct reading *r, char c)
{
    blanks(r);
    if (r->at < r->end && *r->at == c) {
        r->at++;
        return true;
    }
    return false;
}

/* One value, and no more of the file than that in memory. */
static json_t *value_read(struct reading *r)
{
    json_error_t error;
    blanks(r);
    json_t *value = json_loadb(r->at, (size_t)(r->end - r->at), JSON_DISABLE_EOF_CHECK | JSON_DECODE_ANY, &error);
    if (value)
        r->at += error.position;
    else
        complain(r, "is not JSON, or was cut off");
    return value;
}

/* Calls `each` for every value of a list. */
static void list_read(struct reading *r, void (*each)(struct reading *r, json_t *value))
{
    if (!take(r, '[')) {
        complain(r, "has no list where one should be");
        return;
    }
    if (take(r, ']'))
        return;
    do {
        json_t *value = value_read(r);
        if (value)
            each(r, value);
        json_decref(value);
    } while (!r->bad && take(r, ','));
    if (!r->bad && !take(r, ']'))
        complain(r, "is not JSON, or was cut off");
}

/* The faults of a further part are those of the first. */
static void fault_take(struct reading *r, json_t *value)
{
    struct sweep_table *t = r->table;
    const char *words = json_string_value(value);
    if (!words) {
        complain(r, "has a fault that is no text");
    } else if (!r->further) {
        t->faults = mem_resize(t->faults, (size_t)t->n_faults + 1, sizeof *t->faults);
        t->faults[t->n_faults++] = mem_copy_text(words);
    } else if (r->n_faults >= t->n_faults || strcmp(words, t->faults[r->n_faults]) != 0) {
        complain(r, "lists other faults than the first file");
    }
    r->n_faults++;
}

static bool hex_read(const char *hex, uint64_t effect[2])
{
    effect[0] = effect[1] = 0;
    for (int i = 0; i < 32; i++) {
        const char *digit = strchr("0123456789abcdef", hex[i]);
        if (!digit || !hex[i])
            return false;
        effect[i / 16] = effect[i / 16] << 4 | (uint64_t)(digit - "0123456789abcdef");
    }
    return !hex[32];
}

static bool member_read(struct sweep_table *t, const char *words, struct sweep_member *m)
{
    const char *plus = t->pairs ? strstr(words, " + ") : NULL;
    struct text first = {0};
    text_add_bytes(&first, words, plus ? (size_t)(plus - words) : strlen(words));
    uint32_t a = sweep_table_fault(t, text_string(&first)), b = plus ? sweep_table_fault(t, plus + 3) : NONE;
    text_release(&first);
    *m = b < a ? (struct sweep_member){b, a} : (struct sweep_member){a, b};
    return a != NONE && (b != NONE) == t->pairs;
}

static struct sweep_group *group_new(struct sweep_table *t, const uint64_t effect[2], json_t *states)
{
    struct sweep_state *rows = mem_zero(json_object_size(states) + 1, sizeof *rows);
    uint32_t n = 0;
    const char *name;
    json_t *state;
    json_object_foreach(states, name, state)
    {
        const char *news = json_string_value(json_object_get(state, "news"));
        const char *rank = json_string_value(json_object_get(state, "rank"));
        rows[n].news = t->pairs && news ? sweep_news_find(news) : SWEEP_WORSE;
        rows[n++].rank = rank ? sweep_rank_find(rank) : SWEEP_NOTHING;
    }
    struct text json = {0};
    json_write(&json, json_incref(states));
    struct sweep_group *g = sweep_table_new_group(t, effect, rows, n, mem_copy_text(text_string(&json)));
    text_release(&json);
    mem_free(rows);
    return g;
}

static void group_take(struct reading *r, json_t *value)
{
    struct sweep_table *t = r->table;
    const char *hex = json_string_value(json_object_get(value, "effect"));
    json_t *sets = json_object_get(value, t->pairs ? "pairs" : "faults"), *states = json_object_get(value, "states");
    uint64_t effect[2];
    if (!hex || !hex_read(hex, effect) || !json_array_size(sets) || !json_is_object(states)) {
        complain(r, "has a group without effect, faults or states");
        return;
    }
    struct sweep_group *g = sweep_table_group(t, effect);
    if (!g)
        g = group_new(t, effect, states);
    for (size_t i = 0; i < json_array_size(sets); i++) {
        const char *words = json_string_value(json_array_get(sets, i));
        struct sweep_member m;
        if (!words || !member_read(t, words, &m)) {
            complain(r, "has a group with a fault that its list of faults does not have");
            return;
        }
        sweep_group_add(g, m);
    }
}

/* What was swept, without which part of it. */
static void about_take(struct reading *r, json_t *value, struct sweep_parts *parts)
{
    struct sweep_table *t = r->table;
    json_int_t part = json_integer_value(json_object_get(value, "part"));
    json_int_t n = json_integer_value(json_object_get(value, "parts"));
    const char *of = json_string_value(json_object_get(value, "of"));
    const char *by = json_string_value(json_object_get(value, "by"));
    if (!of || part < 1 || n < part || n > SWEEP_PARTS_MAX) {
        complain(r, "is not a part of a sweep (made with --shard)");
        return;
    }
    json_t *about = json_deep_copy(value);
    json_object_del(about, "part");
    json_object_del(about, "parts");
    if (!r->further) {
        t->about = about;
        t->pairs = !strcmp(of, "pairs");
        t->pressed = by && !strcmp(by, "pressure");
        parts->n_parts = (uint32_t)n;
        parts->names = mem_zero((size_t)n, sizeof *parts->names);
    } else {
        if (!json_equal(about, t->about) || (uint32_t)n != parts->n_parts)
            complain(r, "is a part of another sweep than the first file");
        json_decref(about);
    }
    if (r->bad)
        return;
    if (parts->names[part - 1]) {
        diag(r->d, BAD_USAGE, NO_SPAN, "%s and %s are both part %u of %u", parts->names[part - 1], r->name,
             (unsigned)part, parts->n_parts);
        r->bad = true;
    }
    parts->names[part - 1] = r->name;
}

static void totals_take(struct reading *r, json_t *value)
{
    struct sweep_totals *t = &r->table->totals;
    uint64_t *const sums[] = {&t->n_sets,       &t->n_excluded,  &t->n_cases,     &t->n_not_settled,
                              &t->n_not_solved, &t->n_news_sets, &t->n_news_cases};
    static const char *const keys[] = {"sets",       "excluded",  "cases",     "not_settled",
                                       "not_solved", "news_sets", "news_cases"};
    for (size_t i = 0; i < sizeof keys / sizeof *keys; i++) {
        json_int_t n = json_integer_value(json_object_get(value, keys[i]));
        if (n < 0)
            complain(r, "has a total below zero");
        else
            *sums[i] += (uint64_t)n;
    }
}

static void lost_take(struct reading *r, json_t *value)
{
    size_t i;
    json_t *row;
    bool texts = json_is_array(value);
    json_array_foreach(value, i, row) texts = texts && json_is_string(row);
    if (texts)
        json_array_extend(r->table->lost, value);
    else
        complain(r, "tells of lost work in no words");
}

static void key_take(struct reading *r, const char *key, struct sweep_parts *parts)
{
    struct sweep_table *t = r->table;
    if (!strcmp(key, "faults")) {
        list_read(r, fault_take);
        return;
    }
    if (!strcmp(key, "groups")) {
        r->has_groups = true;
        if (!t->about || r->n_faults != t->n_faults)
            complain(r, "has its groups before its faults, or misses some");
        else
            list_read(r, group_take);
        return;
    }
    json_t *value = value_read(r);
    if (!value)
        return;
    if (!strcmp(key, "sweep"))
        about_take(r, value, parts);
    else if (!strcmp(key, "totals"))
        totals_take(r, value);
    else if (!strcmp(key, "lost"))
        lost_take(r, value);
    else if (strcmp(key, "ranks") != 0) /* they are counted anew */
        json_object_set(r->head, key, value);
    json_decref(value);
}

/* A copy of a head without the paths of files: machines may keep one model in different folders. */
static json_t *head_without_files(const json_t *head)
{
    json_t *copy = json_deep_copy(head), *row;
    size_t i;
    json_array_foreach(json_object_get(copy, "findings"), i, row) json_object_del(row, "file");
    return copy;
}

static bool heads_equal(const json_t *a, const json_t *b)
{
    json_t *x = head_without_files(a), *y = head_without_files(b);
    bool equal = json_equal(x, y);
    json_decref(x);
    json_decref(y);
    return equal;
}

bool sweep_table_read(struct sweep_table *t, struct sweep_parts *parts, const struct source *file, const char *name,
                      struct diags *d)
{
    struct reading r = {.table = t,
                        .name = name,
                        .at = file->bytes,
                        .end = file->bytes + file->n_bytes,
                        .d = d,
                        .further = parts->n_parts > 0,
                        .head = json_object()};
    if (!t->lost)
        t->lost = json_array();
    if (!take(&r, '{'))
        complain(&r, "is no JSON of a sweep");
    while (!r.bad) {
        json_t *key = value_read(&r);
        if (key && json_is_string(key) && take(&r, ':'))
            key_take(&r, json_string_value(key), parts);
        else
            complain(&r, "is not JSON, or was cut off");
        json_decref(key);
        if (r.bad || !take(&r, ','))
            break;
    }
    if (!r.bad && !take(&r, '}'))
        complain(&r, "is not JSON, or was cut off");
    if (!r.bad && (!r.has_groups || !json_object_get(r.head, "feedtrace")))
        complain(&r, "is no JSON of a sweep");
    if (!r.bad && t->head && !heads_equal(t->head, r.head))
        complain(&r, "is of another model, or of another version of it, than the first file");
    if (!r.bad && !t->head)
        t->head = json_incref(r.head);
    json_decref(r.head);
    return !r.bad;
}

void sweep_parts_release(struct sweep_parts *parts)
{
    mem_free(parts->names);
    *parts = (struct sweep_parts){0};
}
