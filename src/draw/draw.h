/* The circuit as a picture: DOT written through libcgraph, laid out and rendered by libgvc in a child process.
 * Castings are boxes; every plate hole, check ball, valve, solenoid and device is a node between its passages. */
#ifndef DRAW_DRAW_H
#define DRAW_DRAW_H
#include "base/text.h"
#include "pressure/counts.h"
#include "routes/routes.h"

struct draw_options {
    state_ix state;
    const char *faults; /* canonical words, for the title; NULL: healthy. What to mark is told by the trace's edits */
    feed_ix feed;       /* only what this feed reaches; NONE: all */
    circuit_ix circuit; /* only this circuit and what touches it; NONE: all */
    struct part_ref around;                      /* only what is near this part; PART_NONE: all */
    uint32_t hops;                               /* how many elements away is near; 0 counts as 2 */
    bool all;                                    /* also what is not live */
    const struct route *route;                   /* drawn heavy, or NULL */
    struct units units;                          /* for sizes and pressures */
    const struct pressures *pressures, *healthy; /* of the state, where solved; else NULL: by structure */
};

enum draw_format { DRAW_DOT, DRAW_SVG, DRAW_PDF, DRAW_PNG };

/** The format by a file name's ending (any case): .dot, .gv, .svg, .pdf, .png; false: none of them. */
bool draw_format_of(const char *path, enum draw_format *out);

/** Writes a set of a trace in one state as DOT. @param healthy the same model without faults: what the fault changed is
 * marked; NULL when `t` is healthy.  A state that is not settled is drawn without conditions, and says so.
 *  @return false with the reason in d (CANNOT_DRAW). The same input gives the same bytes. */
bool draw_dot(const struct trace *t, uint32_t set, const struct trace *healthy, const struct draw_options *o,
              struct text *out, struct diags *d);

/** Renders DOT that draw_dot() made; DRAW_DOT copies it. Layout runs in a child process with limits on time and memory;
 * its warnings are failures. PDF and PNG are made from the SVG.  @return false with the reason in d (CANNOT_DRAW); *out
 * is then empty. */
bool draw_render(const struct text *dot, enum draw_format format, struct text *out, struct diags *d);

/** An SVG of our own as PDF or PNG, in a child process too; DRAW_SVG copies it.  @param format not DRAW_DOT
 *  @return as draw_render(). */
bool draw_convert(const struct text *svg, enum draw_format format, struct text *out, struct diags *d);
#endif
