/* The one door for memory. Nothing in the program calls malloc() by itself: when memory ends, these functions remove
 * what is half written, say one line and end the program with status 3, so no caller handles a NULL. The same goes for
 * the libraries: mem_libraries.c stands in their way to malloc(), since some crash without memory and others go on and
 * leave things out. */
#ifndef BASE_MEM_H
#define BASE_MEM_H
#include <stddef.h>

/** Allocates n bytes, not cleared. Never NULL (n = 0 gives a unique pointer). Caller frees with mem_free(). */
void *mem_alloc(size_t n);

/** Allocates count x size bytes, all zero; an overflow of the product counts as memory at its end. */
void *mem_zero(size_t count, size_t size);

/** Changes the size of what mem_alloc() gave; p may be NULL. An overflow of count x size counts as memory at its end.
 */
void *mem_resize(void *p, size_t count, size_t size);

/** Frees what the functions above gave; NULL is fine. */
void mem_free(void *p);

/** A copy of text, NUL at its end. Caller frees. */
char *mem_copy_text(const char *text);

/** Registers what must happen before the program ends for want of memory (removing half-written files). One at a time.
 */
void mem_on_end(void (*clean)(void));

/** Ends the program as described above; for the allocation hooks of libraries. */
_Noreturn void mem_ended(void);

/** Makes room for one more row in a growing array. `rows` is the array's pointer, `n` the rows in use, `cap` the rows
 * it holds. */
#define MEM_GROW(rows, n, cap)                                                                                         \
    do {                                                                                                               \
        if ((n) == (cap)) {                                                                                            \
            (cap) = (cap) ? (cap)*2 : 16;                                                                              \
            (rows) = mem_resize((rows), (cap), sizeof *(rows));                                                        \
        }                                                                                                              \
    } while (0)
#endif
