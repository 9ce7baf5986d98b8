/* igraph, tamed: its handlers set, its errors said. Inside routes/ only. */
#ifndef ROUTES_LIBRARY_H
#define ROUTES_LIBRARY_H
#include "base/diag.h"
#include <igraph/igraph.h>
#include <stdbool.h>

/** Sets the handlers of errors, warnings and fatal errors: left alone, igraph ends the program on each of the first and
 * last. */
void library_begin(void);

/** True for success; else the library's reason goes to d as CANNOT_COMPUTE. */
bool library_ok(igraph_error_t error, struct diags *d);
#endif
