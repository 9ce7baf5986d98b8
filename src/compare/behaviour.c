/* What differs in one state of two models, of all that both have. */
#include "base/mem.h"
#include "compare/compare.h"
#include "faults/effect.h"
#include <math.h>
#include <string.h>

struct both {
    const struct compared *was, *now;
    uint32_t was_row, now_row;             /* of the two cases */
    const struct pressures *p_was, *p_now; /* both, or NULL both: by structure */
    struct arena *a;
    struct change_list changes;
};

/* Row in the old model of a part of the new one, NONE: it has none of this ID and kind. */
static uint32_t old_row(const struct both *b, enum part_kind kind, uint32_t i)
{
    const char *id = model_id(b->now->model, (struct part_ref){kind, i});
    struct part_ref ref = model_find(b->was->model, id, strlen(id));
    return ref.kind == kind ? ref.i : NONE;
}

static void compare_gear(struct both *b)
{
    const struct trace_case *was = &b->was->trace->cases[b->was_row], *now = &b->now->trace->cases[b->now_row];
    const char *before = gear_answer_words(b->was->model, counts_gear(was, b->p_was), b->a);
    const char *after = gear_answer_words(b->now->model, counts_gear(now, b->p_now), b->a);
    if (strcmp(before, after) != 0)
        change_list_add(&b->changes, CHANGE_GEAR, PART_NONE, NONE, before, after);
}

static void compare_devices(struct both *b)
{
    const struct trace_case *was = &b->was->trace->cases[b->was_row], *now = &b->now->trace->cases[b->now_row];
    const struct model *m = b->now->model;
    for (uint32_t i = 0; i < m->n_actuators; i++) {
        uint32_t old = old_row(b, PART_ACTUATOR, i);
        if (old == NONE)
            continue;
        const char *before = counts_device_word(was, b->p_was, old), *after = counts_device_word(now, b->p_now, i);
        if (strcmp(before, after) != 0)
            change_list_add(&b->changes, CHANGE_ACTUATOR, PART_ACTUATOR, i, before, after);
    }
    for (uint32_t i = 0; i < m->n_valves; i++) {
        uint32_t old = old_row(b, PART_VALVE, i);
        enum valve_kind kind = m->valves[i].kind;
        if (old == NONE || b->was->model->valves[old].kind != kind || kind == VALVE_REGULATING || kind == VALVE_RELIEF)
            continue; /* structure gives these two no position */
        const char *before = counts_valve_word(b->was->trace, b->was_row, b->p_was, (valve_ix){old});
        const char *after = counts_valve_word(b->now->trace, b->now_row, b->p_now, (valve_ix){i});
        if (strcmp(before, after) != 0)
            change_list_add(&b->changes, CHANGE_VALVE, PART_VALVE, i, before, after);
    }
}

static void compare_limits(struct both *b)
{
    for (uint32_t i = 0; i < b->now->model->n_circuits; i++) {
        const struct circuit *now = &b->now->model->circuits[i];
        uint32_t old = old_row(b, PART_CIRCUIT, i);
        if (old == NONE || now->limited_by.i == NONE || b->was->model->circuits[old].limited_by.i == NONE)
            continue;
        enum limit_answer before = limit_answer(b->was->trace, b->was_row, &b->was->model->circuits[old]);
        enum limit_answer after = limit_answer(b->now->trace, b->now_row, now);
        if (before != after)
            change_list_add(&b->changes, CHANGE_LIMIT, PART_CIRCUIT, i, limit_answer_words[before],
                            limit_answer_words[after])
                ->limiting = now->limited_by;
    }
}

static void compare_pressures(struct both *b)
{
    const struct model *m = b->now->model, *m_was = b->was->model;
    size_t first = b->changes.n;
    for (uint32_t i = 0; i < m->n_taps; i++) {
        uint32_t old = old_row(b, PART_TAP, i);
        if (old != NONE)
            pressure_change_add(&b->changes, m, PART_TAP, i, b->p_was->pressure[m_was->taps[old].on.i],
                                b->p_now->pressure[m->taps[i].on.i], b->a);
    }
    for (uint32_t i = 0; i < m->n_actuators; i++) {
        uint32_t old = old_row(b, PART_ACTUATOR, i);
        if (old == NONE)
            continue;
        double was = b->p_was->pressure[m_was->actuators[old].apply.i],
               now = b->p_now->pressure[m->actuators[i].apply.i];
        if (!tap_tells(&b->changes, first, m, was, now, b->a))
            pressure_change_add(&b->changes, m, PART_ACTUATOR, i, was, now, b->a);
    }
}

