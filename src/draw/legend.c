/* The heading of a drawing, its legend and its caution. */
#include "base/escape.h"
#include "draw/painter.h"
#include <string.h>

static void heading_line(struct text *t, const char *what, const char *text)
{
    text_add(t, what);
    html_text(t, text);
    text_add(t, "<BR ALIGN=\"LEFT\"/>");
}

/* One fault a line. */
static void heading_faults(struct text *t, const char *words)
{
    text_addf(t, "<FONT COLOR=\"%s\">Fault: ", COLOUR_FAULT);
    for (const char *next; (next = strstr(words, " + ")); words = next + 3) {
        escape_xml(t, words, (size_t)(next - words));
        text_add(t, " +<BR ALIGN=\"LEFT\"/>");
    }
    html_text(t, words);
    text_add(t, "<BR ALIGN=\"LEFT\"/></FONT>");
}

static void heading(struct painter *p)
{
    const struct sketch *s = p->s;
    const struct model *m = p->model;
    const struct state *state = &m->states[s->o->state.i];
    struct text *t = &p->canvas.html;
    text_add(t, "<FONT POINT-SIZE=\"18\"><B>");
    html_text(t, m->title ? m->title : m->id);
    text_add(t, "</B></FONT><BR ALIGN=\"LEFT\"/>");
    heading_line(t, "State: ", state->part.id);
    if (state->gear.i != NONE)
        heading_line(t, "Gear commanded: ", m->gears[state->gear.i].part.id);
    if (s->settled)
        heading_line(t, s->o->pressures ? "Gear by pressure: " : "Gear by structure: ",
                     gear_word(m, counts_gear(&s->t->cases[s->c], s->o->pressures)->gear));
    else
        text_add(t, "<B>This state does not settle: which passages<BR ALIGN=\"LEFT\"/>are fed cannot be told.</B><BR "
                    "ALIGN=\"LEFT\"/>");
    if (s->o->faults) {
        heading_faults(t, s->o->faults);
    } else
        heading_line(t, "Healthy", "");
    if (s->o->feed.i != NONE)
        heading_line(t, "Only what this feed reaches: ", m->feeds[s->o->feed.i].part.id);
    if (s->o->circuit.i != NONE)
        heading_line(t, "Only this circuit and what touches it: ", m->circuits[s->o->circuit.i].part.id);
    if (s->o->around.kind != PART_NONE)
        heading_line(t, "Only what is near ", model_id(m, s->o->around));
    if (s->o->all)
        heading_line(t, "All passages, also those without oil", "");
    text_add(t, "<BR ALIGN=\"LEFT\"/><B>Depressurise before opening a port.</B><BR ALIGN=\"LEFT\"/>"
                "A model is a simplification; service information decides.<BR ALIGN=\"LEFT\"/>");
}

/* ---- legend: small tables side by side */

#define COLUMN_BEGIN "<TD VALIGN=\"TOP\"><TABLE BORDER=\"0\" CELLBORDER=\"0\" CELLSPACING=\"2\" CELLPADDING=\"2\">"
#define COLUMN_END   "</TABLE></TD>"

static void legend_conditions(struct text *t)
{
    static const struct {
        enum condition condition;
        const char *what;
    } rows[] = {{FED, "fed"},
                {PARTIAL, "partial: fed and drained at once"},
                {EXHAUSTED, "exhausted: drains to sump"},
                {TRAPPED, "trapped: neither fed nor drained"},
                {UNSURE, "unsure: structure cannot tell"}};
    text_add(t, COLUMN_BEGIN);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        text_addf(t, "<TR><TD BORDER=\"1\" WIDTH=\"36\" BGCOLOR=\"%s\"> </TD><TD ALIGN=\"LEFT\">%s</TD></TR>",
                  palette_fill(true, rows[i].condition), rows[i].what);
    text_add(t, COLUMN_END);
}

static void legend_signs(struct painter *p)
{
    static const char *const signs[][2] = {{"arrow", "which way oil runs"},
                                           {"bar", "ends at something shut"},
                                           {"ring", "pressure is felt, nothing runs"},
                                           {"oval", "plate hole; double line: orifice"},
                                           {"circle", "check ball"},
                                           {"sump", "drains to the pan"}};
    struct text *t = &p->canvas.html;
    text_add(t, COLUMN_BEGIN);
    for (size_t i = 0; i < sizeof signs / sizeof *signs; i++)
        text_addf(t, "<TR><TD><I>%s</I></TD><TD ALIGN=\"LEFT\">%s</TD></TR>", signs[i][0], signs[i][1]);
    if (p->s->o->route)
        text_add(t, "<TR><TD><B>heavy</B></TD><TD ALIGN=\"LEFT\">the route that was asked for</TD></TR>");
    if (p->s->o->faults)
        text_addf(t, "<TR><TD BGCOLOR=\"%s\"> </TD><TD ALIGN=\"LEFT\">the fault; framed: what it changes</TD></TR>",
                  COLOUR_FAULT);
    text_add(t, COLUMN_END);
}

static void legend_circuit(struct painter *p, uint32_t row)
{
    static const char *const borders[] = {[PATTERN_SOLID] = "SIDES=\"B\" BORDER=\"3\"",
                                          [PATTERN_DASHED] = "SIDES=\"B\" BORDER=\"3\" STYLE=\"DASHED\"",
                                          [PATTERN_DOTTED] = "SIDES=\"B\" BORDER=\"3\" STYLE=\"DOTTED\"",
                                          [PATTERN_DOUBLE] = "SIDES=\"TB\" BORDER=\"1\""};
    const struct circuit *c = &p->model->circuits[row];
    struct text *t = &p->canvas.html;
    text_addf(t, "<TR><TD WIDTH=\"36\" COLOR=\"%s\" %s></TD><TD ALIGN=\"LEFT\">", p->looks[row].colour,
              borders[p->looks[row].pattern]);
    html_text(t, c->part.id);
    if (c->part.title) {
        text_add(t, ": ");
        html_text(t, c->part.title);
    }
    text_add(t, "</TD></TR>");
}

#define CIRCUITS_A_COLUMN 7u /* or less, so that all columns are about equally long */

static void legend_circuits(struct painter *p)
{
    struct text *t = &p->canvas.html;
    uint32_t n = 0, n_used = 0;
    for (uint32_t i = 0; i < p->model->n_circuits; i++)
        n_used += p->look_used[i];
    uint32_t n_columns = (n_used + CIRCUITS_A_COLUMN - 1) / CIRCUITS_A_COLUMN;
    for (uint32_t i = 0; i < p->model->n_circuits; i++) {
        if (!p->look_used[i])
            continue;
        if (n % ((n_used + n_columns - 1) / n_columns) == 0)
            text_add(t, n ? COLUMN_END COLUMN_BEGIN : COLUMN_BEGIN);
        legend_circuit(p, i);
        n++;
    }
    for (; n_columns == 1 && n < CIRCUITS_A_COLUMN; n++)
        text_add(t, "<TR><TD> </TD></TR>"); /* or the few rows would be drawn apart */
    if (n)
        text_add(t, COLUMN_END);
}

void paint_heading(struct painter *p)
{
    struct text *t = &p->canvas.html;
    text_add(t, "<TABLE BORDER=\"0\" CELLBORDER=\"0\" CELLSPACING=\"8\"><TR><TD VALIGN=\"TOP\" BALIGN=\"LEFT\">");
    heading(p);
    text_add(t, "</TD>");
    legend_conditions(t);
    legend_signs(p);
    legend_circuits(p);
    text_add(t, "</TR></TABLE>");
    canvas_label(&p->canvas, p->canvas.graph);
}
