/* What a fault does to the oil of each passage: one sentence a passage; passages with the same sentence together, by
 * circuit. */
#include "base/mem.h"
#include "report/answer.h"
#include "report/text_state.h"
#include <stdint.h>
#include <string.h>

static bool is(const char *word, const char *wanted)
{
    return !strcmp(word, wanted);
}

static void condition_words(struct text *t, const struct change *c, bool plain)
{
    if (plain)
        say(t, "%s, was %s", is(c->now, "trapped") ? "closed off" : c->now,
            is(c->was, "trapped") ? "closed off" : c->was);
    else if (is(c->now, "unsure"))
        say(t, "unsure whether it is fed (healthy: %s)", c->was);
    else if (is(c->now, "fed"))
        say(t, is(c->was, "exhausted") ? "gets oil and should drain" : "fed (healthy: %s)", c->was);
    else if (is(c->now, "exhausted"))
        say(t, is(c->was, "fed") ? "loses its oil to the pan" : "drains (healthy: %s)", c->was);
    else if (is(c->now, "partial"))
        say(t, "fed and drained at once, sizes decide what arrives (healthy: %s)", c->was);
    else
        say(t, is(c->was, "fed") ? "cut off, no feed and no drain" : "cannot drain, oil is locked in");
}

/* Where the changes of each passage begin: NONE where it has none. Rows of a passage stand together in each kind. */
struct oil_index {
    uint32_t *condition, *reach; /* [n_passages] rows of effect */
};

static void oil_index(struct oil_index *x, const struct model *m, const struct effect *e)
{
    x->condition = mem_alloc(m->n_passages * sizeof *x->condition);
    x->reach = mem_alloc(m->n_passages * sizeof *x->reach);
    for (uint32_t p = 0; p < m->n_passages; p++)
        x->condition[p] = x->reach[p] = NONE;
    for (uint32_t i = 0; i < e->n; i++) {
        const struct change *c = &e->rows[i];
        uint32_t *first = c->what == CHANGE_CONDITION ? x->condition : c->what == CHANGE_REACH ? x->reach : NULL;
        if (first && first[c->subject.i] == NONE)
            first[c->subject.i] = i;
    }
}

static void oil_index_release(struct oil_index *x)
{
    mem_free(x->condition);
    mem_free(x->reach);
}

/* Feeds whose reach went from `was` to `now`, as a list with a word before it. */
static void oil_feeds(struct text *t, const struct model *m, const struct effect *e, uint32_t row, const char *was,
                      const char *now, const char *before)
{
    uint32_t n = 0;
    for (uint32_t i = row;
         i < e->n && e->rows[i].what == CHANGE_REACH && e->rows[i].subject.i == e->rows[row].subject.i; i++)
        if (is(e->rows[i].was, was) && is(e->rows[i].now, now))
            say(t, "%s%s", n++ ? ", " : before, m->feeds[e->rows[i].feed.i].part.id);
}

static void oil_words(struct text *t, const struct model *m, const struct effect *e, const struct oil_index *x,
                      uint32_t passage, bool plain)
{
    const struct change *c = x->condition[passage] == NONE ? NULL : &e->rows[x->condition[passage]];
    uint32_t reach = x->reach[passage];
    if (c)
        condition_words(t, c, plain);
    if (reach == NONE)
        return;
    size_t n_before = t->n;
    oil_feeds(t, m, e, reach, "no", "sure", c ? ", from " : "gets oil from ");
    oil_feeds(t, m, e, reach, "no", "may", c || t->n ? ", perhaps from " : "perhaps gets oil from ");
    bool taken_over = t->n > n_before; /* a feed that comes first hides those behind it */
    oil_feeds(t, m, e, reach, "may", "sure", t->n ? ", now surely from " : "now surely gets oil from ");
    oil_feeds(t, m, e, reach, "sure", "may", t->n ? ", only perhaps from " : "only perhaps gets oil from ");
    if (c && (is(c->now, "exhausted") || is(c->now, "trapped")))
        return; /* no feed: said already */
    const char *lost = taken_over ? " and no longer counts as oil of " : t->n ? ", no more from " : "no more oil from ";
    oil_feeds(t, m, e, reach, "sure", "no", lost);
    oil_feeds(t, m, e, reach, "may", "no", lost);
}

struct oil { /* passages with one sentence */
    struct text words, body;
    uint32_t circuit, n_in_circuit; /* of the circuit that was added last */
};
struct oils {
    struct oil *rows;
    size_t n, cap;
};

enum { NAMED = 3 };

/* Ends the entry of the circuit that was added last: says which passages are meant where not all are. */
static void oil_close(struct oil *o, const struct model *m, const uint32_t *passages)
{
    const struct circuit *c = &m->circuits[o->circuit];
    say(&o->body, "%s%s", o->body.n ? ", " : "", c->part.id);
    if (o->n_in_circuit == c->n_passages)
        return;
    for (uint32_t i = 0; i < o->n_in_circuit && i < NAMED; i++)
        say(&o->body, "%s%s", i ? ", " : " (only ", m->passages[passages[i]].part.id);
    if (o->n_in_circuit > NAMED)
        text_addf(&o->body, " and %u more", o->n_in_circuit - NAMED);
    text_add_char(&o->body, ')');
}

/* Adds the passages of one circuit to the sentences. */
static void oil_circuit(struct oils *all, const struct model *m, const struct effect *e, const struct oil_index *x,
                        uint32_t circuit, bool plain)
{
    const struct circuit *c = &m->circuits[circuit];
    uint32_t *mine = mem_alloc((c->n_passages + 1) * sizeof *mine);
    size_t *of = mem_alloc((c->n_passages + 1) * sizeof *of);
    for (uint32_t i = 0; i < c->n_passages; i++) {
        of[i] = SIZE_MAX;
        if (x->condition[c->passages[i].i] == NONE && x->reach[c->passages[i].i] == NONE)
            continue;
        struct text words = {0};
        oil_words(&words, m, e, x, c->passages[i].i, plain);
        for (of[i] = 0; of[i] < all->n && !is(text_string(&all->rows[of[i]].words), text_string(&words));)
            of[i]++;
        if (of[i] == all->n) {
            MEM_GROW(all->rows, all->n, all->cap);
            all->rows[all->n++] = (struct oil){.words = words};
        } else {
            text_release(&words);
        }
    }
    for (uint32_t i = 0; i < c->n_passages; i++) {
        if (of[i] == SIZE_MAX)
            continue;
        struct oil *o = &all->rows[of[i]];
        size_t row = of[i];
        o->circuit = circuit;
        o->n_in_circuit = 0;
        for (uint32_t k = i; k < c->n_passages; k++) {
            if (of[k] != row)
                continue;
            mine[o->n_in_circuit++] = c->passages[k].i;
            of[k] = SIZE_MAX;
        }
        oil_close(o, m, mine);
    }
    mem_free(of);
    mem_free(mine);
}

void say_oil(struct text *t, const struct view *v, const struct model *m, const struct effect *e, bool plain)
{
    struct oils all = {0};
    struct oil_index x;
    oil_index(&x, m, e);
    for (uint32_t c = 0; c < m->n_circuits; c++)
        oil_circuit(&all, m, e, &x, c, plain);
    oil_index_release(&x);
    for (size_t i = 0; i < all.n; i++) {
        struct oil *o = &all.rows[i];
        text_addf(&o->body, ": %s.", text_string(&o->words));
        say_folded(t, v, 2, 4, "-", PAINT_NONE, text_string(&o->body));
        text_release(&o->body);
        text_release(&o->words);
    }
    mem_free(all.rows);
}
