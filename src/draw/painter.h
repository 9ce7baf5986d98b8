/* What the pieces of a drawing share while it is painted. Inside draw/ only. */
#ifndef DRAW_PAINTER_H
#define DRAW_PAINTER_H
#include "draw/canvas.h"
#include "draw/palette.h"
#include "draw/sketch.h"

struct painter {
    struct canvas canvas;
    const struct sketch *s;
    const struct model *model;
    const struct circuit_look *looks; /* [n_circuits] */
    bool *look_used;                  /* [n_circuits] */
    Agraph_t **casting;               /* [n_layers] cluster, or NULL for a plate */
    Agnode_t **box;                   /* [n_passages] by box, NULL: not shown */
    struct arena *arena;
};

/* How an edge between a passage and an element runs. */
enum run {
    RUN_IN,    /* oil runs from the passage into the element */
    RUN_OUT,   /* from the element into the passage */
    RUN_STILL, /* open, but which way cannot be told */
    RUN_SHUT,  /* the passage ends at something that is shut */
    RUN_FEELS, /* a spool's end or a seated ball feels the passage, no oil runs */
    RUN_BEYOND /* the passage lies behind a seated ball */
};

struct touch {
    enum run run;
    bool heavy; /* on the route */
    bool fault; /* made by the fault */
};

/** The cluster of a layer, or the graph itself where there is none. */
Agraph_t *painter_home(const struct painter *p, layer_ix layer);

/** Joins a passage and a node (a cell of it, or NULL) by an edge in the colour of the passage's circuit. A passage that
 * is sump gets a drain of its own beside the node, in `home`. */
void painter_touch(struct painter *p, passage_ix passage, Agnode_t *node, const char *port, Agraph_t *home,
                   struct touch touch);

/** Boxes of passages and sources. */
void paint_boxes(struct painter *p);

/** Holes, joints, check balls and what a fault added. */
void paint_holes(struct painter *p);

/** Valves, solenoids and devices. */
void paint_valves(struct painter *p);
void paint_solenoids(struct painter *p);
void paint_actuators(struct painter *p);

/** Heading, legend and caution, as the graph's own label: they take no part in the layout. Last, when the circuits in
 * use are known. */
void paint_heading(struct painter *p);
#endif
