/* A sweep for a person: how many faults do what, then every effect with the faults that have it, worst first. */
#include "base/mem.h"
#include "report/sweep_states.h"
#include <stdint.h>
#include <stdio.h>
#include <string.h>

static const struct {
    const char *what; /* as a heading and in the summary */
    enum paint paint;
} ranks[N_SWEEP_RANKS] = {
    [SWEEP_TIE_UP] = {"tie-up: devices fight each other, the unit binds", PAINT_BAD},
    [SWEEP_NO_DRIVE] = {"no drive: a gear is asked for, none or neutral comes", PAINT_BAD},
    [SWEEP_DRIVES_UNASKED] = {"drives unasked: no gear is asked for, one comes", PAINT_BAD},
    [SWEEP_WRONG_GEAR] = {"wrong gear", PAINT_BAD},
    [SWEEP_SLIP] = {"slips: a device holds in part, or fills too slowly to hold", PAINT_BAD},
    [SWEEP_DRAG] = {"drags: a device that should be off is half on", PAINT_BAD},
    [SWEEP_GEAR_UNSURE] = {"gear unsure: the sizes decide", PAINT_WARN},
    [SWEEP_NO_ANSWER] = {"no answer: valves find no place to stay, or pressures no balance", PAINT_WARN},
    [SWEEP_DEVICE] = {"gear right, but a device is lost, drags or is unsure", PAINT_WARN},
    [SWEEP_OVER_LIMIT] = {"pressure over or without its limit: harsh, wears solenoids", PAINT_WARN},
    [SWEEP_VALVE] = {"only valves stand elsewhere", PAINT_HEAD},
    [SWEEP_PRESSURE] = {"only gauges read otherwise", PAINT_HEAD},
    [SWEEP_RATE] = {"only shifts feel otherwise: fills, drains, damping", PAINT_HEAD},
    [SWEEP_CIRCUIT] = {"only oil in circuits changes", PAINT_HEAD},
    [SWEEP_CROSS_LEAK] = {"only a leak from a fed passage", PAINT_HEAD},
    [SWEEP_NOTHING] = {"nothing shows it", PAINT_GOOD},
};
static const char *const news_words[N_SWEEP_NEWS] = {
    [SWEEP_WORSE] = "worse than either fault alone",
    [SWEEP_OTHER] = "otherwise than both faults alone",
    [SWEEP_MILDER] = "milder than the worse fault alone: one hides the other",
};

enum { PAIRS_SHOWN = 12 };

/* ---- who has the effect */

static void faults_add(struct text *t, const struct view *v, const struct sweep_table *table,
                       const struct sweep_group *g, unsigned indent, const char *label)
{
    struct text body = {0};
    for (size_t i = 0; i < g->n; i++)
        say(&body, "%s%s", i ? ", " : "", table->faults[g->members[i].first]);
    say_folded(t, v, indent, indent + 4, label, PAINT_HEAD, text_string(&body));
    text_release(&body);
}

/* "block H11 + lose B1, + lose B2": pairs with one fault in common follow each other. */
static void pairs_add(struct text *t, const struct view *v, const struct sweep_table *table,
                      const struct sweep_group *g, const char *label)
{
    struct text body = {0};
    for (size_t i = 0; i < g->n && i < PAIRS_SHOWN; i++) {
        bool same = i && g->members[i].first == g->members[i - 1].first;
        say(&body, "%s", i ? same ? ", or " : "; " : "");
        if (!same)
            say(&body, "%s + ", table->faults[g->members[i].first]);
        say(&body, "%s", table->faults[g->members[i].second]);
    }
    if (g->n > PAIRS_SHOWN)
        text_addf(&body, "; and %zu more pairs", g->n - PAIRS_SHOWN);
    say_folded(t, v, 0, 4, label, PAINT_HEAD, text_string(&body));
    text_release(&body);
}

static void members_add(struct text *t, const struct view *v, const struct sweep_table *table,
                        const struct sweep_group *g, size_t number)
{
    struct text label = {0};
    text_addf(&label, "%2zu.", number);
    if (table->pairs)
        pairs_add(t, v, table, g, text_string(&label));
    else
        faults_add(t, v, table, g, 0, text_string(&label));
    text_release(&label);
}

