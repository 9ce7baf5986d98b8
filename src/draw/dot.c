/* A drawing from its pieces: the graph, a cluster a casting, all that stands in and between them. */
#include "draw/painter.h"
#include <ctype.h>
#include <string.h>

bool draw_format_of(const char *path, enum draw_format *out)
{
    static const struct {
        const char *ending;
        enum draw_format format;
    } endings[] = {{".dot", DRAW_DOT}, {".gv", DRAW_DOT}, {".svg", DRAW_SVG}, {".pdf", DRAW_PDF}, {".png", DRAW_PNG}};
    size_t n = strlen(path);
    for (size_t i = 0; i < sizeof endings / sizeof *endings; i++) {
        size_t k = strlen(endings[i].ending);
        bool same = n > k;
        for (size_t j = 0; same && j < k; j++)
            same = tolower((unsigned char)path[n - k + j]) == endings[i].ending[j];
        if (same) {
            *out = endings[i].format;
            return true;
        }
    }
    return false;
}

static void graph_looks(Agraph_t *g)
{
    static const char *const graph[][2] = {
        {"rankdir", "TB"},     {"newrank", "true"},          {"labelloc", "t"},   {"labeljust", "l"},
        {"fontname", "Arial"}, {"fontsize", "12"},           {"nodesep", "0.18"}, {"ranksep", "0.3"},
        {"bgcolor", "white"},  {"outputorder", "edgesfirst"}};
    static const char *const node[][2] = {{"shape", "box"},        {"fontname", "Arial"}, {"fontsize", "10"},
                                          {"margin", "0.14,0.04"}, {"height", "0.2"},     {"width", "0.3"}};
    static const char *const edge[][2] = {{"arrowsize", "0.7"}, {"penwidth", "2.2"}};
    for (size_t i = 0; i < sizeof graph / sizeof *graph; i++)
        agattr(g, AGRAPH, (char *)graph[i][0], (char *)graph[i][1]);
    for (size_t i = 0; i < sizeof node / sizeof *node; i++)
        agattr(g, AGNODE, (char *)node[i][0], (char *)node[i][1]);
    for (size_t i = 0; i < sizeof edge / sizeof *edge; i++)
        agattr(g, AGEDGE, (char *)edge[i][0], (char *)edge[i][1]);
}

static void casting_need(bool *needed, layer_ix layer)
{
    if (layer.i != NONE)
        needed[layer.i] = true;
}

/* The layers in which something is shown: an empty cluster cannot be taken away again. */
static bool *castings_needed(const struct sketch *s, struct arena *a)
{
    const struct model *m = s->model;
    bool *needed = arena_rows(a, m->n_layers, sizeof *needed);
    for (uint32_t i = SUMP.i + 1; i < m->n_passages; i++)
        if (s->box[i] == i && s->shown[i])
            casting_need(needed, m->passages[i].layer);
    for (uint32_t i = 0; i < m->n_valves; i++)
        if (sketch_shows(s, m->valves[i].ports, m->valves[i].n_ports))
            casting_need(needed, sketch_home(s, m->valves[i].ports, m->valves[i].n_ports));
    for (uint32_t i = 0; i < m->n_solenoids; i++)
        if (sketch_shows(s, m->solenoids[i].ports, m->solenoids[i].n_ports))
            casting_need(needed, sketch_home(s, m->solenoids[i].ports, m->solenoids[i].n_ports));
    for (uint32_t i = 0; i < m->n_actuators; i++)
        if (sketch_shows_actuator(s, &m->actuators[i]))
            casting_need(needed, m->passages[m->actuators[i].apply.i].layer);
    return needed;
}

/* A cluster for each casting. */
static void castings_make(struct painter *p)
{
    const struct model *m = p->model;
    const bool *needed = castings_needed(p->s, p->arena);
    p->casting = arena_rows(p->arena, m->n_layers, sizeof *p->casting);
    for (uint32_t i = 0; i < m->n_layers; i++) {
        if (m->layers[i].kind != LAYER_CASTING || !needed[i])
            continue;
        struct text name = {0};
        text_addf(&name, "cluster_%s", m->layers[i].part.id);
        p->casting[i] = agsubg(p->canvas.graph, (char *)text_string(&name), 1);
        text_release(&name);
        struct text *t = &p->canvas.html;
        text_add(t, "<FONT POINT-SIZE=\"14\"><B>");
        html_text(t, m->layers[i].part.id);
        text_add(t, "</B></FONT>");
        canvas_label(&p->canvas, p->casting[i]);
        canvas_set(p->casting[i], "style", "filled");
        canvas_set(p->casting[i], "fillcolor", "#F7F7F2");
        canvas_set(p->casting[i], "color", "#555555");
    }
}

/* Parallel edges from the row on top to each casting: as many crossings would a change of order cost. */
#define PULL 6

/* Castings should stand side by side in stacking order, or its mirror image. Layout gives clusters no order of their
 * own, so an unseen row of nodes above, in order and each tied to its casting, pulls them into it. */
static void castings_end(struct painter *p)
{
    Agraph_t *top = agsubg(p->canvas.graph, "top", 1);
    Agnode_t *before = NULL;
    canvas_set(top, "rank", "min");
    for (uint32_t i = 0; i < p->model->n_layers; i++) {
        if (!p->casting[i])
            continue;
        Agnode_t *above = canvas_node(top, "above:", p->model->layers[i].part.id);
        Agnode_t *first = canvas_node(p->casting[i], "top:", p->model->layers[i].part.id);
        canvas_set(above, "style", "invis");
        canvas_set(above, "label", "");
        canvas_set(above, "height", "0.02");
        canvas_set(first, "style", "invis");
        canvas_set(first, "label", "");
        canvas_set(first, "height", "0.02");
        for (int k = 0; k < PULL; k++)
            canvas_set(canvas_edge(&p->canvas, above, NULL, first, NULL), "style", "invis");
        if (before)
            canvas_set(canvas_edge(&p->canvas, before, NULL, above, NULL), "style", "invis");
        before = above;
    }
}

static unsigned n_complaints;

static int count_complaint(char *message)
{
    (void)message;
    n_complaints++;
    return 0;
}

bool draw_dot(const struct trace *t, uint32_t set, const struct trace *healthy, const struct draw_options *o,
              struct text *out, struct diags *d)
{
    struct arena arena;
    arena_init(&arena);
    struct sketch s;
    sketch_make(t, set, healthy, o, &arena, &s);
    const struct model *m = s.model;
    agusererrf kept = agseterrf(count_complaint);
    n_complaints = 0;
    struct painter p = {.s = &s, .model = m, .arena = &arena};
    p.canvas.graph = canvas_open("circuit");
    p.looks = palette_circuits(&s, &arena);
    p.look_used = arena_rows(&arena, m->n_circuits, sizeof *p.look_used);
    p.box = arena_rows(&arena, m->n_passages, sizeof *p.box);
    graph_looks(p.canvas.graph);
    castings_make(&p);
    paint_boxes(&p);
    paint_holes(&p);
    paint_valves(&p);
    paint_solenoids(&p);
    paint_actuators(&p);
    paint_heading(&p);
    castings_end(&p);
    bool ok = canvas_write(&p.canvas, out) && n_complaints == 0;
    agclose(p.canvas.graph);
    agseterrf(kept);
    text_release(&p.canvas.html);
    arena_release(&arena);
    if (!ok) {
        diag(d, CANNOT_DRAW, NO_SPAN, "the drawing of %s could not be written as DOT", m->id);
        text_clear(out);
    }
    return ok;
}
