/* What differs between the cases of a faulty trace and the same states healthy, for all cases at once: short sorted
 * lists that sweeps compare, join and hash. (faults/effect.h tells one case in words.) */
#ifndef TRACE_DIFFS_H
#define TRACE_DIFFS_H
#include "trace/trace.h"

enum diff_kind { DIFF_SETTLED, DIFF_GEAR, DIFF_DEVICE, DIFF_VALVE, DIFF_CONDITION, DIFF_REACH, DIFF_PAST };

/* One difference: what (kind, row of a feed or limit, node or row) in the upper 48 bits, its new value in the lower 16.
 * Sorted lists of these join like sets; two lists that give one subject different values contradict each other. */
typedef uint64_t diff;
#define DIFF_SUBJECT(d) ((d) >> 16)
#define DIFF_VALUE(d)   ((uint32_t)((d)&0xffff))
#define DIFF_KIND(d)    ((enum diff_kind)((d) >> 60))
#define DIFF_OF(d)      ((uint32_t)((d) >> 44 & 0xffff))    /* feed of a reach, limit of a past, else 0 */
#define DIFF_ROW(d)     ((uint32_t)((d) >> 16 & 0xfffffff)) /* node of a condition, reach or past; else device, mover */

struct diffs {
    uint32_t n_cases;
    size_t *first; /* [n_cases + 1] */
    diff *rows;    /* rows first[c] to first[c + 1] belong to case c, rising */
};

/** Finds the differences of every case that was asked for. `healthy` has one empty set; both traces must be of the same
 * network. A gear's value is its answer (0 none, 1 tie-up, 2 unsure, 3 + row); of an unsure gear the possibilities do
 * not count. Caller releases with diffs_release(). */
void diffs_find(const struct trace *faulty, const struct trace *healthy, struct diffs *out);
void diffs_release(struct diffs *d);
#endif
