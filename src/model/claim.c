/* The grammar of claims. A word that does not belong is reported at its own place, and reading goes on behind the next
 * `and`. What a bad entry of the model left open (a valve whose positions could not be read) is no second error here.
 */
#include "model/claim.h"
#include "model/claim_words.h"
#include "model/names.h"
#include "model/read.h"
#include "model/valves.h"
#include <string.h>

static const char *const condition_words[] = {[CLAIM_FED] = "fed",           [CLAIM_EXHAUSTED] = "exhausted",
                                              [CLAIM_PARTIAL] = "partial",   [CLAIM_TRAPPED] = "trapped",
                                              [CLAIM_APPLIED] = "applied",   [CLAIM_RELEASED] = "released",
                                              [CLAIM_SLIPPING] = "slipping", NULL};
#define CLAIM_OF_DEVICES                                                                                               \
    CLAIM_APPLIED /* this one and those behind it are said of actuators, the others of passages                        \
                   */

static const struct {
    const char *word;
    enum claim_position position;
    unsigned kinds; /* valves that take it: 1 << enum valve_kind */
} positions[] = {
    {"rest", CLAIM_REST, 1u << VALVE_SPOOL},
    {"stroked", CLAIM_STROKED, 1u << VALVE_SPOOL},
    {"part-way", CLAIM_PART_WAY, 1u << VALVE_SPOOL},
    {"wide", CLAIM_WIDE, 1u << VALVE_LIMITING},
    {"limiting", CLAIM_LIMITING, 1u << VALVE_LIMITING},
    {"shut", CLAIM_SHUT, 1u << VALVE_LIMITING | 1u << VALVE_REGULATING | 1u << VALVE_RELIEF},
    {"open", CLAIM_OPEN, 1u << VALVE_REGULATING | 1u << VALVE_RELIEF},
};

/* ---- what is said about wrong words */

static const char *article(const char *word)
{
    return strchr("aeiou", word[0]) ? "an" : "a";
}

/* Says that the next word is none of `words`, or that none is left. */
static bool wrong_word(const struct phrase *p, const char *subject, const char *const *words)
{
    const struct word *w = phrase_here(p);
    struct text list = {0}, word = {0};
    for (size_t i = 0; words[i]; i++)
        text_addf(&list, "%s`%s`", i ? ", " : "", words[i]);
    if (p->i == p->end) {
        diag(p->d, BAD_CLAIM, w->where, "the claim about %s ends too early", subject);
    } else {
        diag(p->d, BAD_CLAIM, w->where, "`%.*s` cannot be said of %s", word_shown(w), w->at, subject);
        size_t n = 0;
        while (words[n])
            n++;
        text_add_bytes(&word, w->at, w->n);
        const char *near = near_wanted(p->d) ? text_nearest(text_string(&word), words, n) : NULL;
        if (near) {
            text_clear(&list);
            text_addf(&list, "did you mean `%s`?", near);
        }
    }
    if (list.n)
        diag_help(p->d, "%s%s", list.at[0] == '`' ? "one of: " : "", text_string(&list));
    text_release(&list);
    text_release(&word);
    return false;
}

/* Steps over `word`, or says that it is missing. */
static bool need(struct phrase *p, const char *word)
{
    if (phrase_take(p, word))
        return true;
    const struct word *w = phrase_here(p);
    if (p->i == p->end)
        diag(p->d, BAD_CLAIM, w->where, "`%s` is missing after `%.*s`", word, word_shown(w), w->at);
    else
        diag(p->d, BAD_CLAIM, w->where, "`%s` is needed here, not `%.*s`", word, word_shown(w), w->at);
    return false;
}

/* Steps over a name that the caller looks up, or says that it is missing. */
static const struct word *take_name(struct phrase *p, const char *wanted)
{
    const struct word *w = phrase_here(p);
    if (p->i == p->end) {
        diag(p->d, BAD_CLAIM, w->where, "the name of %s %s is missing after `%.*s`", article(wanted), wanted,
             word_shown(w), w->at);
        return NULL;
    }
    p->i++;
    return w;
}

