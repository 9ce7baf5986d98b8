/* `feedtrace compare OLD NEW [--strict]` */
#include "report/compare.h"
#include "commands/command.h"

static void as_text(struct text *t, const struct view *v, const struct answer *a, const void *extra)
{
    (void)a;
    text_compare(t, v, extra);
}

static void as_json(struct text *t, const struct view *v, const struct answer *a, const void *extra)
{
    (void)v;
    (void)a;
    json_compare(t, extra);
}

static void units_compare(struct run *r, struct unit *old, struct unit *new)
{
    static report_fn *const reports[N_FORMATS] = {as_text, as_json};
    struct compare_answer c = {.old = &old->answer, .new = &new->answer};
    struct arena arena;
    arena_init(&arena);
    if (old->model && new->model) {
        unit_findings(new, r);
        unit_status(old, r, true);
        compare_answer_find(&old->answer, &new->answer, r->options.other_units ? &r->options.units : &new->model->units,
                            &arena, &c);
        if (r->options.strict && (c.parts.n || c.n_differ))
            run_status(r, STATUS_FOUND);
    }
    run_answer(r, reports, &new->answer, &c);
    arena_release(&arena);
}

void command_compare(struct run *r)
{
    struct unit old, new;
    if (!unit_open(&old, r, r->options.args[0], NULL, NULL, 0))
        return;
    if (unit_open(&new, r, r->options.args[1], NULL, NULL, 0)) {
        units_compare(r, &old, &new);
        unit_release(&new);
    }
    unit_release(&old);
    run_deliver(r);
}
