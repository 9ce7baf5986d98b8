/* Diagnostics for a person: where, what, the line itself with a caret, what to do. */
#include "base/escape.h"
#include "base/mem.h"
#include "report/answer.h"
#include <string.h>

static enum paint level_paint(enum level level)
{
    return level == LEVEL_ERROR ? PAINT_BAD : level == LEVEL_WARNING ? PAINT_WARN : PAINT_NOTE;
}

static struct source *file_of(struct sources *files, struct span where)
{
    return files && where.line && where.file < files->n_files ? &files->files[where.file] : NULL;
}

static void place(struct text *t, const struct view *v, struct sources *files, struct span where)
{
    const struct source *f = file_of(files, where);
    if (f)
        say_painted(t, v, PAINT_PLACE, "%s:%u:%u:", f->name, where.line, where.column);
    else
        say_painted(t, v, PAINT_PLACE, "feedtrace:");
    text_add_char(t, ' ');
}

/* Bytes of the code point at s, at least 1. */
static size_t step(const char *s, const char *end)
{
    const char *next = s + 1;
    while (next < end && ((unsigned char)*next & 0xC0) == 0x80)
        next++;
    return (size_t)(next - s);
}

/* A stretch of the line in columns of the terminal: as it prints, escapes included. */
static size_t printed_width(const char *s, size_t n)
{
    struct text t = {0};
    escape_plain(&t, s, n);
    size_t width = escape_width(text_string(&t), t.n);
    text_release(&t);
    return width;
}

enum { GUTTER = 8, SHOW_BEFORE = 24 };

/* The line, cut around the place to the view's width, and a caret line under it. */
static void excerpt(struct text *t, const struct view *v, struct sources *files, struct span where)
{
    struct source *f = file_of(files, where);
    if (!f || !f->is_model)
        return;
    size_t n;
    const char *line = source_line(f, where.line, &n), *end = line + n;
    const char *caret = line;
    for (unsigned i = 1; i < where.column && caret < end; i++)
        caret += step(caret, end);
    size_t room = v->width > GUTTER + 24 ? v->width - GUTTER : 24;
    const char *from = line;
    if (printed_width(line, n > 4 * room ? 4 * room : n) > room && (size_t)(caret - line) > room - SHOW_BEFORE) {
        from = caret;
        for (unsigned i = 0; i < SHOW_BEFORE && from > line; i++)
            do
                from--;
            while (from > line && ((unsigned char)*from & 0xC0) == 0x80);
    }
    const char *to = from;
    size_t used = from > line ? 3 : 0;
    while (to < end) {
        size_t bytes = step(to, end), wide = printed_width(to, bytes);
        if (used + wide > room - (to + bytes < end ? 3 : 0))
            break;
        used += wide;
        to += bytes;
    }
    text_addf(t, "%5u | %s", where.line, from > line ? "..." : "");
    escape_plain(t, from, (size_t)(to - from));
    text_add(t, to < end ? "...\n" : "\n");
    if (caret > to)
        caret = to;
    size_t left = GUTTER + (from > line ? 3 : 0) + printed_width(from, (size_t)(caret - from));
    const char *stop = caret;
    for (unsigned i = 0; i < (where.length ? where.length : 1u) && stop < to; i++)
        stop += step(stop, end);
    size_t carets = printed_width(caret, (size_t)(stop - caret));
    for (size_t i = 0; i < left; i++)
        text_add_char(t, i == 6 ? '|' : ' ');
    if (v->colour)
        text_add(t, "\033[1;31m");
    for (size_t i = 0; i < (carets ? carets : 1); i++)
        text_add_char(t, '^');
    text_add(t, v->colour ? "\033[0m\n" : "\n");
}

static void folded(struct text *t, const struct view *v, const char *label, const char *words)
{
    struct text body = {0};
    say(&body, "%s", words);
    say_folded(t, v, 2, 2, label, PAINT_NOTE, text_string(&body));
    text_release(&body);
}

void text_diag(struct text *t, const struct view *v, const struct diag *d, struct sources *files, const char *states,
               bool road)
{
    place(t, v, files, d->where);
    say_painted(t, v, level_paint(d->level), "%s[%s]:", level_word(d->level), code_row(d->code)->id);
    text_add_char(t, ' ');
    say(t, "%s", d->message);
    if (states)
        say(t, " (in %s)", states);
    text_add_char(t, '\n');
    excerpt(t, v, files, d->where);
    if (d->second_text) {
        text_add(t, "  ");
        place(t, v, files, d->second);
        say(t, "%s", d->second_text);
        text_add_char(t, '\n');
        excerpt(t, v, files, d->second);
    }
    if (road && *code_row(d->code)->road) {
        struct text sentence = {0};
        text_addf(&sentence, "%s.", code_row(d->code)->road);
        folded(t, v, "on the road:", text_string(&sentence));
        text_release(&sentence);
    }
    if (d->help)
        folded(t, v, "help:", d->help);
}

