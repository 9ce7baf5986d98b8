/* Where answers change along a curve, and the words that say what varies. That the places are right is held against
 * closed forms by tests/oracle/check_curves.py; here: their order, their bounds and how many there may be. */
#include "faults/curve.h"
#include "pressure_case.h"

/* Devices on line that apply at 5, 10, ... psi: sixty changes as line rises, at every applies_at and at half of it. */
enum { DEVICES = 30 };

static void text_of_ladder(struct text *t)
{
    text_add(t, "feedtrace: 1\nmodel: ladder\nlayers: [{id: case, kind: casting}]\n"
                "circuits: {line: {passages: [case.line, case.out]}}\n"
                "joints: {J1: {joins: [case.line, sump], diameter: 1}}\nactuators:\n");
    for (int i = 1; i <= DEVICES; i++)
        text_addf(t, "  c%02d: {kind: clutch, apply: case.line, applies_at: %d.3}\n", i, 5 * i);
    text_add(t,
             "solenoids:\n"
             "  sol: {kind: duty, normally: low, supply: case.line, output: case.out, exhaust: sump, diameter: 1}\n"
             "  bleed: {kind: bleed, normally: open, joins: [case.out, sump]}\n"
             "feeds: {line: {into: case.line}, spare: {from: case.out}}\nstates: {s: {line: 90}, off: {line: off}}\n");
}

static struct unit_case unit;

static void ladder_open(void)
{
    struct text t = {0};
    text_of_ladder(&t);
    unit_case_text(&unit, text_string(&t));
    text_release(&t);
}

static bool vary(const char *words, struct vary *out)
{
    struct diags d;
    diags_init(&d);
    bool ok = vary_read(words, &unit.network, &unit.arena, out, &d);
    CU_ASSERT_EQUAL(ok, d.n_errors == 0);
    diags_release(&d);
    return ok;
}

static void solve(const char *words, uint32_t n_rows, struct vary *v, struct curve *c)
{
    static const struct curve_show nothing;
    *c = (struct curve){.vary = v, .shows = &nothing};
    CU_ASSERT_TRUE_FATAL(vary(words, v));
    CU_ASSERT_TRUE_FATAL(curve_solve(c, unit.m, (state_ix){0}, n_rows, &unit.arena, &unit.d));
    CU_ASSERT_EQUAL(c->n_rows, n_rows);
    CU_ASSERT_EQUAL(c->rows[0].value, v->from);
    CU_ASSERT_EQUAL(c->rows[n_rows - 1].value, v->to);
}

/* How many devices' thresholds (both of each) lie from a to b. */
static int crossed(double a, double b)
{
    int n = 0;
    for (int i = 1; i <= DEVICES; i++) {
        double at = (5 * i + 0.3) * PSI;
        n += (fmin(a, b) < at && at <= fmax(a, b)) + (fmin(a, b) < at / 2 && at / 2 <= fmax(a, b));
    }
    return n;
}

static int differ(const struct curve_row *a, const struct curve_row *b)
{
    int n = 0;
    for (int i = 0; i < DEVICES; i++) /* released, slipping, applied: a step each */
        n += a->device[i] == b->device[i]                                         ? 0
             : a->device[i] != DEVICE_SLIPPING && b->device[i] != DEVICE_SLIPPING ? 2
                                                                                  : 1;
    return n;
}

/* One chain from the first row to the last, each change within what stands between its two ends and no more. */
static void check_chain(const struct curve *c)
{
    int way = c->vary->to > c->vary->from ? 1 : -1, n = 0;
    const struct curve_row *before = &c->rows[0];
    for (uint32_t i = 0; i < c->n_events; i++) {
        const struct curve_event *e = &c->events[i];
        double apart = (e->after.value - e->before.value) * way;
        CU_ASSERT_TRUE(apart > 0 && (e->before.value - before->value) * way >= 0);
        CU_ASSERT_EQUAL(differ(before, &e->before), 0);
        CU_ASSERT_EQUAL(differ(&e->before, &e->after), crossed(e->before.value, e->after.value));
        if (e->near)
            CU_ASSERT_TRUE(apart <= CURVE_VALUE_SHARE * fmax(e->before.value, e->after.value));
        n += differ(&e->before, &e->after);
        before = &e->after;
    }
    CU_ASSERT_EQUAL(differ(before, &c->rows[c->n_rows - 1]), 0);
    CU_ASSERT_EQUAL(n, 2 * DEVICES);
}

static void changes_have_places(void)
{
    struct vary v;
    struct curve c;
    ladder_open();
    solve("line 1 psi to 160 psi", 26, &v, &c);
    check_chain(&c);
    for (uint32_t i = 0; i < c.n_events; i++)
        CU_ASSERT_TRUE(c.events[i].near);
    solve("line 160 psi to 1 psi", 26, &v, &c);
    check_chain(&c);
    unit_case_release(&unit);
}

