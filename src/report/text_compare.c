/* A comparison of two models for a person: the parts, then what that does, worst first. */
#include "base/mem.h"
#include "report/compare.h"
#include "report/text_state.h"
#include <stdlib.h>
#include <string.h>

enum { FIELDS_SHOWN = 4 }; /* of a part that only one model has: what it joins and its size come first */

/* ---- parts */

static void fields_say(struct text *t, const struct part_change *p)
{
    bool single = p->status != PART_CHANGED;
    for (uint32_t i = 0; i < p->n && (!single || i < FIELDS_SHOWN); i++) {
        const struct attribute_change *c = &p->rows[i];
        text_add(t, i ? ", " : ": ");
        if (single)
            say(t, "%s %s", c->name, p->status == PART_GONE ? c->was : c->now);
        else if (!c->was)
            say(t, "%s %s, was not given", c->name, c->now);
        else if (!c->now)
            say(t, "%s not given, was %s", c->name, c->was);
        else
            say(t, "%s %s, was %s", c->name, c->now, c->was);
    }
}

/* One line for a part and for those of its kind that follow it with the same words. @return how many it told. */
static uint32_t parts_line(struct text *t, const struct view *v, const struct part_change *p, uint32_t n)
{
    struct text line = {0}, names = {0}, words = {0}, next = {0};
    uint32_t alike = 1;
    fields_say(&words, p);
    say(&names, "%s", p->id);
    for (; alike < n && p[alike].status == p->status && p[alike].kind == p->kind; alike++) {
        text_clear(&next);
        fields_say(&next, &p[alike]);
        if (strcmp(text_string(&next), text_string(&words)) != 0)
            break;
        say(&names, ", %s", p[alike].id);
    }
    say(&line, "%s%s%s", described_word(p->kind),
        alike == 1                    ? ""
        : p->kind == DESCRIBED_SWITCH ? "es"
                                      : "s",
        *p->id ? " " : "");
    text_add(&line, text_string(&names));
    text_add(&line, text_string(&words));
    say_folded(t, v, 2, 4, "-", PAINT_NONE, text_string(&line));
    text_release(&line);
    text_release(&names);
    text_release(&words);
    text_release(&next);
    return alike;
}

static void add_parts(struct text *t, const struct view *v, const struct parts_compared *parts)
{
    static const struct {
        enum part_status status;
        const char *head;
    } groups[] = {{PART_GONE, "Gone"}, {PART_NEW, "Added"}, {PART_CHANGED, "Changed"}};
    for (size_t g = 0; g < sizeof groups / sizeof *groups; g++) {
        if (!parts->n_status[groups[g].status])
            continue;
        text_add_char(t, '\n');
        say_painted(t, v, PAINT_HEAD, "%s", groups[g].head);
        text_add_char(t, '\n');
        for (uint32_t i = 0; i < parts->n;)
            if (parts->rows[i].status == groups[g].status)
                i += parts_line(t, v, &parts->rows[i], parts->n - i);
            else
                i++;
    }
}

/* ---- behaviour */

/* What devices that stand in t already do. */
static void rate_sentence(struct text *t, const struct change *c, bool several)
{
    const char *verb = c->what == CHANGE_FILL ? "fill" : "drain";
    if (!strcmp(c->now, "not at all"))
        say(t, "%s not %s.", several ? ": do" : " does", verb);
    else
        say(t, "%s %s%s %s.", several ? ":" : "", verb, several ? "" : "s", c->now);
}

/* Parts with the same change of one kind, in one sentence at the first of them. */
static void alike_sentence(struct text *t, const struct model *m, const struct effect *e, const struct change *c)
{
    uint32_t n = 0;
    for (uint32_t i = 0; i < e->n; i++) {
        const struct change *o = &e->rows[i];
        if (o->what != c->what || o->limiting.i != c->limiting.i || strcmp(o->was, c->was) || strcmp(o->now, c->now))
            continue;
        if (o < c) { /* told already */
            text_clear(t);
            return;
        }
        say(t, "%s%s", n++ ? ", " : "", model_id(m, o->subject));
    }
    if (c->what == CHANGE_FILL || c->what == CHANGE_DRAIN)
        rate_sentence(t, c, n > 1);
    else if (c->what == CHANGE_LIMIT)
        say(t, ": limit of %s %s, was %s.", m->valves[c->limiting.i].part.id, c->now, c->was);
    else
        say(t, ": %s, %s %s.", c->now, n > 1 ? "were" : "was", c->was);
}

