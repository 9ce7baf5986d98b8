/* A curve as an SVG chart: our own, for an axis frame and a few lines need no library. Colours are Okabe and Ito's;
 * dashes tell the lines apart without them. Below the frame: what changes on the way, and the cautions. */
#include "base/escape.h"
#include "report/curve_table.h"
#include "report/text_state.h"
#include <math.h>
#include <string.h>

enum { WIDE = 840, LEFT = 74, RIGHT = 240, DEEP = 300, LINE = 16 };
enum {
    COLUMNS = 100,     /* of the words above and below the frame, at some 7 pixels a column */
    NAME_COLUMNS = 20, /* of a name in the legend; the whole is what a pointer over it shows */
    STEPS = 6,         /* an axis has about as many */
    APART = 20,        /* pixels between the numbers of two changes */
    LISTED = 20        /* changes that are listed */
};
static const struct {
    const char *colour, *dash;
} styles[] = {{"#0072B2", "none"}, {"#D55E00", "8 4"}, {"#009E73", "2 3"}, {"#CC79A7", "12 3 2 3"},
              {"#E69F00", "5 2"},  {"#56B4E9", "1 2"}, {"#000000", "14 6"}};
#define N_STYLES (sizeof styles / sizeof *styles)

#define PRESSURE_LEAST 100.0 /* Pa: less than any gauge shows */

/* An axis in the unit that is shown: SI = zero + shown x one. */
struct axis {
    double zero, one, least, most, step; /* least and most as shown; a tick at each multiple of step */
};
struct plot {
    struct text *t;
    const struct curve *c;
    const struct model *m;
    const struct units *units;
    struct axis x, y;
    double top, base; /* pixels from above: the frame's upper and lower edge */
};

/* 1, 2 or 5 times a power of ten, so that an axis has about STEPS steps. */
static double step_round(double range)
{
    double raw = range / STEPS, ten = pow(10, floor(log10(raw)));
    return ten * (raw < 1.5 * ten ? 1 : raw < 3.5 * ten ? 2 : raw < 7.5 * ten ? 5 : 10);
}

static struct axis axis_make(enum dimension dim, const struct units *u, double least, double most)
{
    struct axis a = {0, 1, 0, 0, 0};
    quantity_read("0", 1, dim, u, &a.zero, NULL);
    quantity_read("1", 1, dim, u, &a.one, NULL);
    a.one -= a.zero;
    a.least = (least - a.zero) / a.one;
    a.most = (most - a.zero) / a.one;
    a.step = step_round(a.most - a.least);
    return a;
}

static double x_of(const struct plot *p, double value)
{
    double shown = (value - p->x.zero) / p->x.one;
    return LEFT + (shown - p->x.least) / (p->x.most - p->x.least) * (WIDE - LEFT - RIGHT);
}

static double y_of(const struct plot *p, double value)
{
    double shown = (value - p->y.zero) / p->y.one;
    return p->base - (shown - p->y.least) / (p->y.most - p->y.least) * (p->base - p->top);
}

static void words_at(struct plot *p, double x, double y, const char *anchor, const char *more, const char *words)
{
    text_addf(p->t, "<text x=\"%.1f\" y=\"%.1f\" text-anchor=\"%s\"%s>", x, y, anchor, more);
    escape_xml(p->t, words, strlen(words));
    text_add(p->t, "</text>\n");
}

/* Folded words, a line of text each, from y on. @return the y of the line after them */
static double words_down(struct plot *p, double y, const struct text *folded)
{
    const char *at = text_string(folded);
    while (*at) {
        size_t n = strcspn(at, "\n");
        struct text line = {0};
        text_add_bytes(&line, at, n);
        words_at(p, LEFT, y, "start", " xml:space=\"preserve\"", text_string(&line));
        text_release(&line);
        at += n + (at[n] == '\n');
        y += LINE;
    }
    return y;
}

static const struct view wide = {.width = COLUMNS};

