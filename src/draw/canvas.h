/* libcgraph with our escaping: every text that came from a model goes in through here. Inside draw/ only. */
#ifndef DRAW_CANVAS_H
#define DRAW_CANVAS_H
#include "base/text.h"
#include <graphviz/cgraph.h>
#include <stdbool.h>

struct canvas {
    Agraph_t *graph;
    struct text html;  /* the label that is being written */
    unsigned n_drains; /* names of nameless nodes */
};

/** A new directed graph; agclose() it. */
Agraph_t *canvas_open(const char *name);

/** Appends text of a model to an HTML-like label, escaped. */
void html_text(struct text *t, const char *s);

/** The same in bold, with some room on both sides: the layout counts bold letters as plain ones. */
void html_bold(struct text *t, const char *s);

/** Sets an attribute of a graph, node or edge. `value` is ours, never a model's text. */
void canvas_set(void *object, const char *name, const char *value);

/** Gives a node or graph the label written in c->html, and empties that. */
void canvas_label(struct canvas *c, void *object);

/** A node in a graph or subgraph; its name is prefix and id, made of a model's IDs. */
Agnode_t *canvas_node(Agraph_t *in, const char *prefix, const char *id);

/** An edge; `to_port` and `from_port` name cells of HTML-like labels, or are NULL. */
Agedge_t *canvas_edge(struct canvas *c, Agnode_t *from, const char *from_port, Agnode_t *to, const char *to_port);

/** Writes the graph as text. @return false: the library failed. */
bool canvas_write(struct canvas *c, struct text *out);
#endif
