/* What the fuzz targets share. An input is judged by what must hold for any: no crash, no sanitizer's report, no hang,
 * and the few truths that the targets state. */
#ifndef HOSTILE_FUZZ_H
#define HOSTILE_FUZZ_H
#include "base/diag.h"
#include "model/model.h"
#include <stddef.h>
#include <stdint.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n);
int LLVMFuzzerInitialize(int *argc, char ***argv);

/** Puts the bytes into the one model file of this process, in a folder in memory. @return its path. */
const char *fuzz_file(const uint8_t *data, size_t n);

/** Reads `path` and ends the program where what model_read() promises does not hold: a model and no error, or none and
 * at least one; every place within its file. Inits files and d. @return the model or NULL. */
struct model *fuzz_model(const char *path, struct sources *files, struct diags *d);

/** Ends the program, naming what does not hold, unless `holds`. */
void fuzz_must(bool holds, const char *what);
#endif