static void title_add(struct plot *p)
{
    const struct curve *c = p->c;
    struct text one = {0}, folded = {0};
    say(&one, "%s%s%s", p->m->id, p->m->title ? ": " : "", p->m->title ? p->m->title : "");
    say_folded(&folded, &wide, 0, 0, "", PAINT_NONE, text_string(&one));
    text_clear(&one);
    say(&one, "%s, in %s%s%s, by pressure", c->vary->words, c->state, c->fault ? ", with " : "",
        c->fault ? c->fault : "");
    say_folded(&folded, &wide, 0, 0, "", PAINT_NONE, text_string(&one));
    p->top = words_down(p, 26, &folded) + LINE;
    p->base = p->top + DEEP;
    text_release(&one);
    text_release(&folded);
}

/* "leak H130, diameter (mm)": the words of a fault end in " at" or " to". */
static void x_name(struct text *t, const struct plot *p)
{
    static const struct {
        const char *word, *before, *behind;
        bool bare; /* without the fault's own word */
    } sizes[] = {{"resize ", "diameter of ", "", true},
                 {"weaken ", "capacity of ", "", true},
                 {"wear ", "", ", gap", false},
                 {"", "", ", diameter", false}};
    const struct vary *v = p->c->vary;
    if (v->what == VARY_FAULT) {
        size_t i = 0;
        while (strncmp(v->fault, sizes[i].word, strlen(sizes[i].word)) != 0)
            i++;
        const char *from = v->fault + (sizes[i].bare ? strlen(sizes[i].word) : 0);
        text_add(t, sizes[i].before);
        text_add_bytes(t, from, strlen(from) - 3);
        text_add(t, sizes[i].behind);
    } else {
        text_add(t, v->what == VARY_SETTING ? p->m->feeds[v->feed.i].part.id
                    : v->what == VARY_DUTY  ? p->m->solenoids[v->solenoid].part.id
                                            : "temperature of the oil");
    }
    text_addf(t, " (%s)", p->units->name[v->dim]);
}

/* A tick's mark, a stroke from the frame, and its number. */
static void tick_add(struct plot *p, const char *axis, const char *mark, double x, double y, const char *anchor,
                     double shown, double step)
{
    struct text words = {0};
    text_addf(p->t, "<g class=\"%s\"><path d=\"%s\" stroke=\"#000\"/>", axis, mark);
    text_addf(&words, "%.6g", fabs(shown) < step / 1000 ? 0 : shown);
    words_at(p, x, y, anchor, "", text_string(&words));
    text_add(p->t, "</g>\n");
    text_release(&words);
}

static void axes_add(struct plot *p)
{
    struct text words = {0};
    for (double i = ceil(p->x.least / p->x.step - 1e-9); i * p->x.step <= p->x.most + 1e-9 * p->x.step; i++) {
        double at = x_of(p, p->x.zero + i * p->x.step * p->x.one);
        text_clear(&words);
        text_addf(&words, "M%.2f %.2fv6", at, p->base);
        tick_add(p, "tick-x", text_string(&words), at, p->base + 20, "middle", i * p->x.step, p->x.step);
    }
    for (double i = 0; i * p->y.step <= p->y.most + 1e-9 * p->y.step; i++) {
        double at = y_of(p, p->y.zero + i * p->y.step * p->y.one);
        text_addf(p->t, "<path d=\"M%d %.2fh%d\" stroke=\"#ddd\"/>\n", LEFT, at, WIDE - LEFT - RIGHT);
        text_clear(&words);
        text_addf(&words, "M%d %.2fh-6", LEFT, at);
        tick_add(p, "tick-y", text_string(&words), LEFT - 10, at + 4, "end", i * p->y.step, p->y.step);
    }
    text_addf(p->t, "<rect x=\"%d\" y=\"%.1f\" width=\"%d\" height=\"%d\" fill=\"none\" stroke=\"#000\"/>\n", LEFT,
              p->top, WIDE - LEFT - RIGHT, DEEP);
    text_clear(&words);
    x_name(&words, p);
    words_at(p, LEFT + (WIDE - LEFT - RIGHT) / 2.0, p->base + 40, "middle", "", text_string(&words));
    text_clear(&words);
    text_addf(&words, "pressure (%s)", p->units->name[DIM_PRESSURE]);
    text_addf(p->t, "<g transform=\"translate(18 %.1f) rotate(-90)\">", p->top + DEEP / 2.0);
    words_at(p, 0, 0, "middle", "", text_string(&words));
    text_add(p->t, "</g>\n");
    text_release(&words);
}

