/* From DOT to a picture, step by step in child processes. */
#include "draw/render.h"
#include "draw/draw.h"
#include <string.h>

void first_line(struct text *why, const char *text)
{
    text_add_bytes(why, text, strcspn(text, "\n"));
}

static bool render_step(child_work *work, const char *what, const struct text *in, struct text *out, struct diags *d)
{
    struct text why = {0};
    bool ok = child_run(work, in, out, &why);
    if (!ok) {
        diag(d, CANNOT_DRAW, NO_SPAN, "%s: %s", what, text_string(&why));
        diag_help(d, "narrow the drawing with --feed, --circuit or --around, or take the DOT as it is");
    }
    text_release(&why);
    return ok;
}

bool draw_render(const struct text *dot, enum draw_format format, struct text *out, struct diags *d)
{
    text_clear(out);
    if (format == DRAW_DOT) {
        text_add_bytes(out, text_string(dot), dot->n);
        return true;
    }
    if (format == DRAW_SVG)
        return render_step(layout_svg, "the layout failed", dot, out, d);
    struct text svg = {0};
    bool ok = render_step(layout_svg, "the layout failed", dot, &svg, d) && draw_convert(&svg, format, out, d);
    text_release(&svg);
    return ok;
}

bool draw_convert(const struct text *svg, enum draw_format format, struct text *out, struct diags *d)
{
    text_clear(out);
    if (format != DRAW_SVG)
        return render_step(format == DRAW_PDF ? picture_pdf : picture_png, "the picture could not be made", svg, out,
                           d);
    text_add_bytes(out, text_string(svg), svg->n);
    return true;
}
