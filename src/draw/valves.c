/* Valves, solenoids and devices: one node each, a table with a cell a port. A valve's ports stand in the order of its
 * bore. */
#include "base/mem.h"
#include "base/units.h"
#include "draw/painter.h"
#include <math.h>
#include <stdio.h>

#define TABLE "<TABLE BORDER=\"0\" CELLBORDER=\"1\" CELLSPACING=\"0\" CELLPADDING=\"4\"><TR>"

static void small_text(struct text *t, const char *s)
{
    text_add(t, "<BR/><FONT POINT-SIZE=\"9\">");
    html_text(t, s);
    text_add(t, "</FONT>");
}

static const char *cell_fill(const struct painter *p, passage_ix passage)
{
    if (!p->s->settled || passage.i == SUMP.i)
        return "#FFFFFF";
    return palette_fill(true, trace_condition(p->s->t, p->s->c, passage));
}

static void cell_name(char *out, size_t n, uint32_t port)
{
    snprintf(out, n, "p%u", port);
}

static void cell_add(struct painter *p, uint32_t port, const char *name, passage_ix passage, bool end)
{
    struct text *t = &p->canvas.html;
    text_addf(t, "<TD PORT=\"p%u\" BGCOLOR=\"%s\">", port, cell_fill(p, passage));
    html_text(t, name);
    if (end)
        small_text(t, "end");
    else if (passage.i == SUMP.i)
        small_text(t, "sump");
    text_add(t, "</TD>");
}

/* Begins a node's table with its name; the caller adds lines of small text, then title_end(). */
static void title_begin(struct painter *p, const char *id, bool fault)
{
    struct text *t = &p->canvas.html;
    text_add(t, TABLE);
    text_addf(t, "<TD BGCOLOR=\"%s\">", fault ? COLOUR_FAULT : "#EEEEEE");
    if (fault)
        text_add(t, "<FONT COLOR=\"#FFFFFF\">");
    html_bold(t, id);
}

static void title_end(struct painter *p, bool fault)
{
    text_add(&p->canvas.html, fault ? "<BR/><FONT POINT-SIZE=\"9\">FAULT</FONT></FONT></TD>" : "</TD>");
}

static Agnode_t *table_node(struct painter *p, layer_ix home, const char *id)
{
    Agnode_t *node = canvas_node(painter_home(p, home), "", id);
    text_add(&p->canvas.html, "</TR></TABLE>");
    canvas_label(&p->canvas, node);
    canvas_set(node, "shape", "plain");
    return node;
}

/* ---- ports: how each is joined */

/* What the open windows of a part do at one port. */
struct at_port {
    bool open, heavy;
    int flow; /* +1: oil enters the part here, -1: leaves, 0: cannot be told */
};

static struct at_port at_port(const struct sketch *s, uint32_t first, uint32_t end, uint32_t port)
{
    struct at_port a = {0};
    for (uint32_t i = first; i < end; i++) {
        const struct line *l = &s->lines[i];
        int side = l->element.ports[0] == port ? 1 : l->element.ports[1] == port ? -1 : 0;
        if (!side || l->conducts == CERTAIN_NO || l->blocked)
            continue;
        passage_ix here = side > 0 ? l->element.from : l->element.to;
        if (here.i == SUMP.i && !l->shown)
            continue; /* no drain is drawn for what is not shown */
        int flow = side * (l->heavy ? l->heavy_flow : l->flow);
        if (!a.open || l->heavy || !a.flow)
            a.flow = flow;
        a.open = true;
        a.heavy |= l->heavy;
    }
    return a;
}

static void port_touch(struct painter *p, Agnode_t *node, layer_ix home, const struct port *port, uint32_t row,
                       struct at_port a, bool end)
{
    char cell[16];
    cell_name(cell, sizeof cell, row);
    if (port->passage.i == SUMP.i && !a.open)
        return; /* the cell says sump; no drain is drawn that drains nothing */
    struct touch t = {.heavy = a.heavy};
    if (a.open)
        t.run = a.flow > 0 ? RUN_IN : a.flow < 0 ? RUN_OUT : RUN_STILL;
    else
        t.run = end ? RUN_FEELS : RUN_SHUT;
    painter_touch(p, port->passage, node, cell, painter_home(p, home), t);
}

/* ---- valves */

/* An end, unless the fault blocks it. */
static bool end_feels(const struct sketch *s, uint32_t row, uint32_t port)
{
    for (uint32_t i = 0; i < s->edits->n; i++) {
        const struct edit *e = &s->edits->rows[i];
        if (e->kind == EDIT_BLOCK_END && e->valve.i == row && e->position == port)
            return false;
    }
    return valve_port_is_end(&s->model->valves[row], port);
}

