/* Names of passages, holes, balls and other parts in a fault, and the help that goes with a wrong one. */
#include "faults/names.h"
#include <math.h>
#include <string.h>

#define CUT_BYTES 60 /* of one word in a message */

const char *word_cut(const struct fault_text *t, const char *word)
{
    size_t n = strlen(word);
    if (n <= CUT_BYTES)
        return word;
    n = CUT_BYTES;
    while (n && ((unsigned char)word[n] & 0xC0) == 0x80)
        n--; /* not in the middle of a character */
    return arena_format(t->arena, "%.*s...", (int)n, word);
}

void help_forms(const struct fault_text *t, enum fault_kind kind)
{
    struct text help = {0};
    for (const char *form = fault_kind_row(kind)->form; form;) {
        const char *end = strchr(form, '\n');
        text_add(&help, help.n ? "`, or `" : "write `");
        text_add_bytes(&help, form, end ? (size_t)(end - form) : strlen(form));
        form = end ? end + 1 : NULL;
    }
    diag_help(t->d, "%s`", text_string(&help));
    text_release(&help);
}

void help_kinds(const struct fault_text *t)
{
    const char *words[N_FAULT_KINDS];
    struct text help = {0};
    for (enum fault_kind kind = 0; kind < N_FAULT_KINDS; kind++) {
        words[kind] = fault_kind_row(kind)->word;
        text_addf(&help, "%s%s", kind ? ", " : "", words[kind]);
    }
    const char *near = text_nearest(t->words[0], words, N_FAULT_KINDS);
    if (near)
        diag_help(t->d, "did you mean `%s`? Fault words: %s", near, text_string(&help));
    else
        diag_help(t->d, "fault words: %s; several are joined by ` + `", text_string(&help));
    text_release(&help);
}

bool quantity_of_words(const struct fault_text *t, enum fault_kind kind, const char *text, enum dimension dim,
                       double *value)
{
    double v = NAN;
    enum quantity_problem problem = quantity_read(text, strlen(text), dim, &t->model->units, &v, NULL);
    const char *what = dim == DIM_LENGTH ? "length" : "flow", *cut = word_cut(t, text);
    switch (problem) {
    case QUANTITY_OK:
        if (v > 0 || (v == 0 && dim == DIM_FLOW)) {
            *value = v;
            return true;
        }
        diag(t->d, BAD_QUANTITY, NO_SPAN, "`%s` in `%s` is not above 0", cut, t->whole);
        break;
    case QUANTITY_NOT_A_NUMBER:
        if (*text)
            diag(t->d, BAD_QUANTITY, NO_SPAN, "`%s` in `%s` is no %s", cut, t->whole, what);
        else
            diag(t->d, BAD_QUANTITY, NO_SPAN, "`%s` ends where a %s is needed", t->whole, what);
        break;
    case QUANTITY_UNKNOWN_UNIT:
        diag(t->d, BAD_QUANTITY, NO_SPAN, "`%s` in `%s` has a unit that is not known", cut, t->whole);
        break;
    case QUANTITY_WRONG_DIMENSION:
        diag(t->d, WRONG_DIMENSION, NO_SPAN, "`%s` in `%s` is no %s", cut, t->whole, what);
        break;
    case QUANTITY_UNKNOWN_DRILL:
        diag(t->d, BAD_QUANTITY, NO_SPAN, "`%s` in `%s` is no drill size", cut, t->whole);
        break;
    case QUANTITY_OUT_OF_RANGE:
        diag(t->d, BAD_QUANTITY, NO_SPAN, "`%s` in `%s` is out of range", cut, t->whole);
        break;
    }
    help_forms(t, kind);
    return false;
}

/* ---- a list of what could be written instead */

#define LIST_MOST 12

void list_add(struct list *l, const char *format, ...)
{
    if (l->n++ >= LIST_MOST)
        return;
    text_add(&l->text, l->n > 1 ? ", `" : "`");
    va_list args;
    va_start(args, format);
    text_vaddf(&l->text, format, args);
    va_end(args);
    text_add(&l->text, "`");
}

void list_help(const struct fault_text *t, struct list *l, enum fault_kind kind)
{
    if (l->n > LIST_MOST)
        diag_help(t->d, "write one of %s and %u more", text_string(&l->text), l->n - LIST_MOST);
    else if (l->n > 1)
        diag_help(t->d, "write one of %s", text_string(&l->text));
    else if (l->n)
        diag_help(t->d, "write %s", text_string(&l->text));
    else
        help_forms(t, kind);
    text_release(&l->text);
}

