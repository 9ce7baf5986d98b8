#include "report/record.h"
#include "base/arena.h"
#include "base/mem.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

#define PSI 6894.757293168362 /* Pa, exact by definition of pound and inch */

/* ---- writing */

struct facts {
    struct arena arena;
    const char **rows; /* "STATE  SUBJECT  FACT" */
    size_t n, cap;
};

static void fact(struct facts *f, const char *state, const char *subject, const char *words)
{
    MEM_GROW(f->rows, f->n, f->cap);
    f->rows[f->n++] = arena_format(&f->arena, "%s  %s  %s", state, subject, words);
}

/* A pressure in steps, so that a digit that means nothing changes no record. */
static const char *stepped(struct facts *f, const struct model *m, double pressure)
{
    bool psi = !strcmp(m->units.name[DIM_PRESSURE], "psi");
    double step = psi ? PSI : 1e4, n = isnan(pressure) ? NAN : floor(pressure / step + 0.5);
    if (isnan(n))
        return "closed off";
    return psi ? arena_format(&f->arena, "%.0f psi", n) : arena_format(&f->arena, "%.1f bar", n / 10);
}

static void passage_facts(struct facts *f, const struct trace *t, uint32_t c, const char *state, passage_ix p)
{
    const struct model *m = t->network->model;
    const char *id = m->passages[p.i].part.id;
    struct text words = {0};
    text_add(&words, condition_word(trace_condition(t, c, p)));
    bool some = false;
    for (uint32_t i = 0; i < m->n_feeds; i++) {
        enum certainty reach = trace_reach(t, c, (feed_ix){i}, p);
        if (reach == CERTAIN_NO)
            continue;
        text_addf(&words, "%s%s%s", some ? ", " : " by ", reach == CERTAIN_MAY ? "perhaps " : "", m->feeds[i].part.id);
        some = true;
    }
    fact(f, state, id, text_string(&words));
    for (uint32_t i = 0; i < t->network->n_limits; i++) {
        enum certainty past = trace_past(t, c, i, p);
        circuit_ix circuit = m->passages[p.i].circuit;
        valve_ix v = t->network->limits[i].valve;
        if (past == CERTAIN_NO || circuit.i == NONE || m->circuits[circuit.i].limited_by.i != v.i)
            continue;
        text_clear(&words);
        text_addf(&words, "%sreached past %s", past == CERTAIN_MAY ? "perhaps " : "", m->valves[v.i].part.id);
        fact(f, state, id, text_string(&words));
    }
    text_release(&words);
}

static void gear_add(struct text *t, const struct model *m, const struct gear_answer *g)
{
    text_add(t, gear_word(m, g->gear));
    for (uint32_t i = 0; i < g->n_possible; i++)
        text_addf(t, "%s%s", i ? " or " : ": ", gear_word(m, g->possible[i]));
}

/* Gear and devices, by structure and (p not NULL) by pressure, in one fact each: a change of both is one sentence. */
static void gear_facts(struct facts *f, const struct model *m, const struct trace_case *c, const struct pressures *p,
                       const char *state)
{
    struct text words = {0};
    gear_add(&words, m, &c->gear);
    if (p) {
        text_add(&words, ", by pressure ");
        gear_add(&words, m, &p->gear);
    }
    fact(f, state, "gear", text_string(&words));
    text_release(&words);
    for (uint32_t i = 0; i < m->n_actuators; i++) {
        const char *one = applied_word((enum applied)c->applied[i]);
        fact(f, state, m->actuators[i].part.id,
             p ? arena_format(&f->arena, "%s, by pressure %s at %s", one, device_word((enum device)p->device[i]),
                              stepped(f, m, p->device_pressure[i]))
               : one);
    }
}

static void state_facts(struct facts *f, const struct answer *a, state_ix s)
{
    const struct trace *t = a->healthy;
    const struct model *m = a->model;
    const char *state = m->states[s.i].part.id;
    uint32_t c = trace_case(t, 0, s);
    if (!t->cases[c].settled) {
        fact(f, state, "gear", "not settled");
        return;
    }
    const struct pressures *p = a->pressed ? pressed_state(a->pressed, s.i) : NULL;
    gear_facts(f, m, &t->cases[c], p, state);
    for (uint32_t i = 0; i < m->n_valves; i++)
        fact(f, state, m->valves[i].part.id, trace_valve_word(t, c, (valve_ix){i}));
    for (uint32_t i = 1; i < m->n_passages; i++)
        passage_facts(f, t, c, state, (passage_ix){i});
    for (uint32_t i = 0; p && i < m->n_taps; i++) {
        double at = p->pressure[m->taps[i].on.i];
        fact(f, state, m->taps[i].part.id,
             isnan(at) ? "closed off" : arena_format(&f->arena, "at %s", stepped(f, m, at)));
    }
    if (a->pressed && pressed_failed(a->pressed, s.i))
        fact(f, state, "pressures", "not found");
}

