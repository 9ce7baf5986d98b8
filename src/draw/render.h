/* The steps from DOT to a picture, each made to run in a child. Inside draw/ only. */
#ifndef DRAW_RENDER_H
#define DRAW_RENDER_H
#include "draw/child.h"

/** DOT to SVG. A warning of the library is a failure. */
bool layout_svg(const struct text *in, struct text *out, struct text *why);

/** SVG to PDF, and to PNG at 1.5 pixels a unit (less for a very large drawing). */
bool picture_pdf(const struct text *in, struct text *out, struct text *why);
bool picture_png(const struct text *in, struct text *out, struct text *why);

/** Appends a library's reason as far as its first line goes. */
void first_line(struct text *why, const char *text);
#endif