static const char *id_of(const struct fault_text *t, passage_ix p)
{
    return t->model->passages[p.i].part.id;
}

/* The kinds of part that a fault word with more than one takes. */
#define KINDS_MOST 3
static const enum part_kind takes[N_FAULT_KINDS][KINDS_MOST] = {
    [FAULT_BLOCK] = {PART_JOINT, PART_HOLE, PART_SOLENOID},
    [FAULT_LEAK] = {PART_HOLE, PART_ACTUATOR},
    [FAULT_STICK] = {PART_VALVE, PART_SOLENOID},
};

static uint32_t parts_of(const struct model *m, enum part_kind kind)
{
    const uint32_t n[] = {[PART_PASSAGE] = m->n_passages,  [PART_JOINT] = m->n_joints, [PART_HOLE] = m->n_holes,
                          [PART_BALL] = m->n_balls,        [PART_VALVE] = m->n_valves, [PART_SOLENOID] = m->n_solenoids,
                          [PART_ACTUATOR] = m->n_actuators};
    return n[kind];
}

#define EXAMPLES_MOST 5 /* of each kind */

/* "plate holes: H1, H2 and 7 more; solenoids: sol": for who is far from every name. */
static void help_examples(const struct fault_text *t, enum fault_kind word, enum part_kind only)
{
    const enum part_kind one[KINDS_MOST] = {only}, *kinds = only == PART_NONE ? takes[word] : one;
    struct text help = {0};
    for (int k = 0; k < KINDS_MOST && kinds[k] != PART_NONE; k++) {
        uint32_t first = kinds[k] == PART_PASSAGE; /* behind sump */
        uint32_t n = parts_of(t->model, kinds[k]), last = n - first > EXAMPLES_MOST ? first + EXAMPLES_MOST : n;
        for (uint32_t i = first; i < last; i++) {
            const char *id = model_id(t->model, (struct part_ref){kinds[k], i});
            if (i == first)
                text_addf(&help, "%s%ss: %s", help.n ? "; " : "", part_kind_word(kinds[k]), id);
            else
                text_addf(&help, ", %s", id);
        }
        if (last < n)
            text_addf(&help, " and %u more", n - last);
    }
    if (help.n)
        diag_help(t->d, "%s", text_string(&help));
    else
        diag_help(t->d, "%s has no part that `%s` fits", t->model->id, fault_kind_row(word)->word);
    text_release(&help);
}

bool name_unknown(const struct fault_text *t, enum part_kind near_kind, const char *id)
{
    diag(t->d, UNKNOWN_NAME, NO_SPAN, "`%s` in `%s` names no part of %s", word_cut(t, id), t->whole, t->model->id);
    const char *near = model_nearest(t->model, near_kind, id);
    if (near)
        diag_help(t->d, "did you mean %s?", near);
    else
        help_examples(t, fault_kind_find(t->words[0]), near_kind);
    return false;
}

bool name_wrong_kind(const struct fault_text *t, struct part_ref ref, const char *needs)
{
    diag(t->d, WRONG_KIND, NO_SPAN, "%s in `%s` is a %s, and %s is needed", model_id(t->model, ref), t->whole,
         part_kind_word(ref.kind), needs);
    return false;
}

static const char *a_kind(enum part_kind kind)
{
    switch (kind) {
    case PART_HOLE:
        return "a plate hole";
    case PART_BALL:
        return "a check ball";
    case PART_VALVE:
        return "a valve";
    default:
        return "a passage";
    }
}

bool name_part(const struct fault_text *t, const char *id, enum part_kind wanted, struct fault *f)
{
    f->part = model_find(t->model, id, strlen(id));
    if (f->part.kind == wanted)
        return true;
    if (f->part.kind == PART_NONE)
        return name_unknown(t, wanted, id);
    name_wrong_kind(t, f->part, a_kind(wanted));
    struct list l = {0};
    const struct model *m = t->model;
    const char *word = t->words[0];
    if (f->part.kind == PART_HOLE && wanted == PART_BALL && m->holes[f->part.i].ball.i != NONE)
        list_add(&l, "%s %s", word, m->balls[m->holes[f->part.i].ball.i].part.id);
    if (f->part.kind == PART_BALL && wanted == PART_HOLE)
        for (uint32_t s = 0; s < m->balls[f->part.i].n_seats; s++)
            list_add(&l, "%s %s ...", word, m->holes[m->balls[f->part.i].seats_on[s].i].part.id);
    list_help(t, &l, f->kind);
    return false;
}

