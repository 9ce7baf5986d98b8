/* Colours, line patterns and fills. Colours come from the colour-blind-safe set of M. Okabe and K. Ito, Color Universal
 * Design (2008); no colour is the only sign of anything. Inside draw/ only. */
#ifndef DRAW_PALETTE_H
#define DRAW_PALETTE_H
#include "draw/sketch.h"

#define COLOUR_FAULT "#D55E00" /* vermillion */
#define COLOUR_QUIET "#8A8A8A" /* what carries no oil */
#define COLOUR_INK   "#000000"

enum pattern { PATTERN_SOLID, PATTERN_DASHED, PATTERN_DOTTED, PATTERN_DOUBLE, N_PATTERNS };

struct circuit_look {
    const char *colour; /* "#RRGGBB" */
    enum pattern pattern;
};

/** Looks of all circuits [n_circuits]: a circuit and those under it share a colour and differ in pattern, as far as
 * there are enough. With more circuits than looks, those of the drawing come first, so that no two of them look alike.
 * In the arena. */
struct circuit_look *palette_circuits(const struct sketch *s, struct arena *a);

/** The fill of a passage in a condition; white where conditions are not known (`settled` false). */
const char *palette_fill(bool settled, enum condition c);
#endif