static void compare_rates(struct both *b)
{
    static const char old_words[] = "as in the old model";
    for (uint32_t i = 0; i < b->now->model->n_actuators; i++) {
        uint32_t old = old_row(b, PART_ACTUATOR, i);
        if (old == NONE)
            continue;
        rate_change_add(&b->changes, CHANGE_FILL, i, b->p_was->fill[old], b->p_now->fill[i], old_words, b->a);
        rate_change_add(&b->changes, CHANGE_DRAIN, i, b->p_was->drain[old], b->p_now->drain[i], old_words, b->a);
    }
}

static void compare_oil(struct both *b)
{
    static const char *const reach_words[] = {[CERTAIN_NO] = "no", [CERTAIN_MAY] = "may", [CERTAIN_YES] = "sure"};
    const struct model *was = b->was->model, *now = b->now->model;
    uint32_t *passages = mem_alloc(((size_t)now->n_passages + 1) * sizeof *passages);
    uint32_t *feeds = mem_alloc(((size_t)now->n_feeds + 1) * sizeof *feeds);
    for (uint32_t p = SUMP.i + 1; p < now->n_passages; p++)
        passages[p] = old_row(b, PART_PASSAGE, p);
    for (uint32_t f = 0; f < now->n_feeds; f++)
        feeds[f] = model_feed(was, now->feeds[f].part.id, strlen(now->feeds[f].part.id)).i;
    for (uint32_t p = SUMP.i + 1; p < now->n_passages; p++)
        for (uint32_t f = 0; passages[p] != NONE && f < now->n_feeds; f++) {
            if (feeds[f] == NONE)
                continue;
            enum certainty before =
                trace_reach(b->was->trace, b->was_row, (feed_ix){feeds[f]}, (passage_ix){passages[p]});
            enum certainty after = trace_reach(b->now->trace, b->now_row, (feed_ix){f}, (passage_ix){p});
            if (before != after)
                change_list_add(&b->changes, CHANGE_REACH, PART_PASSAGE, p, reach_words[before], reach_words[after])
                    ->feed.i = f;
        }
    for (uint32_t p = SUMP.i + 1; p < now->n_passages; p++) {
        if (passages[p] == NONE)
            continue;
        enum condition before = trace_condition(b->was->trace, b->was_row, (passage_ix){passages[p]});
        enum condition after = trace_condition(b->now->trace, b->now_row, (passage_ix){p});
        if (before != after)
            change_list_add(&b->changes, CHANGE_CONDITION, PART_PASSAGE, p, condition_word(before),
                            condition_word(after));
    }
    mem_free(passages);
    mem_free(feeds);
}

state_ix behaviour_state(const struct compared *was, const struct compared *now, state_ix s)
{
    const char *id = now->model->states[s.i].part.id;
    return model_state(was->model, id, strlen(id));
}

void behaviour_compare(const struct compared *was, const struct compared *now, state_ix s, struct arena *a,
                       struct effect *out)
{
    state_ix old = behaviour_state(was, now, s);
    struct both b = {.was = was,
                     .now = now,
                     .was_row = trace_case(was->trace, 0, old),
                     .now_row = trace_case(now->trace, 0, s),
                     .a = a};
    b.p_was = pressed_state(was->pressed, old.i);
    b.p_now = pressed_state(now->pressed, s.i);
    if (!b.p_was || !b.p_now)
        b.p_was = b.p_now = NULL;
    bool settled_was = was->trace->cases[b.was_row].settled, settled_now = now->trace->cases[b.now_row].settled;
    if (settled_was != settled_now)
        change_list_add(&b.changes, CHANGE_SETTLED, PART_NONE, NONE, settled_was ? "settled" : "not settled",
                        settled_now ? "settled" : "not settled");
    if (settled_was && settled_now) {
        compare_gear(&b);
        compare_devices(&b);
        compare_limits(&b);
        if (b.p_now) {
            compare_pressures(&b);
            compare_rates(&b);
        }
        compare_oil(&b);
    }
    change_list_take(&b.changes, a, out);
}
