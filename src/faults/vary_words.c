/* What varies, and from where to where, from the words of a user. */
#include "base/mem.h"
#include "faults/kinds.h"
#include "faults/vary.h"
#include <ctype.h>
#include <math.h>
#include <string.h>

#define VARY_WORDS_MAX 24
#define SAME_SHARE     1e-9 /* of the larger end: less is rounding */

struct words {
    const char *at[VARY_WORDS_MAX];
    uint32_t n;
};

static const char *const what_words =
    "write `line 55 psi to 300 psi`, `H11 0.5 mm to 2 mm`, `leak H30 0.3 mm to 3 "
    "mm`, `sol_line 0 % to 100 %` (a duty solenoid) or `temperature 20 degC to 120 degC`";

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

/* A number without a unit. */
static bool is_bare(const char *w)
{
    double value;
    struct units u = units_default();
    return quantity_read(w, strlen(w), DIM_NUMBER, &u, &value, NULL) == QUANTITY_OK;
}

/* "2", "2mm", "-.5" */
static bool starts_number(const char *w)
{
    w += *w == '-' || *w == '+';
    w += *w == '.';
    return isdigit((unsigned char)*w);
}

static bool starts_quantity(const struct words *w, uint32_t i)
{
    return starts_number(w->at[i]) || (!strcmp(w->at[i], "drill") && i + 1 < w->n);
}

