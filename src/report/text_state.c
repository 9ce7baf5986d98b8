/* Pieces that several text reports share. */
#include "report/text_state.h"
#include "base/escape.h"
#include "trace/trace.h"
#include <string.h>

void say_heading(struct text *t, const struct view *v, const struct answer *a)
{
    const struct model *m = a->model;
    say_painted(t, v, PAINT_HEAD, "%s", m->id);
    if (m->title)
        say(t, ": %s", m->title);
    text_add_char(t, '\n');
    if (a->fault) {
        struct text body = {0};
        say(&body, "%s", a->fault->words);
        say_folded(t, v, 0, 12, "With fault:", PAINT_BAD, text_string(&body));
        text_release(&body);
    }
}

/* Is a gear without devices, by its place in the chart: what a driver calls neutral. */
static bool is_neutral(const struct model *m, uint32_t gear)
{
    return gear < m->n_gears && !m->gears[gear].n_on;
}

const char *gear_road(uint32_t commanded, const struct gear_answer *gear, const struct model *m)
{
    if (commanded == NONE || gear->gear == commanded)
        return "";
    switch (gear->gear) {
    case GEAR_ANSWER_TIE_UP:
        return "Two devices fight each other: the unit binds up, wheels may lock, and linings burn.";
    case GEAR_ANSWER_NONE:
        return "What is on makes no gear of the chart: no drive, or slip and an odd ratio.";
    case GEAR_ANSWER_UNSURE:
        return "The gear cannot be told for sure: a device slips, a fight of flows or a valve whose position is open "
               "decides it.";
    default:
        if (is_neutral(m, gear->gear))
            return "The driver loses drive: the engine flares and the vehicle coasts.";
        return is_neutral(m, commanded) ? "The vehicle drives although no gear is asked for: it creeps or jumps away."
                                        : "The driver feels another gear than the one asked for.";
    }
}

void say_possible(struct text *t, const struct view *v, const struct model *m, const struct gear_answer *gear)
{
    struct text body = {0};
    for (uint32_t i = 0; i < gear->n_possible; i++)
        say(&body, "%s%s", i ? ", " : "", gear_word(m, gear->possible[i]));
    if (body.n)
        say_folded(t, v, 2, 4, "Possible:", PAINT_NONE, text_string(&body));
    text_release(&body);
}

void say_state(struct text *t, const struct view *v, const struct answer *a, state_ix s)
{
    const struct model *m = a->model;
    const struct trace_case *c = &a->shown->cases[trace_case(a->shown, 0, s)];
    const struct pressures *p = pressed_state(a->pressed, s.i);
    const struct gear_answer *is = counts_gear(c, p);
    const struct state *state = &m->states[s.i];
    const char *wanted = state->gear.i == NONE ? NULL : m->gears[state->gear.i].part.id;
    const char *got = gear_word(m, is->gear);
    struct text head = {0}, gear = {0};
    enum paint paint = PAINT_NONE;
    say(&head, "%s", state->part.id);
    if (state->part.title)
        say(&head, " (%s)", state->part.title);
    if (!c->settled) {
        say(&gear, "not settled%s%s", wanted ? ", commanded " : "", wanted ? wanted : "");
        paint = PAINT_BAD;
    } else if (!wanted) {
        if (m->n_gears)
            say(&gear, "gear %s", got);
    } else if (is->gear == state->gear.i) {
        say(&gear, "%s, as commanded", got);
        paint = PAINT_GOOD;
    } else {
        say(&gear, "%s instead of %s", got, wanted);
        paint = is->gear == GEAR_ANSWER_UNSURE ? PAINT_WARN : PAINT_BAD;
    }
    say_painted(t, v, PAINT_HEAD, "%s", text_string(&head));
    if (gear.n) {
        bool fits = escape_width(text_string(&head), head.n) + 2 + escape_width(text_string(&gear), gear.n) <= v->width;
        text_add(t, fits ? ": " : ":\n  ");
        say_painted(t, v, paint, "%s", text_string(&gear));
    }
    text_add_char(t, '\n');
    text_release(&head);
    text_release(&gear);
    if (!c->settled)
        say_folded(t, v, 2, 2, "", PAINT_NONE,
                   "No set of valve positions was found that holds, here or in a state that this one follows: there "
                   "is no answer.");
    else if (wanted && is->gear != state->gear.i)
        say_folded(t, v, 2, 2, "", PAINT_NONE, gear_road(state->gear.i, is, m));
    if (c->settled && pressed_failed(a->pressed, s.i))
        say_folded(t, v, 2, 2, "", PAINT_WARN,
                   "Its pressures could not be calculated: this is the answer by structure (see the findings).");
    if (c->settled && is->gear == GEAR_ANSWER_UNSURE)
        say_possible(t, v, m, is);
}

