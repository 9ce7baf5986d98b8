/* Inner to network/: the list of everything that oil can cross, made from a model. */
#ifndef NETWORK_ELEMENTS_H
#define NETWORK_ELEMENTS_H
#include "network/network.h"

/** Fills elements, spools, limits, seats and the tables that find a part's elements. */
void elements_build(const struct model *m, struct network *out);
#endif