/* ---- summary */

static void number(struct text *t, uint64_t n)
{
    char digits[24];
    int n_digits = snprintf(digits, sizeof digits, "%llu", (unsigned long long)n);
    for (int i = 0; i < n_digits; i++) {
        if (i && (n_digits - i) % 3 == 0)
            text_add_char(t, ',');
        text_add_char(t, digits[i]);
    }
}

static void count(struct text *t, uint64_t n, const char *one, const char *many)
{
    number(t, n);
    text_addf(t, " %s", n == 1 ? one : many);
}

static void summary_rows(struct text *t, const struct view *v, const struct sweep_table *table, enum sweep_news news)
{
    for (int r = 0; r < N_SWEEP_RANKS; r++) {
        uint64_t n = 0, groups = 0;
        for (size_t i = 0; i < table->n; i++) {
            if (table->groups[i].rank != (enum sweep_rank)r || (table->pairs && table->groups[i].news != news))
                continue;
            n += table->groups[i].n;
            groups++;
        }
        if (!n)
            continue;
        struct text row = {0}, figure = {0};
        number(&figure, n);
        text_addf(&row, "%9s  %6llu  ", text_string(&figure), (unsigned long long)groups);
        text_add(t, text_string(&row));
        say_painted(t, v, ranks[r].paint, "%s", ranks[r].what);
        text_add_char(t, '\n');
        text_release(&row);
        text_release(&figure);
    }
}

static void part_add(struct text *t, const struct view *v, const struct sweep_table *table)
{
    json_t *part = json_object_get(table->about, "part");
    if (!part)
        return;
    struct text body = {0};
    text_addf(&body, "This is part %lld of %lld only; `feedtrace merge` joins the parts' JSON.",
              (long long)json_integer_value(part),
              (long long)json_integer_value(json_object_get(table->about, "parts")));
    say_folded(t, v, 0, 0, "", PAINT_WARN, text_string(&body));
    text_release(&body);
}

static void lost_add(struct text *t, const struct view *v, const struct sweep_table *table)
{
    size_t i;
    json_t *row;
    struct text body = {0};
    json_array_foreach(table->lost, i, row)
    {
        text_clear(&body);
        say(&body, "%s", json_string_value(row));
        say_folded(t, v, 0, 2, "Missing:", PAINT_BAD, text_string(&body));
    }
    text_release(&body);
}

static bool has_finding(const struct sweep_table *table, const char *code)
{
    size_t i;
    json_t *row;
    json_array_foreach(json_object_get(table->head, "findings"), i, row)
    {
        const char *its = json_string_value(json_object_get(row, "code"));
        if (its && !strcmp(its, code))
            return true;
    }
    return false;
}

