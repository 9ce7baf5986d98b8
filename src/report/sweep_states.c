/* What a group of a sweep does, state by state, in words. */
#include "report/sweep_states.h"
#include "base/mem.h"
#include "faults/effect.h"
#include <math.h>
#include <string.h>

enum { LINE_COLUMN = 6, FIGURES_SHOWN = 5 };

/* ---- one state's changes, in words */

static const char *word(json_t *change, const char *key)
{
    const char *value = json_string_value(json_object_get(change, key));
    return value ? value : "";
}

static bool is(json_t *change, const char *key, const char *value)
{
    return !strcmp(word(change, key), value);
}

/* What is said of changes of one kind: "on: c1, c2". */
struct phrase {
    const char *what;
    const char *was; /* NULL: any */
    const char *now; /* NULL: any, and said behind the subject */
    const char *head;
};
static const struct phrase devices[] = {
    {"actuator", NULL, "applied", "on: "},
    {"actuator", NULL, "released", "off: "},
    {"actuator", NULL, "unsure", "on or off: "},
    {"actuator", "applied", "slipping", "slips: "},
    {"actuator", "released", "slipping", "drags: "},
    {"limit", NULL, "over", "no limit on: "},
    {"valve", NULL, NULL, ""},
};
static const struct phrase oil[] = {
    {"limit", NULL, "may exceed", "may exceed its limit: "},
    {"limit", NULL, "held", "held again: "},
    {"cross-leak", NULL, NULL, "leaks: "},
    {"condition", NULL, "fed", "fed: "},
    {"condition", NULL, "exhausted", "drained: "},
    {"condition", NULL, "trapped", "closed off: "},
    {"condition", NULL, "partial", "in a fight: "},
    {"condition", NULL, "unsure", "unsure: "},
    {"condition", NULL, "mixed", "changed in part: "},
};
#define N_ROWS(rows) (sizeof(rows) / sizeof *(rows))

static void phrase_add(struct text *t, const struct phrase *p, json_t *changes)
{
    size_t i, n = 0;
    json_t *c;
    json_array_foreach(changes, i, c)
    {
        if (!is(c, "what", p->what) || (p->was && !is(c, "was", p->was)) || (p->now && !is(c, "now", p->now)))
            continue;
        text_add(t, n++ ? ", " : t->n ? "; " : "");
        if (n == 1)
            text_add(t, p->head);
        if (is(c, "what", "cross-leak"))
            say(t, "%s into ", word(c, "from"));
        say(t, "%s", word(c, "subject"));
        if (is(c, "what", "valve"))
            say(t, " %s", word(c, "now"));
    }
}

/* Has the circuit a change of condition, which says more than which feed is gone? */
static bool is_told(json_t *changes, const char *circuit)
{
    size_t i;
    json_t *c;
    json_array_foreach(changes, i, c)
    {
        if (is(c, "what", "condition") && is(c, "subject", circuit))
            return true;
    }
    return false;
}

/* "line now in supply, reaction": the rows of one feed and answer stand apart only by their circuits. */
static void reach_add(struct text *t, json_t *changes)
{
    static const struct {
        const char *now, *words;
    } ways[] = {{"sure", "now in"}, {"may", "perhaps in"}, {"mixed", "in part changed in"}, {"no", "gone from"}};
    size_t n = json_array_size(changes);
    bool *done = mem_zero(n + 1, sizeof *done);
    for (size_t w = 0; w < N_ROWS(ways); w++)
        for (size_t i = 0; i < n; i++) {
            json_t *c = json_array_get(changes, i);
            size_t n_said = 0;
            for (size_t k = i; k < n && !done[i]; k++) {
                json_t *other = json_array_get(changes, k);
                if (done[k] || !is(other, "what", "reach") || !is(other, "now", ways[w].now) ||
                    !is(other, "feed", word(c, "feed")) || !is(c, "now", ways[w].now))
                    continue;
                done[k] = k > i;
                if (is(other, "now", "no") && is_told(changes, word(other, "subject")))
                    continue;
                if (!n_said++)
                    say(t, "%s%s %s ", t->n ? "; " : "", word(c, "feed"), ways[w].words);
                else
                    text_add(t, ", ");
                say(t, "%s", word(other, "subject"));
            }
            done[i] = done[i] || n_said;
        }
    mem_free(done);
}

static void gear_add(struct text *t, json_t *changes)
{
    size_t i;
    json_t *c;
    json_array_foreach(changes, i, c)
    {
        const char *now = is(c, "now", "none") ? "no gear" : is(c, "now", "unsure") ? "gear unsure" : word(c, "now");
        if (is(c, "what", "gear"))
            say(t, "%s instead of %s", now, word(c, "was"));
        if (is(c, "what", "settled"))
            say(t, "%s", is(c, "now", "settled") ? "settles" : "does not settle");
        if (is(c, "what", "solved"))
            say(t, is(c, "now", "solved") ? "pressures known (healthy: not)" : "its pressures could not be calculated");
    }
}

