/* Words for what a sweep finds: a change's two values, ranks, news. */
#include "faults/effect.h"
#include "faults/sweep.h"
#include <string.h>

static const char *value_word(const struct network *n, const struct sweep_change *c, uint32_t value, double figure,
                              struct arena *a)
{
    static const char *const reach_words[] = {[CERTAIN_NO] = "no", [CERTAIN_MAY] = "may", [CERTAIN_YES] = "sure"};
    const struct model *m = n->model;
    switch ((enum change_what)c->what) {
    case CHANGE_SETTLED:
        return value ? "settled" : "not settled";
    case CHANGE_GEAR:
        return gear_word(m, value);
    case CHANGE_ACTUATOR:
        return value & SWEEP_PRESSED ? device_word((enum device)(value - SWEEP_PRESSED))
                                     : applied_word((enum applied)value);
    case CHANGE_VALVE:
        if (m->valves[c->subject].kind == VALVE_MANUAL)
            return m->valves[c->subject].positions[value].name;
        if (value == SWEEP_MIXED)
            return "undetermined";
        if (value & SWEEP_PRESSED)
            return position_word((enum valve_position)(value - SWEEP_PRESSED));
        if (m->valves[c->subject].kind == VALVE_SPOOL)
            return value == MAY_REST ? "rest" : "stroked";
        return value == MAY_WIDE ? "wide" : value == MAY_LIMIT ? "limiting" : "shut";
    case CHANGE_LIMIT:
        return limit_answer_words[value];
    case CHANGE_CROSS_LEAK:
        return value ? "leaking" : "tight";
    case CHANGE_CONDITION:
        return value == SWEEP_MIXED ? "mixed" : condition_word((enum condition)value);
    case CHANGE_REACH:
        return value == SWEEP_MIXED ? "mixed" : reach_words[value];
    case CHANGE_SOLVED:
        return value ? "solved" : "not solved";
    case CHANGE_PRESSURE:
        return pressure_words(m, figure, a);
    case CHANGE_FILL:
    case CHANGE_DRAIN:
        return figure == 1 ? "healthy" : rate_words(figure, a); /* no change is by a factor of 1 */
    case CHANGE_DAMPING:
        break; /* told by its hole */
    }
    return "";
}

const char *sweep_was(const struct network *n, const struct sweep_change *c, struct arena *a)
{
    return c->what == CHANGE_DAMPING ? n->model->holes[c->of].part.id : value_word(n, c, c->was, c->was_value, a);
}

const char *sweep_now(const struct network *n, const struct sweep_change *c, struct arena *a)
{
    return c->what == CHANGE_DAMPING ? "damping lost" : value_word(n, c, c->now, c->now_value, a);
}

static const char *const rank_ids[] = {
    [SWEEP_TIE_UP] = "tie-up",
    [SWEEP_NO_DRIVE] = "no-drive",
    [SWEEP_DRIVES_UNASKED] = "drives-unasked",
    [SWEEP_WRONG_GEAR] = "wrong-gear",
    [SWEEP_SLIP] = "slip",
    [SWEEP_DRAG] = "drag",
    [SWEEP_GEAR_UNSURE] = "gear-unsure",
    [SWEEP_NO_ANSWER] = "no-answer",
    [SWEEP_DEVICE] = "device",
    [SWEEP_OVER_LIMIT] = "over-limit",
    [SWEEP_VALVE] = "valve",
    [SWEEP_PRESSURE] = "pressure",
    [SWEEP_RATE] = "rate",
    [SWEEP_CIRCUIT] = "circuit",
    [SWEEP_CROSS_LEAK] = "cross-leak",
    [SWEEP_NOTHING] = "nothing",
};
static const char *const news_ids[] = {[SWEEP_WORSE] = "worse", [SWEEP_OTHER] = "other", [SWEEP_MILDER] = "milder"};

const char *sweep_rank_id(enum sweep_rank rank)
{
    return rank_ids[rank];
}

enum sweep_rank sweep_rank_find(const char *id)
{
    int i = 0;
    while (i < N_SWEEP_RANKS && strcmp(rank_ids[i], id) != 0)
        i++;
    return (enum sweep_rank)i;
}

const char *sweep_news_id(enum sweep_news news)
{
    return news_ids[news];
}

enum sweep_news sweep_news_find(const char *id)
{
    int i = 0;
    while (i < N_SWEEP_NEWS && strcmp(news_ids[i], id) != 0)
        i++;
    return (enum sweep_news)i;
}
