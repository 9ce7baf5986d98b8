/* `feedtrace check MODEL...` */
#include "commands/command.h"

static void as_text(struct text *t, const struct view *v, const struct answer *a, const void *extra)
{
    (void)extra;
    text_check(t, v, a);
}

static void as_json(struct text *t, const struct view *v, const struct answer *a, const void *extra)
{
    (void)extra;
    json_check(t, v, a);
}

void command_check(struct run *r)
{
    static report_fn *const reports[N_FORMATS] = {as_text, as_json};
    const struct options *o = &r->options;
    r->many = o->n_args > 1;
    for (size_t i = 0; i < o->n_args; i++) {
        struct unit u;
        if (!unit_open(&u, r, o->args[i], NULL, NULL, 0))
            continue;
        unit_findings(&u, r);
        if (u.model && diags_worst(u.answer.diags) >= (int)o->fail_on)
            run_status(r, STATUS_FOUND);
        run_answer(r, reports, &u.answer, NULL);
        unit_release(&u);
    }
    run_deliver(r);
}
