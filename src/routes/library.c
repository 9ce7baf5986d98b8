#include "routes/library.h"
#include <stdio.h>
#include <stdlib.h>

/* igraph hands its reason to a handler only, so it waits here for library_ok(). One thread: Debian builds igraph
 * without thread safety. */
static char reason_kept[160];

static void on_error(const char *reason, const char *file, int line, igraph_error_t error)
{
    (void)file;
    (void)line;
    (void)error;
    snprintf(reason_kept, sizeof reason_kept, "%s", reason);
    IGRAPH_FINALLY_FREE();
}

/* A vertex that cannot be reached is an answer here, not a matter for a warning. */
static void on_warning(const char *reason, const char *file, int line)
{
    (void)reason;
    (void)file;
    (void)line;
}

static void on_fatal(const char *reason, const char *file, int line)
{
    fprintf(stderr, "feedtrace: error: the graph library failed: %s (%s, line %d)\n", reason, file, line);
    exit(3); /* it may not return: the library's state is broken */
}

void library_begin(void)
{
    igraph_set_error_handler(on_error);
    igraph_set_warning_handler(on_warning);
    igraph_set_fatal_handler(on_fatal);
    reason_kept[0] = '\0';
}

bool library_ok(igraph_error_t error, struct diags *d)
{
    if (error == IGRAPH_SUCCESS)
        return true;
    diag(d, CANNOT_COMPUTE, NO_SPAN, "no route could be worked out: %s",
         reason_kept[0] ? reason_kept : igraph_strerror(error));
    return false;
}