/* "in > out", "low > x2": the windows that are open. */
static void windows_add(struct painter *p, const struct valve *v, uint32_t first, uint32_t end)
{
    struct text *t = &p->canvas.html;
    for (uint32_t i = first; i < end; i++) {
        const struct line *l = &p->s->lines[i];
        if (l->conducts == CERTAIN_NO || l->blocked || !p->s->settled)
            continue;
        bool back = l->flow < 0;
        text_add(t, "<BR/><FONT POINT-SIZE=\"9\">");
        html_text(t, v->ports[l->element.ports[back]].name);
        text_add(t, " &gt; ");
        html_text(t, v->ports[l->element.ports[!back]].name);
        text_add(t, l->conducts == CERTAIN_MAY ? "?</FONT>" : "</FONT>");
    }
}

static const char *kind_word(const struct valve *v)
{
    static const char *const words[] = {[VALVE_MANUAL] = "manual valve",
                                        [VALVE_SPOOL] = NULL,
                                        [VALVE_LIMITING] = NULL,
                                        [VALVE_REGULATING] = "regulating valve",
                                        [VALVE_RELIEF] = "relief valve"};
    return words[v->kind];
}

static void valve_title(struct painter *p, uint32_t row)
{
    const struct valve *v = &p->model->valves[row];
    const struct sketch *s = p->s;
    bool fault = sketch_marked(s, PART_VALVE, row);
    title_begin(p, v->part.id, fault);
    struct text *t = &p->canvas.html;
    if (kind_word(v))
        small_text(t, kind_word(v));
    if (s->settled && v->kind != VALVE_REGULATING && v->kind != VALVE_RELIEF)
        small_text(t, counts_valve_word(s->t, s->c, s->o->pressures, (valve_ix){row}));
    if (v->kind == VALVE_LIMITING && !isnan(v->limit)) {
        text_add(t, "<BR/><FONT POINT-SIZE=\"9\">limit ");
        quantity_add(t, v->limit, DIM_PRESSURE, &s->o->units);
        text_add(t, "</FONT>");
    }
    windows_add(p, v, s->network->valve_element[row], s->network->valve_element[row + 1]);
    title_end(p, fault);
}

/* Ports in bore order, then those that the order leaves out. */
static uint32_t ports_in_order(const struct valve *v, uint32_t *order)
{
    uint32_t n = 0;
    for (uint32_t i = 0; i < v->n_along; i++)
        order[n++] = v->along[i];
    for (uint32_t i = 0; i < v->n_ports; i++) {
        bool there = false;
        for (uint32_t k = 0; k < v->n_along; k++)
            there |= v->along[k] == i;
        if (!there)
            order[n++] = i;
    }
    return n;
}

static void valve_paint(struct painter *p, uint32_t row)
{
    const struct valve *v = &p->model->valves[row];
    const struct sketch *s = p->s;
    uint32_t first = s->network->valve_element[row], end = s->network->valve_element[row + 1];
    uint32_t *order = arena_rows(p->arena, (size_t)v->n_ports + v->n_along, sizeof *order);
    uint32_t n = ports_in_order(v, order);
    layer_ix home = sketch_home(s, v->ports, v->n_ports);
    valve_title(p, row);
    for (uint32_t i = 0; i < n; i++)
        cell_add(p, order[i], v->ports[order[i]].name, v->ports[order[i]].passage, valve_port_is_end(v, order[i]));
    Agnode_t *node = table_node(p, home, v->part.id);
    for (uint32_t i = 0; i < n; i++)
        port_touch(p, node, home, &v->ports[order[i]], order[i], at_port(s, first, end, order[i]),
                   end_feels(s, row, order[i]));
}

/* A regulator may have no port of its own: it stands at its source's passage. */
static void regulator_paint(struct painter *p, uint32_t row)
{
    const struct valve *v = &p->model->valves[row];
    passage_ix at = p->model->feeds[v->source.i].passage;
    if (!p->s->shown[p->s->box[at.i]])
        return;
    valve_title(p, row);
    Agnode_t *node = table_node(p, p->model->passages[at.i].layer, v->part.id);
    painter_touch(p, at, node, NULL, p->canvas.graph, (struct touch){.run = RUN_FEELS});
}

void paint_valves(struct painter *p)
{
    for (uint32_t i = 0; i < p->model->n_valves; i++) {
        const struct valve *v = &p->model->valves[i];
        if (v->n_ports && sketch_shows(p->s, v->ports, v->n_ports))
            valve_paint(p, i);
        else if (!v->n_ports && v->kind == VALVE_REGULATING && v->source.i != NONE)
            regulator_paint(p, i);
    }
}

/* ---- solenoids */

