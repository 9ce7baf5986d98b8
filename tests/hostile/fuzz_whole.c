/* Any bytes as a model's file, and what follows a good one: trace, findings, a fault, reports and a drawing as DOT. */
#include "base/escape.h"
#include "base/mem.h"
#include "draw/draw.h"
#include "faults/list.h"
#include "fuzz.h"
#include "report/answer.h"
#include <jansson.h>
#include <string.h>

#define STATES_MOST 200u /* and faults: more of them take longer and find nothing new */

static void text_must(struct text *t, const char *breaks)
{
    fuzz_must(escape_valid_utf8(text_string(t), t->n), "a report is UTF-8");
    for (size_t i = 0; i < t->n; i++)
        fuzz_must((t->at[i] && strchr(breaks, t->at[i])) || ((unsigned char)t->at[i] >= 0x20 && t->at[i] != 0x7F),
                  "no control character leaves");
    text_clear(t);
}

static void json_must(struct text *t)
{
    json_error_t error;
    json_t *value = json_loadb(text_string(t), t->n, 0, &error);
    fuzz_must(value != NULL, "JSON can be read back");
    json_decref(value);
    text_must(t, "\n");
}

static void draw(const struct trace *t, const struct trace *healthy, state_ix state)
{
    const struct model *m = t->network->model;
    struct draw_options o = {
        .state = state, .feed = {NONE}, .circuit = {NONE}, .around = {PART_NONE, 0}, .all = true, .units = m->units};
    struct text dot = {0};
    struct diags d;
    diags_init(&d);
    fuzz_must(draw_dot(t, 0, healthy, &o, &dot, &d), "a model can be drawn as DOT");
    text_must(&dot, "\n\t");
    diags_release(&d);
    text_release(&dot);
}

static void report(struct answer *a)
{
    struct view v = {.width = 80, .verbose = true};
    struct text t = {0};
    if (a->fault) {
        text_whatif(&t, &v, a);
        text_must(&t, "\n");
        json_whatif(&t, &v, a);
        json_must(&t);
    } else {
        text_check(&t, &v, a);
        text_must(&t, "\n");
        json_check(&t, &v, a);
        json_must(&t);
    }
    text_trace(&t, &v, a);
    text_must(&t, "\n");
    json_trace(&t, &v, a);
    json_must(&t);
    text_release(&t);
}

static void findings(struct answer *a, struct diags *d)
{
    diags_init(d);
    findings_run(a->shown, NULL, 0, a->fault != NULL, d);
    diags_sort(d);
    a->diags = d;
    a->checks = findings_checks(a->fault != NULL, &a->n_checks);
}

/* One of the faults that the model's parts can have, chosen by the input. */
static void with_fault(struct answer a, const struct network *n, uint64_t choice)
{
    struct fault_list list;
    struct diags d;
    struct network apart;
    struct trace faulty;
    fault_list_make(n, 0, NULL, &list);
    if (list.n) {
        const struct listed_fault *f = &list.rows[choice % list.n];
        const struct network *own = n;
        if (f->splits_joint) {
            network_build(a.model, true, &apart);
            own = &apart;
        }
        trace_run(own, &f->set.edits, 1, a.healthy, &faulty);
        a.shown = &faulty;
        a.fault = &f->set;
        findings(&a, &d);
        report(&a);
        draw(&faulty, a.healthy, a.states[0]);
        diags_release(&d);
        trace_release(&faulty);
        if (f->splits_joint)
            network_release(&apart);
    }
    fault_list_release(&list);
}

static void with_model(struct answer a, uint64_t choice)
{
    struct network network;
    struct edits none = {0};
    struct trace healthy;
    struct diags d;
    network_build(a.model, false, &network);
    trace_run(&network, &none, 1, NULL, &healthy);
    a.healthy = a.shown = &healthy;
    a.n_states = a.model->n_states;
    state_ix *states = mem_alloc((a.n_states + 1) * sizeof *states);
    for (uint32_t i = 0; i < a.n_states; i++)
        states[i] = (state_ix){i};
    a.states = states;
    findings(&a, &d);
    for (uint32_t i = 0; i < a.n_states; i++)
        expectations_count(&healthy, NULL, 0, states[i], &a.expectations);
    report(&a);
    if (a.n_states) {
        draw(&healthy, NULL, states[choice % a.n_states]);
        with_fault(a, &network, choice >> 8);
    }
    mem_free(states);
    diags_release(&d);
    trace_release(&healthy);
    network_release(&network);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n)
{
    struct sources files;
    struct diags d;
    const char *path = fuzz_file(data, n);
    struct model *m = fuzz_model(path, &files, &d);
    if (m) {
        uint64_t choice = 14695981039346656037u; /* FNV-1a, public domain, by G. Fowler, L. C. Noll and K.-P. Vo */
        for (size_t i = 0; i < n; i++)
            choice = (choice ^ data[i]) * 1099511628211u;
        if (m->n_states <= STATES_MOST)
            with_model((struct answer){.path = path, .files = &files, .model = m}, choice);
        model_free(m);
    }
    diags_release(&d);
    sources_release(&files);
    return 0;
}
