/* Work that may run away or crash, done in a child process with limits on time and memory. Inside draw/ only. */
#ifndef DRAW_CHILD_H
#define DRAW_CHILD_H
#include "base/text.h"
#include <stdbool.h>

/** What the child does: from `in` to `out`, or the reason in `why`. It runs in the child only; what it leaks goes with
 * it. */
typedef bool child_work(const struct text *in, struct text *out, struct text *why);

/** Runs `work` in a child. @return false with the reason in `why` (also for a crash, a limit reached, no process); *out
 * is then unchanged. */
bool child_run(child_work *work, const struct text *in, struct text *out, struct text *why);
#endif
