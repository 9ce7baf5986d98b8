/* One quantity varied: a source's setting, a duty solenoid's share, the oil's temperature, or the size in a fault's
 * words. For each value the unit is solved as if it had been written so: the model is copied where a setting changes,
 * and never edited. */
#ifndef FAULTS_VARY_H
#define FAULTS_VARY_H
#include "faults/faults.h"
#include "pressure/pressure.h"

enum vary_what { VARY_SETTING, VARY_DUTY, VARY_TEMPERATURE, VARY_FAULT };

struct vary {
    enum vary_what what;
    feed_ix feed;      /* VARY_SETTING */
    uint32_t solenoid; /* VARY_DUTY: row of the solenoid */
    const char *fault; /* VARY_FAULT: words up to the size: "resize H11 to", "leak H30 at" */
    enum dimension dim;
    double from, to;   /* SI */
    const char *words; /* as the user wrote it; arena */
};

/** Reads "SOURCE A to B", "DUTY_SOLENOID A to B", "temperature A to B", "HOLE A to B" (its size), "leak HOLE|A into
 * B|DEVICE A to B", "unseat BALL ... A to B", "wear VALVE ... A to B" or "weaken SOURCE A to B". A unit that one of the
 * quantities has counts for both; "from" may stand before the first.
 *  @return false with the reason in d. */
bool vary_read(const char *text, const struct network *n, struct arena *a, struct vary *out, struct diags *d);

/* The unit at one value. */
struct vary_point {
    double value;        /* SI */
    struct model *model; /* a shallow copy: only its states are its own */
    struct network network;
    struct trace healthy, trace;
    bool has_healthy;
    struct pressures pressures; /* of the state asked for */
    struct arena arena;
};

/** Solves one state at one value, with the faults `fault` (may be NULL) besides.
 *  @return false with the reason in d (a fault that does not read, or clashes); else p.pressures.end tells how it went.
 *  Caller releases with vary_release() in both cases. */
bool vary_solve(const struct vary *v, const struct model *m, state_ix state, const char *fault, double value,
                struct vary_point *out, struct diags *d);
void vary_release(struct vary_point *p);
#endif
