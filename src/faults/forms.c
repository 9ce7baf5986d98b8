/* One fault from words to a struct fault: a reader for each form, in a table. Names and what is wrong with them:
 * names.c. */
#include "base/text.h"
#include "faults/names.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

/* ---- canonical words */

static void words_begin(struct text *t, const struct fault *f)
{
    text_add(t, fault_kind_row(f->kind)->word);
}

static void words_add(struct text *t, const char *link, const char *id)
{
    if (link)
        text_addf(t, " %s", link);
    text_addf(t, " %s", id);
}

#define NUMBER_BYTES 40

/* The shortest number in a unit that reads back as the same quantity. @return its digits. */
static int number_of(char *number, double value, enum dimension dim, const struct units *u)
{
    double one = 1;
    quantity_read("1", 1, dim, u, &one, NULL);
    for (int digits = 1;; digits++) {
        double shown = value / one;
        snprintf(number, NUMBER_BYTES, "%.*g", digits, shown);
        if (shown >= 1 && shown < 1e9 && strchr(number, 'e')) /* 20, not 2e+01 */
            snprintf(number, NUMBER_BYTES, "%.0f", shown);
        double back = NAN;
        quantity_read(number, strlen(number), dim, u, &back, NULL);
        if (digits == 17 || fabs(back - value) <= 1e-12 * value)
            return digits;
    }
}

/* In the model's own unit, but a length that is round in another (0.5 mm in a model of inches) in that one. @return
 * what the words read back as. */
static double quantity_shown(char *number, const char **unit, double value, enum dimension dim, const struct units *u)
{
    static const char *const others[] = {"mm", "in"};
    char other[NUMBER_BYTES];
    struct units best = *u;
    int digits = number_of(number, value, dim, u);
    for (size_t i = 0; dim == DIM_LENGTH && i < sizeof others / sizeof *others; i++) {
        struct units in = *u;
        in.name[dim] = others[i];
        int n = number_of(other, value, dim, &in);
        if (digits <= 6 || n >= digits)
            continue;
        digits = n;
        best = in;
        memcpy(number, other, sizeof other);
    }
    double back = value;
    quantity_read(number, strlen(number), dim, &best, &back, NULL);
    *unit = best.name[dim];
    return back;
}

#define STEPS_MOST 8 /* two or three will do */

static void words_quantity(struct text *t, const char *link, double value, enum dimension dim, const struct units *u)
{
    char number[NUMBER_BYTES];
    const char *unit;
    /* Until the words mean just what they are made from: or what they mean, read again, would have other words. */
    for (int i = 0; i < STEPS_MOST; i++) {
        double back = quantity_shown(number, &unit, value, dim, u);
        if (back == value)
            break;
        value = back;
    }
    text_addf(t, " %s %s %s", link, number, unit);
}

static void words_end(struct text *words, struct fault *f, struct arena *a)
{
    f->words = arena_text(a, text_string(words), words->n);
    text_release(words);
}

/* ---- pieces of a form */

/* Takes a linking word when it is next. */
static bool take_link(struct fault_text *t, const char *link)
{
    if (t->at == t->n || strcmp(t->words[t->at], link) != 0)
        return false;
    t->at++;
    return true;
}

/* Takes the next word as a name; NULL (and said) when there is none. */
static const char *take_name(struct fault_text *t, enum fault_kind kind, const char *what)
{
    if (t->at < t->n)
        return t->words[t->at++];
    diag(t->d, BAD_FAULT, NO_SPAN, "`%s` does not name %s", t->whole, what);
    help_forms(t, kind);
    return NULL;
}

/* Takes a linking word that must be there. */
static bool need_link(struct fault_text *t, enum fault_kind kind, const char *link)
{
    if (take_link(t, link))
        return true;
    if (t->at < t->n)
        diag(t->d, BAD_FAULT, NO_SPAN, "`%s` stands in `%s` where `%s` is needed", word_cut(t, t->words[t->at]),
             t->whole, link);
    else
        diag(t->d, BAD_FAULT, NO_SPAN, "`%s` ends where `%s` is needed", t->whole, link);
    help_forms(t, kind);
    return false;
}

/* Takes all words that are left as one quantity above 0 (a flow may be 0). */
static bool take_quantity(struct fault_text *t, enum fault_kind kind, enum dimension dim, double *value)
{
    struct text q = {0};
    for (; t->at < t->n; t->at++)
        text_addf(&q, "%s%s", q.n ? " " : "", t->words[t->at]);
    bool ok = quantity_of_words(t, kind, text_string(&q), dim, value);
    text_release(&q);
    return ok;
}

