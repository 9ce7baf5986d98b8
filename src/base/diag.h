/* What is to be said to the user: errors of reading, and findings about a model. Whoever knows it says it once, here,
 * and goes on; a `false` from a function says only that there is nothing to use. Nothing is printed here: report/ does
 * that. */
#ifndef BASE_DIAG_H
#define BASE_DIAG_H
#include "base/arena.h"
#include "base/source.h"
#include <stdbool.h>
#include <stddef.h>

enum level { LEVEL_NOTE, LEVEL_WARNING, LEVEL_ERROR };

/* One row of codes.def. */
enum code {
#define CODE(name, level, kind, what, road, mend) name,
#include "base/codes.def"
#undef CODE
    N_CODES
};

/* A reading error makes the input unusable; a finding is about a usable model. */
enum code_kind { CODE_READING, CODE_FINDING };

struct code_row {
    const char *id; /* lower case with hyphens */
    enum level level;
    enum code_kind kind;
    const char *what; /* what it means, a sentence */
    const char *road; /* what it does on the road or at the bench, or to the modeler's work */
    const char *mend; /* how to mend it */
};

/** The row of a code. */
const struct code_row *code_row(enum code code);

/** The code with this id, or N_CODES. */
enum code code_find(const char *id);

/** "note", "warning", "error". */
const char *level_word(enum level level);

struct diag {
    enum code code;
    enum level level;
    struct span where;       /* NO_SPAN: about the command line */
    const char *at;          /* ID of the part that it is about, or NULL */
    const char *state;       /* ID of the state, or NULL */
    const char *message;     /* one sentence without a full stop */
    const char *help;        /* what to do, or NULL */
    struct span second;      /* another place that matters, or NO_SPAN */
    const char *second_text; /* what stands there: "first defined here" */
};

#define DIAGS_MAX 10000 /* kept per run; the rest is only counted */

struct diags {
    struct arena arena; /* owns the texts */
    struct diag *rows;
    size_t n, cap;
    size_t n_errors, n_warnings, n_notes; /* of all, kept or not */
};

void diags_init(struct diags *d);
void diags_release(struct diags *d);

/** Adds one message of the code's own level; the texts are copied. */
void diag(struct diags *d, enum code code, struct span where, const char *format, ...)
    __attribute__((format(printf, 4, 5)));

/** Adds one finding about part `at` (may be NULL) in state `state` (may be NULL). */
void diag_finding(struct diags *d, enum code code, struct span where, const char *at, const char *state,
                  const char *format, ...) __attribute__((format(printf, 6, 7)));

/** Gives the last message its help line. */
void diag_help(struct diags *d, const char *format, ...) __attribute__((format(printf, 2, 3)));

/** Gives the last message its second place. */
void diag_second(struct diags *d, struct span where, const char *format, ...) __attribute__((format(printf, 3, 4)));

/** Sorts into file order (file, line, column; what was said first stays first; messages without a place first) and
 * drops exact repeats. */
void diags_sort(struct diags *d);

/** The worst level among the messages, or -1 when there is none. */
int diags_worst(const struct diags *d);
#endif
