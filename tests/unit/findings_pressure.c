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

static const struct diag *first_of(const struct diags *d, enum code code)
{
    for (size_t i = 0; i < d->n; i++)
        if (d->rows[i].code == code)
            return &d->rows[i];
    return NULL;
}

static bool says(const char *text, const char *part)
{
    bool found = text && strstr(text, part);
    if (!found)
        fprintf(stderr, "not in: %s: %s\n", text ? text : "(nothing)", part);
    return found;
}

/* Travel by hand: (p x 80 mm2 - 12 N) / (1 N/mm x 5 mm): 181.25 kPa is 50 %, 211.25 kPa 98 %. Structure compares with
 * the preload alone and has the spool stroked in both. */
static void spools_nearly_there(void)
{
    unit_case_text(&unit, "feedtrace: 1\nmodel: near\n"
                          "layers: [{id: case, kind: casting}]\n"
                          "circuits: {line: {passages: [case.line]}, out: {passages: [case.out]}}\n"
                          "valves:\n"
                          "  relay: {kind: spool, ports: {sig: case.line, out: case.out, x: sump}, rest: [[out, x]], "
                          "stroked: [[sig, out]], window_diameter: 5, ends: [{port: sig, pushes: stroke, area: 80}], "
                          "spring: {preload: 12, rate: 1}, travel: 5}\n"
                          "feeds: {line: {into: case.line}}\n"
                          "states: {half: {line: 181.25 kPa}, near: {line: 211.25 kPa}}\n");
    struct pressed p = {unit.healthy, unit.healthy};
    struct diags d;
    diags_init(&d);
    findings_run(&unit.healthy_trace, &p, 0, false, &d);
    CU_ASSERT_EQUAL(unit.healthy[1].position[0], POSITION_PART_WAY);
    CU_ASSERT_DOUBLE_EQUAL(unit.healthy[1].travel[0], 0.98, 0.001);
    CU_ASSERT_EQUAL(count(&d, STRUCTURE_SIZE), 1);
    const struct diag *one = first_of(&d, STRUCTURE_SIZE);
    CU_ASSERT_PTR_NOT_NULL_FATAL(one);
    CU_ASSERT_STRING_EQUAL(one->state, "half");
    CU_ASSERT_TRUE(says(one->message, "part-way by pressure (50 % of its travel)"));
    diags_release(&d);
    unit_case_release(&unit);
}

/* A valve that feeds its own end at rest and drains it when stroked hunts by structure; by pressure both windows are
 * shut at mid travel, and there it stays. */
static void hunting_with_sizes(void)
{
    unit_case_text(&unit, "feedtrace: 1\nmodel: buzz\n"
                          "layers: [{id: case, kind: casting}]\n"
                          "circuits: {line: {passages: [case.line]}, own: {passages: [case.own]}}\n"
                          "valves:\n"
                          "  relay: {kind: spool, ports: {in: case.line, own: case.own, x: sump}, rest: [[in, own]], "
                          "stroked: [[own, x]], window_diameter: 5, ends: [{port: own, pushes: stroke, area: 80}], "
                          "spring: {preload: 12, rate: 1}, travel: 5}\n"
                          "feeds: {line: {into: case.line}}\n"
                          "states: {go: {line: 300 kPa}}\n");
    struct pressed p = {unit.healthy, unit.healthy};
    struct diags d;
    diags_init(&d);
    findings_run(&unit.healthy_trace, &p, 0, false, &d);
    const struct diag *one = first_of(&d, HUNTING);
    CU_ASSERT_PTR_NOT_NULL_FATAL(one);
    CU_ASSERT_STRING_EQUAL(one->message, "relay: it moves to and fro and finds no rest");
    CU_ASSERT_TRUE(says(one->help, "relay part-way, 50 % of its travel"));
    diags_release(&d);
    diags_init(&d);
    findings_run(&unit.healthy_trace, NULL, 0, false, &d);
    one = first_of(&d, HUNTING);
    CU_ASSERT_PTR_NOT_NULL_FATAL(one);
    CU_ASSERT_PTR_NULL(one->help);
    diags_release(&d);
    unit_case_release(&unit);
}