/* `at Q` where a form allows it; nothing may follow it, nor the form when it is not there. */
static bool take_end(struct fault_text *t, enum fault_kind kind, bool size_allowed, double *size)
{
    if (t->at == t->n)
        return true;
    if (size_allowed && take_link(t, "at"))
        return take_quantity(t, kind, DIM_LENGTH, size);
    diag(t->d, BAD_FAULT, NO_SPAN, "`%s` is one word too many in `%s`", word_cut(t, t->words[t->at]), t->whole);
    help_forms(t, kind);
    return false;
}

/* ---- forms */

static bool read_block(struct fault_text *t, struct fault *f)
{
    const char *id = take_name(t, f->kind, "what is blocked");
    if (!id || !name_blockable(t, id, f) || !take_end(t, f->kind, false, NULL))
        return false;
    struct text words = {0};
    words_begin(&words, f);
    words_add(&words, NULL, id);
    words_end(&words, f, t->arena);
    return true;
}

#define LEAK_SIZE 0.0005 /* m: a leak of which nothing more is known */

static bool read_leak(struct fault_text *t, struct fault *f)
{
    const char *id = take_name(t, f->kind, "what leaks");
    if (!id)
        return false;
    struct text words = {0};
    words_begin(&words, f);
    words_add(&words, NULL, id);
    bool ok;
    if (take_link(t, "into")) {
        const char *into = take_name(t, f->kind, "where it leaks to");
        ok = into && name_two_passages(t, id, into, f);
        if (ok)
            words_add(&words, "into", into);
    } else
        ok = name_leaking(t, id, f);
    f->size = LEAK_SIZE;
    ok = ok && take_end(t, f->kind, true, &f->size);
    if (ok)
        words_quantity(&words, "at", f->size, DIM_LENGTH, &t->model->units);
    words_end(&words, f, t->arena);
    return ok;
}

static bool read_resize(struct fault_text *t, struct fault *f)
{
    const char *id = take_name(t, f->kind, "a plate hole");
    if (!id || !name_part(t, id, PART_HOLE, f) || !need_link(t, f->kind, "to") ||
        !take_quantity(t, f->kind, DIM_LENGTH, &f->size))
        return false;
    struct text words = {0};
    words_begin(&words, f);
    words_add(&words, NULL, id);
    words_quantity(&words, "to", f->size, DIM_LENGTH, &t->model->units);
    words_end(&words, f, t->arena);
    return true;
}

/* lose, seat, unseat: a ball, and for the latter two the hole whose seat is meant. */
static bool read_ball(struct fault_text *t, struct fault *f)
{
    const char *id = take_name(t, f->kind, "a check ball");
    if (!id || !name_part(t, id, PART_BALL, f))
        return false;
    const struct ball *ball = &t->model->balls[f->part.i];
    struct text words = {0};
    words_begin(&words, f);
    words_add(&words, NULL, id);
    bool ok = true;
    if (f->kind != FAULT_LOSE) {
        const char *hole = NULL;
        if (take_link(t, "on"))
            ok = (hole = take_name(t, f->kind, "the hole of the seat")) != NULL;
        ok = ok && name_seat(t, hole, f);
        if (ok && ball->n_seats == 2)
            words_add(&words, "on", t->model->holes[f->hole.i].part.id);
    }
    if (f->kind == FAULT_UNSEAT)
        f->size = LEAK_SIZE;
    ok = ok && take_end(t, f->kind, f->kind == FAULT_UNSEAT, &f->size);
    if (ok && f->kind == FAULT_UNSEAT)
        words_quantity(&words, "at", f->size, DIM_LENGTH, &t->model->units);
    words_end(&words, f, t->arena);
    return ok;
}

static bool read_stick(struct fault_text *t, struct fault *f)
{
    const char *id = take_name(t, f->kind, "a valve or a solenoid");
    if (!id || !name_sticking(t, id, f) || !need_link(t, f->kind, "at"))
        return false;
    const char *position = take_name(t, f->kind, "a position");
    if (!position || !name_position(t, position, f) || !take_end(t, f->kind, false, NULL))
        return false;
    struct text words = {0};
    words_begin(&words, f);
    words_add(&words, NULL, id);
    words_add(&words, "at", position);
    words_end(&words, f, t->arena);
    return true;
}

