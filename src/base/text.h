/* A growing text. */
#ifndef BASE_TEXT_H
#define BASE_TEXT_H
#include <stdarg.h>
#include <stddef.h>

struct text {
    char *at; /* NUL behind the last byte once anything was added; NULL before */
    size_t n; /* bytes, without the NUL */
    size_t cap;
};

/** Frees the text; it is empty and usable afterwards. `struct text t = {0}` is an empty text. */
void text_release(struct text *t);

/** Empties the text, keeps its memory. */
void text_clear(struct text *t);

void text_add(struct text *t, const char *s);
void text_add_bytes(struct text *t, const char *s, size_t n);
void text_add_char(struct text *t, char c);
void text_addf(struct text *t, const char *format, ...) __attribute__((format(printf, 2, 3)));
void text_vaddf(struct text *t, const char *format, va_list args);

/** The text as a C string, "" when nothing was added; borrowed. */
const char *text_string(const struct text *t);

/** The candidate nearest to `word` (edit distance at most a third of its length, at least 1), or NULL: for "did you
 * mean". Ties go to the first. Borrowed from the candidates. */
const char *text_nearest(const char *word, const char *const *candidates, size_t n);
#endif
