/* Claims: every form of the grammar, and errors that point at the very word. Pounds per square inch: 1 psi is
 * 6894.757 Pa (NIST SP 811, 2008, appendix B.8); 1 bar is 100 kPa. */
#include "model/claim.h"
#include "unit_model.h"
#include <math.h>

#define PSI 6894.757293

static const char base[] =
    "feedtrace: 1\n"
    "model: claims\n"
    "layers: [{id: case, kind: casting}, {id: plate, kind: plate}, {id: body, kind: casting}]\n"
    "circuits:\n"
    "  line: {passages: [case.line, body.line]}\n"
    "  out: {passages: [case.out, body.out, body.react, case.react]}\n"
    "holes:\n"
    "  H1: {joins: [case.line, body.line], diameter: 8}\n"
    "  H2: {joins: [case.out, body.out], diameter: 4}\n"
    "  H3: {joins: [case.react, body.react], diameter: 1}\n"
    "valves:\n"
    "  manual: {kind: manual, ports: {in: body.line, d: body.out, x: sump}, positions: {P: [[d, x]], 2: [[in, d]]}}\n"
    "  shift: {kind: spool, ports: {in: body.line, out: body.out}, stroked: [[in, out]]}\n"
    "  limit: {kind: limiting, supply: body.line, outlet: body.out, reaction: body.react, limit: 115}\n"
    "  safety: {kind: relief, inlet: case.line, outlet: sump, cracks_at: 300}\n"
    "solenoids: {sol: {kind: bleed, normally: open, joins: [case.react, sump]}}\n"
    "actuators: {clutch: {kind: clutch, apply: case.out, applies_at: 40}}\n"
    "feeds: {line: {into: case.line}, drive: {from: body.out}}\n"
    "taps: {T1: case.out}\n"
    "switches: {W1: {on: case.out, closes_at: 20}}\n"
    "gears: {neutral: [], first: [clutch]}\n"
    "states: {park: {manual: P, line: 55}, drive: {manual: 2, line: 90}}\n";

static struct read_text t; /* read once a test */
static struct arena arena;

static void begin(void)
{
    t = unit_good_model(base);
    arena_init(&arena);
}

static void end(void)
{
    arena_release(&arena);
    unit_model_release(&t);
}

static bool claims_of(const char *line, struct claims *out)
{
    return claims_read(line, strlen(line), (struct span){1, 1, 0, 1}, t.m, &arena, out, &t.d);
}

/* The only claim of a line that must be good. */
static struct claim one(const char *line)
{
    struct claims c;
    bool good = claims_of(line, &c);
    if (!good)
        fprintf(stderr, "%s: %s\n", line, t.d.n ? t.d.rows[t.d.n - 1].message : "");
    CU_ASSERT_TRUE_FATAL(good);
    CU_ASSERT_EQUAL_FATAL(c.n_rows, 1);
    return c.rows[0];
}

static void test_states(void)
{
    begin();
    struct claims c;
    CU_ASSERT_TRUE_FATAL(claims_of("drive: out fed and not clutch released and gear first", &c));
    CU_ASSERT_EQUAL(c.in, IN_STATE);
    CU_ASSERT_EQUAL(c.state.i, 1);
    CU_ASSERT_EQUAL_FATAL(c.n_rows, 3);
    CU_ASSERT_FALSE(c.rows[0].negated);
    CU_ASSERT_TRUE(c.rows[1].negated);
    CU_ASSERT_EQUAL(c.rows[1].condition, CLAIM_RELEASED);
    CU_ASSERT_EQUAL(c.rows[2].what, CLAIM_GEAR);
    CU_ASSERT_EQUAL(c.rows[2].gear, 1);
    CU_ASSERT_STRING_EQUAL(c.text, "drive: out fed and not clutch released and gear first");
    CU_ASSERT_TRUE(claims_of("any:gear none", &c) && c.in == IN_ANY && c.rows[0].gear == GEAR_NONE);
    CU_ASSERT_TRUE(claims_of(" every : gear tie-up", &c) && c.in == IN_EVERY && c.rows[0].gear == GEAR_TIE_UP);
    end();
}

