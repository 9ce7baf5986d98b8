/* Inner to pressure/: from a solved problem to what pressure.h gives. */
#ifndef PRESSURE_ANSWERS_H
#define PRESSURE_ANSWERS_H
#include "pressure/problem.h"

/** Allocates the arrays of out, all NAN or 0. */
void pressures_make(const struct problem *p, struct pressures *out);

/** Writes pressures and travels of the problem's present solution into arrays [n_passages], [n_valves]. */
void solution_take(const struct problem *p, double *pressure, double *travel);

/** Everything but fill and drain. */
void pressures_take(struct problem *p, struct pressures *out);

/** Fill and drain of each device; leaves the problem changed. @param warm a case near this one, or NULL */
void fill_take(struct problem *p, const struct pressures *warm, struct pressures *out);
#endif
