/* Words and pressures of claims. */
#include "model/claim_words.h"
#include "base/mem.h"
#include <string.h>

#define NEAR_ERRORS_MAX 200 /* errors after which no near names are looked for */
#define WORD_SHOWN_MAX  80  /* bytes of a word in a message */

static bool is_space(char c)
{
    return c == ' ' || c == '\t' || c == '\n' || c == '\r';
}

static bool is_tolerance(const char *s, const char *end)
{
    return end - s >= 2 && s[0] == '+' && s[1] == '-';
}

static void word_add(struct words *ws, const char *at, size_t n, struct span where, size_t column)
{
    size_t points = 0;
    for (size_t i = 0; i < n; i++)
        points += ((unsigned char)at[i] & 0xC0) != 0x80;
    if (where.line) {
        where.column = column < UINT16_MAX ? (uint16_t)column : UINT16_MAX;
        where.length = points < UINT8_MAX ? (uint8_t)(points ? points : 1) : UINT8_MAX;
    }
    MEM_GROW(ws->rows, ws->n, ws->cap);
    ws->rows[ws->n++] = (struct word){at, n, where};
}

void words_add(struct words *ws, struct claim_text text)
{
    const char *s = text.at, *end = text.at + text.n;
    size_t column = text.where.column;
    while (s < end) {
        const char *from = s;
        size_t column_from = column;
        if (is_space(*s)) {
            s++, column++;
            continue;
        }
        if (*s == ',') {
            s++;
        } else if (is_tolerance(s, end)) {
            s += 2;
        } else {
            while (s < end && !is_space(*s) && *s != ',' && !is_tolerance(s, end))
                s++;
        }
        for (const char *c = from; c < s; c++)
            column += ((unsigned char)*c & 0xC0) != 0x80;
        word_add(ws, from, (size_t)(s - from), text.where, column_from);
    }
}

void words_release(struct words *ws)
{
    mem_free(ws->rows);
    *ws = (struct words){0};
}

bool phrase_is(const struct phrase *p, const char *word)
{
    return p->i < p->end && p->rows[p->i].n == strlen(word) && !memcmp(p->rows[p->i].at, word, p->rows[p->i].n);
}

bool phrase_take(struct phrase *p, const char *word)
{
    bool is = phrase_is(p, word);
    p->i += is;
    return is;
}

const struct word *phrase_here(const struct phrase *p)
{
    return &p->rows[p->i < p->end ? p->i : p->end - 1];
}

int word_shown(const struct word *w)
{
    size_t n = w->n;
    if (n > WORD_SHOWN_MAX)
        for (n = WORD_SHOWN_MAX; n && ((unsigned char)w->at[n] & 0xC0) == 0x80; n--) /* not within a character */
            ;
    return (int)n;
}

bool near_wanted(const struct diags *d)
{
    return d->n_errors <= NEAR_ERRORS_MAX;
}

/* A quantity as it stands in a claim. */
struct amount {
    struct text text;
    uint32_t first, end; /* its words */
    double value;
    bool bare; /* without a unit */
};

/* The place of words first..end as one. */
static struct span place_of(const struct phrase *p, uint32_t first, uint32_t end)
{
    struct span where = p->rows[first].where, last = p->rows[end - 1].where;
    if (where.line && where.line == last.line && last.column >= where.column) {
        unsigned length = (unsigned)(last.column - where.column) + last.length;
        where.length = length < UINT8_MAX ? (uint8_t)length : UINT8_MAX;
    }
    return where;
}

static bool amount_problem(const struct phrase *p, const struct amount *q, enum quantity_problem problem,
                           size_t unit_at, const char *wanted)
{
    struct span where = place_of(p, q->first, q->end);
    const struct word whole = {q->text.at, q->text.n, where};
    if ((problem == QUANTITY_UNKNOWN_UNIT || problem == QUANTITY_WRONG_DIMENSION) && unit_at <= q->text.n) {
        size_t at = 0;
        uint32_t i = q->first;
        for (; i + 1 < q->end && at + p->rows[i].n < unit_at + 1; i++)
            at += p->rows[i].n + 1;
        where = p->rows[i].where;
        if (where.line && unit_at > at) { /* `80bar`: the unit stands in the word of the number, which is ASCII */
            size_t into = unit_at - at;
            if (into < where.length) {
                where.column = (uint16_t)(where.column + into < UINT16_MAX ? where.column + into : UINT16_MAX);
                where.length = (uint8_t)(where.length - into);
            }
        }
    }
    switch (problem) {
    case QUANTITY_UNKNOWN_UNIT:
        diag(p->d, BAD_QUANTITY, where, "`%.*s`: there is no such unit", word_shown(&whole), whole.at);
        break;
    case QUANTITY_WRONG_DIMENSION:
    case QUANTITY_UNKNOWN_DRILL:
        diag(p->d, WRONG_DIMENSION, where, "`%.*s` is no %s", word_shown(&whole), whole.at, wanted);
        break;
    case QUANTITY_OUT_OF_RANGE:
        diag(p->d, BAD_QUANTITY, where, "`%.*s` is out of range", word_shown(&whole), whole.at);
        break;
    case QUANTITY_NOT_A_NUMBER:
    case QUANTITY_OK:
        diag(p->d, BAD_CLAIM, where, "`%.*s` is no %s", word_shown(&whole), whole.at, wanted);
        break;
    }
    diag_help(p->d, "write a number, or a number with a unit such as `115 psi`");
    return false;
}