static void unknown(const struct phrase *p, const struct word *w, const char *wanted, enum space space,
                    enum name_kind kind)
{
    if (p->r) {
        struct text word = {0};
        text_add_bytes(&word, w->at, w->n);
        struct node node = {
            .kind = NODE_SCALAR, .where = w->where, .text = text_string(&word), .n_text = (uint32_t)word.n};
        say_unknown(p->r, &node, "a claim", wanted);
        text_release(&word);
    } else {
        diag(p->d, UNKNOWN_NAME, w->where, "there is no %s `%.*s`", wanted, word_shown(w), w->at);
    }
    if (!near_wanted(p->d) || p->d->rows[p->d->n - 1].code == STILL_USED) /* which has its own help */
        return;
    struct text id = {0};
    text_add_bytes(&id, w->at, w->n);
    const char *near = names_nearest(p->m, space, kind, text_string(&id));
    if (near)
        diag_help(p->d, "did you mean `%s`?", near);
    text_release(&id);
}

/* The row of a name in one of the namespaces of their own, or NONE. */
static uint32_t row_of(const struct phrase *p, const struct word *w, enum space space, enum name_kind kind)
{
    struct name name = names_find(p->m, space, w->at, w->n);
    if (name.kind == kind)
        return name.row;
    unknown(p, w, name_kind_word(kind), space, kind);
    return NONE;
}

/* ---- the kinds of claim */

static bool starts_pressure(const struct phrase *p)
{
    return p->i < p->end && (strchr("+-.0123456789", p->rows[p->i].at[0]) || phrase_is(p, "below") ||
                             phrase_is(p, "above") || phrase_is(p, "about"));
}

/* What is said of a passage, tap, circuit or actuator. */
static bool read_condition(struct phrase *p, struct claim *c, const char *subject)
{
    static const char *const passage_words[] = {"fed",   "exhausted", "partial",    "trapped", "below",
                                                "above", "about",     "reached by", NULL};
    static const char *const device_words[] = {"applied", "released", "slipping", "fills",      "drains",
                                               "below",   "above",    "about",    "reached by", NULL};
    bool device = c->subject.kind == PART_ACTUATOR;
    for (unsigned i = 0; condition_words[i]; i++) {
        if (!phrase_is(p, condition_words[i]) || (i >= CLAIM_OF_DEVICES) != device)
            continue;
        p->i++;
        c->what = CLAIM_CONDITION;
        c->condition = (enum claim_condition)i;
        return !starts_pressure(p) || phrase_pressure(p, &c->pressure, &c->low, &c->high);
    }
    if (phrase_take(p, "reached")) {
        c->what = CLAIM_REACHED_BY;
        const struct word *w = need(p, "by") ? take_name(p, "feed") : NULL;
        c->feed.i = w ? row_of(p, w, SPACE_FEEDS, NAME_FEED) : NONE;
        return c->feed.i != NONE;
    }
    if (device && (phrase_is(p, "fills") || phrase_is(p, "drains"))) {
        c->what = CLAIM_RATE;
        c->fills = phrase_is(p, "fills");
        p->i++;
        c->above = phrase_take(p, "above");
        return (c->above || need(p, "below")) && phrase_number(p, &c->times) && need(p, "x") && need(p, "healthy");
    }
    c->what = CLAIM_PRESSURE;
    if (starts_pressure(p))
        return phrase_pressure(p, &c->pressure, &c->low, &c->high);
    return wrong_word(p, subject, device ? device_words : passage_words);
}

