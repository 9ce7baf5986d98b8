/* Findings about units stacked from the parts of several models: openings that meet nothing, holes joined by name. */
#include "findings/check.h"

static const char *casting_text(const struct blank *b)
{
    return b->layer_file ? b->layer_file : "this stack";
}

void check_lands_on_blank(struct looking *l)
{
    for (uint32_t i = 0; i < l->model->n_blanks; i++) {
        const struct blank *b = &l->model->blanks[i];
        bool said;
        if (b->kind == PART_BALL)
            said = found(l, LANDS_ON_BLANK, b->where, b->id, NULL,
                         "check ball %s of %s lies in %s, but the plate `%s` of %s has no hole %s there", b->id,
                         b->file, b->other, b->layer, casting_text(b), b->wanted);
        else
            said = found(l, LANDS_ON_BLANK, b->where, b->id, NULL,
                         "%s %s of %s lands on blank metal: `%s` of %s has no passage %s",
                         b->kind == PART_HOLE ? "plate hole" : "joint", b->id, b->file, b->layer, casting_text(b),
                         b->wanted);
        if (!said)
            continue;
        diag_second(l->d, b->layer_where, "the layer `%s` of the stack", b->layer);
        if (b->kind == PART_BALL)
            diag_help(l->d, "without this seat it steers nothing: oil passes both ways or not at all");
        else if (b->other)
            diag_help(l->d, "what %s had from it, or lost through it, stops here", b->other);
    }
}

void check_by_name_only(struct looking *l)
{
    for (uint32_t i = 0; i < l->model->n_seams; i++) {
        const struct seam *s = &l->model->seams[i];
        if (found(l, BY_NAME_ONLY, s->where, s->plate, NULL,
                  "%u hole%s of the plate `%s` of %s %s castings of %s by name only", s->n_holes,
                  s->n_holes == 1 ? "" : "s", s->plate, s->file, s->n_holes == 1 ? "meets" : "meet", s->others))
            diag_help(l->d, "lay the plate on the casting: a hole of the same name may have moved");
    }
}