/* Where the quantity that ends before word `end` starts: "2mm", "2 mm", "drill 65"; 0: there is none. */
static uint32_t quantity_start(const struct words *w, uint32_t end)
{
    if (end > 2 && starts_quantity(w, end - 2) && (!starts_number(w->at[end - 1]) || !starts_number(w->at[end - 2])))
        return end - 2;
    return end > 1 && starts_number(w->at[end - 1]) ? end - 1 : 0; /* before it may stand an ID that is a number */
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
#define N_SIZED (sizeof sized_faults / sizeof *sized_faults)

/* The word nearest to one that names nothing: a source, a hole, a duty solenoid, a fault with a size. */
static const char *nearest(const struct model *m, const char *word)
{
    const char **rows = mem_alloc((m->n_feeds + m->n_holes + m->n_solenoids + N_SIZED + 1) * sizeof *rows);
    size_t n = 0;
    for (uint32_t i = 0; i < m->n_feeds; i++) {
        if (m->feeds[i].is_source)
            rows[n++] = m->feeds[i].part.id;
    }
    for (uint32_t i = 0; i < m->n_holes; i++)
        rows[n++] = m->holes[i].part.id;
    for (uint32_t i = 0; i < m->n_solenoids; i++) {
        if (m->solenoids[i].kind == SOLENOID_DUTY)
            rows[n++] = m->solenoids[i].part.id;
    }
    for (size_t i = 0; i < N_SIZED; i++)
        rows[n++] = sized_faults[i].word;
    rows[n++] = "temperature";
    const char *near = text_nearest(word, rows, n);
    mem_free(rows);
    return near;
}

/* Says why a part by itself does not vary, and which fault of it does. */
static void part_fixed(struct part_ref part, const char *id, struct diags *d)
{
    const char *word = part_kind_word(part.kind);
    if (part.kind == PART_SOLENOID)
        diag(d, WRONG_KIND, NO_SPAN, "--vary: %s is on or off; only the share of a duty solenoid varies", id);
    else
        diag(d, WRONG_KIND, NO_SPAN, "--vary: %s is %s %s, which has no size to vary", id,
             strchr("aeiou", word[0]) ? "an" : "a", word);
    if (part.kind == PART_ACTUATOR)
        diag_help(d, "what varies is its leak: `leak %s 0.3 mm to 3 mm`", id);
    else if (part.kind == PART_VALVE)
        diag_help(d, "what varies is its wear: `wear %s 0.02 mm to 0.1 mm`", id);
    else if (part.kind == PART_BALL)
        diag_help(d, "what varies is how far it is off its seat: `unseat %s 0.3 mm to 3 mm`", id);
    else
        diag_help(d, "%s", what_words);
}

/* Says why the words name nothing that varies, as narrowly as is known. */
static bool subject_unknown(const struct model *m, const char *whole, const char *first, struct diags *d)
{
    feed_ix feed = model_feed(m, whole, strlen(whole));
    struct part_ref part = model_find(m, whole, strlen(whole));
    const char *near = nearest(m, first);
    if (feed.i != NONE) {
        diag(d, WRONG_KIND, NO_SPAN, "--vary: %s is a derived feed; its pressure follows from a source", whole);
        diag_help(d, "%s", what_words);
    } else if (part.kind != PART_NONE) {
        part_fixed(part, whole, d);
    } else if (fault_kind_find(first) != N_FAULT_KINDS) {
        bool sized = false;
        for (size_t i = 0; i < N_SIZED; i++)
            sized = sized || !strcmp(first, sized_faults[i].word);
        diag(d, BAD_FAULT, NO_SPAN,
             sized ? "--vary: `%s` does not say of which part" : "--vary: `%s` is a fault without a size", first);
        diag_help(d, "faults with a size are leak, unseat, wear, resize and weaken: `leak H30 0.3 mm to 3 mm`");
    } else {
        diag(d, UNKNOWN_NAME, NO_SPAN,
             "--vary: %s is no source, hole, duty solenoid, fault with a size, nor `temperature`", whole);
        if (near)
            diag_help(d, "did you mean %s?", near);
        else
            diag_help(d, "%s", what_words);
    }
    return false;
}

/* What is varied, from the words before the quantities. */
static bool subject_read(const struct words *w, uint32_t n, const struct network *net, struct arena *a,
                         struct vary *out, struct diags *d)
{
    const struct model *m = net->model;
    const char *whole = words_join(w, 0, n, a);
    for (size_t i = 0; i < N_SIZED; i++) {
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
    } else if (part.kind == PART_SOLENOID && m->solenoids[part.i].kind == SOLENOID_DUTY) {
        out->what = VARY_DUTY;
        out->dim = DIM_SHARE;
        out->solenoid = part.i;
    } else if (part.kind == PART_HOLE) {
        out->what = VARY_FAULT;
        out->dim = DIM_LENGTH;
        out->fault = arena_format(a, "resize %s to", whole);
    } else {
        return subject_unknown(m, whole, w->at[0], d);
    }
    return true;
}

static bool bound_read(const char *text, const struct vary *v, const struct units *u, double *value, struct diags *d)
{
    static const struct {
        const char *what, *example;
    } words[N_DIMENSIONS] = {[DIM_PRESSURE] = {"pressure", "115 psi"},
                             [DIM_LENGTH] = {"length", "0.9 mm"},
                             [DIM_FLOW] = {"flow", "8 L/min"},
                             [DIM_TEMPERATURE] = {"temperature", "80 degC"},
                             [DIM_SHARE] = {"share", "40 %"}};
    bool share = v->dim == DIM_SHARE;
    switch (quantity_read(text, strlen(text), v->dim, u, value, NULL)) {
    case QUANTITY_OK:
        if (share ? *value >= 0 && *value <= 1 : *value > 0)
            return true;
        diag(d, BAD_QUANTITY, NO_SPAN,
             share ? "--vary: `%s` is not from 0 %% to 100 %%" : "--vary: `%s` is not above 0", text);
        if (v->dim == DIM_LENGTH)
            diag_help(d, "a size begins above 0, such as 0.05 mm");
        else if (v->dim == DIM_PRESSURE)
            diag_help(d, "a source at 0 is off: begin above, such as 1 psi");
        return false;
    case QUANTITY_WRONG_DIMENSION:
    case QUANTITY_NOT_A_NUMBER:
        diag(d, WRONG_DIMENSION, NO_SPAN, "--vary: `%s` is no %s", text, words[v->dim].what);
        break;
    case QUANTITY_UNKNOWN_UNIT:
        diag(d, BAD_QUANTITY, NO_SPAN, "--vary: `%s` has a unit that is not known", text);
        break;
    case QUANTITY_UNKNOWN_DRILL:
        diag(d, BAD_QUANTITY, NO_SPAN, "--vary: `%s` is no drill size", text);
        break;
    case QUANTITY_OUT_OF_RANGE:
        diag(d, BAD_QUANTITY, NO_SPAN, "--vary: `%s` is out of range", text);
        break;
    }
    diag_help(d, "write a %s, such as `%s`", words[v->dim].what, words[v->dim].example);
    return false;
}

/* Both quantities; a unit that only one of them has counts for both. */
static bool range_read(const struct words *w, uint32_t first, uint32_t to, const struct model *m, struct arena *a,
                       struct vary *out, struct diags *d)
{
    const char *low = words_join(w, first, to, a), *high = words_join(w, to + 1, w->n, a);
    if (is_bare(low) && starts_number(high) && to + 2 < w->n)
        low = arena_format(a, "%s %s", low, words_join(w, to + 2, w->n, a));
    else if (is_bare(high) && starts_number(low) && first + 1 < to)
        high = arena_format(a, "%s %s", high, words_join(w, first + 1, to, a));
    bool ok = bound_read(low, out, &m->units, &out->from, d);
    ok = bound_read(high, out, &m->units, &out->to, d) && ok;
    if (ok && fabs(out->to - out->from) <= SAME_SHARE * fmax(fabs(out->from), fabs(out->to))) {
        diag(d, BAD_USAGE, NO_SPAN, "--vary '%s': both ends are the same", out->words);
        return false;
    }
    return ok;
}

bool vary_read(const char *text, const struct network *n, struct arena *a, struct vary *out, struct diags *d)
{
    struct words w = {.n = 0};
    uint32_t to = 0;
    bool fits = words_split(text, a, &w);
    *out = (struct vary){.words = words_join(&w, 0, w.n, a)};
    for (uint32_t i = 1; fits && i + 1 < w.n; i++) {
        if (!strcmp(w.at[i], "to") && starts_quantity(&w, i + 1))
            to = i; /* the last one; "resize H1 to 1 to 2" has another before it */
    }
    uint32_t first = to ? quantity_start(&w, to) : 0;
    if (!first) {
        if (w.n)
            diag(d, BAD_USAGE, NO_SPAN, "--vary '%s' names no range", out->words);
        else
            diag(d, BAD_USAGE, NO_SPAN, "--vary is missing: what varies, and from where to where");
        diag_help(d, "%s", what_words);
        return false;
    }
    uint32_t n_subject = first > 1 && !strcmp(w.at[first - 1], "from") ? first - 1 : first;
    return subject_read(&w, n_subject, n, a, out, d) && range_read(&w, first, to, n->model, a, out, d);
}