/* The pump's oil gets to a relief, to the pan, or nowhere: only the last has no number at all. */
static void pump_shut_in(void)
{
    static const struct {
        const char *fault;
        bool solved, shut_in;
    } rows[] = {{"stick reg at shut", true, false},
                {"stick reg at shut + block S1", false, true},
                {"stick reg at shut + block S1 + leak case.pump into sump at 3 mm", true, false}};
    unit_case_text(&unit, "feedtrace: 1\nmodel: shut-in\n"
                          "layers: [{id: case, kind: casting}]\n"
                          "circuits: {line: {passages: [case.pump, case.line]}, cool: {passages: [case.cool]}}\n"
                          "screens: {S1: {joins: [case.pump, case.line], diameter: 8}}\n"
                          "joints: {J1: {joins: [case.cool, sump], diameter: 3}}\n"
                          "valves:\n"
                          "  reg: {kind: regulating, source: line, also_feeds: {from: case.pump, to: case.cool}, "
                          "sets: {base: 60}}\n"
                          "  safety: {kind: relief, inlet: case.line, outlet: sump, cracks_at: 300 psi, diameter: 6}\n"
                          "feeds: {line: {into: case.pump, capacity: 20}}\n"
                          "states: {go: {line: regulated}}\n");
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        unit_case_fault(&unit, rows[i].fault, 0);
        struct pressed p = {unit.faulty, unit.healthy};
        struct diags d;
        diags_init(&d);
        findings_run(&unit.trace, &p, 0, true, &d);
        const struct diag *one = first_of(&d, NOT_SOLVED);
        CU_ASSERT_EQUAL(one == NULL, rows[i].solved);
        CU_ASSERT_EQUAL(one && strstr(one->message, "no way out"), rows[i].shut_in);
        diags_release(&d);
    }
    unit_case_release(&unit);
}

/* The clutch `on` has 20 cm3 and is held at half of its 40 psi: H1 brings in what 90 - 20 psi drive through 1 mm, H2
 * takes off what 20 psi drive. Orifice law: Q = 0.611 A sqrt(2 dp / density); Merritt 1967, from memory. */
static void time_to_fill(void)
{
    unit_case_text(&unit, unit_text);
    double area = acos(-1) / 4 * 1e-3 * 1e-3, k = 0.611 * area * sqrt(2 * PSI / unit.m->fluid.density);
    double flow = k * (sqrt(70) - sqrt(20));
    const struct actuator *on = &unit.m->actuators[0], *slips = &unit.m->actuators[1];
    CU_ASSERT_DOUBLE_EQUAL(device_seconds(on, unit.healthy[0].fill[0]), 20e-6 / flow, 0.02 * 20e-6 / flow);
    CU_ASSERT_TRUE(isnan(device_seconds(on, unit.healthy[0].drain[0])));   /* not in a state that has it on */
    CU_ASSERT_TRUE(isnan(device_seconds(slips, unit.healthy[0].fill[1]))); /* no volume */
    CU_ASSERT_TRUE(isinf(device_seconds(on, 0)));
    unit_case_release(&unit);
}

/* What a text says of a figure. */
static void figures_in_words(void)
{
    static const struct {
        double seconds;
        const char *words;
    } times[] = {{0.0912, "in 0.091 s"}, {0.0996, "in 0.10 s"}, {0.3, "in 0.30 s"}, {1.26, "in 1.3 s"},
                 {9.96, "in 10 s"},      {12.4, "in 12 s"},     {123, "in 120 s"},  {INFINITY, "hardly at all"}};
    static const struct {
        const char *unit;
        double psi;
        const char *words;
    } pressures[] = {{"psi", 0.01, "0 psi"},   {"psi", -0.05, "0 psi"}, {"bar", 0.09, "0 bar"},
                     {"kPa", 0.09, "0 kPa"},   {"psi", 0.1, "0.1 psi"}, {"kPa", 0.11, "0.76 kPa"},
                     {"psi", 114.6, "115 psi"}};
    struct text t = {0};
    for (size_t i = 0; i < sizeof times / sizeof *times; i++) {
        text_clear(&t);
        seconds_add(&t, times[i].seconds);
        CU_ASSERT_STRING_EQUAL(text_string(&t), times[i].words);
    }
    for (size_t i = 0; i < sizeof pressures / sizeof *pressures; i++) {
        struct units u = units_default();
        CU_ASSERT_TRUE(units_set(&u, DIM_PRESSURE, pressures[i].unit));
        text_clear(&t);
        pressure_add(&t, pressures[i].psi * PSI, &u);
        CU_ASSERT_STRING_EQUAL(text_string(&t), pressures[i].words);
    }
    text_release(&t);
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
    {"claims by pressure", claims_by_pressure},
    {"rates against healthy", rates_against_healthy},
    {"findings by pressure", findings_by_pressure},
    {"a solve that failed", solve_that_failed},
    {"structure against sizes", structure_against_sizes},
    {"damping", damping},
    {"spools nearly there", spools_nearly_there},
    {"hunting with sizes", hunting_with_sizes},
    {"a pump shut in", pump_shut_in},
    {"time to fill", time_to_fill},
    {"figures in words", figures_in_words},
};

UNIT_MAIN("findings by pressure", tests)
