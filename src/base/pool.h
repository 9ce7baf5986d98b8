/* Jobs that do not depend on each other, done by several processes. */
#ifndef BASE_POOL_H
#define BASE_POOL_H
#include "base/text.h"
#include <stdint.h>

struct pool {
    void *with; /* handed to all three */
    /* Does one job and appends its answer. With several workers it runs in a process of its own, which has everything
     * as it was when the pool began, and keeps what it changes from job to job to itself. */
    void (*work)(void *with, uint64_t job, struct text *answer);
    /* Takes an answer, in the order in which they come; the bytes are aligned for any type. */
    void (*done)(void *with, uint64_t job, const char *answer, size_t n);
    /* A job whose worker died: `how` says of what ("ended by signal 9"). */
    void (*lost)(void *with, uint64_t job, const char *how);
    uint64_t first, step, n_jobs; /* jobs first, first + step ... below n_jobs */
    unsigned n_workers;           /* 1: no process is started */
};

/** Does the jobs. A worker that dies costs its job, and another one takes its place. Where no process can be started at
 * all, the caller's does the work. */
void pool_run(const struct pool *p);

/** How many cores this process may use, at least 1. */
unsigned pool_cores(void);
#endif