static bool same_words(const char *a, const char *b)
{
    return a == b || (a && b && !strcmp(a, b));
}

/* The same but for the state. */
static bool same_but_state(const struct diag *a, const struct diag *b)
{
    return a->code == b->code && !memcmp(&a->where, &b->where, sizeof a->where) && a->state && b->state &&
           !strcmp(a->message, b->message) && same_words(a->at, b->at) && same_words(a->help, b->help);
}

enum { STATES_NAMED = 12, LOOK_AHEAD = 1000 };

void text_diags(struct text *t, const struct view *v, const struct diags *d, struct sources *files, bool road)
{
    bool *done = mem_zero(d->n + 1, sizeof *done);
    bool told[N_CODES] = {false};
    for (size_t i = 0; i < d->n; i++) {
        const struct diag *row = &d->rows[i];
        if (done[i])
            continue;
        struct text states = {0};
        if (row->state)
            text_add(&states, row->state);
        size_t n = 1;
        for (size_t k = i + 1; row->state && k < d->n && k < i + LOOK_AHEAD; k++) {
            if (done[k] || !same_but_state(row, &d->rows[k]))
                continue;
            done[k] = true;
            if (++n <= STATES_NAMED)
                text_addf(&states, ", %s", d->rows[k].state);
        }
        if (n > STATES_NAMED)
            text_addf(&states, " and %zu more", n - STATES_NAMED);
        text_diag(t, v, row, files, row->state ? text_string(&states) : NULL, road && !told[row->code]);
        told[row->code] = true;
        text_release(&states);
    }
    size_t n_all = d->n_errors + d->n_warnings + d->n_notes;
    if (n_all > d->n)
        text_addf(t, "... and %zu more of which only the number is kept\n", n_all - d->n);
    mem_free(done);
}

void text_counts(struct text *t, const struct diags *d)
{
    size_t n[] = {d->n_errors, d->n_warnings, d->n_notes}, kinds = 0, done = 0;
    static const char *const words[][2] = {{"error", "errors"}, {"warning", "warnings"}, {"note", "notes"}};
    for (int i = 0; i < 3; i++)
        kinds += n[i] > 0;
    for (int i = 0; i < 3; i++) {
        if (!n[i])
            continue;
        say_comma(t, done++, kinds);
        say_count(t, n[i], words[i][0], words[i][1]);
    }
}

void text_check(struct text *t, const struct view *v, const struct answer *a)
{
    if (!a->model)
        return;
    const struct diags *d = a->diags;
    text_diags(t, v, d, a->files, true);
    if (d->n)
        text_add_char(t, '\n');
    say_painted(t, v, d->n_errors ? PAINT_BAD : d->n_warnings ? PAINT_WARN : PAINT_GOOD, "%s: ", a->path);
    struct text found = {0};
    text_counts(&found, d);
    say_painted(t, v,
                d->n_errors     ? PAINT_BAD
                : d->n_warnings ? PAINT_WARN
                                : PAINT_GOOD,
                "%s", found.n ? text_string(&found) : "nothing found");
    text_release(&found);
    text_add_char(t, '\n');
    struct text body = {0};
    const struct expectations *e = &a->expectations;
    say_count(&body, a->n_checks, "check", "checks");
    text_add(&body, " in ");
    say_count(&body, a->n_states, "state", "states");
    uint32_t n_expected = e->n_met + e->n_failed + e->n_undecided + e->n_not_judged;
    if (n_expected)
        text_addf(&body, "; %u of %u expectations met", e->n_met, n_expected);
    if (e->n_failed)
        text_addf(&body, ", %u failed", e->n_failed);
    if (e->n_undecided)
        text_addf(&body, ", %u undecided", e->n_undecided);
    if (e->n_not_judged)
        text_addf(&body,
                  a->pressed ? ", %u not judged (of air, or of pressures that could not be calculated)"
                             : ", %u not judged (they speak of pressures, and this check goes by structure)",
                  e->n_not_judged);
    text_add_char(&body, '.');
    if (a->has_baseline) {
        text_add_char(&body, ' ');
        say_count(&body, a->n_known, "finding of the baseline is", "findings of the baseline are");
        text_add(&body, " left out");
        if (a->n_gone)
            text_addf(&body, "; %zu it lists for this model %s no more (write it anew)", a->n_gone,
                      a->n_gone == 1 ? "is" : "are");
        text_add_char(&body, '.');
    }
    say_folded(t, v, 2, 2, "", PAINT_NONE, text_string(&body));
    text_release(&body);
    if (d->n)
        say_folded(t, v, 2, 2, "", PAINT_NONE,
                   "`feedtrace explain CODE` tells what a finding means and how to mend it.");
}