static void unsure_line(struct text *t, const struct view *v, const struct text *body)
{
    say_folded(t, v, 2, 12, "Unsure", PAINT_WARN, text_string(body));
}

static bool single(unsigned set)
{
    return !(set & (set - 1));
}

/* Why the valve or seat in row `at` of the positions may be in more than one. */
static const char *why(const struct trace_case *c, uint32_t at, bool locked, bool second_feed)
{
    if (c->restless[at] == 1)
        return "which of several valves moves first decides it";
    if (c->restless[at] == 2)
        return "it finds no rest and moves to and fro";
    if (locked)
        return "oil is locked in at its end";
    if (second_feed)
        return "its reaction end has a feed of its own";
    return "structure does not tell which way it is pushed";
}

void say_unsure(struct text *t, const struct view *v, const struct trace *trace, uint32_t row, bool solved)
{
    const struct network *n = trace->network;
    const struct model *m = n->model;
    const struct trace_case *c = &trace->cases[row];
    uint32_t n_doubtful = 0;
    for (uint32_t i = 0; i < n->n_spools + n->n_limits + n->n_seats; i++) {
        if (single(c->positions[i]) || (solved && (i >= n->n_spools || n->spools[i].sized)))
            continue;
        n_doubtful++;
        struct text body = {0};
        if (i < n->n_spools) {
            say(&body, "%s may be at rest or stroked: %s", m->valves[n->spools[i].valve.i].part.id,
                why(c, i, c->locked[m->n_actuators + i], false));
        } else if (i < n->n_spools + n->n_limits) {
            uint32_t l = i - n->n_spools;
            unsigned set = c->positions[i];
            say(&body, "%s may be", m->valves[n->limits[l].valve.i].part.id);
            static const char *const words[] = {"wide", "limiting", "shut"};
            for (unsigned k = 0, first = 1; k < 3; k++) {
                if (!(set & 1u << k))
                    continue;
                say(&body, "%s %s", first ? "" : " or", words[k]);
                first = 0;
            }
            say(&body, ": %s", why(c, i, false, c->second_feed[l]));
        } else {
            const struct seat *seat = &n->seats[i - n->n_spools - n->n_limits];
            say(&body, "ball %s may or may not shut %s: %s", m->balls[seat->ball.i].part.id,
                element_id(n, &n->elements[seat->element.i]), why(c, i, false, false));
        }
        unsure_line(t, v, &body);
        text_release(&body);
    }
    if (n_doubtful > DOUBTFUL_MAX) {
        struct text body = {0};
        text_addf(&body,
                  "more than %u valves and seats are in doubt at once, so all that they could touch is called unsure",
                  DOUBTFUL_MAX);
        unsure_line(t, v, &body);
        text_release(&body);
    }
    for (uint32_t i = 0; i < m->n_actuators; i++) {
        if (!c->locked[i] || (!solved && c->applied[i] != APPLY_UNSURE))
            continue;
        struct text body = {0};
        say(&body, "%s: its oil is locked in, so it may stay on", m->actuators[i].part.id);
        unsure_line(t, v, &body);
        text_release(&body);
    }
}

uint32_t states_with_wrong_gear(const struct answer *a)
{
    uint32_t n = 0;
    for (uint32_t i = 0; i < a->n_states; i++) {
        const struct trace_case *c = &a->shown->cases[trace_case(a->shown, 0, a->states[i])];
        const struct trace_case *h = &a->healthy->cases[a->states[i].i];
        const struct pressed healthy = {a->pressed ? a->pressed->healthy : NULL, NULL};
        uint32_t now = counts_gear(c, pressed_state(a->pressed, a->states[i].i))->gear;
        uint32_t was = counts_gear(h, a->pressed ? pressed_state(&healthy, a->states[i].i) : NULL)->gear;
        gear_ix wanted = a->model->states[a->states[i].i].gear;
        if (!c->settled)
            n += h->settled;
        else if (wanted.i != NONE)
            n += now != wanted.i;
        else
            n += !h->settled || now != was;
    }
    return n;
}
