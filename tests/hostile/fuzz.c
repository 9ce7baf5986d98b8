#include "fuzz.h"
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static char folder[64], path[80];
static pid_t owner;

static void folder_remove(void)
{
    if (getpid() != owner)
        return;
    unlink(path);
    rmdir(folder);
}

static void folder_make(void)
{
    static const char *const places[] = {"/dev/shm/feedtrace-fuzz-XXXXXX", "/tmp/feedtrace-fuzz-XXXXXX"};
    for (size_t i = 0; i < 2 && !*path; i++) {
        strcpy(folder, places[i]);
        if (mkdtemp(folder))
            snprintf(path, sizeof path, "%s/model.yaml", folder);
    }
    fuzz_must(*path, "a folder for the input");
    owner = getpid();
    atexit(folder_remove);
}

const char *fuzz_file(const uint8_t *data, size_t n)
{
    static int fd = -1;
    if (fd < 0) {
        folder_make();
        fd = open(path, O_WRONLY | O_CREAT | O_CLOEXEC, 0600);
    }
    fuzz_must(fd >= 0 && ftruncate(fd, 0) == 0 && pwrite(fd, data, n, 0) == (ssize_t)n, "a file for the input");
    return path;
}

void fuzz_must(bool holds, const char *what)
{
    if (holds)
        return;
    fprintf(stderr, "fuzz: this does not hold: %s\n", what);
    abort();
}

static void place_must(const struct sources *files, struct span where)
{
    fuzz_must(!where.line || where.file < files->n_files, "the place of a message is in a file that was read");
    fuzz_must(!where.line || (where.column && where.length), "a place has a column and a length");
}

struct model *fuzz_model(const char *path, struct sources *files, struct diags *d)
{
    sources_init(files);
    diags_init(d);
    struct model *m = model_read(path, files, d);
    fuzz_must(!m == (d->n_errors > 0), "either a model or an error");
    for (size_t i = 0; i < d->n; i++) {
        fuzz_must(d->rows[i].message && *d->rows[i].message, "a message has words");
        place_must(files, d->rows[i].where);
        place_must(files, d->rows[i].second);
    }
    return m;
}