static void summary(struct text *t, const struct view *v, const struct sweep_table *table)
{
    const struct sweep_totals *n = &table->totals;
    size_t n_states = json_array_size(json_object_get(table->about, "states"));
    const char *model = json_string_value(json_object_get(table->head, "model"));
    const char *title = json_string_value(json_object_get(table->about, "title"));
    struct text body = {0};
    say_painted(t, v, PAINT_HEAD, "%s", model ? model : "");
    if (title)
        say(t, ": %s", title);
    text_add_char(t, '\n');
    count(&body, n->n_sets, table->pairs ? "pair" : "single fault", table->pairs ? "pairs" : "single faults");
    if (table->pairs) {
        text_add(&body, " of ");
        count(&body, table->n_faults, "fault", "faults");
    }
    text_add(&body, " in ");
    count(&body, n_states, "state", "states");
    text_addf(&body, ", by %s: ", table->pressed ? "pressure" : "structure");
    count(&body, n->n_cases, "case", "cases");
    if (table->pairs) {
        text_add(&body, ". In ");
        count(&body, n->n_cases - n->n_news_cases, "case", "cases");
        text_add(&body, " a pair does just what its two faults do alone, one beside the other. ");
        count(&body, n->n_sets - n->n_news_sets, "pair does", "pairs do");
        text_add(&body, " so in every state and ");
        text_add(&body, n->n_sets - n->n_news_sets == 1 ? "is no news; " : "are no news; ");
        count(&body, n->n_news_sets, "pair does", "pairs do");
        text_add(&body, " something else in some state (listed below)");
        if (n->n_excluded) {
            text_add(&body, "; ");
            count(&body, n->n_excluded, "pair", "pairs");
            text_add(&body, " whose faults exclude each other ");
            text_add(&body, n->n_excluded == 1 ? "is left out" : "are left out");
        }
    }
    text_add_char(&body, '.');
    if (n->n_not_settled) {
        text_add_char(&body, ' ');
        count(&body, n->n_not_settled, "case does", "cases do");
        text_add(&body, " not settle: no answer there.");
    }
    if (table->pressed && has_finding(table, "assumed-sizes"))
        text_add(&body, " Sizes that the model leaves open are assumed; `feedtrace check` lists them.");
    if (n->n_not_solved) {
        text_add_char(&body, ' ');
        count(&body, n->n_not_solved, "case has", "cases have");
        text_add(&body, " no pressures that could be calculated: what is told there is by structure.");
    }
    say_folded(t, v, 0, 0, "", PAINT_NONE, text_string(&body));
    part_add(t, v, table);
    lost_add(t, v, table);
    for (int news = 0; news < (table->pairs ? N_SWEEP_NEWS : 1); news++) {
        struct text rows = {0};
        summary_rows(&rows, v, table, (enum sweep_news)news);
        if (rows.n) {
            text_addf(t, "\n%9s  %6s  ", table->pairs ? "pairs" : "faults", "groups");
            say(t, "%s", table->pairs ? news_words[news] : "the worst that they do in any state");
            text_add_char(t, '\n');
            text_add(t, text_string(&rows));
        }
        text_release(&rows);
    }
    text_release(&body);
}

static void heading(struct text *t, const struct view *v, const struct sweep_table *table, const struct sweep_group *g)
{
    text_add_char(t, '\n');
    if (table->pairs) {
        static const char *const short_words[N_SWEEP_NEWS] = {"Worse together", "Otherwise together",
                                                              "Milder together"};
        say_painted(t, v, ranks[g->rank].paint, "%s - %s", short_words[g->news], ranks[g->rank].what);
    } else {
        const char *what = ranks[g->rank].what;
        say_painted(t, v, ranks[g->rank].paint, "%c%s", what[0] - 'a' + 'A', what + 1);
    }
    text_add_char(t, '\n');
}

static void effort(struct text *t, const struct view *v, const struct sweep_counts *c)
{
    struct text body = {0};
    if (c->n_apart) {
        count(&body, c->n_apart, "case", "cases");
        text_add(&body, " of faults too far apart to meddle with each other were not settled; ");
    }
    text_addf(&body, "%llu rounds in %llu words; %llu cases repacked, %llu expanded, %llu fallbacks.",
              (unsigned long long)c->n_rounds, (unsigned long long)c->n_words, (unsigned long long)c->n_repacked,
              (unsigned long long)c->n_expanded, (unsigned long long)c->n_fallbacks);
    say_folded(t, v, 0, 2, "Effort:", PAINT_NOTE, text_string(&body));
    text_release(&body);
}

