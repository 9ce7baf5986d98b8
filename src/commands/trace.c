/* `feedtrace trace MODEL... [STATE...]` */
#include "commands/command.h"

static void as_text(struct text *t, const struct view *v, const struct answer *a, const void *extra)
{
    (void)extra;
    text_trace(t, v, a);
}

static void as_json(struct text *t, const struct view *v, const struct answer *a, const void *extra)
{
    (void)extra;
    json_trace(t, v, a);
}

void command_trace(struct run *r)
{
    static report_fn *const reports[N_FORMATS] = {as_text, as_json};
    const struct options *o = &r->options;
    size_t n_models = run_models(r);
    r->many = n_models > 1;
    for (size_t i = 0; i < n_models; i++) {
        struct unit u;
        if (!unit_open(&u, r, o->args[i], o->fault, o->args + n_models, o->n_args - n_models))
            continue;
        unit_findings(&u, r);
        run_answer(r, reports, &u.answer, NULL);
        unit_release(&u);
    }
    run_deliver(r);
}
