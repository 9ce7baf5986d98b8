/* What a fault changes: one state healthy, the same state faulty, and their difference. */
#include "faults/effect.h"
#include "base/mem.h"
#include <string.h>

struct comparing {
    const struct trace *healthy, *faulty;
    const struct model *model;
    const struct edits *edits;
    uint32_t was, now; /* rows of the two cases */
    struct arena *arena;
    struct change *rows;
    size_t n, cap;
};

static struct change *change_add(struct comparing *c, enum change_what what, enum part_kind kind, uint32_t i,
                                 const char *was, const char *now)
{
    MEM_GROW(c->rows, c->n, c->cap);
    struct change *row = &c->rows[c->n++];
    *row =
        (struct change){.what = what, .subject = {kind, i}, .feed = {NONE}, .limiting = {NONE}, .was = was, .now = now};
    return row;
}

/* ---- gear, devices, valves */

static bool same_gear(const struct gear_answer *a, const struct gear_answer *b)
{
    if (a->gear != b->gear)
        return false;
    if (a->gear != GEAR_ANSWER_UNSURE)
        return true;
    return a->n_possible == b->n_possible && memcmp(a->possible, b->possible, a->n_possible * sizeof *a->possible) == 0;
}

/* "second", or "unsure (second or none)". */
static const char *gear_words(struct comparing *c, const struct gear_answer *g)
{
    const char *word = gear_word(c->model, g->gear);
    if (g->gear != GEAR_ANSWER_UNSURE || !g->n_possible)
        return word;
    struct text t = {0};
    text_addf(&t, "%s (", word);
    for (uint32_t i = 0; i < g->n_possible; i++)
        text_addf(&t, "%s%s", i ? " or " : "", gear_word(c->model, g->possible[i]));
    text_add(&t, ")");
    word = arena_text(c->arena, text_string(&t), t.n);
    text_release(&t);
    return word;
}

static void compare_devices(struct comparing *c)
{
    const struct trace_case *was = &c->healthy->cases[c->was], *now = &c->faulty->cases[c->now];
    if (!same_gear(&was->gear, &now->gear))
        change_add(c, CHANGE_GEAR, PART_NONE, NONE, gear_words(c, &was->gear), gear_words(c, &now->gear));
    for (uint32_t i = 0; i < c->model->n_actuators; i++)
        if (was->applied[i] != now->applied[i])
            change_add(c, CHANGE_ACTUATOR, PART_ACTUATOR, i, applied_word(was->applied[i]),
                       applied_word(now->applied[i]));
    for (uint32_t i = 0; i < c->model->n_valves; i++) {
        enum valve_kind kind = c->model->valves[i].kind;
        if (kind == VALVE_REGULATING || kind == VALVE_RELIEF)
            continue; /* structure gives them no position */
        const char *before = trace_valve_word(c->healthy, c->was, (valve_ix){i});
        const char *after = trace_valve_word(c->faulty, c->now, (valve_ix){i});
        if (strcmp(before, after) != 0)
            change_add(c, CHANGE_VALVE, PART_VALVE, i, before, after);
    }
}

/* ---- limits */

const char *const limit_answer_words[] = {"held", "may exceed", "over"};

enum limit_answer limit_answer(const struct trace *t, uint32_t row, const struct circuit *circuit)
{
    uint32_t limit = t->network->mover_of[circuit->limited_by.i];
    const struct valve *v = &t->network->model->valves[circuit->limited_by.i];
    bool wide = trace_valve(t, row, circuit->limited_by) == MAY_WIDE;
    enum limit_answer worst = LIMIT_HELD;
    for (uint32_t i = 0; i < circuit->n_passages; i++) {
        enum certainty past = trace_past(t, row, limit, circuit->passages[i]);
        if (past == CERTAIN_NO)
            continue;
        if (wide && past == CERTAIN_YES)
            return LIMIT_OVER;
        if (!wide && v->exhaust != NONE && trace_past_is_weak(t, row, limit, circuit->passages[i]))
            continue; /* the valve's exhaust carries off what comes around it */
        worst = LIMIT_MAY_EXCEED;
    }
    return worst;
}

