/* Inner to pressure/: pieces of problem_build(). */
#ifndef PRESSURE_BUILD_H
#define PRESSURE_BUILD_H
#include "pressure/problem.h"

/** Numbers the unknowns and allocates what has a row for each. */
void unknowns_number(struct problem *p);

/** Everything that moves, after the sources. */
void movers_add(struct problem *p);

void term_add(struct problem *p, uint32_t unknown, double weight);
struct flow *flow_add(struct problem *p, passage_ix a, passage_ix b);

/** Where a fault sticks a valve (a PIN_*, SPOOL_* or detent), or NONE. */
uint32_t valve_pin(const struct problem *p, uint32_t valve);
#endif