static int by_bytes(const void *a, const void *b)
{
    return strcmp(*(const char *const *)a, *(const char *const *)b);
}

void record_add(struct text *t, const struct answer *a)
{
    struct facts f = {.n = 0};
    arena_init(&f.arena);
    for (uint32_t i = 0; i < a->n_states; i++)
        state_facts(&f, a, a->states[i]);
    if (f.n)
        qsort(f.rows, f.n, sizeof *f.rows, by_bytes);
    text_addf(t, "# behaviour of %s, one fact a line: state, what, how it is\n", a->model->id);
    for (size_t i = 0; i < f.n; i++) {
        text_add(t, f.rows[i]);
        text_add_char(t, '\n');
    }
    mem_free(f.rows);
    arena_release(&f.arena);
}

/* ---- comparing */

struct changes {
    struct arena *arena;
    struct record_change *rows;
    size_t n, cap;
    const char **old, **new; /* lines, sorted */
    size_t n_old, n_new;
};

static const char **lines_split(struct arena *a, const char *bytes, size_t n, size_t *count)
{
    const char **rows = NULL;
    size_t cap = 0;
    *count = 0;
    while (n) {
        size_t length = 0;
        while (length < n && bytes[length] != '\n')
            length++;
        if (length && bytes[0] != '#') {
            MEM_GROW(rows, *count, cap);
            rows[(*count)++] = arena_text(a, bytes, length);
        }
        length += length < n;
        bytes += length;
        n -= length;
    }
    if (*count)
        qsort(rows, *count, sizeof *rows, by_bytes); /* a record edited by hand may have lost its order */
    return rows;
}

/* The three fields of a line; a line that is no fact is all subject. */
static void line_read(struct arena *a, const char *line, const char **state, const char **subject, const char **words)
{
    const char *one = strstr(line, "  "), *two = one ? strstr(one + 2, "  ") : NULL;
    if (!two) {
        *state = "";
        *subject = line;
        *words = "";
        return;
    }
    *state = arena_text(a, line, (size_t)(one - line));
    *subject = arena_text(a, one + 2, (size_t)(two - one - 2));
    *words = two + 2;
}

/* A passage has two kinds of facts: what it is, and the limiting valves that its oil has gone past. */
static bool is_past(const char *words)
{
    return strstr(words, "reached past ") != NULL;
}

static void change_add(struct changes *c, const char *line, bool old)
{
    const char *state, *subject, *words;
    line_read(c->arena, line, &state, &subject, &words);
    for (size_t i = c->n; i-- > 0 && !strcmp(c->rows[i].state, state);) { /* the other side of the same fact */
        struct record_change *r = &c->rows[i];
        if (strcmp(r->subject, subject) != 0 || (old ? r->was : r->now) ||
            is_past(old ? r->now : r->was) != is_past(words))
            continue;
        *(old ? &r->was : &r->now) = words;
        return;
    }
    MEM_GROW(c->rows, c->n, c->cap);
    c->rows[c->n++] = (struct record_change){state, subject, old ? words : NULL, old ? NULL : words, false};
}

/* How early a subject is told: the gear, devices, valves, then the rest. */
static int importance(const struct model *m, const char *subject)
{
    struct part_ref r = model_find(m, subject, strlen(subject));
    return !strcmp(subject, "gear")  ? 0
           : r.kind == PART_ACTUATOR ? 1
           : r.kind == PART_VALVE    ? 2
           : r.kind == PART_TAP      ? 3
                                     : 4;
}

static bool same(const char *a, const char *b)
{
    return a && b ? !strcmp(a, b) : a == b;
}

static void sentence(struct text *t, const struct record_change *r)
{
    if (r->was && r->now)
        say(t, "%s is %s, was %s", r->subject, r->now, r->was);
    else if (r->now)
        say(t, "%s is %s, was not there", r->subject, r->now);
    else
        say(t, "%s is gone, was %s", r->subject, r->was);
}

