/* Memory that is given out in small pieces and freed whole: a list of blocks, each larger than the one before. */
#include "base/arena.h"
#include "base/mem.h"
#include <stdalign.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#define BLOCK_FIRST   ((size_t)4096)
#define BLOCK_LARGEST ((size_t)1 << 20)
#define ALIGNMENT     alignof(max_align_t)

struct arena_block {
    struct arena_block *before;
    max_align_t bytes[];
};

void arena_init(struct arena *a)
{
    *a = (struct arena){0};
}

void arena_release(struct arena *a)
{
    struct arena_block *block = a->last;
    while (block) {
        struct arena_block *before = block->before;
        mem_free(block);
        block = before;
    }
    arena_init(a);
}

static struct arena_block *block_new(size_t size)
{
    if (size > SIZE_MAX - sizeof(struct arena_block))
        mem_ended();
    struct arena_block *block = mem_zero(1, sizeof *block + size);
    block->before = NULL;
    return block;
}

void *arena_alloc(struct arena *a, size_t n)
{
    if (n > SIZE_MAX - ALIGNMENT)
        mem_ended();
    n = (n + ALIGNMENT - 1) / ALIGNMENT * ALIGNMENT;
    if (!n)
        n = ALIGNMENT; /* every piece has an address of its own */
    if (a->last && n <= a->size - a->used) {
        void *piece = (char *)a->last->bytes + a->used;
        a->used += n;
        return piece;
    }
    if (a->last && n > BLOCK_LARGEST / 4) {
        /* A large piece gets a block of its own behind the newest one, whose rest stays in use. */
        struct arena_block *block = block_new(n);
        block->before = a->last->before;
        a->last->before = block;
        return block->bytes;
    }
    size_t size = a->last ? a->size * 2 : BLOCK_FIRST;
    if (size > BLOCK_LARGEST)
        size = BLOCK_LARGEST;
    if (size < n)
        size = n;
    struct arena_block *block = block_new(size);
    block->before = a->last;
    a->last = block;
    a->size = size;
    a->used = n;
    return block->bytes;
}

void *arena_rows(struct arena *a, size_t count, size_t size)
{
    if (size && count > SIZE_MAX / size)
        mem_ended();
    return arena_alloc(a, count * size);
}

char *arena_text(struct arena *a, const char *text, size_t n)
{
    if (n == SIZE_MAX)
        mem_ended();
    char *copy = arena_alloc(a, n + 1); /* zeroed, so the NUL is there */
    if (n)
        memcpy(copy, text, n);
    return copy;
}

char *arena_format(struct arena *a, const char *format, ...)
{
    va_list args, again;
    va_start(args, format);
    va_copy(again, args);
    int n = vsnprintf(NULL, 0, format, args);
    if (n < 0)
        mem_ended(); /* more than INT_MAX bytes */
    char *out = arena_alloc(a, (size_t)n + 1);
    vsnprintf(out, (size_t)n + 1, format, again);
    va_end(again);
    va_end(args);
    return out;
}
