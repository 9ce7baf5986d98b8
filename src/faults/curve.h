/* What arrives as one quantity varies: a row for each value, evenly spaced, and the places between two rows where an
 * answer in words changes: a gear, a device, a valve, a source that no longer holds its setting. */
#ifndef FAULTS_CURVE_H
#define FAULTS_CURVE_H
#include "faults/vary.h"

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

/* A change lies between two values less than CURVE_STEP_SHARE of a step and CURVE_VALUE_SHARE of the value apart. */
#define CURVE_STEP_SHARE  0.01
#define CURVE_VALUE_SHARE 0.0005
#define CURVE_SOLVES_MOST 200 /* between two rows; what is not told apart by then keeps the range that it lies in */

struct curve_event {
    struct curve_row before, after;
    uint32_t row; /* lies between this row and the next */
    bool near;    /* as near as said above: "at after.value"; else only "between" the two */
};
struct curve {
    const struct vary *vary;
    const char *state, *fault; /* fault: words, or NULL */
    const struct curve_show *shows;
    uint32_t n_shows;
    const struct curve_row *rows; /* from vary.from to vary.to */
    uint32_t n_rows;
    const struct curve_event *events; /* on the way; what comes and goes between two rows is not seen */
    uint32_t n_events;
};

/** Solves state `s` at n_rows (at least 2) values, and finds by bisection on the same solves where answers change.
 *  @param c vary, fault, shows and n_shows are read, the rest is filled  @param a owner of all that c then holds
 *  @return false with the reason in d: the fault does not read, or clashes with what varies. */
bool curve_solve(struct curve *c, const struct model *m, state_ix s, uint32_t n_rows, struct arena *a, struct diags *d);

/** What changes between two rows, in words ("gear second, was first; band slips"); false: nothing. */
bool curve_change(struct text *t, const struct model *m, const struct curve_row *was, const struct curve_row *now);
#endif