static void test_things(void)
{
    static const struct {
        const char *line;
        enum part_kind kind;
        enum claim_condition condition;
        bool some;
    } rows[] = {
        {"park: case.line fed", PART_PASSAGE, CLAIM_FED, false},
        {"park: T1 exhausted", PART_TAP, CLAIM_EXHAUSTED, false},
        {"park: out partial", PART_CIRCUIT, CLAIM_PARTIAL, false},
        {"park: some out trapped", PART_CIRCUIT, CLAIM_TRAPPED, true},
        {"park: clutch applied", PART_ACTUATOR, CLAIM_APPLIED, false},
        {"park: clutch released", PART_ACTUATOR, CLAIM_RELEASED, false},
        {"park: clutch slipping", PART_ACTUATOR, CLAIM_SLIPPING, false},
    };
    begin();
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct claim c = one(rows[i].line);
        CU_ASSERT_EQUAL(c.what, CLAIM_CONDITION);
        CU_ASSERT_EQUAL(c.subject.kind, rows[i].kind);
        CU_ASSERT_EQUAL(c.condition, rows[i].condition);
        CU_ASSERT_EQUAL(c.some, rows[i].some);
        CU_ASSERT_EQUAL(c.pressure, PRESSURE_NONE);
    }
    end();
}

/* Below and above are strict and keep their own end; a bare quantity means within the larger of 5 % and 3 psi. */
static void test_pressures(void)
{
    static const struct {
        const char *line;
        enum claim_what what;
        enum claim_pressure pressure;
        double low, high; /* Pa */
    } rows[] = {
        {"park: T1 below 60", CLAIM_PRESSURE, PRESSURE_BELOW, 0, 60 * PSI},
        {"park: T1 above 4 bar", CLAIM_PRESSURE, PRESSURE_ABOVE, 4e5, 0},
        {"park: out 80 to 92 psi", CLAIM_PRESSURE, PRESSURE_BETWEEN, 80 * PSI, 92 * PSI},
        {"park: out 0 to 6 bar", CLAIM_PRESSURE, PRESSURE_BETWEEN, 0, 6e5},
        {"park: clutch applied above 60 psi", CLAIM_CONDITION, PRESSURE_ABOVE, 60 * PSI, 0},
        {"park: out fed 4 bar to 5 bar", CLAIM_CONDITION, PRESSURE_BETWEEN, 4e5, 5e5},
        {"park: out 115", CLAIM_PRESSURE, PRESSURE_BETWEEN, 115 * 0.95 * PSI, 115 * 1.05 * PSI}, /* 5 % is 5.75 psi */
        {"park: out about 55 psi", CLAIM_PRESSURE, PRESSURE_BETWEEN, 52 * PSI, 58 * PSI},        /* 5 % is 2.75 psi */
        {"park: out 115 +- 1", CLAIM_PRESSURE, PRESSURE_BETWEEN, 114 * PSI, 116 * PSI},
        {"park: out about 8 bar+-10%", CLAIM_PRESSURE, PRESSURE_BETWEEN, 7.2e5, 8.8e5},
        {"park: out 100 kPa +- 5 %", CLAIM_PRESSURE, PRESSURE_BETWEEN, 95e3, 105e3},
    };
    begin();
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct claim c = one(rows[i].line);
        CU_ASSERT_EQUAL(c.what, rows[i].what);
        CU_ASSERT_EQUAL(c.pressure, rows[i].pressure);
        CU_ASSERT_DOUBLE_EQUAL(c.low, rows[i].low, 0.01);
        CU_ASSERT_DOUBLE_EQUAL(c.high, rows[i].high, 0.01);
    }
    end();
}

