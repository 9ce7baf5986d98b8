/* `feedtrace whatif MODEL... "FAULT [+ FAULT]" [STATE...]` */
#include "commands/command.h"

static void as_text(struct text *t, const struct view *v, const struct answer *a, const void *extra)
{
    (void)extra;
    text_whatif(t, v, a);
}

static void as_json(struct text *t, const struct view *v, const struct answer *a, const void *extra)
{
    (void)extra;
    json_whatif(t, v, a);
}

void command_whatif(struct run *r)
{
    static report_fn *const reports[N_FORMATS] = {as_text, as_json};
    const struct options *o = &r->options;
    size_t n_models = run_models(r), fault = n_models;
    if (fault >= o->n_args) {
        run_usage(r, "such as: feedtrace whatif MODEL \"block H11\"", "whatif needs a fault behind its models");
        return;
    }
    r->many = n_models > 1;
    for (size_t i = 0; i < n_models; i++) {
        struct unit u;
        if (!unit_open(&u, r, o->args[i], o->args[fault], o->args + fault + 1, o->n_args - fault - 1))
            continue;
        unit_findings(&u, r);
        if (u.model)
            unit_status(&u, r, true);
        run_answer(r, reports, &u.answer, NULL);
        unit_release(&u);
    }
    run_deliver(r);
}
