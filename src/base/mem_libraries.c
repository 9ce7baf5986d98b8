/* The libraries' way to memory. The drawing ones crash when malloc() fails, or draw on without a colour or a heading,
 * and nobody is told: a picture that says something wrong. So the allocation functions of the C library are replaced,
 * for all of the process, by ones that end it as mem.h says. The memory itself still comes from the C library (the
 * manual's chapter on replacing malloc allows this), so free() stays what it is. */
#include "base/mem.h"
#include "base/sanitized.h"
#include <errno.h>
#include <stdint.h>
#include <stdlib.h>

#if !SANITIZED

void *__libc_malloc(size_t n);
void *__libc_calloc(size_t count, size_t n);
void *__libc_realloc(void *p, size_t n);
void *__libc_memalign(size_t alignment, size_t n);

static void *there(void *p)
{
    if (!p)
        mem_ended();
    return p;
}

void *malloc(size_t n)
{
    return there(__libc_malloc(n));
}

void *calloc(size_t count, size_t n)
{
    return there(__libc_calloc(count, n));
}

void *realloc(void *p, size_t n)
{
    void *q = __libc_realloc(p, n);
    return p && !n ? q : there(q); /* of no bytes: freed */
}

void *memalign(size_t alignment, size_t n)
{
    return there(__libc_memalign(alignment, n));
}

void *aligned_alloc(size_t alignment, size_t n)
{
    return there(__libc_memalign(alignment, n));
}

int posix_memalign(void **p, size_t alignment, size_t n)
{
    if (alignment % sizeof(void *) || alignment & (alignment - 1) || !alignment)
        return EINVAL;
    *p = there(__libc_memalign(alignment, n));
    return 0;
}

#endif
