/* Two records beside each other, and their difference as sentences. */
#include "base/arena.h"
#include "base/mem.h"
#include "report/record.h"
#include "report/record_words.h"
#include <stdlib.h>
#include <string.h>

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
        qsort(rows, *count, sizeof *rows, record_order); /* a record edited by hand may have lost its order */
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

/* A subject has a fact of each kind at most: what it is, the limiting valve that its oil has gone past, how fast it
 * fills or drains. */
enum fact_kind { FACT_IS, FACT_PAST, FACT_RATE };

static const struct rate_word {
    const char *is, *was; /* a figure follows those that end in a space */
} rate_words_known[] = {{"fills at ", "filled at "},
                        {"drains at ", "drained at "},
                        {"does not fill", "did not fill"},
                        {"does not drain", "did not drain"}};
enum { N_RATE_WORDS = sizeof rate_words_known / sizeof *rate_words_known };

/* The row that words of a rate begin with, or NULL. */
static const struct rate_word *rate_word(const char *words)
{
    for (int i = 0; i < N_RATE_WORDS; i++)
        if (!strncmp(words, rate_words_known[i].is, strlen(rate_words_known[i].is)))
            return &rate_words_known[i];
    return NULL;
}

static enum fact_kind fact_kind(const char *words)
{
    return strstr(words, "reached past ") != NULL ? FACT_PAST : rate_word(words) ? FACT_RATE : FACT_IS;
}

static void change_add(struct changes *c, const char *line, bool old)
{
    const char *state, *subject, *words;
    line_read(c->arena, line, &state, &subject, &words);
    for (size_t i = c->n; i-- > 0 && !strcmp(c->rows[i].state, state);) { /* the other side of the same fact */
        struct record_change *r = &c->rows[i];
        if (strcmp(r->subject, subject) != 0 || (old ? r->was : r->now) ||
            fact_kind(old ? r->now : r->was) != fact_kind(words))
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

/* "band fills at 3.2 L/min, was 1.6 L/min", "band drains at 2 L/min, filled at 3.2 L/min". */
static void rate_sentence(struct text *t, const struct record_change *r)
{
    const struct rate_word *was = r->was ? rate_word(r->was) : NULL, *now = r->now ? rate_word(r->now) : NULL;
    const char *figure = was ? r->was + strlen(was->is) : "";
    if (!was)
        say(t, "%s %s, which is new", r->subject, r->now);
    else if (!now)
        say(t, "%s %s%s, now no rate is known", r->subject, was->was, figure);
    else if (was == now)
        say(t, "%s %s, was %s", r->subject, r->now, figure);
    else
        say(t, "%s %s, %s%s", r->subject, r->now, was->was, figure);
}

/* What a fact says by structure and by pressure: one text where they agree. */
struct two_answers {
    const char *structure, *pressure;
    size_t n_structure; /* bytes */
};

static struct two_answers answers_split(const char *words)
{
    const char *at = strstr(words, BY_PRESSURE);
    if (!at)
        return (struct two_answers){words, words, strlen(words)};
    return (struct two_answers){words, at + strlen(BY_PRESSURE), (size_t)(at - words)};
}

bool record_agrees(const char *by_structure, const char *by_pressure)
{
    size_t n = strlen(by_structure);
    return !strncmp(by_structure, by_pressure, n) && (!by_pressure[n] || !strncmp(by_pressure + n, " at ", 4));
}

/* Appends one of the two answers, and what it was. */
static void answer_say(struct text *t, const char *now, size_t n_now, const char *was, size_t n_was)
{
    say(t, "%.*s", (int)n_now, now);
    if (n_now == n_was && !memcmp(now, was, n_now))
        text_add(t, ", as before");
    else
        say(t, " (was %.*s)", (int)n_was, was);
}

/* "gear: by structure first (was second); by pressure second, as before". Of a fact with one answer the structure's
 * word is what stands before a figure. */
static void two_answers_sentence(struct text *t, const struct record_change *r)
{
    struct two_answers was = answers_split(r->was), now = answers_split(r->now);
    struct two_answers *both[2] = {&was, &now};
    for (int i = 0; i < 2; i++) {
        const char *figure = both[i]->structure == both[i]->pressure ? strstr(both[i]->structure, " at ") : NULL;
        if (figure)
            both[i]->n_structure = (size_t)(figure - both[i]->structure);
    }
    say(t, "%s: by structure ", r->subject);
    answer_say(t, now.structure, now.n_structure, was.structure, was.n_structure);
    text_add(t, "; by pressure ");
    answer_say(t, now.pressure, strlen(now.pressure), was.pressure, strlen(was.pressure));
}

static void sentence(struct text *t, const struct record_change *r)
{
    if (fact_kind(r->now ? r->now : r->was) == FACT_RATE)
        rate_sentence(t, r);
    else if (r->was && r->now && (strstr(r->was, BY_PRESSURE) || strstr(r->now, BY_PRESSURE)))
        two_answers_sentence(t, r);
    else if (r->was && r->now)
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

/* By state and subject; what it is before the rest of its facts. */
static int by_state(const void *a, const void *b)
{
    const struct record_change *x = a, *y = b;
    int order = strcmp(x->state, y->state);
    if (!order)
        order = strcmp(x->subject, y->subject);
    if (!order)
        order = (int)fact_kind(x->now ? x->now : x->was) - (int)fact_kind(y->now ? y->now : y->was);
    return order ? order : strcmp(x->now ? x->now : x->was, y->now ? y->now : y->was);
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