/* ---- block */

static void help_block(const struct fault_text *t, struct part_ref ref)
{
    const struct model *m = t->model;
    struct list l = {0};
    if (ref.kind == PART_VALVE)
        for (uint32_t p = 0; p < m->valves[ref.i].n_ports; p++)
            list_add(&l, "block %s.%s", model_id(m, ref), m->valves[ref.i].ports[p].name);
    if (ref.kind == PART_BALL)
        list_add(&l, "seat %s%s", model_id(m, ref), m->balls[ref.i].n_seats == 2 ? " on HOLE" : "");
    if (ref.kind == PART_PASSAGE)
        for (uint32_t h = 0; h < m->n_holes; h++)
            if (m->holes[h].joins[0].i == ref.i || m->holes[h].joins[1].i == ref.i)
                list_add(&l, "block %s", m->holes[h].part.id);
    list_help(t, &l, FAULT_BLOCK);
}

bool name_blockable(const struct fault_text *t, const char *id, struct fault *f)
{
    const struct model *m = t->model;
    f->part = model_find(m, id, strlen(id));
    switch (f->part.kind) {
    case PART_JOINT:
    case PART_HOLE:
    case PART_SOLENOID:
        return true;
    case PART_NONE:
        break;
    default:
        name_wrong_kind(t, f->part, "a joint, a screen, a plate hole, a solenoid or a valve's port");
        help_block(t, f->part);
        return false;
    }
    /* VALVE.PORT: both may have dots of their own. */
    struct part_ref valve = {PART_NONE, NONE};
    const char *port = NULL;
    for (const char *dot = strchr(id, '.'); dot; dot = strchr(dot + 1, '.')) {
        struct part_ref ref = model_find(m, id, (size_t)(dot - id));
        if (ref.kind != PART_VALVE)
            continue;
        valve = ref;
        port = dot + 1;
        f->ports[0] = valve_port(&m->valves[ref.i], port, strlen(port));
        if (f->ports[0] != NONE) {
            f->part = ref;
            return true;
        }
    }
    if (valve.kind == PART_NONE)
        return name_unknown(t, PART_NONE, id);
    diag(t->d, UNKNOWN_NAME, NO_SPAN, "valve %s has no port `%s`, in `%s`", model_id(m, valve), word_cut(t, port),
         t->whole);
    help_block(t, valve);
    return false;
}

/* ---- leak */

static bool in_layer(const struct model *m, passage_ix p, passage_ix of)
{
    return p.i != NONE && p.i != SUMP.i && m->passages[p.i].layer.i == m->passages[of.i].layer.i;
}

/* The passage of a hole on the side of a neighbour, where a bad seal lets its oil out; NONE when it has none there. */
static passage_ix leaking_side(const struct model *m, const struct hole *h, passage_ix neighbour)
{
    for (int side = 0; side < 2; side++)
        if (in_layer(m, h->joins[side], neighbour))
            return h->joins[side];
    return (passage_ix){NONE};
}

static bool leaking_hole(const struct fault_text *t, struct fault *f)
{
    const struct model *m = t->model;
    const struct hole *h = &m->holes[f->part.i];
    if (h->n_leaks_to == 1) {
        f->to = h->leaks_to[0];
        f->from = leaking_side(m, h, f->to);
        if (f->from.i != NONE)
            return true;
    }
    struct list l = {0};
    for (uint32_t i = 0; i < h->n_leaks_to; i++) {
        passage_ix side = leaking_side(m, h, h->leaks_to[i]);
        for (int j = 0; j < 2; j++)
            if (side.i == NONE || side.i == h->joins[j].i)
                list_add(&l, "leak %s into %s", id_of(t, h->joins[j]), id_of(t, h->leaks_to[i]));
    }
    if (h->n_leaks_to > 1)
        diag(t->d, BAD_FAULT, NO_SPAN, "plate hole %s has %u neighbours that `%s` could mean", h->part.id,
             h->n_leaks_to, t->whole);
    else if (h->n_leaks_to == 1)
        diag(t->d, BAD_FAULT, NO_SPAN, "plate hole %s has no passage in the layer of its neighbour %s, for `%s`",
             h->part.id, id_of(t, h->leaks_to[0]), t->whole);
    else {
        diag(t->d, BAD_FAULT, NO_SPAN, "plate hole %s names no neighbour in `leaks_to`, so `%s` does not say where to",
             h->part.id, t->whole);
        for (int j = 0; j < 2; j++)
            list_add(&l, "leak %s into PASSAGE", id_of(t, h->joins[j]));
    }
    list_help(t, &l, f->kind);
    return false;
}

