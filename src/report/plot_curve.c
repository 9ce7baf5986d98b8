/* A curve as a small SVG chart: our own, for an axis frame and a few lines need no library. Colours are Okabe and
 * Ito's; dashes tell the lines apart without them. */
#include "base/escape.h"
#include "report/curve_table.h"
#include <math.h>
#include <string.h>

enum { WIDE = 760, HIGH = 420, LEFT = 90, RIGHT = 190, TOP = 60, BOTTOM = 60, TICKS = 5 };
static const struct {
    const char *colour, *dash;
} lines[] = {{"#0072B2", "none"}, {"#D55E00", "8 4"}, {"#009E73", "2 3"}, {"#CC79A7", "12 3 2 3"},
             {"#E69F00", "5 2"},  {"#56B4E9", "1 2"}, {"#000000", "14 6"}};
#define N_LINES (sizeof lines / sizeof *lines)

struct frame {
    double x_least, x_most, y_most;
};

static double x_of(const struct frame *f, double x)
{
    return LEFT + (x - f->x_least) / (f->x_most - f->x_least) * (WIDE - LEFT - RIGHT);
}

static double y_of(const struct frame *f, double y)
{
    return HIGH - BOTTOM - y / f->y_most * (HIGH - TOP - BOTTOM);
}

static void words_at(struct text *t, double x, double y, const char *anchor, const char *words)
{
    text_addf(t, "<text x=\"%.1f\" y=\"%.1f\" text-anchor=\"%s\">", x, y, anchor);
    escape_xml(t, words, strlen(words));
    text_add(t, "</text>\n");
}

static void quantity_at(struct text *t, double x, double y, const char *anchor, double value, enum dimension dim,
                        const struct units *u)
{
    struct text words = {0};
    quantity_add(&words, value, dim, u);
    words_at(t, x, y, anchor, text_string(&words));
    text_release(&words);
}

static void axes_add(struct text *t, const struct frame *f, const struct curve *c, const struct units *u)
{
    text_addf(t, "<rect x=\"%d\" y=\"%d\" width=\"%d\" height=\"%d\" fill=\"none\" stroke=\"#000\"/>\n", LEFT, TOP,
              WIDE - LEFT - RIGHT, HIGH - TOP - BOTTOM);
    for (int i = 0; i <= TICKS; i++) {
        double x = f->x_least + (f->x_most - f->x_least) * i / TICKS, y = f->y_most * i / TICKS;
        text_addf(t, "<path d=\"M%.1f %dv6M%d %.1fh-6\" stroke=\"#000\"/>\n", x_of(f, x), HIGH - BOTTOM, LEFT,
                  y_of(f, y));
        quantity_at(t, x_of(f, x), HIGH - BOTTOM + 22, "middle", x, c->vary->dim, u);
        quantity_at(t, LEFT - 10, y_of(f, y) + 4, "end", y, DIM_PRESSURE, u);
    }
}

static void line_add(struct text *t, const struct frame *f, const struct curve *c, uint32_t k)
{
    bool down = false;
    text_add(t, "<path fill=\"none\" stroke-width=\"2\" d=\"");
    for (uint32_t i = 0; i < c->n_rows; i++) {
        const struct curve_row *r = &c->rows[i];
        if (!r->solved || isnan(r->pressure[k])) { /* a gap where nothing is known */
            down = false;
            continue;
        }
        text_addf(t, "%c%.1f %.1f", down ? 'L' : 'M', x_of(f, r->value), y_of(f, r->pressure[k]));
        down = true;
    }
    text_addf(t, "\" stroke=\"%s\" stroke-dasharray=\"%s\"/>\n", lines[k % N_LINES].colour, lines[k % N_LINES].dash);
    double y = TOP + 12 + 20.0 * k;
    text_addf(t, "<path d=\"M%d %.1fh30\" stroke-width=\"2\" stroke=\"%s\" stroke-dasharray=\"%s\"/>\n",
              WIDE - RIGHT + 12, y, lines[k % N_LINES].colour, lines[k % N_LINES].dash);
    words_at(t, WIDE - RIGHT + 50, y + 4, "start", c->shows[k].name);
}

void plot_curve(struct text *t, const struct view *v, const struct answer *a, const struct curve *c)
{
    const struct units *u = v->other_units ? &v->units : &a->model->units;
    struct frame f = {fmin(c->vary->from, c->vary->to), fmax(c->vary->from, c->vary->to), 0};
    struct text title = {0};
    for (uint32_t i = 0; i < c->n_rows; i++) {
        for (uint32_t k = 0; c->rows[i].solved && k < c->n_shows; k++)
            f.y_most = fmax(f.y_most, isnan(c->rows[i].pressure[k]) ? 0 : c->rows[i].pressure[k]);
    }
    f.y_most = f.y_most > 0 ? f.y_most * 1.05 : 1;
    text_addf(t,
              "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"%d\" height=\"%d\" viewBox=\"0 0 %d %d\" "
              "font-family=\"Arial, Liberation Sans, sans-serif\" font-size=\"12\">\n"
              "<rect width=\"100%%\" height=\"100%%\" fill=\"#fff\"/>\n",
              WIDE, HIGH, WIDE, HIGH);
    text_addf(&title, "%s: %s, in %s%s%s", a->model->id, c->vary->words, c->state, c->fault ? ", with " : "",
              c->fault ? c->fault : "");
    words_at(t, LEFT, 26, "start", text_string(&title));
    words_at(t, LEFT, 44, "start",
             "A model is a simplification; service information decides. Depressurise before opening a port.");
    axes_add(t, &f, c, u);
    for (uint32_t k = 0; k < c->n_shows; k++)
        line_add(t, &f, c, k);
    text_add(t, "</svg>\n");
    text_release(&title);
}
