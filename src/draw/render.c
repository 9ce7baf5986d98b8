/* From DOT to a picture, step by step in child processes. */
#include "draw/render.h"
#include "draw/draw.h"
#include <string.h>

void first_line(struct text *why, const char *text)
{
    text_add_bytes(why, text, strcspn(text, "\n"));
}

#define HELP_DRAWING "narrow the drawing with --feed, --circuit or --around, or take the DOT as it is"

static bool render_step(child_work *work, const char *what, const char *help, const struct text *in, struct text *out,
                        struct diags *d)
{
    struct text why = {0};
    bool ok = child_run(work, in, out, &why);
    if (!ok) {
        diag(d, CANNOT_DRAW, NO_SPAN, "%s: %s", what, text_string(&why));
        diag_help(d, "%s", help);
    }
    text_release(&why);
    return ok;
}

static bool picture_make(const struct text *svg, enum draw_format format, const char *help, struct text *out,
                         struct diags *d)
{
    return render_step(format == DRAW_PDF ? picture_pdf : picture_png, "the picture could not be made", help, svg, out,
                       d);
}

bool draw_render(const struct text *dot, enum draw_format format, struct text *out, struct diags *d)
{
    text_clear(out);
    if (format == DRAW_DOT) {
        text_add_bytes(out, text_string(dot), dot->n);
        return true;
    }
    if (format == DRAW_SVG)
        return render_step(layout_svg, "the layout failed", HELP_DRAWING, dot, out, d);
    struct text svg = {0};
    bool ok = render_step(layout_svg, "the layout failed", HELP_DRAWING, dot, &svg, d) &&
              picture_make(&svg, format, HELP_DRAWING, out, d);
    text_release(&svg);
    return ok;
}

bool draw_convert(const struct text *svg, enum draw_format format, struct text *out, struct diags *d)
{
    text_clear(out);
    if (format != DRAW_SVG)
        return picture_make(svg, format, "take the SVG as it is", out, d);
    text_add_bytes(out, text_string(svg), svg->n);
    return true;
}
