/* Memory that is given out in small pieces and freed whole: everything that a model holds lies in its arena. */
#ifndef BASE_ARENA_H
#define BASE_ARENA_H
#include <stddef.h>

struct arena {
    struct arena_block *last; /* newest block; older ones behind it */
    size_t used, size;        /* bytes in the newest block */
};

/** An arena that holds nothing. */
void arena_init(struct arena *a);

/** Frees everything that the arena gave out; the arena is empty and usable afterwards. */
void arena_release(struct arena *a);

/** n bytes, all zero, aligned for any type; borrowed, lives as long as the arena. Never NULL. */
void *arena_alloc(struct arena *a, size_t n);

/** count rows of size bytes, all zero; an overflow ends the program as memory at its end does. */
void *arena_rows(struct arena *a, size_t count, size_t size);

/** A copy of the first n bytes of text with a NUL behind them. */
char *arena_text(struct arena *a, const char *text, size_t n);

/** printf into the arena. */
char *arena_format(struct arena *a, const char *format, ...) __attribute__((format(printf, 2, 3)));
#endif
