/* `feedtrace route MODEL FROM TO [--in STATE]` */
#include "base/mem.h"
#include "commands/command.h"

static void as_text(struct text *t, const struct view *v, const struct answer *a, const void *extra)
{
    text_route(t, v, a, extra);
}

static void as_json(struct text *t, const struct view *v, const struct answer *a, const void *extra)
{
    json_route(t, v, a, extra);
}

/* The routes in every state asked for. False: a library failed, said in d. */
static bool routes_of(struct unit *u, struct route_answer *route, struct routes *rows, struct diags *d)
{
    const struct answer *a = &u->answer;
    bool ok = true;
    for (uint32_t i = 0; i < a->n_states; i++) {
        uint32_t c = trace_case(a->shown, 0, a->states[i]);
        rows[i] = (struct routes){0};
        if (a->shown->cases[c].settled)
            ok = routes_find(a->shown, c, route->from_passage, route->to_passage, &u->arena, &rows[i], d) && ok;
    }
    route->by_state = rows;
    return ok;
}

void command_route(struct run *r)
{
    static report_fn *const reports[N_FORMATS] = {as_text, as_json};
    const struct options *o = &r->options;
    struct unit u;
    if (!unit_open(&u, r, o->args[0], o->fault, NULL, 0))
        return;
    if (u.model) {
        struct diags d;
        diags_init(&d);
        struct place from, to;
        bool ok = place_read(u.model, o->args[1], true, &from, &d);
        ok = place_read(u.model, o->args[2], false, &to, &d) && ok;
        if (!ok) {
            run_status(r, STATUS_INPUT);
        } else {
            struct route_answer route = {.network = u.answer.shown->network,
                                         .from = o->args[1],
                                         .to = o->args[2],
                                         .from_passage = from.passage,
                                         .to_passage = to.passage,
                                         .consumer = to.consumer};
            struct routes *rows = arena_rows(&u.arena, u.n_states + 1, sizeof *rows);
            unit_findings(&u, r);
            if (routes_of(&u, &route, rows, &d))
                run_answer(r, reports, &u.answer, &route);
            else
                run_status(r, STATUS_RESULT);
        }
        if (d.n)
            run_complain(r, &d, NULL);
        diags_release(&d);
    } else {
        run_answer(r, reports, &u.answer, NULL);
    }
    unit_release(&u);
    run_deliver(r);
}
