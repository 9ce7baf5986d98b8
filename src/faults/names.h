/* The names in a fault: which part is meant, does it fit the fault, and what to write instead. Inside faults/ only.
 * Each name_*() fills its piece of f, or says what is wrong and gives false. */
#ifndef FAULTS_NAMES_H
#define FAULTS_NAMES_H
#include "faults/fault.h"

/** A word for a message: whole, or cut to a length that a line can hold. Arena. */
const char *word_cut(const struct fault_text *t, const char *word);

/** Gives the last message the forms of a kind, or all fault words with the nearest, as its help. */
void help_forms(const struct fault_text *t, enum fault_kind kind);
void help_kinds(const struct fault_text *t);

/* What could be written instead: "write one of `leak A into B`, `leak A into C`". Zero is an empty list. */
struct list {
    struct text text;
    uint32_t n;
};

/** Adds one fault that could be written, printf-like. */
void list_add(struct list *l, const char *format, ...) __attribute__((format(printf, 2, 3)));

/** Gives the last message the list as its help (empty: the forms of the kind) and releases it. */
void list_help(const struct fault_text *t, struct list *l, enum fault_kind kind);

/** Says that an ID names nothing (with the nearest of a kind, else the first that fit), or a part of the wrong kind;
 * always false. */
bool name_unknown(const struct fault_text *t, enum part_kind near_kind, const char *id);
bool name_wrong_kind(const struct fault_text *t, struct part_ref ref, const char *needs);

/** A quantity in the model's units; lengths must be above 0. */
bool quantity_of_words(const struct fault_text *t, enum fault_kind kind, const char *text, enum dimension dim,
                       double *value);

bool name_part(const struct fault_text *t, const char *id, enum part_kind wanted, struct fault *f);
bool name_blockable(const struct fault_text *t, const char *id, struct fault *f);
bool name_leaking(const struct fault_text *t, const char *id, struct fault *f);
bool name_two_passages(const struct fault_text *t, const char *from, const char *into, struct fault *f);
bool name_seat(const struct fault_text *t, const char *hole, struct fault *f);
bool name_sticking(const struct fault_text *t, const char *id, struct fault *f);
bool name_position(const struct fault_text *t, const char *position, struct fault *f);
bool name_wearing(const struct fault_text *t, const char *id, struct fault *f);
bool name_neighbours(const struct fault_text *t, const char *p, const char *q, struct fault *f);
bool name_valve_with(const struct fault_text *t, const char *id, struct fault *f);
bool name_source(const struct fault_text *t, const char *id, struct fault *f);
bool name_weaker(const struct fault_text *t, const struct fault *f);
bool name_manual(const struct fault_text *t, const char *id, struct fault *f);
bool name_detents(const struct fault_text *t, const char *p, const char *q, struct fault *f);
#endif
