/* Every single fault that a model can have, made from its parts: nobody lists them by hand. */
#ifndef FAULTS_LIST_H
#define FAULTS_LIST_H
#include "faults/faults.h"
#include "faults/kinds.h"

struct listed_fault {
    enum fault_kind kind;
    const char *part;     /* ID of the part (a leak between passages: of the hole that would reach it) or source */
    const char *words;    /* canonical words */
    struct fault_set set; /* its edits */
    bool splits_joint;    /* needs a network built apart */
};
struct fault_list {
    struct listed_fault *rows; /* [n], by kind, then in file order */
    uint32_t n;
    struct arena arena;
};

/** Lists each kind of fault applied to every part that it fits, sizes graded by what they do by structure (0.5 mm a
 * leak, 1 mm an orifice, 3 mm open), sources with a capacity at a half and a quarter of it. @param kinds bit a kind
 * wanted (0: all).  @param part only this part's faults, or NULL. Caller releases with fault_list_release(). */
void fault_list_make(const struct network *n, unsigned kinds, const char *part, struct fault_list *out);
void fault_list_release(struct fault_list *l);
#endif