static void test_valves_and_switches(void)
{
    begin();
    struct claim c = one("park: manual 2");
    CU_ASSERT_TRUE(c.what == CLAIM_POSITION && c.position == CLAIM_DETENT && c.detent == 1);
    CU_ASSERT_EQUAL(one("park: shift part-way").position, CLAIM_PART_WAY);
    CU_ASSERT_EQUAL(one("park: not shift rest").position, CLAIM_REST);
    CU_ASSERT_EQUAL(one("park: shift stroked").position, CLAIM_STROKED);
    CU_ASSERT_EQUAL(one("park: limit wide").position, CLAIM_WIDE);
    CU_ASSERT_EQUAL(one("park: limit limiting").position, CLAIM_LIMITING);
    CU_ASSERT_EQUAL(one("park: limit shut").position, CLAIM_SHUT);
    CU_ASSERT_EQUAL(one("park: safety open").position, CLAIM_OPEN);
    c = one("park: W1 closed");
    CU_ASSERT_TRUE(c.what == CLAIM_SWITCH && c.closed && c.subject.kind == PART_SWITCH);
    CU_ASSERT_FALSE(one("park: W1 open").closed);
    end();
}

static void test_reach_rates_air(void)
{
    begin();
    struct claim c = one("park: out reached by drive");
    CU_ASSERT_TRUE(c.what == CLAIM_REACHED_BY && c.feed.i == 1);
    c = one("park: clutch fills below 0.5 x healthy");
    CU_ASSERT_TRUE(c.what == CLAIM_RATE && c.fills && !c.above && c.times == 0.5);
    c = one("park: clutch drains above 2 x healthy");
    CU_ASSERT_TRUE(!c.fills && c.above && c.times == 2);
    c = one("park: air at body.out leaves at H2,shift , sol");
    CU_ASSERT_EQUAL(c.what, CLAIM_AIR);
    CU_ASSERT_EQUAL(c.air_at.i, model_find(t.m, "body.out", 8).i);
    CU_ASSERT_EQUAL_FATAL(c.n_leaves, 3);
    CU_ASSERT_TRUE(c.leaves_at[0].kind == PART_HOLE && c.leaves_at[1].kind == PART_VALVE &&
                   c.leaves_at[2].kind == PART_SOLENOID);
    end();
}