/* How early a state is told, by its first change; these kinds have a sentence, the oil's are told together. */
static const enum change_what told_order[] = {CHANGE_SETTLED, CHANGE_GEAR,     CHANGE_ACTUATOR, CHANGE_VALVE,
                                              CHANGE_LIMIT,   CHANGE_PRESSURE, CHANGE_FILL,     CHANGE_DRAIN};
enum { N_TOLD = sizeof told_order / sizeof *told_order };

static uint32_t rank_of(enum change_what what)
{
    uint32_t rank = 0;
    while (rank < N_TOLD && told_order[rank] != what)
        rank++;
    return rank;
}

struct told { /* one state's changes in words */
    uint32_t state;
    uint32_t rank;
    struct text head, body;
    bool done;
};

static void tell(struct told *told, const struct view *v, const struct compare_answer *c)
{
    const struct model *m = c->new->model;
    const struct effect *e = &c->effects[told->state];
    const struct trace_case *now = &c->new->healthy->cases[told->state];
    const struct gear_answer *gear = counts_gear(now, pressed_state(c->new->pressed, told->state));
    told->rank = rank_of(e->rows[0].what);
    if (e->rows[0].what == CHANGE_GEAR) {
        say(&told->head, "%s, was %s", e->rows[0].now, e->rows[0].was);
        const char *road = gear_road(m->states[told->state].gear.i, gear, m);
        if (*road)
            say_folded(&told->body, v, 2, 2, "", PAINT_NONE, road);
    } else if (e->rows[0].what == CHANGE_SETTLED) {
        say(&told->head, "%s, was %s", e->rows[0].now, e->rows[0].was);
    } else {
        say(&told->head, "gear %s, as before", gear_word(m, gear->gear));
    }
    for (uint32_t i = 0; i < e->n; i++) {
        struct text body = {0};
        uint32_t rank = rank_of(e->rows[i].what);
        if (rank > rank_of(CHANGE_GEAR) && rank < N_TOLD) /* the head says the gear */
            alike_sentence(&body, m, e, &e->rows[i]);
        if (body.n)
            say_folded(&told->body, v, 2, 4, "-", PAINT_NONE, text_string(&body));
        text_release(&body);
    }
    say_oil(&told->body, v, m, e, true);
}

static int by_rank(const void *left, const void *right)
{
    const struct told *a = left, *b = right;
    if (a->rank != b->rank)
        return a->rank < b->rank ? -1 : 1;
    return a->state < b->state ? -1 : a->state > b->state;
}

/* States with the same changes: a line for each head, the changes once. */
static void add_alike(struct text *t, const struct view *v, const struct model *m, struct told *rows, uint32_t n,
                      uint32_t at)
{
    const char *body = text_string(&rows[at].body);
    text_add_char(t, '\n');
    for (uint32_t i = at; i < n; i++) {
        if (rows[i].done || strcmp(text_string(&rows[i].body), body) != 0)
            continue;
        struct text names = {0};
        for (uint32_t k = i; k < n; k++) {
            if (rows[k].done || strcmp(text_string(&rows[k].body), body) != 0 ||
                strcmp(text_string(&rows[k].head), text_string(&rows[i].head)) != 0)
                continue;
            rows[k].done = true;
            say(&names, "%s%s", names.n ? ", " : "", m->states[rows[k].state].part.id);
        }
        text_add_char(&names, ':');
        say_folded(t, v, 0, 0, text_string(&names), rows[i].rank <= rank_of(CHANGE_GEAR) ? PAINT_BAD : PAINT_HEAD,
                   text_string(&rows[i].head));
        text_release(&names);
    }
    text_add(t, body);
}

