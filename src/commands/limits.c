/* `feedtrace limits MODEL [--element ID] [--in STATE]` */
#include "commands/command.h"
#include "report/limits_table.h"
#include <string.h>

static void as_text(struct text *t, const struct view *v, const struct answer *a, const void *extra)
{
    text_limits(t, v, a, extra);
}

static void as_json(struct text *t, const struct view *v, const struct answer *a, const void *extra)
{
    json_limits(t, v, a, extra);
}

static void as_csv(struct text *t, const struct view *v, const struct answer *a, const void *extra)
{
    csv_limits(t, v, a, extra);
}

static bool unit_fits(const struct unit *u, const struct run *r, struct diags *d)
{
    const struct model *m = u->model;
    const char *part = r->options.element;
    if (!network_is_sized(&u->network)) {
        diag(d, BAD_USAGE, NO_SPAN, "model %s gives no sizes, so no pressures can be told", m->id);
        diag_help(d, "give the holes a `diameter`; what a model leaves out is then assumed, and said");
        return false;
    }
    if (!u->n_states) {
        diag(d, BAD_USAGE, NO_SPAN, "model %s has no states, so nothing can be lost", m->id);
        diag_help(d, "add one under `states`");
        return false;
    }
    struct part_ref ref = part ? model_find(m, part, strlen(part)) : (struct part_ref){PART_HOLE, 0};
    if (ref.kind == PART_HOLE || ref.kind == PART_ACTUATOR)
        return true;
    if (ref.kind != PART_NONE) {
        diag(d, WRONG_KIND, NO_SPAN, "--element: %s is a %s, and a plate hole or a device is needed", part,
             part_kind_word(ref.kind));
        if (ref.kind == PART_VALVE)
            diag_help(d, "how a valve's wear counts: `feedtrace curve %s --in STATE --vary wear %s 0.02 mm to 0.1 mm`",
                      r->options.args[0], part);
        return false;
    }
    diag(d, UNKNOWN_NAME, NO_SPAN, "--element: %s is no plate hole and no device", part);
    const char *near = model_nearest(m, PART_HOLE, part);
    if (near)
        diag_help(d, "did you mean %s?", near);
    return false;
}

void command_limits(struct run *r)
{
    static report_fn *const reports[N_FORMATS] = {
        [FORMAT_TEXT] = as_text, [FORMAT_JSON] = as_json, [FORMAT_CSV] = as_csv};
    struct unit u;
    struct diags d;
    if (!unit_open(&u, r, r->options.args[0], NULL, NULL, 0))
        return;
    diags_init(&d);
    if (!u.model) {
        run_answer(r, reports, &u.answer, NULL);
    } else if (unit_fits(&u, r, &d)) {
        struct limits_table table;
        unit_findings(&u, r);
        limits_find(&u.network, &u.healthy, u.answer.pressed, u.states, u.n_states, r->options.element, &table);
        run_answer(r, reports, &u.answer, &table);
        limits_release(&table);
    } else {
        run_status(r, STATUS_INPUT);
    }
    if (d.n)
        run_complain(r, &d, NULL);
    diags_release(&d);
    unit_release(&u);
    run_deliver(r);
}
