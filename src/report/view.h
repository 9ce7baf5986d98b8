/* How a report is to look, and the small words of all text reports: escaping, colour, lines folded to a width.
 * Everything that came from a file or an argument goes through say(); colour is added around it, never inside. */
#ifndef REPORT_VIEW_H
#define REPORT_VIEW_H
#include "base/text.h"
#include "base/units.h"
#include <stdbool.h>

struct view {
    unsigned width;   /* columns */
    bool colour;      /* colour is never the only sign */
    bool verbose;     /* single passages and engine counters as well */
    bool other_units; /* `units` was asked for; else each model's own */
    struct units units;
};

enum paint { PAINT_NONE, PAINT_HEAD, PAINT_BAD, PAINT_WARN, PAINT_NOTE, PAINT_GOOD, PAINT_PLACE, N_PAINTS };

/** Appends formatted text, escaped for a terminal. A line break in it would be escaped too. */
void say(struct text *t, const char *format, ...) __attribute__((format(printf, 2, 3)));

/** The same in a colour, where the view has colour. */
void say_painted(struct text *t, const struct view *v, enum paint paint, const char *format, ...)
    __attribute__((format(printf, 4, 5)));

/** Appends `label` at `indent` columns and `body` behind it, folded at spaces to the view's width, later lines under
 * the first word of the body; ends with a line break. An empty label: the body starts at `column`. Both are escaped
 * already.
 *  @param column where the body starts; a longer label moves only the first line. */
void say_folded(struct text *t, const struct view *v, unsigned indent, unsigned column, const char *label,
                enum paint label_paint, const char *body);

/** Appends "a, b and c" step by step: call before each of n items with its row. */
void say_comma(struct text *t, size_t row, size_t n);

/** "1 hole", "3 holes". */
void say_count(struct text *t, size_t n, const char *one, const char *many);

/** Cuts a text to `kb` x 1024 bytes at a line's end and says how many lines were left out; 0: never. */
void text_cut(struct text *t, size_t kb);

/** The cautions that apply to opening a tap, and to a fault that selects a wrong gear. */
void say_caution_taps(struct text *t, const struct view *v);
void say_caution_gear(struct text *t, const struct view *v);
/** That a model is a simplification. */
void say_caution_model(struct text *t, const struct view *v);
#endif