/* Reads the words up to `to`, `+-`, a comma or the end. */
static bool amount_read(struct phrase *p, enum dimension dim, struct amount *q)
{
    q->first = p->i;
    while (p->i < p->end && !phrase_is(p, "to") && !phrase_is(p, "+-") && !phrase_is(p, ",")) {
        if (p->i > q->first)
            text_add_char(&q->text, ' ');
        text_add_bytes(&q->text, p->rows[p->i].at, p->rows[p->i].n);
        p->i++;
    }
    q->end = p->i;
    if (q->first == q->end) {
        diag(p->d, BAD_CLAIM, phrase_here(p)->where, "a pressure is missing %s `%.*s`",
             p->i < p->end ? "before" : "after", word_shown(phrase_here(p)), phrase_here(p)->at);
        return false;
    }
    size_t unit_at = SIZE_MAX;
    enum quantity_problem problem = quantity_read(q->text.at, q->text.n, dim, p->units, &q->value, &unit_at);
    if (problem != QUANTITY_OK)
        return amount_problem(p, q, problem, unit_at, dim == DIM_SHARE ? "share" : "pressure");
    if (q->value < 0) {
        diag(p->d, BAD_QUANTITY, place_of(p, q->first, q->end), "`%s` is negative", text_string(&q->text));
        return false;
    }
    double number;
    q->bare = quantity_read(q->text.at, q->text.n, DIM_NUMBER, p->units, &number, NULL) == QUANTITY_OK;
    return true;
}

/* "5 to 6 bar" in a model in psi: the 5 would silently be psi. Only an equal meaning passes. */
static bool amounts_agree(const struct phrase *p, const struct amount *a, const struct amount *b)
{
    if (a->bare == b->bare)
        return true;
    const struct amount *bare = a->bare ? a : b, *full = a->bare ? b : a;
    double number, value;
    struct text t = {0};
    size_t digits = full->text.n; /* of the number in `full`: a few steps from the end, for a unit is short */
    while (digits && quantity_read(full->text.at, digits, DIM_NUMBER, p->units, &number, NULL) != QUANTITY_OK)
        digits--;
    text_add(&t, text_string(&bare->text));
    text_add_char(&t, ' ');
    text_add_bytes(&t, full->text.at + digits, full->text.n - digits);
    bool same = quantity_read(t.at, t.n, DIM_PRESSURE, p->units, &value, NULL) == QUANTITY_OK && value == bare->value;
    if (!same) {
        diag(p->d, BAD_CLAIM, place_of(p, bare->first, bare->end), "`%s` has no unit and `%s` has one",
             text_string(&bare->text), text_string(&full->text));
        diag_help(p->d, "write the unit behind both: a number alone is in %s", p->units->name[DIM_PRESSURE]);
    }
    text_release(&t);
    return same;
}

#define TOLERANCE_SHARE 0.05              /* of the value, */
#define TOLERANCE_LEAST (3 * 6894.757293) /* at least 3 psi, Pa */

/* `+- Q` or `+- N %` behind the quantity q. */
static bool tolerance_read(struct phrase *p, const struct amount *q, double *tolerance)
{
    struct amount t = {0};
    const struct word *last = &p->rows[p->end - 1];
    bool share = p->i < p->end && last->n && last->at[last->n - 1] == '%';
    bool ok = amount_read(p, share ? DIM_SHARE : DIM_PRESSURE, &t) && (share || amounts_agree(p, q, &t));
    *tolerance = share ? q->value * t.value : t.value;
    text_release(&t.text);
    return ok;
}

bool phrase_pressure(struct phrase *p, enum claim_pressure *kind, double *low, double *high)
{
    struct amount q = {0}, to = {0};
    bool ok;
    if (phrase_take(p, "below")) {
        ok = amount_read(p, DIM_PRESSURE, &q);
        *kind = PRESSURE_BELOW;
        *high = q.value;
    } else if (phrase_take(p, "above")) {
        ok = amount_read(p, DIM_PRESSURE, &q);
        *kind = PRESSURE_ABOVE;
        *low = q.value;
    } else {
        bool about = phrase_take(p, "about");
        *kind = PRESSURE_BETWEEN;
        ok = amount_read(p, DIM_PRESSURE, &q);
        if (ok && !about && phrase_take(p, "to")) {
            ok = amount_read(p, DIM_PRESSURE, &to) && amounts_agree(p, &q, &to);
            *low = q.value;
            *high = to.value;
            if (ok && *low > *high) {
                diag(p->d, BAD_CLAIM, place_of(p, q.first, to.end), "`%s to %s` runs from high to low",
                     text_string(&q.text), text_string(&to.text));
                ok = false;
            }
        } else if (ok) {
            double tolerance = q.value * TOLERANCE_SHARE;
            if (tolerance < TOLERANCE_LEAST)
                tolerance = TOLERANCE_LEAST;
            if (phrase_take(p, "+-"))
                ok = tolerance_read(p, &q, &tolerance);
            *low = q.value - tolerance;
            *high = q.value + tolerance;
        }
    }
    text_release(&q.text);
    text_release(&to.text);
    return ok;
}

bool phrase_number(struct phrase *p, double *value)
{
    const struct word *w = phrase_here(p);
    if (p->i == p->end) {
        diag(p->d, BAD_CLAIM, w->where, "a number is missing after `%.*s`", word_shown(w), w->at);
        return false;
    }
    if (quantity_read(w->at, w->n, DIM_NUMBER, p->units, value, NULL) != QUANTITY_OK || *value < 0) {
        diag(p->d, BAD_CLAIM, w->where, "`%.*s` is no number", word_shown(w), w->at);
        return false;
    }
    p->i++;
    return true;
}
