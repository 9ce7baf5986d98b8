/* How claims are read: the words of a claim, each with its place, the pressures among them, and what a model's file
 * says in claims. Inside model/ only. */
#ifndef MODEL_CLAIM_WORDS_H
#define MODEL_CLAIM_WORDS_H
#include "model/claim.h"

struct reader; /* read.h */

/* A piece of text with the place of its first character. */
struct claim_text {
    const char *at;
    size_t n;
    struct span where;
};

/** claims_read() for a line of a model's file, whose bare numbers are in the units of that file. The model is r->m, all
 *  of whose other parts are read. */
bool claims_read_line(struct reader *r, struct claim_text line, struct claims *out);

/** Reads one entry `SUBJECT: text` of a state's `expect` as the claim "SUBJECT text"; `not` may begin the text. */
bool claims_read_expect(struct reader *r, struct claim_text subject, struct claim_text text, state_ix state,
                        struct claims *out);

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
    struct reader *r; /* NULL: the claim is no part of a model's file */
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

/** Reads `below Q`, `above Q`, `Q to Q`, `[about] Q [+- Q | N %]`, to the end of the claim.
 *  @return false with the reason in p->d. */
bool phrase_pressure(struct phrase *p, enum claim_pressure *kind, double *low, double *high);

/** Reads a number without unit that is not negative. */
bool phrase_number(struct phrase *p, double *value);
#endif
