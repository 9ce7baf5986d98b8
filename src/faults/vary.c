#include "faults/vary.h"
#include "base/mem.h"
#include "faults/kinds.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

#define VARY_WORDS_MAX 24

struct words {
    const char *at[VARY_WORDS_MAX];
    uint32_t n;
};

static bool words_split(const char *text, struct arena *a, struct words *out)
{
    char *copy = arena_text(a, text, strlen(text));
    for (char *w = strtok(copy, " \t"); w; w = strtok(NULL, " \t")) {
        if (out->n == VARY_WORDS_MAX)
            return false;
        out->at[out->n++] = w;
    }
    return true;
}

/* Words from .. to joined by spaces. */
static const char *words_join(const struct words *w, uint32_t from, uint32_t to, struct arena *a)
{
    struct text t = {0};
    for (uint32_t i = from; i < to; i++) {
        text_add(&t, i > from ? " " : "");
        text_add(&t, w->at[i]);
    }
    const char *joined = arena_text(a, text_string(&t), t.n);
    text_release(&t);
    return joined;
}

static bool is_number(const char *w)
{
    double value;
    struct units u = units_default();
    return quantity_read(w, strlen(w), DIM_NUMBER, &u, &value, NULL) == QUANTITY_OK;
}

/* Fault words that end in a size, and the word before it. */
static const struct {
    const char *word, *before;
    enum dimension dim;
} sized_faults[] = {{"leak", "at", DIM_LENGTH},
                    {"unseat", "at", DIM_LENGTH},
                    {"wear", "at", DIM_LENGTH},
                    {"resize", "to", DIM_LENGTH},
                    {"weaken", "to", DIM_FLOW}};

/* What is varied, from the words before the quantities. */
static bool subject_read(const struct words *w, uint32_t n, const struct network *net, struct arena *a,
                         struct vary *out, struct diags *d)
{
    const struct model *m = net->model;
    const char *whole = words_join(w, 0, n, a);
    for (size_t i = 0; i < sizeof sized_faults / sizeof *sized_faults; i++) {
        if (n < 2 || strcmp(w->at[0], sized_faults[i].word) != 0)
            continue;
        bool has_before = !strcmp(w->at[n - 1], sized_faults[i].before);
        out->what = VARY_FAULT;
        out->dim = sized_faults[i].dim;
        out->fault = has_before ? whole : arena_format(a, "%s %s", whole, sized_faults[i].before);
        return true;
    }
    feed_ix feed = model_feed(m, whole, strlen(whole));
    struct part_ref part = model_find(m, whole, strlen(whole));
    if (!strcmp(whole, "temperature")) {
        out->what = VARY_TEMPERATURE;
        out->dim = DIM_TEMPERATURE;
    } else if (feed.i != NONE && m->feeds[feed.i].is_source) {
        out->what = VARY_SETTING;
        out->dim = DIM_PRESSURE;
        out->feed = feed;
    } else if (part.kind == PART_HOLE) {
        out->what = VARY_FAULT;
        out->dim = DIM_LENGTH;
        out->fault = arena_format(a, "resize %s to", whole);
    } else {
        diag(d, UNKNOWN_NAME, NO_SPAN, "--vary: %s is no source, hole, fault with a size, nor `temperature`", whole);
        diag_help(d, "write `line 55 psi to 300 psi`, `H11 0.5 mm to 2 mm`, `leak H30 0.3 mm to 3 mm` or `temperature "
                     "20 degC to 120 degC`");
        return false;
    }
    return true;
}

static bool bound_read(const char *text, const struct vary *v, const struct units *u, double *value, struct diags *d)
{
    if (quantity_read(text, strlen(text), v->dim, u, value, NULL) == QUANTITY_OK && *value > 0)
        return true;
    diag(d, BAD_QUANTITY, NO_SPAN, "--vary: '%s' cannot be read here, or is not above 0", text);
    diag_help(d, "write a number, or a number with a unit such as `0.9 mm`, `115 psi`, `20 degC`, `8 L/min`");
    return false;
}

