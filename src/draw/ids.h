/* Numbers for libcgraph's objects. Its own are addresses of strings, and it keeps subgraphs in the order of their
 * numbers: the same graph would be written, and laid out, in another order on another run. Ours count up. Inside draw/
 * only. */
#ifndef DRAW_IDS_H
#define DRAW_IDS_H
#include <graphviz/cgraph.h>

extern Agiddisc_t counting_ids;
#endif