/* All sixty between two rows: more than the solves for one step go round, so the last keep a range, which is true. */
static void too_many_keep_a_range(void)
{
    struct vary v;
    struct curve c;
    uint32_t n_near = 0;
    ladder_open();
    solve("line 1 psi to 160 psi", 2, &v, &c);
    check_chain(&c);
    for (uint32_t i = 0; i < c.n_events; i++)
        n_near += c.events[i].near;
    CU_ASSERT_TRUE(n_near >= CURVE_SOLVES_MOST / 20 && n_near < c.n_events);
    CU_ASSERT_FALSE(c.events[c.n_events - 1].near);
    unit_case_release(&unit);
}

static void words_are_read(void)
{
    static const struct {
        const char *words;
        enum vary_what what;
        double from, to;
    } good[] = {{"line 55 to 300", VARY_SETTING, 55 * PSI, 300 * PSI},
                {"line 300 psi to 55 psi", VARY_SETTING, 300 * PSI, 55 * PSI},
                {"  line   1 bar to 55 psi ", VARY_SETTING, 1e5, 55 * PSI},
                {"line 1 to 2 bar", VARY_SETTING, 1e5, 2e5},
                {"temperature 20 to 90", VARY_TEMPERATURE, 293.15, 363.15},
                {"temperature -10 degC to 50 degF", VARY_TEMPERATURE, 263.15, 283.15},
                {"leak c01 0.5 mm to 0.1 in", VARY_FAULT, 5e-4, 2.54e-3},
                {"leak c01 at 0.5 to 2", VARY_FAULT, 5e-4, 2e-3},
                {"resize J1 to 0.5 to 2", VARY_FAULT, 5e-4, 2e-3},
                {"leak c01 0.5mm to 2mm", VARY_FAULT, 5e-4, 2e-3},
                {"leak c01 from 0.5 mm to 2", VARY_FAULT, 5e-4, 2e-3},
                {"leak 12 0.5 to 2", VARY_FAULT, 5e-4, 2e-3},
                {"leak 12 0.5 mm to 2mm", VARY_FAULT, 5e-4, 2e-3},
                {"resize J1 to drill 60 to drill 50", VARY_FAULT, 0.0400 * 0.0254, 0.0700 * 0.0254},
                {"leak c01 drill 60 to 2 mm", VARY_FAULT, 0.0400 * 0.0254, 2e-3},
                {"line 5 bar to 20", VARY_SETTING, 5e5, 20e5},
                {"sol 0 to 100", VARY_DUTY, 0, 1},
                {"sol 80 % to 5 %", VARY_DUTY, 0.8, 0.05},
                {"weaken line 5 to 20 L/min", VARY_FAULT, 5 * L_PER_MIN, 20 * L_PER_MIN}};
    static const char *const bad[] = {"",
                                      "line",
                                      "line 55",
                                      "line to 55",
                                      "55 to 300",
                                      "line 55 300",
                                      "lime 1 to 2",
                                      "line 5 to 5",
                                      "line 0 to 5",
                                      "line -5 to 5",
                                      "line 5 mm to 6 mm",
                                      "line 5 to 6 mm",
                                      "line 5 psi to 6 mm",
                                      "c01 1 to 2",
                                      "line nan to 5",
                                      "bleed 0 to 1",
                                      "sol -5 to 100",
                                      "sol 0 to 101 %",
                                      "sol 0.1 mm to 1 mm",
                                      "J1 1 to 2",
                                      "block J1 1 to 2",
                                      "spare 1 to 2",
                                      "leak c01 1..2",
                                      "leak c01 1 mm - 2 mm",
                                      "leak c01 drill 99 to 2 mm",
                                      "temp 10 to 20",
                                      "line 1e999 to 5",
                                      "temperature -300 degC to 20 degC"};
    struct vary v;
    ladder_open();
    for (size_t i = 0; i < sizeof good / sizeof *good; i++) {
        CU_ASSERT_TRUE_FATAL(vary(good[i].words, &v));
        CU_ASSERT_EQUAL(v.what, good[i].what);
        CU_ASSERT_DOUBLE_EQUAL(v.from, good[i].from, 1e-9 * fabs(good[i].from));
        CU_ASSERT_DOUBLE_EQUAL(v.to, good[i].to, 1e-9 * fabs(good[i].to));
    }
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++)
        CU_ASSERT_FALSE(vary(bad[i], &v));
    unit_case_release(&unit);
}

static const struct unit_test tests[] = {
    {"changes have places, in order", changes_have_places},
    {"too many changes keep a range", too_many_keep_a_range},
    {"what varies is read", words_are_read},
};

UNIT_MAIN("faults_curve", tests)