static bool read_detent(struct phrase *p, struct claim *c, const struct valve *v, const char *subject)
{
    c->position = CLAIM_DETENT;
    for (uint32_t i = 0; i < v->n_positions; i++)
        if (v->positions[i].name && phrase_is(p, v->positions[i].name)) {
            p->i++;
            c->detent = i;
            return true;
        }
    const char **words = arena_rows(p->a, v->n_positions + 1, sizeof *words);
    uint32_t n = 0;
    for (uint32_t i = 0; i < v->n_positions; i++)
        if (v->positions[i].name)
            words[n++] = v->positions[i].name;
    return wrong_word(p, subject, words);
}

static bool read_position(struct phrase *p, struct claim *c, const char *subject)
{
    const struct valve *v = &p->m->valves[c->subject.i];
    c->what = CLAIM_POSITION;
    if (v->kind == VALVE_UNREAD || (v->kind == VALVE_MANUAL && !v->n_positions)) {
        p->i = p->end;
        return true;
    }
    if (v->kind == VALVE_MANUAL)
        return read_detent(p, c, v, subject);
    const char *words[N_OF(positions) + 1];
    size_t n = 0;
    for (size_t i = 0; i < N_OF(positions); i++) {
        if (!(positions[i].kinds >> v->kind & 1))
            continue;
        if (phrase_take(p, positions[i].word)) {
            c->position = positions[i].position;
            return true;
        }
        words[n++] = positions[i].word;
    }
    words[n] = NULL;
    return wrong_word(p, subject, words);
}

static bool read_gear(struct phrase *p, struct claim *c)
{
    c->what = CLAIM_GEAR;
    if (phrase_take(p, "none")) {
        c->gear = GEAR_NONE;
        return true;
    }
    if (phrase_take(p, "tie-up")) {
        c->gear = GEAR_TIE_UP;
        return true;
    }
    const struct word *w = take_name(p, "gear");
    c->gear = w ? row_of(p, w, SPACE_GEARS, NAME_GEAR) : NONE;
    return w && c->gear != NONE;
}

/* The part that a name stands for; kind PART_NONE when it is none, which is said. */
static struct part_ref take_part(struct phrase *p, const char *wanted)
{
    const struct word *w = take_name(p, wanted);
    if (!w)
        return (struct part_ref){PART_NONE, NONE};
    struct part_ref ref = model_find(p->m, w->at, w->n);
    if (ref.kind == PART_NONE)
        unknown(p, w, wanted, SPACE_PARTS, NAME_NONE);
    return ref;
}

/* Says that the word before the next one names a part of a kind that does not fit. */
static bool wrong_kind(const struct phrase *p, struct part_ref ref, const char *instead)
{
    const struct word *w = &p->rows[p->i - 1];
    const char *word = part_kind_word(ref.kind);
    diag(p->d, WRONG_KIND, w->where, "`%.*s` is %s %s, not %s", word_shown(w), w->at, article(word), word, instead);
    diag_second(p->d, model_where(p->m, ref), "defined here");
    return false;
}

static bool read_air(struct phrase *p, struct claim *c)
{
    c->what = CLAIM_AIR;
    if (!need(p, "at"))
        return false;
    struct part_ref at = take_part(p, "passage");
    if (at.kind == PART_NONE)
        return false;
    if (at.kind != PART_PASSAGE)
        return wrong_kind(p, at, "a passage");
    c->air_at.i = at.i;
    if (!need(p, "leaves") || !need(p, "at"))
        return false;
    uint32_t commas = 0;
    for (uint32_t i = p->i; i < p->end; i++)
        commas += p->rows[i].n == 1 && p->rows[i].at[0] == ',';
    c->leaves_at = arena_rows(p->a, commas + 1, sizeof *c->leaves_at);
    bool ok = true;
    do {
        struct part_ref ref = take_part(p, "element");
        ok = ok && ref.kind != PART_NONE;
        if (ref.kind == PART_PASSAGE || ref.kind == PART_CIRCUIT || ref.kind == PART_TAP || ref.kind == PART_SWITCH)
            ok = wrong_kind(p, ref, "an element that air can leave at");
        c->leaves_at[c->n_leaves++] = ref;
    } while (phrase_take(p, ","));
    return ok;
}

