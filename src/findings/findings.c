/* The table of checks, and findings that the modeler accepts. */
#include "base/mem.h"
#include "findings/check.h"
#include <stdarg.h>
#include <string.h>

enum { HEALTHY = 1, FAULTY = 2, BOTH = 3 }; /* traces on which a check makes sense */

static const struct {
    enum code code;
    void (*look)(struct looking *l); /* NULL: found by the row above */
    unsigned on;
} checks[] = {
    {NOT_SETTLED, check_not_settled, BOTH},
    {NOT_SOLVED, check_not_solved, BOTH},
    {GEAR_NOT_OBTAINED, check_gear, BOTH},
    {TIE_UP, NULL, BOTH},
    {CANNOT_RELEASE, check_cannot_release, FAULTY},
    {CROSSFEED, check_crossfeed, BOTH},
    {OVER_LIMIT, check_limits, BOTH},
    {MAY_EXCEED, NULL, BOTH},
    {SECOND_FEED, check_second_feed, BOTH},
    {RELIEF_REACHED, check_relief_reached, BOTH},
    {NO_LIMIT_ON_LINE, check_no_limit_on_line, FAULTY},
    {RACE, check_restless, BOTH},
    {HUNTING, NULL, BOTH},
    {UNDETERMINED_VALVE, check_undetermined_valve, BOTH},
    {STRUCTURE_SIZE, check_structure_size, BOTH},
    {TWO_SOLUTIONS, check_two_solutions, BOTH},
    {DAMPING_LOST, check_damping_lost, FAULTY},
    {ASSUMED_SIZES, check_assumed_sizes, BOTH},
    {EXPECTATION_FAILED, check_expectations, HEALTHY},
    {UNDECIDED, NULL, HEALTHY},
    {NEVER_FED, check_never_fed, HEALTHY},
    {CANNOT_DRAIN, check_cannot_drain, HEALTHY},
    {NEVER_APPLIES, check_never_applies, HEALTHY},
    {NEVER_RELEASES, check_never_releases, HEALTHY},
    {DEAD_END, check_dead_end, HEALTHY},
    {UNUSED, check_unused, HEALTHY},
    {DUPLICATE_HOLE, check_duplicate_hole, HEALTHY},
    {LIMIT_MISMATCH, check_limit_mismatch, HEALTHY},
    {LANDS_ON_BLANK, check_lands_on_blank, HEALTHY},
    {BY_NAME_ONLY, check_by_name_only, HEALTHY},
    {STALE_ACCEPT, NULL, HEALTHY},
};
enum { N_CHECKS = sizeof checks / sizeof *checks };

const char *const *findings_checks(bool faulty, size_t *n)
{
    static const char *ids[2][N_CHECKS];
    *n = 0;
    for (size_t i = 0; i < N_CHECKS; i++)
        if (checks[i].on & (faulty ? FAULTY : HEALTHY))
            ids[faulty][(*n)++] = code_row(checks[i].code)->id;
    return ids[faulty];
}

/* An accept names the part of the finding, its circuit, or its state. */
static bool accepts(const struct looking *l, const struct accept *a, enum code code, const char *at,
                    const struct state *state)
{
    const struct model *m = l->model;
    if (a->code != code)
        return false;
    if (!a->at || (at && !strcmp(a->at, at)) || (state && !strcmp(a->at, state->part.id)))
        return true;
    struct part_ref ref = at ? model_find(m, at, strlen(at)) : (struct part_ref){PART_NONE, 0};
    if (ref.kind != PART_PASSAGE || m->passages[ref.i].circuit.i == NONE)
        return false;
    return !strcmp(a->at, m->circuits[m->passages[ref.i].circuit.i].part.id);
}

bool found(struct looking *l, enum code code, struct span where, const char *at, const struct state *state,
           const char *format, ...)
{
    bool accepted = false;
    for (uint32_t i = 0; i < l->model->n_accepts; i++) {
        if (!accepts(l, &l->model->accepts[i], code, at, state))
            continue;
        l->accept_used[i] = true;
        accepted = true;
    }
    if (accepted)
        return false;
    struct text message = {0};
    va_list args;
    va_start(args, format);
    text_vaddf(&message, format, args);
    va_end(args);
    diag_finding(l->d, code, where, at, state ? state->part.id : NULL, "%s", text_string(&message));
    text_release(&message);
    return true;
}

/* Accepts of checks that ran and that matched nothing. */
static void check_stale_accept(struct looking *l)
{
    for (uint32_t i = 0; i < l->model->n_accepts; i++) {
        const struct accept *a = &l->model->accepts[i];
        bool ran = false;
        for (size_t k = 0; k < N_CHECKS; k++)
            ran = ran || (checks[k].code == a->code && checks[k].on & HEALTHY);
        if (ran && !l->accept_used[i])
            diag_finding(l->d, STALE_ACCEPT, a->where, a->at, NULL, "there is no finding %s at %s to accept",
                         code_row(a->code)->id, a->at ? a->at : "any part");
    }
}

void findings_run(const struct trace *t, const struct pressed *p, uint32_t set, bool faulty, struct diags *d)
{
    const struct model *m = t->network->model;
    struct looking l = {.trace = t,
                        .pressed = p,
                        .network = t->network,
                        .model = m,
                        .set = set,
                        .faulty = faulty,
                        .all_settled = true,
                        .accept_used = mem_zero(m->n_accepts + 1, sizeof *l.accept_used),
                        .d = d};
    for (uint32_t s = 0; s < m->n_states; s++)
        l.all_settled = l.all_settled && case_of(&l, s)->settled;
    for (size_t i = 0; i < N_CHECKS; i++)
        if (checks[i].look && checks[i].on & (faulty ? FAULTY : HEALTHY))
            checks[i].look(&l);
    if (!faulty)
        check_stale_accept(&l);
    mem_free(l.idle);
    mem_free(l.accept_used);
}
