/* The words of a claim, each with its place, and the pressures among them: what claim.c reads. Inside model/ only. */
#ifndef MODEL_CLAIM_WORDS_H
#define MODEL_CLAIM_WORDS_H
#include "model/claim.h"

struct word {
    const char *at; /* borrowed from the line */
    size_t n;
    struct span where;
};
struct words { /* `words_release()` frees */
    struct word *rows;
    uint32_t n, cap;
};

/** Cuts a text into words: white space parts them, a comma and `+-` are words by themselves. */
void words_add(struct words *ws, struct claim_text text);
void words_release(struct words *ws);

/* One claim while it is read: words i up to end. */
struct phrase {
    const struct word *rows;
    uint32_t i, end;
    const struct units *units;
    const struct model *m;
    struct arena *a;
    struct diags *d;
};

/** True when the next word of the claim is `word`; phrase_take() steps over it as well. */
bool phrase_is(const struct phrase *p, const char *word);
bool phrase_take(struct phrase *p, const char *word);

/** The next word, or the last one of the claim where none is left: the place that an error points at. */
const struct word *phrase_here(const struct phrase *p);

/** Bytes of a word to show in a message: long ones are cut. With "%.*s". */
int word_shown(const struct word *w);

/** True while names near to a wrong one are still looked for: in a file full of errors that would take all the time. */
bool near_wanted(const struct diags *d);

/** The nearest of `n` parts that lie `stride` bytes apart (a `struct part` first in each), or NULL. */
const char *near_part(const void *rows, size_t n, size_t stride, const struct word *w, const struct diags *d);

/** Reads `below Q`, `above Q`, `Q to Q`, `[about] Q [+- Q | N %]`, to the end of the claim.
 *  @return false with the reason in p->d. */
bool phrase_pressure(struct phrase *p, enum claim_pressure *kind, double *low, double *high);

/** Reads a number without unit that is not negative. */
bool phrase_number(struct phrase *p, double *value);
#endif