/* ---- figures: what gauges read and how fast devices fill and drain, over all states of a line */

struct figure {
    json_t *low, *high;         /* changes with the lowest and the highest of now */
    double lowest, highest;     /* Pa, or factor */
    json_t *was_low, *was_high; /* the same of the healthy unit */
    double was_lowest, was_highest;
};

static bool is_rate(json_t *c)
{
    return is(c, "what", "fill") || is(c, "what", "drain");
}

/* Which figures a group tells: of faults that cost a gear only a pressure that rises well above what it is, which may
 * hurt the unit. */
enum figures { FIGURES_RISES, FIGURES_ALL };
#define RISES_BY   1.25
#define RISES_FROM 1e5 /* Pa: a passage that has pressure when healthy */

static bool is_figure(json_t *c, enum figures which)
{
    double was = json_number_value(json_object_get(c, "was_pa"));
    if (is(c, "what", "pressure"))
        return which == FIGURES_ALL ||
               (was > RISES_FROM && json_number_value(json_object_get(c, "now_pa")) > RISES_BY * was);
    return which == FIGURES_ALL && (is(c, "what", "damping") || is_rate(c));
}

/* A closed end pushes with nothing. */
static double pascal(json_t *c, const char *key)
{
    return json_number_value(json_object_get(c, key));
}

/* How many times faster or slower; 0: not at all. */
static double factor(json_t *c)
{
    double ratio = json_number_value(json_object_get(c, "ratio"));
    return ratio >= 1 || ratio == 0 ? ratio : two_digits(1 / ratio);
}

static const char *direction(json_t *c)
{
    double ratio = json_number_value(json_object_get(c, "ratio"));
    return !is_rate(c)     ? ""
           : ratio > 1     ? "faster"
           : ratio > 0.001 ? "slower"
           : ratio > 0     ? "hardly at all"
                           : "not at all";
}

static bool same_figure(json_t *a, json_t *b)
{
    return is(a, "what", word(b, "what")) && is(a, "subject", word(b, "subject")) &&
           !strcmp(direction(a), direction(b));
}

static void figure_take(struct figure *f, json_t *c)
{
    double now = is_rate(c) ? factor(c) : pascal(c, "now_pa"), was = pascal(c, "was_pa");
    if (!f->low)
        *f = (struct figure){c, c, now, now, c, c, was, was};
    if (now < f->lowest) {
        f->low = c;
        f->lowest = now;
    }
    if (now > f->highest) {
        f->high = c;
        f->highest = now;
    }
    if (was < f->was_lowest) {
        f->was_low = c;
        f->was_lowest = was;
    }
    if (was > f->was_highest) {
        f->was_high = c;
        f->was_highest = was;
    }
}

/* Pressures in the words of the sweep, unless other units were asked for: "55 psi", "55 psi to 60 psi". */
static void pressures_say(struct text *t, const struct view *v, json_t *low, json_t *high, const char *words,
                          const char *pa)
{
    json_t *const rows[] = {low, high};
    for (int i = 0; i < (low == high ? 1 : 2); i++) {
        json_t *value = json_object_get(rows[i], pa);
        text_add(t, i ? " to " : "");
        if (v->other_units)
            pressure_add(t, json_is_number(value) ? json_number_value(value) : NAN, &v->units);
        else
            say(t, "%s", word(rows[i], words));
    }
}

static void figure_add(struct text *t, const struct view *v, const struct figure *f)
{
    json_t *c = f->low;
    say(t, "%s%s", t->n ? "; " : "", word(c, "subject"));
    if (is(c, "what", "damping")) {
        text_add(t, " loses its damping");
    } else if (is_rate(c)) {
        const char *verb = word(c, "what"), *way = direction(c);
        if (!strcmp(way, "not at all"))
            say(t, " does not %s", verb);
        else if (!strcmp(way, "hardly at all"))
            say(t, " hardly %ss", verb);
        else if (f->lowest == f->highest)
            say(t, " %ss %s", verb, word(c, "now"));
        else
            text_addf(t, " %ss %g to %g times %s", verb, f->lowest, f->highest, way);
    } else {
        text_add_char(t, ' ');
        pressures_say(t, v, f->low, f->high, "now", "now_pa");
        text_add(t, " (healthy ");
        pressures_say(t, v, f->was_low, f->was_high, "was", "was_pa");
        text_add_char(t, ')');
    }
}

/* ---- states */

/* What changes where no gear, device or valve does and nothing more is told of it. */
static void rest_add(struct text *t, json_t *changes)
{
    bool pressures = false, rates = false;
    size_t i;
    json_t *c;
    json_array_foreach(changes, i, c)
    {
        pressures = pressures || is(c, "what", "pressure");
        rates = rates || is_rate(c) || is(c, "what", "damping");
    }
    text_add(t, !json_array_size(changes) ? "as healthy"
                : pressures && rates      ? "only pressures and shift feel change"
                : pressures               ? "only pressures change"
                : rates                   ? "only shift feel changes"
                                          : "only oil changes");
}

