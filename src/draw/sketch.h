/* What a drawing shows, before a line of DOT is written: boxes of passages, the elements between them, and which way
 * oil runs. Inside draw/ only. */
#ifndef DRAW_SKETCH_H
#define DRAW_SKETCH_H
#include "base/arena.h"
#include "draw/draw.h"

/* An element of the network, or one that a fault added. */
struct line {
    struct element element;
    enum certainty conducts;
    int flow;     /* +1: oil runs from -> to, -1: to -> from, 0: cannot be told */
    bool added;   /* by a fault: a leak, a gap, a hole that lost its ball */
    bool blocked; /* removed by a fault */
    bool resized; /* by a fault */
    bool shown;
    bool heavy;     /* on the route that was asked for */
    int heavy_flow; /* as flow, along that route */
};

struct sketch {
    const struct trace *t;
    const struct trace *healthy; /* or NULL */
    const struct network *network;
    const struct model *model;
    const struct draw_options *o;
    const struct edits *edits;
    uint32_t c, was; /* cases: now, and the same state healthy */
    bool settled;    /* conditions can be asked for */
    bool compares;   /* and those of the healthy state as well */
    uint32_t *box; /* [n_passages] first passage of the box that it is drawn in: passages of one casting that are one */
    uint32_t *next;     /* [n_passages] the next passage of the same box, NONE: the last */
    bool *used;         /* [n_passages] a derived feed, tap or switch is named at it */
    uint32_t *rank;     /* [n_passages] by box: steps from a source, or (not reached) to sump; NONE: neither */
    bool *shown;        /* [n_passages] by box */
    struct line *lines; /* [n_lines] the network's elements in order, then the added ones */
    uint32_t n_lines;
    bool *part_marked[PART_CIRCUIT]; /* by kind: [rows] named by the fault */
};

/** Decides what is shown. Everything lies in the arena. */
void sketch_make(const struct trace *t, uint32_t set, const struct trace *healthy, const struct draw_options *o,
                 struct arena *a, struct sketch *out);

/** Fills the ranks of passages and the flow of the lines. */
void sketch_flow(struct sketch *s, struct arena *a);

/** Fed, partial or unsure now. */
bool sketch_live(const struct sketch *s, passage_ix p);

/** The condition in the healthy state where it is another one; else false. */
bool sketch_changed(const struct sketch *s, passage_ix p, enum condition *was);

/** Is the part named by the fault? */
bool sketch_marked(const struct sketch *s, enum part_kind kind, uint32_t row);

/** Is any passage of these ports, or of a device, shown? Then the part is drawn too. */
bool sketch_shows(const struct sketch *s, const struct port *ports, uint32_t n);
bool sketch_shows_actuator(const struct sketch *s, const struct actuator *d);

/** The casting that a valve or solenoid is drawn in: that of most of its ports, the first of equals. NONE: all on sump.
 */
layer_ix sketch_home(const struct sketch *s, const struct port *ports, uint32_t n);
#endif
