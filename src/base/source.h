/* The files that were read, and places in them. A place is 8 bytes, so that every row of a model can carry one. */
#ifndef BASE_SOURCE_H
#define BASE_SOURCE_H
#include <assert.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct span {
    uint32_t line;   /* from 1; 0: no place */
    uint16_t column; /* from 1, in code points; the last value stands for everything beyond */
    uint8_t file;    /* row in sources.files */
    uint8_t length;  /* code points to underline, at least 1; the last value stands for everything beyond */
};
static_assert(sizeof(struct span) == 8, "a place stays small");

#define NO_SPAN ((struct span){0, 0, 0, 0})

struct source {
    char *name;  /* as the user or an `extends` wrote it, joined to the folder of the file that names it */
    char *bytes; /* whole file, a NUL behind it */
    size_t n_bytes;
    size_t *lines; /* offset of the first byte of each line; made when first asked for */
    size_t n_lines;
    uint64_t device, inode; /* to refuse an output that is an input */
    bool is_model;          /* its first key is `feedtrace`: only then is an excerpt of it printed */
};

#define SOURCE_FILES_MAX 64           /* files that one run of a model may include */
#define SOURCE_BYTES_MAX (256u << 20) /* bytes of all files of one model together */

struct sources {
    struct source *files;
    size_t n_files, cap;
    size_t n_bytes; /* of all files */
};

struct diags;

void sources_init(struct sources *s);
void sources_release(struct sources *s);

/** Reads a regular file whole (interrupted reads retried, opened without blocking, a FIFO, device or folder refused).
 *  @return its row in s->files, or -1 with the reason in d (at `from`, the place that names the file; NO_SPAN: the
 * command line). The same file twice gives two rows. */
int sources_read(struct sources *s, const char *name, struct span from, struct diags *d);

/** The line of a place without its line break; borrowed, *n its bytes. "" with n = 0 when there is none. */
const char *source_line(struct source *f, uint32_t line, size_t *n);
#endif
