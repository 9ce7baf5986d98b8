/* How far a size may go before something expected is lost: for an orifice the sizes to both sides of its own, for a
 * leak the size up to which nothing is lost. Found by bisection on the pressures of every state asked for. */
#ifndef FAULTS_LIMITS_H
#define FAULTS_LIMITS_H
#include "faults/faults.h"
#include "findings/findings.h"
#include "pressure/pressure.h"

struct limits_side {
    bool found;        /* something is lost within the range searched */
    double holds;      /* m: up to (down to) here everything holds; the end of the range where nothing is lost */
    double lost_at;    /* m: here it is lost; bisected to a hundredth of `holds` */
    const char *state; /* where it is lost first; borrowed from the model */
    const char *what;  /* in words; arena */
};
struct limits_row {
    const char *part;  /* ID of the hole or device */
    const char *fault; /* words up to the size: "resize H11 to", "leak H30 at"; arena */
    bool leak;
    double size;                        /* m: its own; NAN of a leak */
    struct limits_side smaller, larger; /* of a leak only larger */
};
struct limits_table {
    struct limits_row *rows; /* [n]; orifices, then leaks, in file order */
    uint32_t n;
    struct arena arena;
};

#define LIMITS_TIMES      4.0    /* an orifice is tried from its size / 4 to its size x 4 */
#define LIMITS_LEAK_LEAST 0.1e-3 /* m; a leak is tried from here ... */
#define LIMITS_LEAK_MOST  6e-3   /* ... to here */

/** Finds the limits of every orifice and leak of the model, or of one part.
 *  @param t healthy trace of the merged network `n`; p its pressures, those states solved
 *  @param states [n_states] those that count  @param part ID, or NULL: all
 *  Caller releases with limits_release(). */
void limits_find(const struct network *n, const struct trace *t, const struct pressed *p, const state_ix *states,
                 uint32_t n_states, const char *part, struct limits_table *out);
void limits_release(struct limits_table *l);
#endif
