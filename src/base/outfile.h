/* Output files that appear whole or not at all, and a standard output that is checked. */
#ifndef BASE_OUTFILE_H
#define BASE_OUTFILE_H
#include "base/diag.h"
#include "base/source.h"
#include "base/text.h"
#include <stdbool.h>

/** Writes all bytes to the file `path` ("-": standard output). A regular target (through a symlink: its real file) is
 * written beside itself, flushed, synced and renamed, and the folder synced; a device or FIFO is opened directly. A
 * target that is one of the inputs `in` (may be NULL) is refused. Nothing is left behind on an error or on INT, TERM,
 * HUP.
 *  @return false with the reason in d. */
bool outfile_write(const char *path, const char *bytes, size_t n, const struct sources *in, struct diags *d);

enum stdout_end { STDOUT_OK, STDOUT_CLOSED, STDOUT_FAILED };

/** Writes to standard output, every byte checked: a closed pipe is STDOUT_CLOSED (to be quiet about), any other error
 *  STDOUT_FAILED with the reason in d. */
enum stdout_end outfile_stdout(const char *bytes, size_t n, struct diags *d);

/** Installs the handlers of INT, TERM, HUP that remove a half-written file, ignores PIPE, and hooks mem_on_end(). Call
 * once. */
void outfile_init(void);
#endif
