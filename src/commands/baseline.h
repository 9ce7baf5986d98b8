/* Findings that `check` is to leave out, or writes down to be left out. */
#ifndef COMMANDS_BASELINE_H
#define COMMANDS_BASELINE_H
#include "commands/command.h"

struct baseline_key {
    char *words; /* "MODEL CODE PART STATE", - for no part or state */
    bool found;
};
struct baseline { /* all zero at first */
    struct baseline_key *keys;
    size_t n, cap;
};

/** Reads a baseline; the file counts as an input of the run. @return false with the reason in d. */
bool baseline_read(struct baseline *b, struct run *r, const char *path, struct diags *d);

/** Takes the findings that it lists out of an answer with a model. */
void baseline_apply(struct baseline *b, struct answer *a);

/** Adds the findings of an answer with a model, and writes them, sorted. False with the reason in d. */
void baseline_note(struct baseline *b, const struct answer *a);
bool baseline_write(struct baseline *b, const struct run *r, const char *path, struct diags *d);
void baseline_release(struct baseline *b);
#endif
