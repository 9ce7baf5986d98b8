/* `feedtrace compare OLD NEW [--strict]` */
#include "report/compare.h"
#include "commands/command.h"
#include "report/record.h"

static void as_text(struct text *t, const struct view *v, const struct answer *a, const void *extra)
{
    text_compare(t, v, a, extra);
}

static void as_json(struct text *t, const struct view *v, const struct answer *a, const void *extra)
{
    json_compare(t, v, a, extra);
}

static void units_compare(struct run *r, const struct unit *old, const struct unit *new)
{
    static report_fn *const reports[N_FORMATS] = {as_text, as_json};
    struct comparison c;
    struct text was = {0}, now = {0};
    comparison_find(old->model, new->model, &c);
    record_add(&was, &old->answer);
    record_add(&now, &new->answer);
    c.old_record = text_string(&was);
    c.n_old = was.n;
    c.new_record = text_string(&now);
    c.n_new = now.n;
    struct compare_answer answer = {&old->answer, &new->answer, &c};
    run_answer(r, reports, &new->answer, &answer);
    struct arena arena;
    struct record_change *rows;
    arena_init(&arena);
    if (r->options.strict && (c.n_parts || record_changes(&arena, was.at, was.n, now.at, now.n, &rows)))
        run_status(r, STATUS_FOUND);
    arena_release(&arena);
    comparison_release(&c);
    text_release(&was);
    text_release(&now);
}

void command_compare(struct run *r)
{
    struct unit old, new;
    if (!unit_open(&old, r, r->options.args[0], NULL, NULL, 0))
        return;
    if (unit_open(&new, r, r->options.args[1], NULL, NULL, 0)) {
        if (old.model && new.model)
            units_compare(r, &old, &new);
        unit_release(&new);
    }
    unit_release(&old);
    run_deliver(r);
}
