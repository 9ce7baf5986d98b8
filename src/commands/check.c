/* `feedtrace check MODEL...` */
#include "commands/baseline.h"
#include "commands/command.h"
#include "report/ci.h"

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

static void as_sarif(struct text *t, const struct view *v, const struct answer *a, const void *extra)
{
    (void)v;
    (void)extra;
    sarif_check(t, a);
}

static void as_junit(struct text *t, const struct view *v, const struct answer *a, const void *extra)
{
    const struct options *o = extra;
    (void)v;
    junit_check(t, a, o->fail_on);
}

static report_fn *const reports[N_FORMATS] = {
    [FORMAT_TEXT] = as_text, [FORMAT_JSON] = as_json, [FORMAT_SARIF] = as_sarif, [FORMAT_JUNIT] = as_junit};

static void check_models(struct run *r, struct baseline *known, struct baseline *noted)
{
    const struct options *o = &r->options;
    for (size_t i = 0; i < o->n_args; i++) {
        struct unit u;
        if (!unit_open(&u, r, o->args[i], NULL, NULL, 0))
            continue;
        unit_findings(&u, r);
        if (u.model && o->baseline_to)
            baseline_note(noted, &u.answer);
        if (u.model && o->baseline)
            baseline_apply(known, &u.answer);
        if (u.model && diags_worst(u.answer.diags) >= (int)o->fail_on)
            run_status(r, STATUS_FOUND);
        run_answer(r, reports, &u.answer, o);
        unit_release(&u);
    }
}

void command_check(struct run *r)
{
    const struct options *o = &r->options;
    struct baseline known = {0}, noted = {0};
    struct diags d;
    diags_init(&d);
    r->many = o->n_args > 1;
    if (!o->baseline || baseline_read(&known, r, o->baseline, &d)) {
        check_models(r, &known, &noted);
        /* With a model that could not be read it would lack what that one has. */
        if (o->baseline_to && r->status != STATUS_INPUT && !baseline_write(&noted, r, o->baseline_to, &d))
            run_status(r, STATUS_INPUT);
        run_deliver(r);
    } else {
        run_status(r, STATUS_INPUT);
    }
    if (d.n)
        run_complain(r, &d, NULL);
    diags_release(&d);
    baseline_release(&known);
    baseline_release(&noted);
}
