/* Claims and findings by pressure. The figures expected follow by hand: two like orifices in a row halve the pressure,
 * since the same flow needs the same difference across each; a switch and a device compare it with one number. */
#include "findings/findings.h"
#include "pressure_case.h"

/* Line through orifices into three clutches that leak: half of 90 psi is 45 psi at each. A relay is undetermined by
 * structure (a fight at its end) and is told by its spring: 45 psi x 80 mm2 = 24.8 N against 12 N to 17 N: stroked. */
static const char unit_text[] =
    "feedtrace: 1\nmodel: halves\nleakdown: 0\n"
    "layers: [{id: case, kind: casting}, {id: plate, kind: plate}, {id: body, kind: casting}]\n"
    "circuits:\n"
    "  line: {passages: [case.line]}\n"
    "  half: {flows: true, passages: [body.half]}\n"
    "  out: {passages: [body.out]}\n"
    "  ends: {passages: [body.end]}\n"
    "holes:\n"
    "  H1: {joins: [case.line, body.half], diameter: 1, orifice: true}\n"
    "  H2: {joins: [body.half, sump], diameter: 1, orifice: true}\n"
    "  H3: {joins: [case.line, body.end], diameter: 0.8, orifice: true}\n"
    "valves:\n"
    "  relay: {kind: spool, ports: {sig: body.half, in: case.line, out: body.out, x: sump}, rest: [[out, x]], stroked: "
    "[[in, out]], window_diameter: 5, ends: [{port: sig, pushes: stroke, area: 80}], spring: {preload: 12, rate: 1}, "
    "travel: 5}\n"
    "  calm: {kind: spool, ports: {sig: body.end, in: case.line, x: sump}, rest: [[in, x]], stroked: [], "
    "window_diameter: 0.1, ends: [{port: sig, pushes: stroke, area: 80}], spring: {preload: 12, rate: 1}, travel: 5}\n"
    "actuators:\n"
    "  on: {kind: clutch, apply: body.half, applies_at: 40, volume: 20}\n"
    "  slips: {kind: clutch, apply: body.half, applies_at: 60}\n"
    "  off: {kind: clutch, apply: body.half, applies_at: 100}\n"
    "  guessed: {kind: clutch, apply: body.half}\n"
    "gears: {neutral: [], first: [on, guessed], second: [on, slips, guessed]}\n"
    "feeds: {line: {into: case.line}}\n"
    "taps: {T_half: body.half}\n"
    "switches: {W_40: {on: body.half, closes_at: 40}, W_60: {on: body.half, closes_at: 60}}\n"
    "states:\n"
    "  go: {line: 90, gear: first}\n";

static struct unit_case unit;

static enum verdict judge(const char *line, const struct trace *t, const struct pressures *now)
{
    struct claims c;
    struct pressed p = {now, unit.healthy};
    CU_ASSERT_TRUE_FATAL(claims_read(line, strlen(line), NO_SPAN, unit.m, &unit.arena, &c, &unit.d));
    return claims_judge(&c, t, &p, 0, (state_ix){0});
}

static void claims_by_pressure(void)
{
    static const struct {
        const char *line;
        enum verdict wanted;
    } rows[] = {
        {"go: body.half 44 psi to 46 psi", VERDICT_YES},
        {"go: T_half 45", VERDICT_YES},
        {"go: T_half about 43", VERDICT_YES}, /* within 3 psi */
        {"go: T_half about 41.5", VERDICT_NO},
        {"go: T_half above 50", VERDICT_NO},
        {"go: T_half below 50", VERDICT_YES},
        {"go: not T_half below 50", VERDICT_NO},
        {"go: half partial above 40", VERDICT_YES},
        {"go: half fed above 40", VERDICT_NO},
        {"go: on above 60", VERDICT_NO},
        {"go: on applied above 40", VERDICT_YES},
        {"go: slips slipping", VERDICT_YES},
        {"go: slips applied", VERDICT_NO},
        {"go: off released", VERDICT_YES},
        {"go: guessed applied", VERDICT_YES},
        {"go: W_40 closed", VERDICT_YES},
        {"go: W_60 open", VERDICT_YES},
        {"go: W_60 closed", VERDICT_NO},
        {"go: relay stroked", VERDICT_YES},
        {"go: relay part-way", VERDICT_NO},
        {"go: gear first", VERDICT_CANNOT_TELL}, /* `slips` may be on: first or second */
        {"go: gear neutral", VERDICT_NO},
        {"go: on fills above 0.5 x healthy", VERDICT_YES},
        {"go: on fills above 2 x healthy", VERDICT_NO},
        {"go: air at body.half leaves at H2", VERDICT_NOT_JUDGED},
    };
    unit_case_text(&unit, unit_text);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        enum verdict v = judge(rows[i].line, &unit.healthy_trace, unit.healthy);
        CU_ASSERT_EQUAL(v, rows[i].wanted);
        if (v != rows[i].wanted)
            fprintf(stderr, "%s: %d instead of %d\n", rows[i].line, (int)v, (int)rows[i].wanted);
    }
    unit_case_release(&unit);
}