/* One point of a line; where nothing is known there is a gap, and a point between two gaps is a dot. */
static void point_add(struct plot *p, const struct curve_row *r, uint32_t k, bool *down)
{
    bool known = r->solved && !isnan(r->pressure[k]);
    if (known)
        text_addf(p->t, *down ? "L%.2f %.2f" : "M%.2f %.2fh0", x_of(p, r->value), y_of(p, r->pressure[k]));
    *down = known;
}

static double legend_row(const struct plot *p, uint32_t k)
{
    return p->top + 22 + 20.0 * k;
}

/* A row of the legend: the line, its name, and what it is worth at the right edge, to find lines that lie on others. */
static void legend_add(struct plot *p, uint32_t k, const char *colour, const char *dash)
{
    const struct curve *c = p->c;
    const struct curve_row *edge = &c->rows[c->vary->to > c->vary->from ? c->n_rows - 1 : 0];
    const char *name = c->shows[k].name;
    double y = legend_row(p, k);
    struct text shown = {0};
    size_t n = strlen(name);
    text_addf(p->t, "<path d=\"M%d %.1fh34\" stroke-width=\"2\" stroke=\"%s\" stroke-dasharray=\"%s\"/>\n",
              WIDE - RIGHT + 12, y, colour, dash);
    while (n && escape_width(name, n) > NAME_COLUMNS)
        n--;
    while (n && n < strlen(name) && ((unsigned char)name[n] & 0xC0) == 0x80)
        n--; /* no half of a character */
    text_add_bytes(&shown, name, n);
    text_add(&shown, n < strlen(name) ? "..." : "");
    words_at(p, WIDE - RIGHT + 54, y + 4, "start", "", text_string(&shown));
    text_clear(&shown);
    if (edge->solved && !isnan(edge->pressure[k]))
        text_addf(&shown, "%.4g", (curve_rounded(edge->pressure[k]) - p->y.zero) / p->y.one);
    else
        text_add(&shown, "-");
    words_at(p, WIDE - 10, y + 4, "end", " class=\"edge\"", text_string(&shown));
    text_release(&shown);
}

static void legend_head(struct plot *p)
{
    struct text words = {0};
    text_add(&words, "at ");
    quantity_add(&words, fmax(p->c->vary->from, p->c->vary->to), p->c->vary->dim, p->units);
    words_at(p, WIDE - 10, p->top + 4, "end", " fill=\"#555\"", text_string(&words));
    text_release(&words);
}

static void line_add(struct plot *p, uint32_t k)
{
    const struct curve *c = p->c;
    const char *name = c->shows[k].name, *colour = styles[k % N_STYLES].colour;
    const char *dash = styles[(k + k / N_STYLES) % N_STYLES].dash; /* so that no pair comes twice among 49 */
    bool down = false;
    text_add(p->t, "<g class=\"line\"><title>");
    escape_xml(p->t, name, strlen(name));
    text_add(p->t, "</title><path fill=\"none\" stroke-width=\"2\" stroke-linecap=\"round\" d=\"");
    for (uint32_t i = 0, e = 0; i < c->n_rows; i++) {
        point_add(p, &c->rows[i], k, &down);
        for (; e < c->n_events && c->events[e].row == i; e++) {
            point_add(p, &c->events[e].before, k, &down);
            point_add(p, &c->events[e].after, k, &down);
        }
    }
    text_addf(p->t, "\" stroke=\"%s\" stroke-dasharray=\"%s\"/>\n", colour, dash);
    legend_add(p, k, colour, dash);
    text_add(p->t, "</g>\n");
}

/* A dotted line at each change, numbered above the frame; what stands too near for a number each has one for all,
 * "4-9". */
static void marks_add(struct plot *p)
{
    const struct curve_event *e = p->c->events;
    uint32_t first = 0;
    for (uint32_t i = 0; i < p->c->n_events; i++) {
        double at = x_of(p, e[i].after.value);
        text_addf(p->t, "<path class=\"change\" d=\"M%.2f %.1fV%.1f\" stroke=\"#555\" stroke-dasharray=\"1 3\"/>\n", at,
                  p->top, p->base);
        if (i + 1 < p->c->n_events && fabs(x_of(p, e[i + 1].after.value) - at) < APART)
            continue;
        struct text number = {0};
        text_addf(&number, i > first ? "%u-%u" : "%u", first + 1, i + 1);
        words_at(p, (x_of(p, e[first].after.value) + at) / 2, p->top - 5, "middle", " font-size=\"11\"",
                 text_string(&number));
        text_release(&number);
        first = i + 1;
    }
}