bool name_leaking(const struct fault_text *t, const char *id, struct fault *f)
{
    const struct model *m = t->model;
    f->part = model_find(m, id, strlen(id));
    switch (f->part.kind) {
    case PART_HOLE:
        return leaking_hole(t, f);
    case PART_ACTUATOR:
        f->from = m->actuators[f->part.i].apply;
        f->to = SUMP;
        return true;
    case PART_NONE:
        return name_unknown(t, PART_NONE, id);
    default:
        break;
    }
    name_wrong_kind(t, f->part, "a plate hole, a device or `A into B`");
    struct list l = {0};
    if (f->part.kind == PART_PASSAGE) {
        list_add(&l, "leak %s into PASSAGE", id);
        list_add(&l, "leak %s into sump", id);
    } else if (f->part.kind == PART_VALVE)
        list_add(&l, "wear %s", id);
    else if (f->part.kind == PART_BALL)
        list_add(&l, "unseat %s%s", id, m->balls[f->part.i].n_seats == 2 ? " on HOLE" : "");
    list_help(t, &l, FAULT_LEAK);
    return false;
}

/* One end of `leak A into B`. A gauge port or a device is near enough to a passage to say which one it is on. */
static bool leak_end(const struct fault_text *t, const char *id, passage_ix *out)
{
    const struct model *m = t->model;
    struct part_ref ref = model_find(m, id, strlen(id));
    out->i = ref.i;
    if (ref.kind == PART_PASSAGE)
        return true;
    if (strcmp(id, m->passages[SUMP.i].part.id) == 0) {
        *out = SUMP;
        return true;
    }
    if (ref.kind == PART_NONE)
        return name_unknown(t, PART_PASSAGE, id);
    name_wrong_kind(t, ref, "a passage or `sump`");
    if (ref.kind == PART_TAP || ref.kind == PART_SWITCH)
        diag_help(t->d, "%s is on passage %s", id,
                  id_of(t, ref.kind == PART_TAP ? m->taps[ref.i].on : m->switches[ref.i].on));
    else if (ref.kind == PART_HOLE)
        diag_help(t->d, "%s joins %s and %s", id, id_of(t, m->holes[ref.i].joins[0]),
                  id_of(t, m->holes[ref.i].joins[1]));
    else if (ref.kind == PART_ACTUATOR)
        diag_help(t->d, "the apply passage of %s is %s", id, id_of(t, m->actuators[ref.i].apply));
    else
        help_forms(t, FAULT_LEAK);
    return false;
}

bool name_two_passages(const struct fault_text *t, const char *from, const char *into, struct fault *f)
{
    f->part = (struct part_ref){PART_NONE, NONE};
    bool ok = leak_end(t, from, &f->from);
    ok = leak_end(t, into, &f->to) && ok;
    if (ok && f->from.i == f->to.i) {
        diag(t->d, BAD_FAULT, NO_SPAN, "`%s` leaks a passage into itself", t->whole);
        help_forms(t, FAULT_LEAK);
        return false;
    }
    return ok;
}

/* ---- seats */

bool name_seat(const struct fault_text *t, const char *hole, struct fault *f)
{
    const struct model *m = t->model;
    const struct ball *ball = &m->balls[f->part.i];
    if (!hole && ball->n_seats == 1) {
        f->hole = ball->seats_on[0];
        return true;
    }
    if (!hole)
        diag(t->d, BAD_FAULT, NO_SPAN, "ball %s has two seats, and `%s` does not say which", ball->part.id, t->whole);
    else {
        for (uint32_t s = 0; s < ball->n_seats; s++)
            if (strcmp(m->holes[ball->seats_on[s].i].part.id, hole) == 0) {
                f->hole = ball->seats_on[s];
                return true;
            }
        if (model_find(m, hole, strlen(hole)).kind == PART_NONE)
            return name_unknown(t, PART_HOLE, hole);
        diag(t->d, BAD_FAULT, NO_SPAN, "ball %s has no seat on %s, in `%s`", ball->part.id, hole, t->whole);
    }
    struct list l = {0};
    const char *word = fault_kind_row(f->kind)->word;
    for (uint32_t s = 0; s < ball->n_seats; s++)
        list_add(&l, "%s %s on %s", word, ball->part.id, m->holes[ball->seats_on[s].i].part.id);
    list_help(t, &l, f->kind);
    return false;
}