static bool read_subject(struct phrase *p, struct claim *c)
{
    c->some = phrase_take(p, "some");
    struct part_ref ref = take_part(p, c->some ? "circuit" : "part");
    c->subject = ref;
    if (ref.kind == PART_NONE)
        return false;
    if (c->some && ref.kind != PART_CIRCUIT)
        return wrong_kind(p, ref, "a circuit, of which there could be some");
    const struct word *w = &p->rows[p->i - 1];
    struct text subject = {0};
    text_addf(&subject, "%s %.*s", part_kind_word(ref.kind), word_shown(w), w->at);
    bool ok = false;
    switch (ref.kind) {
    case PART_PASSAGE:
    case PART_TAP:
    case PART_ACTUATOR:
    case PART_CIRCUIT:
        ok = read_condition(p, c, text_string(&subject));
        break;
    case PART_VALVE:
        ok = read_position(p, c, text_string(&subject));
        break;
    case PART_SWITCH:
        c->what = CLAIM_SWITCH;
        c->closed = phrase_take(p, "closed");
        ok = c->closed || phrase_take(p, "open") ||
             wrong_word(p, text_string(&subject), (const char *const[]){"closed", "open", NULL});
        break;
    case PART_NONE:
    case PART_JOINT:
    case PART_HOLE:
    case PART_BALL:
    case PART_SOLENOID:
        ok = wrong_kind(p, ref, "something that has a condition");
        break;
    }
    text_release(&subject);
    return ok;
}

/* One claim, from `not` to its last word. */
static bool read_claim(struct phrase *p, struct claim *c)
{
    c->negated = phrase_take(p, "not");
    c->detent = c->feed.i = c->air_at.i = NONE;
    bool ok;
    if (p->i == p->end) {
        diag(p->d, BAD_CLAIM, phrase_here(p)->where, "nothing is claimed after `not`");
        return false;
    }
    if (c->negated && phrase_is(p, "not")) {
        diag(p->d, BAD_CLAIM, phrase_here(p)->where, "`not` stands twice");
        return false;
    }
    if (phrase_take(p, "gear"))
        ok = read_gear(p, c);
    else if (phrase_take(p, "air"))
        ok = read_air(p, c);
    else
        ok = read_subject(p, c);
    if (ok && p->i < p->end) {
        const struct word *w = phrase_here(p);
        diag(p->d, BAD_CLAIM, w->where, "`%.*s` is more than the claim can hold", word_shown(w), w->at);
        diag_help(p->d, "two claims are joined by `and`, each with its own subject");
        return false;
    }
    return ok;
}

/* ---- lines */

static bool word_is(const struct word *w, const char *text)
{
    return w->n == strlen(text) && !memcmp(w->at, text, w->n);
}

/* All claims in the words from `from` on; `whole` is the place of the line. */
static bool read_claims(struct phrase p, const struct words *ws, uint32_t from, struct span whole, struct claims *out)
{
    uint32_t n = 1;
    for (uint32_t i = from; i < ws->n; i++)
        n += word_is(&ws->rows[i], "and");
    out->rows = arena_rows(p.a, n, sizeof *out->rows);
    if (from == ws->n) {
        diag(p.d, BAD_CLAIM, whole, "nothing is claimed");
        return false;
    }
    bool ok = true;
    for (p.rows = ws->rows, p.i = from; out->n_rows < n; p.i = p.end + 1) {
        for (p.end = p.i; p.end < ws->n && !word_is(&ws->rows[p.end], "and"); p.end++)
            ;
        struct claim *c = &out->rows[out->n_rows++];
        if (p.i < p.end) {
            ok = read_claim(&p, c) && ok;
        } else {
            diag(p.d, BAD_CLAIM, ws->rows[p.end < ws->n ? p.end : ws->n - 1].where, "a claim is missing %s `and`",
                 p.end < ws->n ? "before" : "after");
            ok = false;
        }
    }
    return ok;
}