static double changes_add(struct plot *p, double y)
{
    struct text all = {0}, words = {0}, one = {0};
    uint32_t n = p->c->n_events;
    curve_list_head(&all, p->c);
    for (uint32_t i = 0; i < n && i < LISTED; i++) {
        text_clear(&words);
        text_clear(&one);
        curve_change(&one, p->m, &p->c->events[i].before, &p->c->events[i].after);
        text_addf(&words, "%u ", i + 1);
        curve_place(&words, p->c, &p->c->events[i], p->units);
        text_add(&words, ": ");
        escape_plain(&words, one.at, one.n);
        say_folded(&all, &wide, 0, 4, "", PAINT_NONE, text_string(&words));
    }
    if (n > LISTED)
        text_addf(&all, "and %u more: the table tells them\n", n - LISTED);
    y = words_down(p, y, &all);
    text_release(&all);
    text_release(&words);
    text_release(&one);
    return y;
}

/* How far the figures may be trusted, and what to heed: a picture travels without its table. */
static double cautions_add(struct plot *p, const struct answer *a, double y)
{
    struct text words = {0};
    say_basis(&words, &wide, a);
    y = words_down(p, y, &words) + LINE / 2.0;
    text_clear(&words);
    if (curve_wrong_gear(a, p->c))
        say_caution_gear(&words, &wide);
    say_caution_taps(&words, &wide);
    say_caution_model(&words, &wide);
    y = words_down(p, y, &words);
    text_release(&words);
    return y;
}

void plot_curve(struct text *t, const struct view *v, const struct answer *a, const struct curve *c)
{
    struct text body = {0};
    struct plot p = {.t = &body, .c = c, .m = a->model, .units = v->other_units ? &v->units : &a->model->units};
    double most = 0;
    for (uint32_t i = 0; i < c->n_rows; i++) {
        for (uint32_t k = 0; c->rows[i].solved && k < c->n_shows; k++)
            most = fmax(most, c->rows[i].pressure[k]); /* fmax() leaves NAN out */
    }
    for (uint32_t i = 0; i < c->n_events; i++) {
        for (uint32_t k = 0; c->events[i].before.solved && k < c->n_shows; k++)
            most = fmax(most, c->events[i].before.pressure[k]);
        for (uint32_t k = 0; c->events[i].after.solved && k < c->n_shows; k++)
            most = fmax(most, c->events[i].after.pressure[k]);
    }
    p.x = axis_make(c->vary->dim, p.units, fmin(c->vary->from, c->vary->to), fmax(c->vary->from, c->vary->to));
    p.y = axis_make(DIM_PRESSURE, p.units, 0, 1);
    p.y =
        axis_make(DIM_PRESSURE, p.units, 0, most < PRESSURE_LEAST ? p.y.one : most); /* a gauge's zero is no mountain */
    p.y.most = ceil(p.y.most / p.y.step - 1e-9) * p.y.step;
    title_add(&p);
    axes_add(&p);
    marks_add(&p);
    legend_head(&p);
    for (uint32_t k = 0; k < c->n_shows; k++)
        line_add(&p, k);
    double y = fmax(p.base + 70, legend_row(&p, c->n_shows) + LINE);
    y = cautions_add(&p, a, changes_add(&p, y) + LINE / 2.0);
    text_addf(t,
              "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"%d\" height=\"%.0f\" viewBox=\"0 0 %d %.0f\" "
              "font-family=\"Arial, Liberation Sans, sans-serif\" font-size=\"12\">\n"
              "<rect width=\"100%%\" height=\"100%%\" fill=\"#fff\"/>\n",
              WIDE, y, WIDE, y);
    text_add_bytes(t, text_string(&body), body.n);
    text_add(t, "</svg>\n");
    text_release(&body);
}
