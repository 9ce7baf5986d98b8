/* What the parts of the bench share. */
#ifndef BENCH_BENCH_H
#define BENCH_BENCH_H
#include "trace/trace.h"
#include <igraph/igraph.h>
#include <math.h>

#define ROUNDS_MAX 99
#define NO_GOAL    NAN

/* ---- measure.c */

/** Processor time of this process, and time of the clock, s. */
double cpu_now(void);
double wall_now(void);

/** A number below n by chance. @param state of the chance, not 0. */
uint32_t pick(uint64_t *state, uint32_t n);

/** Sorts the rows. */
double median(double *rows, unsigned n);

/** Does the work once and tells what it took, s; what only prepares or cleans up is left out. */
typedef double (*measured)(void *of);

/** Medians of both over the rounds, s: the work's and the baseline's, measured in turn. */
void compare(unsigned rounds, measured work, void *of_work, measured baseline, void *of_baseline, double out[2]);

void head_print(const char *title);

/** One row. A load or a trace should cost at most so many baselines; of scenarios together, `more` is better. */
void row_print(const char *what, double work, double baseline, const char *unit, bool more, double goal,
               double stretch);

/* ---- load.c: ends the program with status 2 where a model cannot be read */

struct model *model_load(const char *path, struct sources *files, double *seconds);
double scan_measure(void *path);
double load_measure(void *path);

/** Greatest memory that the work held, in bytes: of a child, started while this process itself is still small. */
double peak_find(measured work, void *of);
void load_report(char *path, unsigned rounds, double peaks[2]);

/* ---- trace.c */

/* A model with its network, and the same network as a graph of the library's. */
struct unit {
    const char *path;
    struct sources files;
    struct model *model;
    struct network network;
    igraph_t graph;
    igraph_vector_int_t order, layers, parents;
    uint32_t root; /* node of the first source */
};

void unit_open(struct unit *u, const char *path);
void unit_close(struct unit *u);
double trace_measure(void *unit);
void trace_report(char *paths[3], unsigned rounds);

/* ---- scenarios.c, sweeps.c: return how many results differ */

uint32_t scenarios_report(char *path, unsigned rounds, bool narrow);
uint32_t sweeps_report(char *path, unsigned rounds);
void sweep_growth_report(char *paths[2], unsigned rounds);
uint32_t jobs_report(const char *program, const char *path, unsigned rounds);
#endif