/* What stands behind the groups whatever a limit cuts off: the faults that nothing shows, and how to read it all. */
static void tail_add(struct text *t, const struct view *v, const struct sweep_report *r,
                     const struct sweep_group *nothing)
{
    const struct sweep_table *table = r->table;
    if (nothing) {
        heading(t, v, table, nothing);
        faults_add(t, v, table, nothing, 0, "");
        say_folded(t, v, 4, 4, "", PAINT_NONE,
                   table->pressed
                       ? "No device or gear tells these from a healthy unit, no gauge by more than 5 % and 3 "
                         "psi, and no shift by more than a quarter of its time."
                       : "By structure no gauge, device or gear tells these from a healthy unit. By pressure they may "
                         "slow a shift, lower a pressure or, where a valve's end is blocked, move that valve.");
    }
    text_add_char(t, '\n');
    if (table->n)
        say_folded(t, v, 0, 0, "", PAINT_NONE,
                   table->pairs ? "Pairs under one number do the same in the states shown; in all others each does "
                                  "what its two faults do alone. `feedtrace whatif` tells more about one pair."
                   : table->pressed
                       ? "Faults under one number do the same in every state: where oil goes, what devices and "
                         "valves do, and every gauge and fill that leaves the healthy one by enough to be told. "
                         "States not shown are as healthy. Pressures of faults that cost a gear are left out: "
                         "`feedtrace whatif` tells them, fault by fault."
                       : "Faults under one number have equal effect in every state, passage for passage: "
                         "no structure tells them apart. States not shown are as healthy. `feedtrace "
                         "whatif` tells more about one fault.");
    if (table->pressed)
        say_caution_taps(t, v);
    say_caution_model(t, v);
    if (v->verbose && r->counts)
        effort(t, v, r->counts);
}

enum { NOTE_BYTES = 200 }; /* more than the line takes that says how many groups are left out */

/* The first n groups, as far as `most` bytes hold them; groups of which the same is said share it.
 * @return how many were told. */
static size_t groups_add(struct text *t, const struct view *v, const struct sweep_table *table, size_t n, size_t most)
{
    struct text said = {0}, now = {0}, piece = {0}; /* of the states: of the group before, of this one; its faults */
    size_t i = 0;
    for (; i < n; i++) {
        const struct sweep_group *g = &table->groups[i], *before = i ? g - 1 : NULL;
        bool new_rank = !before || before->rank != g->rank || before->news != g->news;
        text_clear(&now);
        text_clear(&piece);
        sweep_states_add(&now, v, table, g);
        if (new_rank)
            heading(&piece, v, table, g);
        members_add(&piece, v, table, g, i + 1);
        if (t->n + said.n + piece.n + now.n > most)
            break;
        if (before && (new_rank || strcmp(text_string(&now), text_string(&said)) != 0))
            text_add(t, text_string(&said));
        else if (before) /* words alike, effects not: they differ in passages that are not told one by one */
            text_add(t, "    as the next\n");
        text_add(t, text_string(&piece));
        text_clear(&said);
        text_add(&said, text_string(&now));
    }
    text_add(t, text_string(&said));
    text_release(&said);
    text_release(&now);
    text_release(&piece);
    return i;
}

void text_sweep(struct text *t, const struct view *v, const struct sweep_report *r)
{
    const struct sweep_table *table = r->table;
    const struct sweep_group *last = table->n ? &table->groups[table->n - 1] : NULL;
    const struct sweep_group *nothing = last && !table->pairs && last->rank == SWEEP_NOTHING ? last : NULL;
    struct text tail = {0};
    bool gear = false;
    summary(t, v, table);
    for (size_t i = 0; i < table->n; i++)
        gear = gear || table->groups[i].rank <= SWEEP_GEAR_UNSURE;
    if (gear) {
        text_add_char(t, '\n');
        say_caution_gear(t, v);
    }
    tail_add(&tail, v, r, nothing);
    size_t room = r->limit_kb && r->limit_kb < SIZE_MAX / 1024 ? 1024 * r->limit_kb : SIZE_MAX,
           n = table->n - (nothing != NULL);
    size_t most = room == SIZE_MAX ? room : room > tail.n + NOTE_BYTES ? room - tail.n - NOTE_BYTES : 0;
    size_t n_told = groups_add(t, v, table, n, most);
    if (n_told < n) {
        struct text body = {0};
        text_add(&body, "... and ");
        count(&body, n - n_told, "more group", "more groups");
        text_add(&body, " (--limit 0 prints all; JSON and CSV hold all).");
        text_add_char(t, '\n');
        say_folded(t, v, 0, 0, "", PAINT_NONE, text_string(&body));
        text_release(&body);
    }
    text_add(t, text_string(&tail));
    text_release(&tail);
}
