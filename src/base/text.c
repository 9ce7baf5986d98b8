/* A growing text, and "did you mean". */
#include "base/text.h"
#include "base/mem.h"
#include <stdint.h>
#include <stdio.h>
#include <string.h>

void text_release(struct text *t)
{
    mem_free(t->at);
    *t = (struct text){0};
}

void text_clear(struct text *t)
{
    t->n = 0;
    if (t->at)
        t->at[0] = '\0';
}

/* Room for n more bytes and a NUL. */
static void text_room(struct text *t, size_t n)
{
    if (n > SIZE_MAX / 2 - t->n - 1)
        mem_ended();
    if (t->n + n + 1 <= t->cap)
        return;
    size_t cap = t->cap ? t->cap : 64;
    while (cap < t->n + n + 1)
        cap *= 2;
    t->at = mem_resize(t->at, cap, 1);
    t->cap = cap;
}

void text_add_bytes(struct text *t, const char *s, size_t n)
{
    text_room(t, n);
    if (n)
        memcpy(t->at + t->n, s, n);
    t->n += n;
    t->at[t->n] = '\0';
}

void text_add(struct text *t, const char *s)
{
    text_add_bytes(t, s, strlen(s));
}

void text_add_char(struct text *t, char c)
{
    text_add_bytes(t, &c, 1);
}

void text_vaddf(struct text *t, const char *format, va_list args)
{
    va_list again;
    va_copy(again, args);
    int n = vsnprintf(NULL, 0, format, args);
    if (n < 0)
        mem_ended(); /* more than INT_MAX bytes */
    text_room(t, (size_t)n);
    vsnprintf(t->at + t->n, (size_t)n + 1, format, again);
    t->n += (size_t)n;
    va_end(again);
}

void text_addf(struct text *t, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    text_vaddf(t, format, args);
    va_end(args);
}

const char *text_string(const struct text *t)
{
    return t->at ? t->at : "";
}

#define NEAREST_LONGEST 64 /* bytes; longer words are no slips of the pen */

/* Insertions, deletions, changed bytes and swapped neighbours that make b of a, or more than `most`. Bytes, not code
 * points: IDs and keys are ASCII. After Damerau (1964) in its restricted form. */
static size_t edit_distance(const char *a, size_t n_a, const char *b, size_t n_b, size_t most)
{
    size_t rows[3][NEAREST_LONGEST + 1];
    if (n_a > n_b ? n_a - n_b > most : n_b - n_a > most)
        return most + 1;
    for (size_t j = 0; j <= n_b; j++)
        rows[0][j] = j;
    for (size_t i = 1; i <= n_a; i++) {
        size_t *now = rows[i % 3], *before = rows[(i + 2) % 3], *two_before = rows[(i + 1) % 3];
        now[0] = i;
        for (size_t j = 1; j <= n_b; j++) {
            size_t d = before[j - 1] + (a[i - 1] != b[j - 1]);
            if (d > before[j] + 1)
                d = before[j] + 1;
            if (d > now[j - 1] + 1)
                d = now[j - 1] + 1;
            if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1] && d > two_before[j - 2] + 1)
                d = two_before[j - 2] + 1;
            now[j] = d;
        }
    }
    return rows[n_a % 3][n_b];
}

const char *text_nearest(const char *word, const char *const *candidates, size_t n)
{
    size_t n_word = strlen(word);
    if (!n_word || n_word > NEAREST_LONGEST)
        return NULL;
    size_t most = n_word / 3 > 1 ? n_word / 3 : 1;
    const char *best = NULL;
    for (size_t i = 0; i < n; i++) {
        size_t n_candidate = strlen(candidates[i]);
        if (n_candidate > NEAREST_LONGEST)
            continue;
        size_t d = edit_distance(word, n_word, candidates[i], n_candidate, most);
        if (d <= most && d < n_candidate) { /* a word of which every letter differs is nowhere near */
            best = candidates[i];
            if (!d)
                break;
            most = d - 1;
        }
    }
    return best;
}