static void changes_tell(struct text *t, const struct view *v, const struct model *m, struct record_change *rows,
                         size_t n)
{
    struct text line = {0}, states = {0};
    for (int rank = 0; rank < 5; rank++) {
        for (size_t i = 0; i < n; i++) {
            if (rows[i].told || importance(m, rows[i].subject) != rank)
                continue;
            text_clear(&states);
            for (size_t k = i; k < n; k++) {
                struct record_change *r = &rows[k];
                if (r->told || strcmp(r->subject, rows[i].subject) != 0 || !same(r->was, rows[i].was) ||
                    !same(r->now, rows[i].now))
                    continue;
                r->told = true;
                say(&states, "%s%s", states.n ? ", " : "", *r->state ? r->state : "?");
            }
            text_clear(&line);
            text_addf(&line, "%s: ", text_string(&states));
            sentence(&line, &rows[i]);
            say_folded(t, v, 2, 4, "-", PAINT_NONE, text_string(&line));
        }
    }
    text_release(&line);
    text_release(&states);
}

static void changes_find(struct changes *c)
{
    size_t i = 0, k = 0;
    while (i < c->n_old || k < c->n_new) {
        int order = i == c->n_old ? 1 : k == c->n_new ? -1 : strcmp(c->old[i], c->new[k]);
        if (order < 0)
            change_add(c, c->old[i++], true);
        else if (order > 0)
            change_add(c, c->new[k++], false);
        else {
            i++;
            k++;
        }
    }
}

/* By state, as found within one. */
static int by_state(const void *a, const void *b)
{
    const struct record_change *x = a, *y = b;
    int order = strcmp(x->state, y->state);
    return order ? order : strcmp(x->subject, y->subject);
}

uint32_t record_changes(struct arena *a, const char *was, size_t n_was, const char *now, size_t n_now,
                        struct record_change **rows)
{
    struct changes c = {.arena = a};
    c.old = lines_split(a, was, n_was, &c.n_old);
    c.new = lines_split(a, now, n_now, &c.n_new);
    changes_find(&c);
    *rows = arena_rows(a, c.n, sizeof **rows);
    if (c.n) {
        memcpy(*rows, c.rows, c.n * sizeof **rows);
        qsort(*rows, c.n, sizeof **rows, by_state);
    }
    mem_free(c.rows);
    mem_free(c.old);
    mem_free(c.new);
    return (uint32_t)c.n;
}

uint32_t record_compare(struct text *t, const struct view *v, const struct model *m, const char *was, size_t n_was,
                        const char *now, size_t n_now, struct text *per_state)
{
    struct arena arena;
    struct record_change *rows;
    arena_init(&arena);
    uint32_t n = record_changes(&arena, was, n_was, now, n_now, &rows), n_states = 0;
    for (uint32_t i = 0; i < n; i++) {
        state_ix s = model_state(m, rows[i].state, strlen(rows[i].state));
        n_states += i == 0 || strcmp(rows[i - 1].state, rows[i].state) != 0;
        if (per_state && s.i != NONE) {
            sentence(&per_state[s.i], &rows[i]);
            text_add_char(&per_state[s.i], '\n');
        }
    }
    if (n) {
        text_addf(t, "%u %s changed in %u %s\n", n, n == 1 ? "fact" : "facts", n_states,
                  n_states == 1 ? "state" : "states");
        changes_tell(t, v, m, rows, n);
    }
    arena_release(&arena);
    return n;
}

void json_record_changes(struct jsonout *j, const struct record_change *rows, uint32_t n)
{
    json_begin(j, "states", '{');
    for (uint32_t i = 0; i < n; i++) {
        if (i == 0 || strcmp(rows[i - 1].state, rows[i].state) != 0) {
            json_begin(j, rows[i].state, '{');
            json_begin(j, "changes", '[');
        }
        json_t *row = json_object();
        json_object_set_new(row, "subject", json_words(rows[i].subject));
        json_object_set_new(row, "was", json_words(rows[i].was));
        json_object_set_new(row, "now", json_words(rows[i].now));
        json_put(j, NULL, row);
        if (i + 1 == n || strcmp(rows[i + 1].state, rows[i].state) != 0) {
            json_end(j);
            json_end(j);
        }
    }
    json_end(j);
}
