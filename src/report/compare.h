/* What differs between two models, part by part, and what that does, state by state. */
#ifndef REPORT_COMPARE_H
#define REPORT_COMPARE_H
#include "report/answer.h"

struct field { /* one thing that a model says of a part, in words */
    const char *key, *value;
};
struct part_difference {
    enum part_kind kind;
    const char *id;                  /* of the old model, else of the new */
    const char *renamed;             /* its ID in the new model where a hole was matched by place, else NULL */
    int what;                        /* -1 gone, 0 changed, +1 added */
    const char **keys, **was, **now; /* [n] fields that differ; NULL: not there */
    uint32_t n;
};
struct comparison {
    struct arena arena;
    struct part_difference *parts; /* [n_parts], kind by kind in file order */
    uint32_t n_parts;
    uint32_t n_facts; /* of behaviour that differ; filled by the reports' caller from the records */
    const char *old_record, *new_record;
    size_t n_old, n_new;
};

/** Finds the parts added, gone and changed: holes that have a place in both models by place, everything else by ID.
 *  Caller releases with comparison_release(). */
void comparison_find(const struct model *old, const struct model *new, struct comparison *out);
void comparison_release(struct comparison *c);

struct compare_answer {
    const struct answer *old, *new;
    const struct comparison *comparison;
};
/** `a` is the new model's answer. */
void text_compare(struct text *t, const struct view *v, const struct answer *a, const struct compare_answer *c);
void json_compare(struct text *t, const struct view *v, const struct answer *a, const struct compare_answer *c);
#endif