static void add_behaviour(struct text *t, const struct view *v, const struct compare_answer *c)
{
    const struct model *m = c->new->model;
    struct told *rows = mem_zero((size_t)m->n_states + 1, sizeof *rows);
    struct text same = {0};
    uint32_t n = 0;
    for (uint32_t i = 0; i < m->n_states; i++)
        if (c->effects[i].n) {
            rows[n].state = i;
            tell(&rows[n++], v, c);
        } else if (c->old_states[i].i != NONE && !c->no_answer[i]) {
            say(&same, "%s%s", same.n ? ", " : "", m->states[i].part.id);
        }
    qsort(rows, n, sizeof *rows, by_rank);
    for (uint32_t i = 0; i < n; i++)
        if (!rows[i].done)
            add_alike(t, v, m, rows, n, i);
    if (same.n && n) {
        text_add_char(t, '\n');
        say_folded(t, v, 0, 0, "No change in", PAINT_GOOD, text_string(&same));
    }
    for (uint32_t i = 0; i < n; i++) {
        text_release(&rows[i].head);
        text_release(&rows[i].body);
    }
    text_release(&same);
    mem_free(rows);
}

static void add_verdict(struct text *t, const struct view *v, const struct compare_answer *c)
{
    const struct parts_compared *p = &c->parts;
    struct text line = {0};
    if (p->n)
        text_addf(&line, "Parts: %u gone, %u added, %u changed. ", p->n_status[PART_GONE], p->n_status[PART_NEW],
                  p->n_status[PART_CHANGED]);
    else
        text_add(&line, "No part differs. ");
    if (!c->n_states)
        text_add(&line, "They have no state in common, so behaviour is not compared.");
    else if (c->n_no_answer == c->n_states && c->n_states && !c->n_differ)
        text_addf(&line, "What both have cannot be compared in the %u %s that both have", c->n_states,
                  c->n_states == 1 ? "state" : "states");
    else if (c->n_differ)
        text_addf(&line, "What both have behaves otherwise in %u of the %u states that both have", c->n_differ,
                  c->n_states);
    else
        text_addf(&line, "What both have behaves alike in %s%u %s that both have", c->n_no_answer ? "" : "the ",
                  c->n_states - c->n_no_answer, c->n_states - c->n_no_answer == 1 ? "state" : "states");
    text_add(&line, !c->n_states                           ? ""
                    : !c->old->pressed || !c->new->pressed ? ", by structure."
                    : !c->n_differ                         ? ", by pressure."
                                                           : ", by pressure (where oil goes: by structure).");
    if (c->n_no_answer) {
        uint32_t n = 0;
        text_add(&line, " No answer, so not compared in full: ");
        for (uint32_t i = 0; i < c->new->model->n_states; i++)
            if (c->no_answer[i]) {
                say_comma(&line, n++, c->n_no_answer);
                say(&line, "%s", c->new->model->states[i].part.id);
            }
        text_add_char(&line, '.');
    }
    say_folded(t, v, 0, 0, "", PAINT_NONE, text_string(&line));
    text_release(&line);
}

static bool has_change(const struct compare_answer *c, enum change_what what)
{
    for (uint32_t i = 0; i < c->new->model->n_states; i++)
        for (uint32_t k = 0; k < c->effects[i].n; k++)
            if (c->effects[i].rows[k].what == what)
                return true;
    return false;
}

void text_compare(struct text *t, const struct view *v, const struct compare_answer *c)
{
    if (!c->new->model || !c->old->model)
        return;
    say_painted(t, v, PAINT_HEAD, "%s", c->new->model->id);
    say(t, ", against %s", c->old->model->id);
    text_add_char(t, '\n');
    add_verdict(t, v, c);
    add_parts(t, v, &c->parts);
    if (c->n_differ) {
        text_add_char(t, '\n');
        say_painted(t, v, PAINT_HEAD, "What that does");
        text_add_char(t, '\n');
    }
    add_behaviour(t, v, c);
    text_add_char(t, '\n');
    if (has_change(c, CHANGE_GEAR))
        say_caution_gear(t, v);
    if (has_change(c, CHANGE_PRESSURE))
        say_caution_taps(t, v);
    say_caution_model(t, v);
}