static void rates_against_healthy(void)
{
    unit_case_text(&unit, unit_text);
    unit_case_fault(&unit, "resize H1 to 2 mm", SOLVE_FILL);
    CU_ASSERT_EQUAL(judge("go: on fills above 3 x healthy", &unit.trace, unit.faulty), VERDICT_YES);
    CU_ASSERT_EQUAL(judge("go: slips applied", &unit.trace, unit.faulty), VERDICT_YES); /* 16/17 of 90 psi */
    unit_case_release(&unit);
}

static uint32_t count(const struct diags *d, enum code code)
{
    uint32_t n = 0;
    for (size_t i = 0; i < d->n; i++)
        n += d->rows[i].code == code;
    return n;
}

static void findings_by_pressure(void)
{
    unit_case_text(&unit, unit_text);
    struct pressed p = {unit.healthy, unit.healthy};
    struct diags by_structure, by_pressure;
    diags_init(&by_structure);
    diags_init(&by_pressure);
    findings_run(&unit.healthy_trace, NULL, 0, false, &by_structure);
    findings_run(&unit.healthy_trace, &p, 0, false, &by_pressure);
    CU_ASSERT_EQUAL(count(&by_structure, UNDETERMINED_VALVE), 1);
    CU_ASSERT_EQUAL(count(&by_pressure, UNDETERMINED_VALVE), 0); /* its spring tells */
    CU_ASSERT_EQUAL(count(&by_structure, ASSUMED_SIZES), 0);
    CU_ASSERT_EQUAL(count(&by_pressure, ASSUMED_SIZES), 1); /* applies_at of `guessed` */
    CU_ASSERT_EQUAL(count(&by_pressure, NOT_SOLVED), 0);
    CU_ASSERT_EQUAL(count(&by_pressure, STRUCTURE_SIZE), 0); /* structure was sure of none of them */
    diags_release(&by_structure);
    diags_release(&by_pressure);
    unit_case_release(&unit);
}

/* A solve that failed leaves the structure's answer, and says so. */
static void solve_that_failed(void)
{
    unit_case_text(&unit, unit_text);
    unit.healthy[0].end.converged = false;
    unit.healthy[0].end.why = SOLVE_STALLED;
    struct pressed p = {unit.healthy, unit.healthy};
    struct diags d;
    diags_init(&d);
    findings_run(&unit.healthy_trace, &p, 0, false, &d);
    CU_ASSERT_EQUAL(count(&d, NOT_SOLVED), 1);
    CU_ASSERT_EQUAL(judge("go: T_half 45", &unit.healthy_trace, unit.healthy), VERDICT_NOT_JUDGED);
    CU_ASSERT_EQUAL(judge("go: on applied", &unit.healthy_trace, unit.healthy), VERDICT_CANNOT_TELL);
    diags_release(&d);
    unit_case_release(&unit);
}

static void structure_against_sizes(void)
{
    unit_case_text(&unit, "feedtrace: 1\nmodel: weak\n"
                          "layers: [{id: case, kind: casting}, {id: plate, kind: plate}, {id: body, kind: casting}]\n"
                          "circuits: {line: {passages: [case.line]}, c1: {passages: [body.c1]}}\n"
                          "holes:\n"
                          "  H1: {joins: [case.line, body.c1], diameter: 3}\n"
                          "  H2: {joins: [body.c1, sump], diameter: 3, orifice: true}\n"
                          "actuators: {clutch: {kind: clutch, apply: body.c1, applies_at: 60}}\n"
                          "feeds: {line: {into: case.line}}\n"
                          "states: {go: {line: 90}}\n");
    struct pressed p = {unit.healthy, unit.healthy};
    struct diags d;
    diags_init(&d);
    findings_run(&unit.healthy_trace, &p, 0, false, &d); /* structure: an orifice loses against an open hole */
    CU_ASSERT_EQUAL(count(&d, STRUCTURE_SIZE), 1);
    diags_release(&d);
    unit_case_release(&unit);
}

static void damping(void)
{
    static const struct {
        const char *fault;
        uint32_t wanted;
    } rows[] = {{"resize H3 to 3 mm", 1},
                {"resize H3 to 0.5 mm", 0},
                {"leak case.line into body.end at 2 mm", 1},
                {"block H3", 0},
                {"resize H1 to 3 mm", 0}}; /* not the only way: H2 is there */
    unit_case_text(&unit, unit_text);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        unit_case_fault(&unit, rows[i].fault, 0);
        uint32_t hole, n = 0;
        valve_ix valve;
        for (uint32_t e = 0; e < unit.set.edits.n; e++)
            n += damping_lost(&unit.network, &unit.set.edits.rows[e], &hole, &valve);
        CU_ASSERT_EQUAL(n, rows[i].wanted);
    }
    unit_case_release(&unit);
}

static const struct unit_test tests[] = {
    {"claims by pressure", claims_by_pressure},           {"rates against healthy", rates_against_healthy},
    {"findings by pressure", findings_by_pressure},       {"a solve that failed", solve_that_failed},
    {"structure against sizes", structure_against_sizes}, {"damping", damping},
};

UNIT_MAIN("findings by pressure", tests)