static bool read_wear(struct fault_text *t, struct fault *f)
{
    const char *id = take_name(t, f->kind, "a valve");
    if (!id || !name_wearing(t, id, f))
        return false;
    const struct valve *v = &t->model->valves[f->part.i];
    struct text words = {0};
    words_begin(&words, f);
    words_add(&words, NULL, id);
    bool ok = true;
    if (take_link(t, "between")) {
        const char *p = take_name(t, f->kind, "two ports");
        const char *q = p && need_link(t, f->kind, "and") ? take_name(t, f->kind, "two ports") : NULL;
        ok = q && name_neighbours(t, p, q, f);
        if (ok) {
            words_add(&words, "between", v->ports[f->ports[0]].name);
            words_add(&words, "and", v->ports[f->ports[1]].name);
        }
    }
    ok = ok && take_end(t, f->kind, true, &f->size);
    if (ok && !isnan(f->size))
        words_quantity(&words, "at", f->size, DIM_LENGTH, &t->model->units);
    words_end(&words, f, t->arena);
    return ok;
}

/* break, unplug: a valve and no more. */
static bool read_valve(struct fault_text *t, struct fault *f)
{
    const char *id = take_name(t, f->kind, "a valve");
    if (!id || !name_valve_with(t, id, f) || !take_end(t, f->kind, false, NULL))
        return false;
    struct text words = {0};
    words_begin(&words, f);
    words_add(&words, NULL, id);
    words_end(&words, f, t->arena);
    return true;
}

static bool read_weaken(struct fault_text *t, struct fault *f)
{
    const char *id = take_name(t, f->kind, "a source");
    if (!id || !name_source(t, id, f) || !need_link(t, f->kind, "to") ||
        !take_quantity(t, f->kind, DIM_FLOW, &f->size) || !name_weaker(t, f))
        return false;
    struct text words = {0};
    words_begin(&words, f);
    words_add(&words, NULL, id);
    words_quantity(&words, "to", f->size, DIM_FLOW, &t->model->units);
    words_end(&words, f, t->arena);
    return true;
}

static bool read_misadjust(struct fault_text *t, struct fault *f)
{
    const char *id = take_name(t, f->kind, "a manual valve");
    if (!id || !name_manual(t, id, f) || !need_link(t, f->kind, "between"))
        return false;
    const char *p = take_name(t, f->kind, "two detents");
    const char *q = p && need_link(t, f->kind, "and") ? take_name(t, f->kind, "two detents") : NULL;
    if (!q || !name_detents(t, p, q, f) || !take_end(t, f->kind, false, NULL))
        return false;
    const struct valve *v = &t->model->valves[f->part.i];
    struct text words = {0};
    words_begin(&words, f);
    words_add(&words, NULL, id);
    words_add(&words, "between", v->positions[f->position].name);
    words_add(&words, "and", v->positions[f->position2].name);
    words_end(&words, f, t->arena);
    return true;
}

static bool (*const readers[N_FAULT_KINDS])(struct fault_text *, struct fault *) = {
    [FAULT_BLOCK] = read_block,  [FAULT_LEAK] = read_leak,     [FAULT_RESIZE] = read_resize,
    [FAULT_LOSE] = read_ball,    [FAULT_SEAT] = read_ball,     [FAULT_UNSEAT] = read_ball,
    [FAULT_STICK] = read_stick,  [FAULT_WEAR] = read_wear,     [FAULT_BREAK] = read_valve,
    [FAULT_UNPLUG] = read_valve, [FAULT_WEAKEN] = read_weaken, [FAULT_MISADJUST] = read_misadjust,
};

bool fault_read(struct fault_text *t, struct fault *out)
{
    *out = (struct fault){.kind = fault_kind_find(t->words[0]),
                          .hole = {NONE},
                          .ports = {NONE, NONE},
                          .from = {NONE},
                          .to = {NONE},
                          .position = NONE,
                          .position2 = NONE,
                          .feed = {NONE},
                          .size = NAN,
                          .words = ""};
    if (out->kind == N_FAULT_KINDS) {
        diag(t->d, BAD_FAULT, NO_SPAN, "`%s` is no fault word in `%s`", word_cut(t, t->words[0]), t->whole);
        help_kinds(t);
        return false;
    }
    t->at = 1;
    return readers[out->kind](t, out);
}
