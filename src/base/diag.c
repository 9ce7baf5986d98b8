/* What is to be said to the user, kept until report/ prints it. */
#include "base/diag.h"
#include "base/mem.h"
#include "base/text.h"
#include <ctype.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#define ID_LONGEST 31

const struct code_row *code_row(enum code code)
{
    static struct code_row rows[] = {
#define CODE(name, level, kind, what, road, mend) {#name, level, kind, what, road, mend},
#include "base/codes.def"
#undef CODE
    };
    static char ids[N_CODES][ID_LONGEST + 1];
    if (!ids[0][0]) { /* the ID is the C name in lower case with hyphens */
        for (size_t i = 0; i < N_CODES; i++) {
            for (size_t j = 0; rows[i].id[j] && j < ID_LONGEST; j++)
                ids[i][j] = rows[i].id[j] == '_' ? '-' : (char)tolower((unsigned char)rows[i].id[j]);
            rows[i].id = ids[i];
        }
    }
    return &rows[code];
}

/* Every name fits into ID_LONGEST. */
#define CODE(name, level, kind, what, road, mend)                                                                      \
    static_assert(sizeof #name - 1 <= ID_LONGEST, "the ID of " #name " is too long");
#include "base/codes.def"
#undef CODE

enum code code_find(const char *id)
{
    for (size_t i = 0; i < N_CODES; i++)
        if (!strcmp(code_row((enum code)i)->id, id))
            return (enum code)i;
    return N_CODES;
}

const char *level_word(enum level level)
{
    static const char *const words[] = {[LEVEL_NOTE] = "note", [LEVEL_WARNING] = "warning", [LEVEL_ERROR] = "error"};
    return words[level];
}

void diags_init(struct diags *d)
{
    *d = (struct diags){0};
    arena_init(&d->arena);
}

void diags_release(struct diags *d)
{
    mem_free(d->rows);
    arena_release(&d->arena);
    diags_init(d);
}

static size_t *level_count(struct diags *d, enum level level)
{
    return level == LEVEL_ERROR ? &d->n_errors : level == LEVEL_WARNING ? &d->n_warnings : &d->n_notes;
}

static const char *copy_text(struct diags *d, const char *text)
{
    return text ? arena_text(&d->arena, text, strlen(text)) : NULL;
}

static const char *format_text(struct diags *d, const char *format, va_list args)
{
    struct text t = {0};
    text_vaddf(&t, format, args);
    const char *copy = arena_text(&d->arena, text_string(&t), t.n);
    text_release(&t);
    return copy;
}

static void add(struct diags *d, enum code code, struct span where, const char *at, const char *state,
                const char *format, va_list args)
{
    enum level level = code_row(code)->level;
    ++*level_count(d, level);
    if (d->n == DIAGS_MAX)
        return;
    MEM_GROW(d->rows, d->n, d->cap);
    d->rows[d->n++] = (struct diag){.code = code,
                                    .level = level,
                                    .where = where,
                                    .at = copy_text(d, at),
                                    .state = copy_text(d, state),
                                    .message = format_text(d, format, args)};
}

void diag(struct diags *d, enum code code, struct span where, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    add(d, code, where, NULL, NULL, format, args);
    va_end(args);
}

void diag_finding(struct diags *d, enum code code, struct span where, const char *at, const char *state,
                  const char *format, ...)
{
    va_list args;
    va_start(args, format);
    add(d, code, where, at, state, format, args);
    va_end(args);
}

/* The last message, or NULL when it was only counted. */
static struct diag *last(struct diags *d)
{
    bool only_counted = d->n == DIAGS_MAX && d->n_errors + d->n_warnings + d->n_notes > DIAGS_MAX;
    return d->n && !only_counted ? &d->rows[d->n - 1] : NULL;
}

void diag_help(struct diags *d, const char *format, ...)
{
    struct diag *row = last(d);
    if (!row)
        return;
    va_list args;
    va_start(args, format);
    row->help = format_text(d, format, args);
    va_end(args);
}

void diag_second(struct diags *d, struct span where, const char *format, ...)
{
    struct diag *row = last(d);
    if (!row)
        return;
    va_list args;
    va_start(args, format);
    row->second = where;
    row->second_text = format_text(d, format, args);
    va_end(args);
}

static int compare(size_t a, size_t b)
{
    return a < b ? -1 : a > b;
}

static int compare_texts(const char *a, const char *b)
{
    return !a || !b ? (a != NULL) - (b != NULL) : strcmp(a, b);
}

static int compare_places(struct span a, struct span b)
{
    int c = compare(a.line != 0, b.line != 0);
    if (!c)
        c = compare(a.file, b.file);
    if (!c)
        c = compare(a.line, b.line);
    return c ? c : compare(a.column, b.column);
}

struct sorted {
    struct diag row;
    size_t said; /* its turn: qsort() promises no order among equals */
};

static int in_file_order(const void *a, const void *b)
{
    const struct sorted *x = a, *y = b;
    int c = compare_places(x->row.where, y->row.where);
    return c ? c : compare(x->said, y->said);
}

static int compare_all(const struct diag *a, const struct diag *b)
{
    int c = compare_places(a->where, b->where);
    if (!c)
        c = compare(a->where.length, b->where.length);
    if (!c)
        c = compare(a->code, b->code);
    if (!c)
        c = compare_texts(a->message, b->message);
    if (!c)
        c = compare_texts(a->at, b->at);
    if (!c)
        c = compare_texts(a->state, b->state);
    if (!c)
        c = compare_texts(a->help, b->help);
    if (!c)
        c = compare_places(a->second, b->second);
    return c ? c : compare_texts(a->second_text, b->second_text);
}

static int repeats_together(const void *a, const void *b)
{
    const struct sorted *x = a, *y = b;
    int c = compare_all(&x->row, &y->row);
    return c ? c : compare(x->said, y->said);
}

void diags_sort(struct diags *d)
{
    if (!d->n)
        return;
    struct sorted *rows = mem_zero(d->n, sizeof *rows);
    for (size_t i = 0; i < d->n; i++)
        rows[i] = (struct sorted){d->rows[i], i};
    /* Repeats need not stand side by side in file order, so they are looked for in an order where they do. */
    qsort(rows, d->n, sizeof *rows, repeats_together);
    size_t kept = 0;
    for (size_t i = 0; i < d->n; i++) {
        if (kept && !compare_all(&rows[kept - 1].row, &rows[i].row))
            --*level_count(d, rows[i].row.level);
        else
            rows[kept++] = rows[i];
    }
    qsort(rows, kept, sizeof *rows, in_file_order);
    for (size_t i = 0; i < kept; i++)
        d->rows[i] = rows[i].row;
    d->n = kept;
    mem_free(rows);
}

int diags_worst(const struct diags *d)
{
    return d->n_errors ? LEVEL_ERROR : d->n_warnings ? LEVEL_WARNING : d->n_notes ? LEVEL_NOTE : -1;
}
