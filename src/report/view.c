/* The small words of text reports. */
#include "report/view.h"
#include "base/escape.h"
#include <stdarg.h>
#include <stdint.h>
#include <string.h>

/* Attributes that every terminal has; the meaning always stands in words beside them. */
static const char *const paints[N_PAINTS] = {
    [PAINT_NONE] = "",         [PAINT_HEAD] = "\033[1m",  [PAINT_BAD] = "\033[1;31m", [PAINT_WARN] = "\033[1;33m",
    [PAINT_NOTE] = "\033[36m", [PAINT_GOOD] = "\033[32m", [PAINT_PLACE] = "\033[1m",
};

static void say_va(struct text *t, const char *format, va_list args)
{
    struct text raw = {0};
    text_vaddf(&raw, format, args);
    escape_plain(t, text_string(&raw), raw.n);
    text_release(&raw);
}

void say(struct text *t, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    say_va(t, format, args);
    va_end(args);
}

void say_painted(struct text *t, const struct view *v, enum paint paint, const char *format, ...)
{
    bool on = v->colour && paint != PAINT_NONE;
    if (on)
        text_add(t, paints[paint]);
    va_list args;
    va_start(args, format);
    say_va(t, format, args);
    va_end(args);
    if (on)
        text_add(t, "\033[0m");
}

static void spaces(struct text *t, size_t n)
{
    for (size_t i = 0; i < n; i++)
        text_add_char(t, ' ');
}

void say_folded(struct text *t, const struct view *v, unsigned indent, unsigned column, const char *label,
                enum paint label_paint, const char *body)
{
    size_t at = indent + escape_width(label, strlen(label));
    spaces(t, indent);
    say_painted(t, v, label_paint, "%s", label);
    if (at < column) {
        spaces(t, column - at);
        at = column;
    } else if (*label && *body) {
        text_add_char(t, ' ');
        at++;
    }
    bool first = true; /* word of this line */
    for (const char *word = body; *word;) {
        size_t n = strcspn(word, " ");
        size_t wide = escape_width(word, n);
        if (!first && at + 1 + wide > v->width) {
            text_add_char(t, '\n');
            spaces(t, column);
            at = column;
            first = true;
        }
        if (!first) {
            text_add_char(t, ' ');
            at++;
        }
        text_add_bytes(t, word, n);
        at += wide;
        first = false;
        word += n;
        word += strspn(word, " ");
    }
    while (t->n && t->at[t->n - 1] == ' ') /* no white space at a line's end */
        t->at[--t->n] = '\0';
    text_add_char(t, '\n');
}

void say_comma(struct text *t, size_t row, size_t n)
{
    if (row)
        text_add(t, row + 1 == n ? " and " : ", ");
}

void say_count(struct text *t, size_t n, const char *one, const char *many)
{
    text_addf(t, "%zu %s", n, n == 1 ? one : many);
}

void text_cut(struct text *t, size_t kb)
{
    size_t most = kb * 1024;
    if (!kb || kb > SIZE_MAX / 1024 || t->n <= most)
        return;
    size_t end = most;
    while (end && t->at[end - 1] != '\n')
        end--;
    size_t n_lines = 0;
    for (size_t i = end; i < t->n; i++)
        n_lines += t->at[i] == '\n';
    t->n = end;
    t->at[end] = '\0';
    text_addf(t, "... %zu more %s (--limit 0 prints all)\n", n_lines, n_lines == 1 ? "line" : "lines");
}

void say_caution_taps(struct text *t, const struct view *v)
{
    say_folded(
        t, v, 0, 9, "Caution:", PAINT_WARN,
        "oil under pressure goes through skin and burns. Depressurise before a port is opened, wear eye protection. "
        "For road and stall tests chock the wheels, support the vehicle, keep clear of moving parts and follow local "
        "rules.");
}

void say_caution_gear(struct text *t, const struct view *v)
{
    say_folded(t, v, 0, 9, "Caution:", PAINT_WARN,
               "never drive a vehicle to reproduce a fault that selects a wrong gear, neutral or two gears at once. "
               "Prove it at the bench or on a lift, by the service information.");
}

void say_caution_model(struct text *t, const struct view *v)
{
    say_folded(t, v, 0, 0, "", PAINT_NONE,
               "A model is a simplification: it guides a diagnosis and does not replace the manufacturer's service "
               "information, local codes or a licensed technician's judgement.");
}
