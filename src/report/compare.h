/* What differs between two models, part by part, and what that does, state by state: as text and as JSON. */
#ifndef REPORT_COMPARE_H
#define REPORT_COMPARE_H
#include "compare/compare.h"
#include "report/answer.h"

struct compare_answer {
    const struct answer *old, *new;
    struct parts_compared parts;
    struct effect *effects; /* [n_states of the new model]; empty for a state that the old model does not have */
    state_ix *old_states;   /* [same] its row in the old model, NONE: it has none of this ID */
    bool *no_answer;        /* [same] in one of the two the state does not settle, or its pressures were not found */
    uint32_t n_states;      /* that both have */
    uint32_t n_differ;      /* of these, with a difference */
    uint32_t n_no_answer;   /* of these, that cannot be compared in full */
    uint32_t n_single;      /* states that only one of the two has */
};

/** Compares two models that could be read. Texts and rows lie in the arena. @param u units of the words */
void compare_answer_find(const struct answer *old, const struct answer *new, const struct units *u, struct arena *a,
                         struct compare_answer *out);

void text_compare(struct text *t, const struct view *v, const struct compare_answer *c);
void json_compare(struct text *t, const struct compare_answer *c);
#endif