bool vary_read(const char *text, const struct network *n, struct arena *a, struct vary *out, struct diags *d)
{
    struct words w = {.n = 0};
    uint32_t to = 0;
    *out = (struct vary){.words = arena_text(a, text, strlen(text))};
    bool fits = words_split(text, a, &w);
    for (uint32_t i = 1; fits && i + 1 < w.n; i++) {
        if (!strcmp(w.at[i], "to") && is_number(w.at[i + 1]))
            to = i; /* the last one; "resize H1 to 1 to 2" has another before it */
    }
    uint32_t first = to && is_number(w.at[to - 1]) ? to - 1 : to > 1 && is_number(w.at[to - 2]) ? to - 2 : 0;
    if (!first) {
        diag(d, BAD_USAGE, NO_SPAN, "--vary '%s' names no range", text);
        diag_help(d, "write what is varied and from where to where: `line 55 psi to 300 psi`");
        return false;
    }
    if (!subject_read(&w, first, n, a, out, d))
        return false;
    const char *high = words_join(&w, to + 1, w.n, a), *low = words_join(&w, first, to, a);
    if (to == first + 1 && to + 2 < w.n) /* one unit for both */
        low = arena_format(a, "%s %s", low, words_join(&w, to + 2, w.n, a));
    bool ok = bound_read(low, out, &n->model->units, &out->from, d);
    ok = bound_read(high, out, &n->model->units, &out->to, d) && ok;
    if (ok && out->from == out->to) {
        diag(d, BAD_USAGE, NO_SPAN, "--vary '%s': both ends are the same", text);
        return false;
    }
    return ok;
}

/* A copy whose states are its own, with the setting or temperature changed in all of them (a state comes after another
 * one). */
static struct model *model_copy(const struct vary *v, const struct model *m, double value, struct arena *a)
{
    struct model *copy = arena_alloc(a, sizeof *copy);
    *copy = *m;
    copy->states = arena_rows(a, m->n_states, sizeof *copy->states);
    for (uint32_t i = 0; i < m->n_states; i++) {
        struct state *s = &copy->states[i];
        *s = m->states[i];
        if (v->what == VARY_TEMPERATURE)
            s->temperature = value;
        if (v->what != VARY_SETTING || !(s->sources[v->feed.i].pressure > 0))
            continue;
        s->sources = arena_rows(a, m->n_feeds, sizeof *s->sources);
        memcpy(s->sources, m->states[i].sources, m->n_feeds * sizeof *s->sources);
        s->sources[v->feed.i].pressure = value;
        s->sources[v->feed.i].regulated = false;
    }
    return copy;
}

static const char *fault_at(const struct vary *v, const char *fault, double value, struct arena *a)
{
    const char *unit = v->dim == DIM_FLOW ? "L/min" : "mm";
    double scale = v->dim == DIM_FLOW ? 60000 : 1000;
    if (v->what != VARY_FAULT)
        return fault;
    const char *one = arena_format(a, "%s %.12g %s", v->fault, value * scale, unit);
    return fault ? arena_format(a, "%s + %s", fault, one) : one;
}

/* The state asked for and those that it comes after, first to last. */
static void chain_solve(struct vary_point *p, state_ix state)
{
    const struct model *m = p->model;
    uint32_t n = 0, *chain = arena_rows(&p->arena, m->n_states, sizeof *chain);
    struct solver *solver = solver_new(&p->network);
    struct pressures before;
    for (uint32_t s = state.i; s != NONE; s = m->states[s].after.i)
        chain[n++] = s;
    pressures_init(&before);
    for (uint32_t k = n; k-- > 0;) {
        struct pressures now;
        pressures_init(&now);
        pressure_solve(solver, &p->trace, trace_case(&p->trace, 0, (state_ix){chain[k]}), SOLVE_ONE_START, NULL,
                       k + 1 < n ? &before : NULL, &now);
        pressures_release(&before);
        before = now;
    }
    p->pressures = before;
    solver_free(solver);
}

bool vary_solve(const struct vary *v, const struct model *m, state_ix state, const char *fault, double value,
                struct vary_point *out, struct diags *d)
{
    static const struct edits none = {0};
    struct fault_set *set;
    memset(out, 0, sizeof *out);
    arena_init(&out->arena);
    pressures_init(&out->pressures);
    out->value = value;
    out->model = model_copy(v, m, value, &out->arena);
    const char *words = fault_at(v, fault, value, &out->arena);
    set = arena_alloc(&out->arena, sizeof *set);
    network_build(out->model, false, &out->network);
    if (words && !faults_read(words, &out->network, &out->arena, set, d))
        return false;
    if (set->edits.splits_joint) {
        network_release(&out->network);
        network_build(out->model, true, &out->network);
    }
    uint8_t *wanted = arena_rows(&out->arena, m->n_states, 1);
    wanted[state.i] = 1;
    if (words) {
        trace_run_some(&out->network, &none, 1, wanted, NULL, &out->healthy);
        out->has_healthy = true;
    }
    trace_run_some(&out->network, words ? &set->edits : &none, 1, wanted, words ? &out->healthy : NULL, &out->trace);
    chain_solve(out, state);
    return true;
}

void vary_release(struct vary_point *p)
{
    pressures_release(&p->pressures);
    if (p->trace.network)
        trace_release(&p->trace);
    if (p->has_healthy)
        trace_release(&p->healthy);
    network_release(&p->network);
    arena_release(&p->arena);
}
