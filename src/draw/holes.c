/* Plate holes, joints, check balls, and the leaks that a fault adds. */
#include "base/units.h"
#include "draw/painter.h"
#include <math.h>
#include <stdio.h>

static void small(struct text *t, const char *words)
{
    text_addf(t, "<BR/><FONT POINT-SIZE=\"9\">%s</FONT>", words);
}

static void size_add(struct painter *p, double diameter)
{
    struct text *t = &p->canvas.html;
    if (isnan(diameter))
        return;
    text_add(t, "<BR/><FONT POINT-SIZE=\"9\">");
    quantity_add(t, diameter, DIM_LENGTH, &p->s->o->units);
    text_add(t, "</FONT>");
}

static void fault_look(Agnode_t *node)
{
    canvas_set(node, "style", "filled");
    canvas_set(node, "fillcolor", COLOUR_FAULT);
    canvas_set(node, "fontcolor", "#FFFFFF");
    canvas_set(node, "penwidth", "2");
}

/* What a fault did to the line, in a word; NULL: nothing. */
static const char *fault_word(const struct painter *p, const struct line *l)
{
    if (l->blocked)
        return sketch_marked(p->s, PART_HOLE, l->element.part.i) || l->element.kind != ELEMENT_HOLE ? "BLOCKED"
                                                                                                    : "SHUT BY BALL";
    if (l->resized)
        return "OTHER SIZE";
    return NULL;
}

static struct touch touch_of(const struct line *l, bool at_from)
{
    int flow = l->heavy ? l->heavy_flow : l->flow;
    struct touch t = {.heavy = l->heavy, .fault = l->added};
    if (l->conducts == CERTAIN_NO || (l->element.one_way && flow < 0))
        t.run = RUN_SHUT;
    else
        t.run = flow == 0 ? RUN_STILL : (flow > 0) == at_from ? RUN_IN : RUN_OUT;
    return t;
}

/* Two edges: passage, node, passage. The near side of a shut ball only ends there. */
static void touch_both(struct painter *p, const struct line *l, Agnode_t *from_node, Agnode_t *to_node)
{
    Agraph_t *root = p->canvas.graph;
    painter_touch(p, l->element.from, from_node, NULL, root, touch_of(l, true));
    painter_touch(p, l->element.to, to_node, NULL, root, touch_of(l, false));
}

static Agnode_t *hole_node(struct painter *p, const struct line *l)
{
    const struct hole *h = &p->model->holes[l->element.part.i];
    Agnode_t *node = canvas_node(p->canvas.graph, "", h->part.id);
    struct text *t = &p->canvas.html;
    html_text(t, h->part.id);
    size_add(p, l->element.diameter);
    const char *word = fault_word(p, l);
    if (word)
        small(t, word);
    else if (l->conducts == CERTAIN_MAY && p->s->settled)
        small(t, "in doubt");
    canvas_label(&p->canvas, node);
    canvas_set(node, "shape", "ellipse");
    if (h->orifice || l->element.strength < STRENGTH_OPEN)
        canvas_set(node, "peripheries", "2");
    if (word)
        fault_look(node);
    return node;
}

/* The ball that seats on a hole; one node also for a shuttle. */
static Agnode_t *ball_node(struct painter *p, ball_ix ball)
{
    const struct ball *b = &p->model->balls[ball.i];
    Agnode_t *node = canvas_node(painter_home(p, p->model->passages[b->lies_in.i].layer), "", b->part.id);
    canvas_set(node, "label", b->part.id);
    canvas_set(node, "shape", "circle");
    canvas_set(node, "margin", "0.02");
    canvas_set(node, "width", "0.3");
    if (sketch_marked(p->s, PART_BALL, ball.i)) {
        struct text *t = &p->canvas.html;
        html_text(t, b->part.id);
        small(t, "FAULT");
        canvas_label(&p->canvas, node);
        fault_look(node);
    }
    return node;
}

static void hole_paint(struct painter *p, const struct line *l)
{
    const struct hole *h = &p->model->holes[l->element.part.i];
    Agnode_t *node = hole_node(p, l);
    passage_ix pocket = h->ball.i == NONE ? (passage_ix){NONE} : p->model->balls[h->ball.i].lies_in;
    if (pocket.i != l->element.to.i) {
        touch_both(p, l, node, node);
        return;
    }
    /* The hole runs into the pocket, over the ball. */
    Agnode_t *ball = ball_node(p, h->ball);
    struct touch in = touch_of(l, true);
    bool back = touch_of(l, false).run == RUN_IN; /* against the way in: an open shuttle, a lost ball */
    bool shut = in.run == RUN_SHUT;
    Agedge_t *edge = back || shut ? canvas_edge(&p->canvas, ball, NULL, node, NULL)
                                  : canvas_edge(&p->canvas, node, NULL, ball, NULL);
    canvas_set(edge, "arrowhead", shut ? "tee" : "none");
    canvas_set(edge, "color", shut ? COLOUR_QUIET : COLOUR_INK);
    canvas_set(edge, "penwidth", shut ? "1.4" : "2.2");
    if (in.heavy)
        canvas_set(edge, "penwidth", "6");
    if (shut) { /* pocket, ball, hole, and only then the far passage: nothing runs */
        painter_touch(p, l->element.to, ball, NULL, p->canvas.graph, (struct touch){.run = RUN_FEELS});
        painter_touch(p, l->element.from, node, NULL, p->canvas.graph, (struct touch){.run = RUN_BEYOND});
        return;
    }
    touch_both(p, l, node, ball);
}

static void joint_paint(struct painter *p, const struct line *l)
{
    const struct joint *j = &p->model->joints[l->element.part.i];
    Agnode_t *node = canvas_node(p->canvas.graph, "", j->part.id);
    struct text *t = &p->canvas.html;
    html_text(t, j->part.id);
    if (j->screen)
        small(t, "screen");
    size_add(p, l->element.diameter);
    const char *word = fault_word(p, l);
    if (word)
        small(t, word);
    canvas_label(&p->canvas, node);
    canvas_set(node, "shape", j->screen ? "parallelogram" : "box");
    canvas_set(node, "margin", "0.04,0.02");
    if (word)
        fault_look(node);
    touch_both(p, l, node, node);
}

static void added_paint(struct painter *p, const struct line *l, uint32_t row)
{
    char name[16];
    snprintf(name, sizeof name, "%u", row);
    Agnode_t *node = canvas_node(p->canvas.graph, "fault:", name);
    struct text *t = &p->canvas.html;
    text_add(t, "<B>LEAK</B>");
    if (l->element.part.kind != PART_NONE) {
        text_add(t, "<BR/>");
        html_text(t, model_id(p->model, l->element.part));
    }
    size_add(p, l->element.diameter);
    canvas_label(&p->canvas, node);
    canvas_set(node, "shape", "octagon");
    fault_look(node);
    touch_both(p, l, node, node);
}

void paint_holes(struct painter *p)
{
    for (uint32_t i = 0; i < p->s->n_lines; i++) {
        const struct line *l = &p->s->lines[i];
        if (!l->shown)
            continue;
        switch (l->element.kind) {
        case ELEMENT_HOLE:
            hole_paint(p, l);
            break;
        case ELEMENT_JOINT:
            joint_paint(p, l);
            break;
        case ELEMENT_ADDED:
            added_paint(p, l, i - p->s->network->n_elements);
            break;
        case ELEMENT_VALVE:
        case ELEMENT_SOLENOID:
            break; /* a whole valve is one node: valves.c */
        }
    }
}
