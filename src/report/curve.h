/* What arrives as one quantity varies: the table that curve reports are made from. */
#ifndef REPORT_CURVE_H
#define REPORT_CURVE_H
#include "faults/vary.h"
#include "report/answer.h"

struct curve_show {       /* a column: pressures of one thing */
    const char *name;     /* as the user named it */
    struct part_ref part; /* passage, tap, actuator, switch or circuit (of a circuit: its lowest) */
    feed_ix source;       /* or NONE: pressure at a source */
};
struct curve_row {
    double value; /* SI */
    bool solved;
    const char *why;    /* not solved: in words */
    double *pressure;   /* [n_shows] Pa; NAN: closed or not solved */
    const char *gear;   /* by pressure, in words */
    uint8_t *device;    /* [n_actuators] enum device */
    const char **valve; /* [n_valves] position in words */
    bool *limited;      /* [n_feeds] the source gives all that it can */
};
struct curve {
    const struct vary *vary;
    const char *state, *fault; /* fault: words, or NULL */
    const struct curve_show *shows;
    uint32_t n_shows;
    const struct curve_row *rows;
    uint32_t n_rows;
};

void text_curve(struct text *t, const struct view *v, const struct answer *a, const struct curve *c);
void json_curve(struct text *t, const struct view *v, const struct answer *a, const struct curve *c);
void csv_curve(struct text *t, const struct view *v, const struct answer *a, const struct curve *c);

/** The same as an SVG picture, one line a column, told apart by colour and by dashes. */
void plot_curve(struct text *t, const struct view *v, const struct answer *a, const struct curve *c);

/** What changes between two rows, in words ("gear second, was first; band slips"); false: nothing. */
bool curve_event(struct text *t, const struct model *m, const struct curve_row *was, const struct curve_row *now);
#endif