/* Where a fault costs a gear or a device, what the oil does elsewhere is not worth a line. */
static void state_words(struct text *t, json_t *changes, bool oil_too, enum figures which)
{
    gear_add(t, changes);
    for (size_t i = 0; i < N_ROWS(devices); i++)
        phrase_add(t, &devices[i], changes);
    for (size_t i = 0; oil_too && i < N_ROWS(oil); i++)
        phrase_add(t, &oil[i], changes);
    if (oil_too)
        reach_add(t, changes);
    size_t i;
    json_t *c;
    bool figures = false;
    json_array_foreach(changes, i, c) figures = figures || is_figure(c, which);
    if (!t->n && !figures)
        rest_add(t, changes);
}

struct line {         /* a state, and those that share its line */
    const char *name; /* NULL: it stands on the line of another */
    json_t *changes;
    struct text words;
};

/* Have two states the same figures, whatever their values? */
static bool same_figures(json_t *a, json_t *b, enum figures which)
{
    size_t i, n_a = 0, n_b = 0, k = 0;
    json_t *c;
    json_array_foreach(b, i, c) n_b += is_figure(c, which);
    json_array_foreach(a, i, c)
    {
        if (!is_figure(c, which))
            continue;
        n_a++;
        while (k < json_array_size(b) && !is_figure(json_array_get(b, k), which))
            k++;
        if (k == json_array_size(b) || !same_figure(c, json_array_get(b, k++)))
            return false;
    }
    return n_a == n_b;
}

/* Collects the figures of one more state; all that share a line have them in one order. */
static void figures_take(struct figure *figures, json_t *changes, enum figures which)
{
    size_t i, k = 0;
    json_t *c;
    json_array_foreach(changes, i, c)
    {
        if (is_figure(c, which))
            figure_take(&figures[k++], c);
    }
}

static void figures_add(struct text *t, const struct view *v, const struct figure *figures)
{
    size_t n = 0;
    while (figures[n].low)
        n++;
    size_t n_shown = n > FIGURES_SHOWN + 1 ? FIGURES_SHOWN : n;
    for (size_t i = 0; i < n_shown; i++)
        figure_add(t, v, &figures[i]);
    if (n_shown < n)
        text_addf(t, "; and %zu more figures", n - n_shown);
}

/* The line of row i, with all later rows of which the same is to be said. */
static void line_add(struct text *t, const struct view *v, struct line *rows, size_t i, size_t n, size_t n_all,
                     enum figures which)
{
    struct text label = {0}, said = {0};
    size_t n_here = 0;
    struct figure *figures = mem_zero(json_array_size(rows[i].changes) + 1, sizeof *figures);
    for (size_t k = i; k < n; k++) {
        if (!rows[k].name || strcmp(text_string(&rows[k].words), text_string(&rows[i].words)) != 0 ||
            !same_figures(rows[i].changes, rows[k].changes, which))
            continue;
        say(&label, "%s%s", label.n ? ", " : "", rows[k].name);
        n_here++;
        figures_take(figures, rows[k].changes, which);
        if (k > i)
            rows[k].name = NULL;
    }
    if (n_here == n_all && n_all > 1) {
        text_clear(&label);
        text_add(&label, "every state");
    }
    text_add(&said, text_string(&rows[i].words));
    figures_add(&said, v, figures);
    text_addf(&label, ": %s", text_string(&said));
    /* The first word is the label, so that the others hang under it. */
    char *blank = strchr(label.at, ' ');
    *blank = '\0';
    say_folded(t, v, 4, LINE_COLUMN, label.at, PAINT_NONE, blank + 1);
    text_release(&label);
    text_release(&said);
    mem_free(figures);
}

void sweep_states_add(struct text *t, const struct view *v, const struct sweep_table *table,
                      const struct sweep_group *g)
{
    json_t *states = json_loads(g->states, 0, NULL), *state;
    size_t n = json_object_size(states), i = 0;
    enum figures which = g->rank >= SWEEP_SLIP ? FIGURES_ALL : FIGURES_RISES;
    bool oil_too = g->rank >= (table->pressed ? SWEEP_CIRCUIT : SWEEP_VALVE); /* figures say more */
    struct line *rows = mem_zero(n + 1, sizeof *rows);
    const char *name;
    json_object_foreach(states, name, state)
    {
        rows[i].name = name;
        rows[i].changes = json_object_get(state, "changes");
        state_words(&rows[i].words, rows[i].changes, oil_too, which);
        i++;
    }
    for (i = 0; i < n; i++)
        if (rows[i].name)
            line_add(t, v, rows, i, n, json_array_size(json_object_get(table->about, "states")), which);
    for (i = 0; i < n; i++)
        text_release(&rows[i].words);
    mem_free(rows);
    json_decref(states);
}
