/* The heading of a drawing, its legend and its caution. */
#include "draw/painter.h"
#include <string.h>

static void heading_line(struct text *t, const char *what, const char *text)
{
    text_add(t, "<BR ALIGN=\"LEFT\"/>");
    text_add(t, what);
    html_text(t, text);
}

void paint_heading(struct painter *p)
{
    const struct sketch *s = p->s;
    const struct model *m = p->model;
    const struct state *state = &m->states[s->o->state.i];
    struct text *t = &p->canvas.html;
    text_add(t, "<FONT POINT-SIZE=\"18\"><B>");
    html_text(t, m->title ? m->title : m->id);
    text_add(t, "</B></FONT>");
    heading_line(t, "State: ", state->part.id);
    if (state->gear.i != NONE)
        heading_line(t, "Gear commanded: ", m->gears[state->gear.i].part.id);
    if (s->settled)
        heading_line(t, "Gear by structure: ", gear_word(m, s->t->cases[s->c].gear.gear));
    else
        text_add(t, "<BR ALIGN=\"LEFT\"/><B>This state does not settle: which passages are fed cannot be told.</B>");
    if (s->o->faults) {
        text_addf(t, "<BR ALIGN=\"LEFT\"/><FONT COLOR=\"%s\"><B>Fault: ", COLOUR_FAULT);
        html_text(t, s->o->faults);
        text_add(t, "</B></FONT>");
    } else
        text_add(t, "<BR ALIGN=\"LEFT\"/>Healthy");
    if (s->o->all)
        text_add(t, "<BR ALIGN=\"LEFT\"/>All passages, also those without oil");
    text_add(t, "<BR ALIGN=\"LEFT\"/>");
    canvas_label(&p->canvas, p->canvas.graph);
}

static void legend_conditions(struct painter *p)
{
    static const struct {
        enum condition condition;
        const char *what;
    } rows[] = {{FED, "fed"},
                {PARTIAL, "partial: fed and drained at once"},
                {EXHAUSTED, "exhausted: drains to sump"},
                {TRAPPED, "trapped: neither fed nor drained"},
                {UNSURE, "unsure: structure cannot tell"}};
    struct text *t = &p->canvas.html;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        text_addf(t, "<TR><TD BORDER=\"1\" WIDTH=\"40\" BGCOLOR=\"%s\"> </TD><TD ALIGN=\"LEFT\">%s</TD></TR>",
                  palette_fill(true, rows[i].condition), rows[i].what);
}

static void legend_circuits(struct painter *p)
{
    static const char *const borders[] = {[PATTERN_SOLID] = "SIDES=\"B\" BORDER=\"2\"",
                                          [PATTERN_DASHED] = "SIDES=\"B\" BORDER=\"2\" STYLE=\"DASHED\"",
                                          [PATTERN_DOTTED] = "SIDES=\"B\" BORDER=\"2\" STYLE=\"DOTTED\"",
                                          [PATTERN_DOUBLE] = "SIDES=\"TB\" BORDER=\"1\""};
    struct text *t = &p->canvas.html;
    for (uint32_t i = 0; i < p->model->n_circuits; i++) {
        const struct circuit *c = &p->model->circuits[i];
        if (!p->look_used[i])
            continue;
        text_addf(t, "<TR><TD HEIGHT=\"4\" FIXEDSIZE=\"FALSE\" COLOR=\"%s\" %s></TD><TD ALIGN=\"LEFT\">",
                  p->looks[i].colour, borders[p->looks[i].pattern]);
        html_text(t, c->part.id);
        if (c->part.title) {
            text_add(t, ": ");
            html_text(t, c->part.title);
        }
        text_add(t, "</TD></TR>");
    }
}

void paint_legend(struct painter *p)
{
    static const char *const signs[][2] = {
        {"arrow", "which way oil runs"},
        {"bar", "ends at something shut"},
        {"ring", "pressure is felt, nothing runs: a spool's end, a device, a seated ball"},
        {"oval", "plate hole; double line: orifice"},
        {"circle", "check ball"},
        {"sump", "drains to the pan"}};
    struct text *t = &p->canvas.html;
    text_add(t, "<TABLE BORDER=\"1\" CELLBORDER=\"0\" CELLSPACING=\"3\" CELLPADDING=\"2\">");
    text_add(t, "<TR><TD COLSPAN=\"2\"><B>Legend</B></TD></TR>");
    legend_conditions(p);
    legend_circuits(p);
    for (size_t i = 0; i < sizeof signs / sizeof *signs; i++)
        text_addf(t, "<TR><TD><I>%s</I></TD><TD ALIGN=\"LEFT\">%s</TD></TR>", signs[i][0], signs[i][1]);
    if (p->s->o->route)
        text_add(t, "<TR><TD><I>heavy</I></TD><TD ALIGN=\"LEFT\">the route that was asked for</TD></TR>");
    if (p->s->o->faults)
        text_addf(t, "<TR><TD BGCOLOR=\"%s\"> </TD><TD ALIGN=\"LEFT\">the fault; framed: what it changes</TD></TR>",
                  COLOUR_FAULT);
    text_add(
        t,
        "<TR><TD COLSPAN=\"2\"><B>Depressurise before opening a port.</B><BR/>A model is a simplification;<BR/>service "
        "information decides.</TD></TR>");
    text_add(t, "</TABLE>");
    Agnode_t *node = canvas_node(p->canvas.graph, "", "legend:");
    canvas_label(&p->canvas, node);
    canvas_set(node, "shape", "plain");
}
