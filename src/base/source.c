/* The files that were read. Line numbers are counted here as libyaml counts them, or an excerpt would show another line
 * than the one that the reader means. */
#include "base/source.h"
#include "base/diag.h"
#include "base/mem.h"
#include <errno.h>
#include <fcntl.h>
#include <stdint.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

void sources_init(struct sources *s)
{
    *s = (struct sources){0};
}

void sources_release(struct sources *s)
{
    for (size_t i = 0; i < s->n_files; i++) {
        mem_free(s->files[i].name);
        mem_free(s->files[i].bytes);
        mem_free(s->files[i].lines);
    }
    mem_free(s->files);
    sources_init(s);
}

/* Bytes of a byte order mark at the start: libyaml counts no column for it. */
static size_t bom_length(const struct source *f)
{
    return f->n_bytes >= 3 && !memcmp(f->bytes, "\xEF\xBB\xBF", 3) ? 3 : 0;
}

/* Whether the first key is `feedtrace`, told without YAML, so that it holds for a file with a syntax error too. */
static bool begins_as_model(const struct source *f)
{
    static const char key[] = "feedtrace";
    const char *p = f->bytes + bom_length(f), *end = f->bytes + f->n_bytes;
    for (;;) {
        while (p < end && strchr(" \t\r\n", *p) && *p)
            p++;
        bool marker = end - p >= 3 && !memcmp(p, "---", 3);
        if (p == end || !(marker || *p == '#' || *p == '%'))
            break;
        if (marker) {
            p += 3;
            continue;
        }
        while (p < end && *p != '\n' && *p != '\r')
            p++;
    }
    char quote = p < end && (*p == '"' || *p == '\'') ? *p++ : '\0';
    if ((size_t)(end - p) < sizeof key - 1 || memcmp(p, key, sizeof key - 1))
        return false;
    p += sizeof key - 1;
    if (quote && (p == end || *p++ != quote))
        return false;
    while (p < end && (*p == ' ' || *p == '\t'))
        p++;
    return p < end && *p == ':';
}

static ssize_t read_again(int fd, char *to, size_t n)
{
    ssize_t got;
    do
        got = read(fd, to, n);
    while (got < 0 && errno == EINTR);
    return got;
}

/* Reads the open file to its end, at most `most` bytes. Returns an error number, or 0. EFBIG: more than `most`. */
static int read_whole(int fd, size_t expected, size_t most, struct source *f)
{
    size_t cap = expected < most ? expected + 1 : most + 1;
    f->bytes = mem_alloc(cap + 1);
    for (;;) {
        if (f->n_bytes == cap) { /* the file grew since it was asked for its size */
            cap = cap > most / 2 ? most + 1 : cap * 2;
            f->bytes = mem_resize(f->bytes, cap + 1, 1);
        }
        ssize_t got = read_again(fd, f->bytes + f->n_bytes, cap - f->n_bytes);
        if (got < 0)
            return errno;
        if (!got)
            break;
        f->n_bytes += (size_t)got;
        if (f->n_bytes > most)
            return EFBIG;
    }
    f->bytes[f->n_bytes] = '\0';
    return 0;
}

int sources_read(struct sources *s, const char *name, struct span from, struct diags *d)
{
    if (s->n_files == SOURCE_FILES_MAX) {
        diag(d, TOO_LARGE, from, "%s would be file number %d; a model may read at most %d files", name,
             SOURCE_FILES_MAX + 1, SOURCE_FILES_MAX);
        return -1;
    }
    /* Without O_NONBLOCK a FIFO without a writer would hold the program for ever. */
    int fd;
    do
        fd = open(name, O_RDONLY | O_NONBLOCK | O_NOCTTY | O_CLOEXEC);
    while (fd < 0 && errno == EINTR);
    struct stat st;
    if (fd < 0 || fstat(fd, &st)) {
        diag(d, FILE_UNREADABLE, from, "cannot read %s: %s", name, strerror(errno));
        if (fd >= 0)
            close(fd);
        return -1;
    }
    if (!S_ISREG(st.st_mode)) {
        diag(d, FILE_UNREADABLE, from, "cannot read %s: it is %s", name,
             S_ISDIR(st.st_mode) ? "a folder" : "not a regular file");
        close(fd);
        return -1;
    }
    struct source f = {.device = st.st_dev, .inode = st.st_ino};
    size_t most = SOURCE_BYTES_MAX - s->n_bytes;
    size_t expected = st.st_size < 0 ? 0 : (size_t)st.st_size;
    int error = expected > most ? EFBIG : read_whole(fd, expected, most, &f);
    close(fd);
    if (error) {
        mem_free(f.bytes);
        if (error == EFBIG)
            diag(d, TOO_LARGE, from, "%s passes the limit of %u MB for all files of a model together", name,
                 SOURCE_BYTES_MAX >> 20);
        else
            diag(d, FILE_UNREADABLE, from, "cannot read %s: %s", name, strerror(error));
        return -1;
    }
    f.name = mem_copy_text(name);
    f.is_model = begins_as_model(&f);
    s->n_bytes += f.n_bytes;
    MEM_GROW(s->files, s->n_files, s->cap);
    s->files[s->n_files] = f;
    return (int)s->n_files++;
}

/* Bytes of the line break at p, 0 when there is none: LF, CR, CR LF, NEL, LS, PS. */
static size_t break_length(const char *p, const char *end)
{
    switch (*p) {
    case '\n':
        return 1;
    case '\r':
        return end - p >= 2 && p[1] == '\n' ? 2 : 1;
    case '\xC2':
        return end - p >= 2 && p[1] == '\x85' ? 2 : 0;
    case '\xE2':
        return end - p >= 3 && p[1] == '\x80' && (p[2] == '\xA8' || p[2] == '\xA9') ? 3 : 0;
    default:
        return 0;
    }
}

static void find_lines(struct source *f)
{
    size_t cap = 0;
    const char *p = f->bytes + bom_length(f), *end = f->bytes + f->n_bytes;
    MEM_GROW(f->lines, f->n_lines, cap);
    f->lines[f->n_lines++] = (size_t)(p - f->bytes);
    while (p < end) {
        size_t n = break_length(p, end);
        p += n ? n : 1;
        if (n) {
            MEM_GROW(f->lines, f->n_lines, cap);
            f->lines[f->n_lines++] = (size_t)(p - f->bytes);
        }
    }
}

const char *source_line(struct source *f, uint32_t line, size_t *n)
{
    if (!f->lines)
        find_lines(f);
    *n = 0;
    if (!line || line > f->n_lines)
        return "";
    const char *start = f->bytes + f->lines[line - 1], *end = f->bytes + f->n_bytes, *p = start;
    while (p < end && !break_length(p, end))
        p++;
    *n = (size_t)(p - start);
    return start;
}