/* The place is that of the wrong word: columns count code points from the line's first character. */
static void test_wrong_words(void)
{
    static const struct {
        const char *line;
        enum code code;
        unsigned column, length;
        const char *help; /* a part of it, or NULL */
    } rows[] = {
        {"", BAD_CLAIM, 1, 1, NULL},
        {"out fed", BAD_CLAIM, 1, 3, "any:"},
        {": out fed", BAD_CLAIM, 1, 1, NULL},
        {"a b: out fed", BAD_CLAIM, 1, 1, NULL},
        {"prak: out fed", UNKNOWN_NAME, 1, 4, "`park`"},
        {"park:", BAD_CLAIM, 1, 1, NULL},
        {"park: oot fed", UNKNOWN_NAME, 7, 3, "`out`"},
        {"park: out feed", BAD_CLAIM, 11, 4, "`fed`"},
        {"park: out", BAD_CLAIM, 7, 3, "`fed`"},
        {"park: out applied", BAD_CLAIM, 11, 7, NULL},
        {"park: clutch fed", BAD_CLAIM, 14, 3, NULL},
        {"park: H1 fed", WRONG_KIND, 7, 2, NULL},
        {"park: some clutch applied", WRONG_KIND, 12, 6, NULL},
        {"park: out fed and", BAD_CLAIM, 15, 3, NULL},
        {"park: and out fed", BAD_CLAIM, 7, 3, NULL},
        {"park: not", BAD_CLAIM, 7, 3, NULL},
        {"park: not not out fed", BAD_CLAIM, 11, 3, NULL},
        {"park: out fed fast", BAD_CLAIM, 15, 4, "`and`"},
        {"park: manual 3", BAD_CLAIM, 14, 1, "`P`, `2`"},
        {"park: shift wide", BAD_CLAIM, 13, 4, "`stroked`"},
        {"park: W1 on", BAD_CLAIM, 10, 2, "`closed`"},
        {"park: gear forst", UNKNOWN_NAME, 12, 5, "`first`"},
        {"park: gear", BAD_CLAIM, 7, 4, NULL},
        {"park: out reached from line", BAD_CLAIM, 19, 4, NULL},
        {"park: out reached by lime", UNKNOWN_NAME, 22, 4, "`line`"},
        {"park: T1 above", BAD_CLAIM, 10, 5, NULL},
        {"park: T1 above 5 mm", WRONG_DIMENSION, 18, 2, NULL},
        {"park: T1 above 5pis", BAD_QUANTITY, 17, 3, NULL},
        {"park: T1 above high", BAD_CLAIM, 16, 4, NULL},
        {"park: T1 -5", BAD_QUANTITY, 10, 2, NULL},
        {"park: T1 92 psi to 80", BAD_CLAIM, 10, 12, NULL},
        {"park: T1 5 to 6 bar", BAD_CLAIM, 10, 1, "psi"},
        {"park: T1 +- 5", BAD_CLAIM, 10, 2, NULL},
        {"park: T1 80 +-", BAD_CLAIM, 13, 2, NULL},
        {"park: clutch fills above 2 x", BAD_CLAIM, 28, 1, NULL},
        {"park: clutch fills above -2 x healthy", BAD_CLAIM, 26, 2, NULL},
        {"park: air at H1 leaves at sol", WRONG_KIND, 14, 2, NULL},
        {"park: air at body.out leaves at sol, sole", UNKNOWN_NAME, 38, 4, "`sol`"},
        {"park: air at body.out leaves at", BAD_CLAIM, 30, 2, NULL},
        {"park: \xc3\xa9t\xc3\xa9 fed", UNKNOWN_NAME, 7, 3, NULL},
        {"park: out fed and \xc3\xa9 and T1 hot", BAD_CLAIM, 28, 3, NULL}, /* and the name before it */
    };
    begin();
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct claims c;
        size_t before = t.d.n;
        CU_ASSERT_FALSE(claims_of(rows[i].line, &c));
        CU_ASSERT_TRUE_FATAL(t.d.n > before);
        const struct diag *d = &t.d.rows[t.d.n - 1];
        bool same = d->code == rows[i].code && d->where.column == rows[i].column && d->where.length == rows[i].length &&
                    (!rows[i].help || (d->help && strstr(d->help, rows[i].help)));
        if (!same)
            fprintf(stderr, "%s: %s at %u+%u: %s (%s)\n", rows[i].line, code_row(d->code)->id, d->where.column,
                    d->where.length, d->message, d->help ? d->help : "");
        CU_ASSERT_TRUE(same);
    }
    end();
}

/* A place is kept out of what has none, and a very long word is cut where it is shown. */
static void test_no_place(void)
{
    begin();
    struct claims c;
    static char line[200000] = "park: ";
    memset(line + 6, 'x', sizeof line - 7);
    CU_ASSERT_FALSE(claims_read(line, strlen(line), NO_SPAN, t.m, &arena, &c, &t.d));
    CU_ASSERT_EQUAL(t.d.rows[0].where.line, 0);
    CU_ASSERT_TRUE(strlen(t.d.rows[0].message) < 200);
    end();
}

static const struct unit_test tests[] = {
    {"states, any, every, and, not", test_states},
    {"conditions of things", test_things},
    {"pressures in the model's units", test_pressures},
    {"positions and switches", test_valves_and_switches},
    {"reach, rates and air", test_reach_rates_air},
    {"wrong words", test_wrong_words},
    {"no place, long words", test_no_place},
};
UNIT_MAIN("claims", tests)
