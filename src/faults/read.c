/* A fault expression: split into faults at ` + `, each read, repeats dropped, sorted, compiled. */
#include "base/escape.h"
#include "base/mem.h"
#include "faults/fault.h"
#include <stdlib.h>
#include <string.h>

#define WHOLE_BYTES 100 /* of one fault as a message quotes it */

static bool is_space(char c)
{
    return c == ' ' || c == '\t' || c == '\n' || c == '\r';
}

/* The words of an expression, NUL-terminated; *n of them. */
static const char **split(const char *expression, struct arena *a, uint32_t *n)
{
    size_t length = strlen(expression);
    const char **words = arena_rows(a, length / 2 + 1, sizeof *words);
    *n = 0;
    for (size_t i = 0; i < length;) {
        if (is_space(expression[i])) {
            i++;
            continue;
        }
        size_t begin = i;
        while (i < length && !is_space(expression[i]))
            i++;
        words[(*n)++] = arena_text(a, expression + begin, i - begin);
    }
    return words;
}

/* Words joined for a message, cut to a length that a line can hold. */
static const char *whole(const char **words, uint32_t n, struct arena *a)
{
    struct text t = {0};
    for (uint32_t i = 0; i < n && t.n <= WHOLE_BYTES; i++)
        text_addf(&t, "%s%s", i ? " " : "", words[i]);
    if (t.n > WHOLE_BYTES) {
        size_t cut = WHOLE_BYTES;
        while (cut && ((unsigned char)t.at[cut] & 0xC0) == 0x80)
            cut--; /* not in the middle of a character */
        t.n = cut;
        t.at[cut] = '\0';
        text_add(&t, "...");
    }
    const char *out = arena_text(a, text_string(&t), t.n);
    text_release(&t);
    return out;
}

static int by_words(const void *a, const void *b)
{
    return strcmp(((const struct fault *)a)->words, ((const struct fault *)b)->words);
}

/* Sorts and drops exact repeats. */
static uint32_t tidy(struct fault *faults, uint32_t n)
{
    if (!n)
        return 0;
    qsort(faults, n, sizeof *faults, by_words);
    uint32_t kept = 1;
    for (uint32_t i = 1; i < n; i++)
        if (strcmp(faults[i].words, faults[kept - 1].words) != 0)
            faults[kept++] = faults[i];
    return kept;
}

/* Reads words[0..n) as one fault. */
static bool read_one(struct fault_text *t, const char **words, uint32_t n, struct fault *out)
{
    t->words = words;
    t->n = n;
    t->at = 0;
    t->whole = whole(words, n, t->arena);
    if (!n) {
        diag(t->d, BAD_FAULT, NO_SPAN, "a fault is missing beside a `+`");
        diag_help(t->d, "write a fault on both sides of `+`, as in `block H1 + lose B1`");
        return false;
    }
    if (n > FAULT_WORDS_MAX) {
        diag(t->d, TOO_LARGE, NO_SPAN, "`%s` has %u words, and a fault has at most %u", t->whole, n, FAULT_WORDS_MAX);
        diag_help(t->d, "join several faults by ` + `");
        return false;
    }
    return fault_read(t, out);
}

static bool fits(const char *expression, const char **words, uint32_t n_words, uint32_t *n_faults, struct diags *d)
{
    *n_faults = 1;
    for (uint32_t i = 0; i < n_words; i++)
        *n_faults += strcmp(words[i], "+") == 0;
    if (!n_words) {
        diag(d, BAD_FAULT, NO_SPAN, "the fault is empty");
        diag_help(d, "write a fault such as `block H1` or `leak H30 at 2 mm + lose B1`");
        return false;
    }
    if (!escape_valid_utf8(expression, strlen(expression))) {
        diag(d, NOT_UTF8, NO_SPAN, "the fault is not UTF-8 text");
        return false;
    }
    if (*n_faults > FAULTS_MAX) {
        diag(d, TOO_LARGE, NO_SPAN, "%u faults at once, and a set has at most %d", *n_faults, FAULTS_MAX);
        return false;
    }
    return true;
}

bool faults_read(const char *expression, const struct network *n, struct arena *a, struct fault_set *out,
                 struct diags *d)
{
    *out = (struct fault_set){0};
    size_t length = strnlen(expression, FAULT_BYTES_MAX + 1);
    if (length > FAULT_BYTES_MAX) {
        diag(d, TOO_LARGE, NO_SPAN, "a fault expression has at most %u bytes", FAULT_BYTES_MAX);
        return false;
    }
    uint32_t n_words, n_faults;
    const char **words = split(expression, a, &n_words);
    if (!fits(expression, words, n_words, &n_faults, d))
        return false;

    struct fault_text t = {.model = n->model, .network = n, .arena = a, .d = d};
    struct fault faults[FAULTS_MAX];
    uint32_t count = 0, begin = 0;
    bool ok = true;
    for (uint32_t i = 0; i <= n_words; i++) {
        if (i < n_words && strcmp(words[i], "+") != 0)
            continue;
        ok = read_one(&t, words + begin, i - begin, &faults[count]) && ok;
        count++;
        begin = i + 1;
    }
    if (!ok)
        return false;
    count = tidy(faults, count);
    if (!faults_agree(faults, count, n->model, d))
        return false;

    faults_compile(faults, count, n, a, out);
    struct text joined = {0};
    out->each = arena_rows(a, count, sizeof *out->each);
    out->n = count;
    for (uint32_t i = 0; i < count; i++) {
        out->each[i] = faults[i].words;
        text_addf(&joined, "%s%s", i ? " + " : "", faults[i].words);
    }
    out->words = arena_text(a, text_string(&joined), joined.n);
    text_release(&joined);
    return true;
}
