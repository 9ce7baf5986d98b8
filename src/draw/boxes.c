/* Passages, sources, drains, and the edges that join all else to them. */
#include "base/units.h"
#include "draw/painter.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

Agraph_t *painter_home(const struct painter *p, layer_ix layer)
{
    return layer.i != NONE && p->casting[layer.i] ? p->casting[layer.i] : p->canvas.graph;
}

static Agnode_t *drain_node(struct painter *p, Agraph_t *home)
{
    char name[24];
    snprintf(name, sizeof name, "%u", p->canvas.n_drains++);
    Agnode_t *node = canvas_node(home, "drain:", name);
    canvas_set(node, "label", "sump");
    canvas_set(node, "shape", "invtriangle");
    canvas_set(node, "fontsize", "8");
    canvas_set(node, "margin", "0");
    canvas_set(node, "height", "0.25");
    canvas_set(node, "width", "0.4");
    return node;
}

static const char *edge_style(enum pattern pattern)
{
    static const char *const styles[] = {"solid", "dashed", "dotted", "solid"};
    return styles[pattern];
}

/* Two thin lines side by side for the fourth pattern. */
static void edge_colour(void *edge, struct circuit_look look)
{
    char colours[40];
    if (look.pattern == PATTERN_DOUBLE) {
        snprintf(colours, sizeof colours, "%s:white:%s", look.colour, look.colour);
        canvas_set(edge, "color", colours);
    } else
        canvas_set(edge, "color", look.colour);
    canvas_set(edge, "style", edge_style(look.pattern));
    if (look.pattern == PATTERN_DOTTED)
        canvas_set(edge, "penwidth", "3.2"); /* as dark as the others */
}

void painter_touch(struct painter *p, passage_ix passage, Agnode_t *node, const char *port, Agraph_t *home,
                   struct touch touch)
{
    bool sump = passage.i == SUMP.i;
    Agnode_t *box = sump ? drain_node(p, home) : p->box[p->s->box[passage.i]];
    if (!box)
        return;
    bool out = touch.run == RUN_OUT || touch.run == RUN_BEYOND || (sump && touch.run == RUN_STILL);
    Agedge_t *edge =
        out ? canvas_edge(&p->canvas, node, port, box, NULL) : canvas_edge(&p->canvas, box, NULL, node, port);
    static const char *const heads[] = {[RUN_IN] = "none",  [RUN_OUT] = "normal", [RUN_STILL] = "none",
                                        [RUN_SHUT] = "tee", [RUN_FEELS] = "odot", [RUN_BEYOND] = "none"};
    canvas_set(edge, "arrowhead", heads[sump ? RUN_OUT : touch.run]);
    if (touch.fault) {
        canvas_set(edge, "color", COLOUR_FAULT);
        canvas_set(edge, "penwidth", "3");
        return;
    }
    circuit_ix circuit = p->model->passages[passage.i].circuit;
    if (sump || touch.run == RUN_BEYOND || !sketch_live(p->s, passage)) {
        canvas_set(edge, "color", COLOUR_QUIET);
    } else {
        edge_colour(edge, p->looks[circuit.i]);
        p->look_used[circuit.i] = true;
    }
    if (touch.heavy)
        canvas_set(edge, "penwidth", "6");
    else if (touch.run == RUN_SHUT || touch.run == RUN_BEYOND)
        canvas_set(edge, "penwidth", "1.4");
}

/* ---- boxes */

static void box_text(struct painter *p, const char *before, const char *text)
{
    struct text *t = &p->canvas.html;
    text_add(t, "<BR/><FONT POINT-SIZE=\"9\">");
    text_add(t, before);
    html_text(t, text);
    text_add(t, "</FONT>");
}

/* A bold line with room at its sides: layout takes bold letters for narrower than they are. */
static void box_bold(struct text *t, int points, const char *s)
{
    text_addf(t, "<BR/><FONT POINT-SIZE=\"%d\">", points);
    html_bold(t, s);
    text_add(t, "</FONT>");
}

/* What stands at a passage: the name of a feed, gauge ports, pressure switches. */
static void box_users(struct painter *p, uint32_t passage)
{
    const struct model *m = p->model;
    for (uint32_t i = 0; i < m->n_feeds; i++)
        if (!m->feeds[i].is_source && m->feeds[i].passage.i == passage)
            box_text(p, "feed ", m->feeds[i].part.id);
    for (uint32_t i = 0; i < m->n_taps; i++)
        if (m->taps[i].on.i == passage)
            box_text(p, "tap ", m->taps[i].part.id);
    for (uint32_t i = 0; i < m->n_switches; i++)
        if (m->switches[i].on.i == passage)
            box_text(p, "switch ", m->switches[i].part.id);
}