static void compare_limits(struct comparing *c)
{
    for (uint32_t i = 0; i < c->model->n_circuits; i++) {
        const struct circuit *circuit = &c->model->circuits[i];
        if (circuit->limited_by.i == NONE)
            continue;
        enum limit_answer was = limit_answer(c->healthy, c->was, circuit),
                          now = limit_answer(c->faulty, c->now, circuit);
        if (was != now)
            change_add(c, CHANGE_LIMIT, PART_CIRCUIT, i, limit_answer_words[was], limit_answer_words[now])->limiting =
                circuit->limited_by;
    }
}

/* ---- cross-leaks */

/* An edit that puts back the hole of a lost ball is no leak. */
static bool is_the_hole(const struct model *m, const struct edit *e)
{
    if (e->part.kind != PART_HOLE)
        return false;
    const struct hole *h = &m->holes[e->part.i];
    return (h->joins[0].i == e->from.i && h->joins[1].i == e->to.i) ||
           (h->joins[0].i == e->to.i && h->joins[1].i == e->from.i);
}

bool leak_is_active(const struct trace *t, uint32_t c, const struct edit *e, passage_ix *fed, passage_ix *other)
{
    const uint32_t *node_of = t->network->node_of;
    if (e->kind != EDIT_ADD || is_the_hole(t->network->model, e) || node_of[e->from.i] == node_of[e->to.i])
        return false;
    bool from_fed = trace_condition(t, c, e->from) == FED, to_fed = trace_condition(t, c, e->to) == FED;
    *fed = from_fed ? e->from : e->to;
    *other = from_fed ? e->to : e->from;
    return from_fed != to_fed && !(e->one_way && to_fed);
}

static void compare_leaks(struct comparing *c)
{
    passage_ix fed, other;
    for (uint32_t i = 0; i < c->edits->n; i++) {
        if (!leak_is_active(c->faulty, c->now, &c->edits->rows[i], &fed, &other))
            continue;
        passage_ix subject = other.i == SUMP.i ? fed : other;
        change_add(c, CHANGE_CROSS_LEAK, PART_PASSAGE, subject.i, "tight",
                   arena_format(c->arena, "%s leaks into %s", c->model->passages[fed.i].part.id,
                                c->model->passages[other.i].part.id));
    }
}

/* ---- passages */

static void compare_passages(struct comparing *c)
{
    static const char *const reach_words[] = {[CERTAIN_NO] = "no", [CERTAIN_MAY] = "may", [CERTAIN_YES] = "sure"};
    for (uint32_t p = SUMP.i + 1; p < c->model->n_passages; p++)
        for (uint32_t f = 0; f < c->model->n_feeds; f++) {
            enum certainty was = trace_reach(c->healthy, c->was, (feed_ix){f}, (passage_ix){p});
            enum certainty now = trace_reach(c->faulty, c->now, (feed_ix){f}, (passage_ix){p});
            if (was != now)
                change_add(c, CHANGE_REACH, PART_PASSAGE, p, reach_words[was], reach_words[now])->feed.i = f;
        }
    for (uint32_t p = SUMP.i + 1; p < c->model->n_passages; p++) {
        enum condition was = trace_condition(c->healthy, c->was, (passage_ix){p});
        enum condition now = trace_condition(c->faulty, c->now, (passage_ix){p});
        if (was != now)
            change_add(c, CHANGE_CONDITION, PART_PASSAGE, p, condition_word(was), condition_word(now));
    }
}

void effect_find(const struct trace *healthy, const struct trace *faulty, uint32_t row, struct arena *a,
                 struct effect *out)
{
    struct comparing c = {.healthy = healthy,
                          .faulty = faulty,
                          .model = faulty->network->model,
                          .edits = &faulty->sets[row / faulty->n_states],
                          .was = row % faulty->n_states,
                          .now = row,
                          .arena = a};
    bool was = healthy->cases[c.was].settled, now = faulty->cases[c.now].settled;
    if (was != now)
        change_add(&c, CHANGE_SETTLED, PART_NONE, NONE, was ? "settled" : "not settled",
                   now ? "settled" : "not settled");
    if (was && now) {
        compare_devices(&c);
        compare_limits(&c);
        compare_leaks(&c);
        compare_passages(&c);
    }
    out->n = (uint32_t)c.n;
    out->rows = arena_rows(a, c.n, sizeof *out->rows);
    if (c.n)
        memcpy(out->rows, c.rows, c.n * sizeof *c.rows);
    mem_free(c.rows);
}