static bool read_line(struct phrase p, struct claim_text line, struct claims *out)
{
    *out = (struct claims){.where = line.where, .state.i = NONE, .text = arena_text(p.a, line.at, line.n)};
    const char *colon = memchr(line.at, ':', line.n);
    struct words ws = {0};
    words_add(&ws, (struct claim_text){line.at, colon ? (size_t)(colon - line.at) : line.n, line.where});
    uint32_t n_before = ws.n;
    bool ok = false;
    if (!colon || n_before != 1) {
        diag(p.d, BAD_CLAIM, ws.n ? ws.rows[0].where : line.where,
             colon ? "one state must stand before the colon" : "the state is missing: a claim is `STATE: what`");
        diag_help(p.d, "write `drive_2: second applied`; `any:` means that one state will do, `every:` all of them");
        goto end;
    }
    struct word w = ws.rows[0];
    ok = true;
    if (word_is(&w, "any")) {
        out->in = IN_ANY;
    } else if (word_is(&w, "every")) {
        out->in = IN_EVERY;
    } else {
        out->in = IN_STATE;
        out->state.i = row_of(&p, &w, SPACE_STATES, NAME_STATE);
        ok = out->state.i != NONE;
    }
    struct span behind = line.where;
    for (const char *s = line.at; s <= colon; s++)
        if (behind.line && ((unsigned char)*s & 0xC0) != 0x80 && behind.column < UINT16_MAX)
            behind.column++;
    words_add(&ws, (struct claim_text){colon + 1, line.n - (size_t)(colon + 1 - line.at), behind});
    ok = read_claims(p, &ws, n_before, line.where, out) && ok;
end:
    words_release(&ws);
    return ok;
}

bool claims_read(const char *line, size_t n, struct span where, const struct model *m, struct arena *a,
                 struct claims *out, struct diags *d)
{
    return read_line((struct phrase){.units = &m->units, .m = m, .a = a, .d = d}, (struct claim_text){line, n, where},
                     out);
}

static struct phrase phrase_of(struct reader *r, struct span where)
{
    return (struct phrase){.units = &r->units[where.file], .m = r->m, .a = r->arena, .d = r->d, .r = r};
}

bool claims_read_line(struct reader *r, struct claim_text line, struct claims *out)
{
    return read_line(phrase_of(r, line.where), line, out);
}

bool claims_read_expect(struct reader *r, struct claim_text subject, struct claim_text text, state_ix state,
                        struct claims *out)
{
    struct phrase p = phrase_of(r, text.where);
    struct words ws = {0};
    words_add(&ws, subject);
    uint32_t n_subject = ws.n;
    words_add(&ws, text);
    bool negated = n_subject < ws.n && word_is(&ws.rows[n_subject], "not");
    if (negated) { /* "SUBJECT not text" is the claim "not SUBJECT text" */
        struct word not_word = ws.rows[n_subject];
        memmove(ws.rows + 1, ws.rows, n_subject * sizeof *ws.rows);
        ws.rows[0] = not_word;
        text.n -= (size_t)(not_word.at + not_word.n - text.at);
        text.at = not_word.at + not_word.n;
        while (text.n && strchr(" \t\r\n", *text.at))
            text.at++, text.n--;
    }
    const char *id = r->m->states[state.i].part.id;
    *out = (struct claims){.in = IN_STATE, .state = state, .where = subject.where};
    out->text = arena_format(r->arena, "%s: %s%.*s %.*s", id ? id : "", negated ? "not " : "", (int)subject.n,
                             subject.at, (int)text.n, text.at);
    bool ok;
    if (ws.n == n_subject + negated) {
        diag(r->d, BAD_CLAIM, text.where, "nothing is claimed of `%.*s`", (int)(subject.n < 60 ? subject.n : 60),
             subject.at);
        ok = false;
    } else {
        ok = read_claims(p, &ws, 0, subject.where, out);
    }
    words_release(&ws);
    return ok;
}