/* What a gauge would read here, and what it reads when healthy where that is another figure. */
static void box_pressure(struct painter *p, passage_ix passage)
{
    const struct draw_options *o = p->s->o;
    if (!o->pressures || isnan(o->pressures->pressure[passage.i]))
        return;
    struct text now = {0}, was = {0};
    pressure_add(&now, o->pressures->pressure[passage.i], &o->units);
    if (o->healthy && !isnan(o->healthy->pressure[passage.i]))
        pressure_add(&was, o->healthy->pressure[passage.i], &o->units);
    struct text *t = &p->canvas.html;
    box_bold(t, 11, text_string(&now));
    if (was.n && strcmp(text_string(&now), text_string(&was)) != 0) {
        text_clear(&now);
        text_addf(&now, "healthy: %s", text_string(&was));
        box_bold(t, 9, text_string(&now));
    }
    text_release(&now);
    text_release(&was);
}

static void box_condition(struct painter *p, passage_ix passage)
{
    if (!p->s->settled)
        return;
    enum condition was;
    const char *now = condition_word(trace_condition(p->s->t, p->s->c, passage));
    struct text *t = &p->canvas.html;
    box_pressure(p, passage);
    if (!sketch_changed(p->s, passage, &was)) {
        box_text(p, "", now);
        return;
    }
    struct text both = {0};
    text_addf(&both, "%s, healthy: %s", now, condition_word(was));
    box_bold(t, 9, text_string(&both));
    text_release(&both);
}

static void box_paint(struct painter *p, uint32_t root)
{
    const struct model *m = p->model;
    const struct passage *first = &m->passages[root];
    Agnode_t *node = p->box[root] = canvas_node(painter_home(p, first->layer), "", first->part.id);
    struct text *t = &p->canvas.html;
    enum condition was;
    text_add(t, "<B>");
    for (uint32_t i = root; i != NONE; i = p->s->next[i]) {
        if (i != root)
            text_add(t, "<BR/>");
        html_text(t, m->passages[i].part.id);
    }
    text_add(t, "</B>");
    for (uint32_t i = root; i != NONE; i = p->s->next[i])
        if (p->s->used[i])
            box_users(p, i);
    box_condition(p, (passage_ix){root});
    canvas_label(&p->canvas, node);
    enum condition now = p->s->settled ? trace_condition(p->s->t, p->s->c, (passage_ix){root}) : TRAPPED;
    canvas_set(node, "fillcolor", palette_fill(p->s->settled, now));
    canvas_set(node, "style", "filled,rounded");
    struct circuit_look look = p->looks[first->circuit.i];
    p->look_used[first->circuit.i] = true;
    canvas_set(node, "color", sketch_live(p->s, (passage_ix){root}) ? look.colour : COLOUR_QUIET);
    if (sketch_changed(p->s, (passage_ix){root}, &was)) {
        canvas_set(node, "color", COLOUR_FAULT);
        canvas_set(node, "penwidth", "3");
    }
}

/* What a source is set to, and where the pressures have it then: a regulated one is set to its base and more. */
static void source_pressure(struct painter *p, feed_ix f, double setting)
{
    const struct draw_options *o = p->s->o;
    struct text set = {0}, here = {0};
    quantity_add(&set, setting, DIM_PRESSURE, &o->units);
    if (o->pressures && !isnan(o->pressures->sources[f.i].pressure))
        pressure_add(&here, o->pressures->sources[f.i].pressure, &o->units);
    struct text *t = &p->canvas.html;
    bool regulated = p->model->states[o->state.i].sources[f.i].regulated;
    text_addf(t, "<BR/>%s%s", text_string(&set), regulated ? " and up" : "");
    if (here.n && strcmp(text_string(&set), text_string(&here)) != 0)
        text_addf(t, "<BR/>here %s", text_string(&here));
    text_release(&set);
    text_release(&here);
}

static void source_paint(struct painter *p, feed_ix f)
{
    const struct feed *feed = &p->model->feeds[f.i];
    Agnode_t *box = p->box[p->s->box[feed->passage.i]];
    double setting = p->s->settled ? trace_setting(p->s->t, p->s->c, f) : NAN;
    if (!box || setting == 0)
        return;
    Agnode_t *node = canvas_node(painter_home(p, p->model->passages[feed->passage.i].layer), "source:", feed->part.id);
    struct text *t = &p->canvas.html;
    text_add(t, "<B>");
    html_text(t, feed->part.id);
    text_add(t, "</B>");
    if (!isnan(setting))
        source_pressure(p, f, setting);
    canvas_label(&p->canvas, node);
    canvas_set(node, "shape", "invhouse");
    canvas_set(node, "style", "filled");
    canvas_set(node, "fillcolor", "#FFFFFF");
    canvas_set(node, "penwidth", "2");
    painter_touch(p, feed->passage, node, NULL, NULL, (struct touch){.run = RUN_OUT});
}

void paint_boxes(struct painter *p)
{
    const struct model *m = p->model;
    for (uint32_t i = SUMP.i + 1; i < m->n_passages; i++)
        if (p->s->box[i] == i && p->s->shown[i])
            box_paint(p, i);
    for (uint32_t f = 0; f < m->n_feeds; f++)
        if (m->feeds[f].is_source)
            source_paint(p, (feed_ix){f});
}
