/* SVG to PDF and PNG by librsvg and cairo, into memory. */
#include "draw/render.h"
#include <cairo/cairo-pdf.h>
#include <cairo/cairo.h>
#include <librsvg/rsvg.h>

#define PIXELS_MOST 64e6 /* of a PNG; a larger drawing is scaled down */
#define PIXELS_SIDE 16000.0

static cairo_status_t write_text(void *channel, const unsigned char *bytes, unsigned n)
{
    text_add_bytes(channel, (const char *)bytes, n);
    return CAIRO_STATUS_SUCCESS;
}

static RsvgHandle *svg_open(const struct text *in, double *width, double *height, struct text *why)
{
    GError *error = NULL;
    RsvgHandle *svg = rsvg_handle_new_from_data((const guint8 *)text_string(in), in->n, &error);
    if (!svg) {
        first_line(why, error->message);
        return NULL;
    }
    rsvg_handle_set_dpi(svg, 96);
    if (!rsvg_handle_get_intrinsic_size_in_pixels(svg, width, height) || !(*width > 0) || !(*height > 0)) {
        text_add(why, "the SVG has no size");
        return NULL;
    }
    return svg;
}

static bool svg_paint(RsvgHandle *svg, cairo_surface_t *surface, double width, double height, struct text *why)
{
    GError *error = NULL;
    cairo_t *cairo = cairo_create(surface);
    RsvgRectangle area = {0, 0, width, height};
    bool ok = rsvg_handle_render_document(svg, cairo, &area, &error);
    if (!ok)
        first_line(why, error->message);
    else if (cairo_status(cairo) != CAIRO_STATUS_SUCCESS) {
        text_add(why, cairo_status_to_string(cairo_status(cairo)));
        ok = false;
    }
    cairo_destroy(cairo);
    return ok;
}

static bool surface_ended(cairo_status_t status, struct text *why)
{
    if (status == CAIRO_STATUS_SUCCESS)
        return true;
    text_add(why, cairo_status_to_string(status));
    return false;
}

#define POINTS_PER_PIXEL 0.75 /* 72 points and 96 pixels an inch */

bool picture_pdf(const struct text *in, struct text *out, struct text *why)
{
    double width, height;
    RsvgHandle *svg = svg_open(in, &width, &height, why);
    if (!svg)
        return false;
    cairo_surface_t *surface =
        cairo_pdf_surface_create_for_stream(write_text, out, width * POINTS_PER_PIXEL, height * POINTS_PER_PIXEL);
    bool ok = svg_paint(svg, surface, width * POINTS_PER_PIXEL, height * POINTS_PER_PIXEL, why);
    cairo_surface_finish(surface);
    return ok && surface_ended(cairo_surface_status(surface), why);
}

bool picture_png(const struct text *in, struct text *out, struct text *why)
{
    double width, height, scale = 1.5;
    RsvgHandle *svg = svg_open(in, &width, &height, why);
    if (!svg)
        return false;
    while (width * scale > PIXELS_SIDE || height * scale > PIXELS_SIDE || width * height * scale * scale > PIXELS_MOST)
        scale *= 0.9;
    int across = (int)(width * scale) + 1, down = (int)(height * scale) + 1;
    cairo_surface_t *surface = cairo_image_surface_create(CAIRO_FORMAT_RGB24, across, down);
    cairo_t *cairo = cairo_create(surface);
    cairo_set_source_rgb(cairo, 1, 1, 1);
    cairo_paint(cairo);
    cairo_destroy(cairo);
    return svg_paint(svg, surface, width * scale, height * scale, why) &&
           surface_ended(cairo_surface_write_to_png_stream(surface, write_text, out), why);
}
