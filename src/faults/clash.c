/* Which two faults cannot be on one part at once. */
#include "faults/fault.h"
#include <string.h>

#define IS(kind)    (1u << (kind))
#define OF_BALL     (IS(FAULT_LOSE) | IS(FAULT_SEAT) | IS(FAULT_UNSEAT))
#define OF_POSITION (IS(FAULT_STICK) | IS(FAULT_MISADJUST))

/* Kinds that exclude each other on one part. Exact repeats are dropped before and are no clash. */
static const struct rule {
    unsigned one, other;
    const char *why;
} rules[] = {
    {OF_BALL, OF_BALL, "a ball is in one condition"},
    {OF_POSITION, OF_POSITION, "it stays in one place"},
    {IS(FAULT_BLOCK), IS(FAULT_RESIZE), "a blocked hole has no size"},
    {IS(FAULT_RESIZE), IS(FAULT_RESIZE), "a hole has one size"},
    {IS(FAULT_WEAKEN), IS(FAULT_WEAKEN), "a source has one flow"},
};

static bool same_part(const struct fault *a, const struct fault *b)
{
    if (a->kind == FAULT_WEAKEN || b->kind == FAULT_WEAKEN)
        return a->kind == b->kind && a->feed.i == b->feed.i;
    return a->part.kind != PART_NONE && a->part.kind == b->part.kind && a->part.i == b->part.i;
}

static const char *clash(const struct fault *a, const struct fault *b)
{
    if (!same_part(a, b))
        return NULL;
    if (a->kind == FAULT_UNSEAT && b->kind == FAULT_UNSEAT && a->hole.i != b->hole.i)
        return NULL; /* both seats of a shuttle may be worn */
    for (size_t r = 0; r < sizeof rules / sizeof *rules; r++)
        if ((rules[r].one & IS(a->kind) && rules[r].other & IS(b->kind)) ||
            (rules[r].one & IS(b->kind) && rules[r].other & IS(a->kind)))
            return rules[r].why;
    return NULL;
}

bool faults_agree(const struct fault *faults, uint32_t n, const struct model *m, struct diags *d)
{
    bool agree = true;
    for (uint32_t i = 0; i < n; i++)
        for (uint32_t j = i + 1; j < n; j++) {
            const char *why = clash(&faults[i], &faults[j]);
            if (!why)
                continue;
            const char *id =
                faults[i].kind == FAULT_WEAKEN ? m->feeds[faults[i].feed.i].part.id : model_id(m, faults[i].part);
            diag(d, FAULTS_CLASH, NO_SPAN, "`%s` and `%s` exclude each other on %s: %s", faults[i].words,
                 faults[j].words, id, why);
            diag_help(d, "name one of them");
            agree = false;
        }
    return agree;
}