static double share_now(const struct sketch *s, uint32_t row)
{
    for (uint32_t i = 0; i < s->edits->n; i++)
        if (s->edits->rows[i].kind == EDIT_SOLENOID && s->edits->rows[i].solenoid.i == row)
            return s->edits->rows[i].value;
    return s->model->states[s->o->state.i].shares[row];
}

static void share_add(struct painter *p, double share)
{
    struct text *t = &p->canvas.html;
    if (share <= 0 || share >= 1)
        small_text(t, share <= 0 ? "off" : "on");
    else
        text_addf(t, "<BR/><FONT POINT-SIZE=\"9\">%.3g %%</FONT>", 100 * share);
}

void paint_solenoids(struct painter *p)
{
    static const char *const kinds[] = {[SOLENOID_BLEED] = "bleed solenoid",
                                        [SOLENOID_THREE_WAY] = "3-way solenoid",
                                        [SOLENOID_DUTY] = "duty solenoid"};
    const struct sketch *s = p->s;
    for (uint32_t i = 0; i < p->model->n_solenoids; i++) {
        const struct solenoid *sol = &p->model->solenoids[i];
        if (!sketch_shows(s, sol->ports, sol->n_ports))
            continue;
        uint32_t first = s->network->solenoid_element[i], end = s->network->solenoid_element[i + 1];
        bool fault = sketch_marked(s, PART_SOLENOID, i);
        layer_ix home = sketch_home(s, sol->ports, sol->n_ports);
        title_begin(p, sol->part.id, fault);
        small_text(&p->canvas.html, kinds[sol->kind]);
        share_add(p, share_now(s, i));
        title_end(p, fault);
        for (uint32_t k = 0; k < sol->n_ports; k++)
            cell_add(p, k, sol->ports[k].name, sol->ports[k].passage, false);
        Agnode_t *node = table_node(p, home, sol->part.id);
        for (uint32_t k = 0; k < sol->n_ports; k++)
            port_touch(p, node, home, &sol->ports[k], k, at_port(s, first, end, k), false);
    }
}

/* ---- devices */

static void actuator_paint(struct painter *p, uint32_t row)
{
    static const char *const kinds[] = {[ACTUATOR_CLUTCH] = "clutch",
                                        [ACTUATOR_BAND] = "band",
                                        [ACTUATOR_ACCUMULATOR] = "accumulator",
                                        [ACTUATOR_CONVERTER] = "converter clutch"};
    const struct actuator *d = &p->model->actuators[row];
    const struct sketch *s = p->s;
    struct text *t = &p->canvas.html;
    bool fault = sketch_marked(s, PART_ACTUATOR, row);
    const struct pressures *now = s->o->pressures, *was = s->o->healthy;
    bool applied = s->settled && counts_device(&s->t->cases[s->c], now, row) == DEVICE_APPLIED;
    text_add(t, "<TABLE BORDER=\"2\" CELLBORDER=\"0\" CELLSPACING=\"0\" CELLPADDING=\"4\" STYLE=\"ROUNDED\"><TR>");
    text_addf(t, "<TD CELLPADDING=\"6\" BGCOLOR=\"%s\">", fault ? COLOUR_FAULT : applied ? "#FFFFFF" : "#EEEEEE");
    html_bold(t, d->part.id);
    small_text(t, kinds[d->kind]);
    if (s->settled) {
        text_add(t, "<BR/><B>");
        html_text(t, counts_device_word(&s->t->cases[s->c], now, row));
        text_add(t, "</B>");
        if (s->compares &&
            counts_device(&s->healthy->cases[s->was], was, row) != counts_device(&s->t->cases[s->c], now, row)) {
            struct text healthy = {0};
            text_addf(&healthy, "healthy: %s", counts_device_word(&s->healthy->cases[s->was], was, row));
            text_add(t, "<BR/><FONT POINT-SIZE=\"9\">");
            html_bold(t, text_string(&healthy));
            text_add(t, "</FONT>");
            text_release(&healthy);
        }
    }
    text_add(t, "</TD>");
    cell_add(p, 0, "apply", d->apply, false);
    if (d->release.i != NONE)
        cell_add(p, 1, "release", d->release, false);
    layer_ix home = s->model->passages[d->apply.i].layer;
    Agnode_t *node = table_node(p, home, d->part.id);
    painter_touch(p, d->apply, node, "p0", p->canvas.graph, (struct touch){.run = RUN_FEELS});
    if (d->release.i != NONE)
        painter_touch(p, d->release, node, "p1", p->canvas.graph, (struct touch){.run = RUN_FEELS});
}

void paint_actuators(struct painter *p)
{
    for (uint32_t i = 0; i < p->model->n_actuators; i++) {
        const struct actuator *d = &p->model->actuators[i];
        if (sketch_shows_actuator(p->s, d))
            actuator_paint(p, i);
    }
}
