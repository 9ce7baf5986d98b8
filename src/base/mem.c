/* The one door for memory. */
#include "base/mem.h"
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static void (*clean_up)(void);

void mem_on_end(void (*clean)(void))
{
    clean_up = clean;
}

_Noreturn void mem_ended(void)
{
    static const char line[] = "feedtrace: error: there is no memory left\n";
    if (clean_up)
        clean_up();
    /* write() and _exit(): stdio and exit handlers may want memory themselves. */
    ssize_t ignored = write(STDERR_FILENO, line, sizeof line - 1);
    (void)ignored;
    _exit(3);
}

void *mem_alloc(size_t n)
{
    void *p = malloc(n ? n : 1);
    if (!p)
        mem_ended();
    return p;
}

void *mem_zero(size_t count, size_t size)
{
    void *p = count && size ? calloc(count, size) : calloc(1, 1);
    if (!p)
        mem_ended();
    return p;
}

void *mem_resize(void *p, size_t count, size_t size)
{
    if (size && count > SIZE_MAX / size)
        mem_ended();
    size_t n = count * size;
    void *q = realloc(p, n ? n : 1);
    if (!q)
        mem_ended();
    return q;
}

void mem_free(void *p)
{
    free(p);
}

char *mem_copy_text(const char *text)
{
    size_t n = strlen(text) + 1;
    return memcpy(mem_alloc(n), text, n);
}
