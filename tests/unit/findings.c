/* The table of checks, what is accepted, and how claims are judged. Which line earns which finding: tests/bad/. */
#include "findings/findings.h"
#include "faults/faults.h"
#include "unit_model.h"

/* A clutch behind an orifice that the lever feeds or drains; a dead end; a relay whose end sees a fight. The expected
 * answers follow from the picture: in `go` line fills the clutch, in `stop` it drains, `body.shut` has no way in or
 * out, `body.fight` is filled and emptied through orifices of one size. */
static const char unit_text[] =
    "feedtrace: 1\nmodel: claims\n"
    "layers: [{id: case, kind: casting}, {id: plate, kind: plate}, {id: body, kind: casting}]\n"
    "circuits:\n"
    "  line: {passages: [case.line, body.line]}\n"
    "  c1: {passages: [body.c1, case.c1, case.shut]}\n"
    "  closed: {passages: [body.shut]}\n"
    "  mixed: {passages: [body.mixed, case.mixed]}\n"
    "  fight: {flows: true, passages: [body.fight]}\n"
    "  blank: {passages: [body.blank]}\n"
    "  out: {passages: [body.out]}\n"
    "joints: {J1: [case.mixed, case.line]}\n"
    "holes:\n"
    "  H1: {joins: [case.line, body.line], diameter: 6}\n"
    "  H2: {joins: [body.c1, case.c1], diameter: 2, orifice: true}\n"
    "  H3: {joins: [case.shut, body.shut], diameter: 2}\n"
    "  H4: {joins: [body.mixed, sump], diameter: 2}\n"
    "  H5: {joins: [case.line, body.fight], diameter: 1, orifice: true}\n"
    "  H6: {joins: [body.fight, sump], diameter: 1, orifice: true}\n"
    "  H7: {joins: [case.line, body.blank], diameter: 2}\n"
    "valves:\n"
    "  manual: {kind: manual, ports: {in: body.line, c1: body.c1, x: sump}, positions: {N: [[c1, x]], D: [[in, c1]]}}\n"
    "  relay: {kind: spool, ports: {sig: body.fight, in: body.line, out: body.out, x: sump}, rest: [[out, x]], "
    "stroked: [[in, "
    "out]], ends: [{port: sig, pushes: stroke}]}\n"
    "  safety: {kind: relief, inlet: case.line, outlet: sump, cracks_at: 300 psi}\n"
    "  regulator: {kind: regulating, source: line}\n"
    "actuators: {clutch: {kind: clutch, apply: case.c1}, relayed: {kind: clutch, apply: body.out}}\n"
    "gears: {neutral: [], first: [clutch], second: [relayed], both: [clutch, relayed]}\n"
    "feeds: {line: {into: case.line}}\n"
    "taps: {T_c1: case.c1}\n"
    "switches: {W_c1: {on: case.c1, closes_at: 20}}\n"
    "states:\n"
    "  stop: {manual: N, line: 55}\n"
    "  go: {manual: D, line: 90}\n";

static struct read_text unit;
static struct network network;
static struct trace trace;
static struct arena arena;
static struct edits none;

static void begin(const char *text)
{
    unit = unit_good_model(text);
    arena_init(&arena);
    network_build(unit.m, false, &network);
    trace_run(&network, &none, 1, NULL, &trace);
}

static void end(void)
{
    trace_release(&trace);
    network_release(&network);
    arena_release(&arena);
    unit_model_release(&unit);
}

static enum verdict judge(const char *line)
{
    struct claims c;
    CU_ASSERT_TRUE_FATAL(claims_read(line, strlen(line), NO_SPAN, unit.m, &arena, &c, &unit.d));
    return claims_judge(&c, &trace, NULL, 0, c.in == IN_STATE ? c.state : (state_ix){0});
}

static void claims_verdicts(void)
{
    static const struct {
        const char *line;
        enum verdict wanted;
    } rows[] = {
        /* passages and taps */
        {"go: case.c1 fed", VERDICT_YES},
        {"stop: case.c1 fed", VERDICT_NO},
        {"stop: T_c1 exhausted", VERDICT_YES},
        {"go: body.shut trapped", VERDICT_YES},
        {"go: body.fight partial", VERDICT_YES},
        {"go: body.fight fed", VERDICT_NO},
        {"go: body.out fed", VERDICT_CANNOT_TELL},
        {"go: body.out trapped", VERDICT_CANNOT_TELL},
        /* circuits leave out what is closed, but for the claim that it is closed */
        {"go: c1 fed", VERDICT_YES},
        {"go: c1 trapped", VERDICT_NO},
        {"go: some c1 trapped", VERDICT_YES},
        {"go: closed trapped", VERDICT_YES},
        {"go: closed fed", VERDICT_CANNOT_TELL},
        {"go: some closed fed", VERDICT_CANNOT_TELL},
        {"go: mixed fed", VERDICT_NO},
        {"go: some mixed fed", VERDICT_YES},
        {"go: some mixed trapped", VERDICT_NO},
        /* reach */
        {"go: clutch reached by line", VERDICT_YES},
        {"stop: clutch reached by line", VERDICT_NO},
        {"go: body.out reached by line", VERDICT_CANNOT_TELL},
        {"go: c1 reached by line", VERDICT_YES},
        /* devices */
        {"go: clutch applied", VERDICT_YES},
        {"stop: clutch released", VERDICT_YES},
        {"go: relayed applied", VERDICT_CANNOT_TELL},
        {"go: clutch slipping", VERDICT_NO},
        {"go: not clutch slipping", VERDICT_YES},
        /* positions */
        {"go: manual D", VERDICT_YES},
        {"go: manual N", VERDICT_NO},
        {"go: relay stroked", VERDICT_CANNOT_TELL},
        {"go: relay part-way", VERDICT_CANNOT_TELL},
        {"go: safety shut", VERDICT_YES},
        {"go: safety open", VERDICT_NO},
        /* gears: the relayed clutch is open, so two gears are possible in each state */
        {"go: gear first", VERDICT_CANNOT_TELL},
        {"go: gear second", VERDICT_NO},
        {"go: not gear second", VERDICT_YES},
        {"stop: gear none", VERDICT_NO},
        {"stop: gear tie-up", VERDICT_NO},
        /* not by structure */
        {"go: case.c1 80 psi", VERDICT_NOT_JUDGED},
        {"go: not case.c1 80 psi", VERDICT_NOT_JUDGED},
        {"go: clutch applied above 60 psi", VERDICT_NOT_JUDGED},
        {"stop: clutch applied above 60 psi", VERDICT_NO},
        {"stop: not clutch applied above 60 psi", VERDICT_YES},
        {"go: body.out fed above 60 psi", VERDICT_CANNOT_TELL},
        {"go: W_c1 closed", VERDICT_NOT_JUDGED},
        {"go: clutch fills below 0.5 x healthy", VERDICT_NOT_JUDGED},
        {"go: air at case.c1 leaves at H2", VERDICT_NOT_JUDGED},
        /* and: a no wins, then cannot tell, then what is not judged */
        {"go: case.c1 fed and clutch applied", VERDICT_YES},
        {"go: body.out fed and case.c1 exhausted", VERDICT_NO},
        {"go: case.c1 80 psi and case.c1 exhausted", VERDICT_NO},
        {"go: case.c1 80 psi and body.out fed", VERDICT_CANNOT_TELL},
        {"go: case.c1 80 psi and case.c1 fed", VERDICT_NOT_JUDGED},
        {"go: not body.out fed", VERDICT_CANNOT_TELL},
        /* over all states */
        {"any: clutch applied", VERDICT_YES},
        {"every: clutch applied", VERDICT_NO},
        {"any: body.shut fed", VERDICT_NO},
        {"every: case.line fed", VERDICT_YES},
        {"any: body.out trapped", VERDICT_CANNOT_TELL},
        {"any: body.out fed", VERDICT_CANNOT_TELL},
        {"every: body.out fed", VERDICT_CANNOT_TELL},
    };
    begin(unit_text);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        enum verdict got = judge(rows[i].line);
        if (got != rows[i].wanted)
            fprintf(stderr, "%s: verdict %d, wanted %d\n", rows[i].line, (int)got, (int)rows[i].wanted);
        CU_ASSERT_EQUAL(got, rows[i].wanted);
    }
    trace.cases[1].settled = false;
    CU_ASSERT_EQUAL(judge("go: case.c1 fed"), VERDICT_CANNOT_TELL);
    CU_ASSERT_EQUAL(judge("any: body.shut trapped"), VERDICT_YES);
    CU_ASSERT_EQUAL(judge("every: body.shut trapped"), VERDICT_CANNOT_TELL);
    trace.cases[1].settled = true;
    end();
}

/* How many findings of a code there are; `at` and `state` may be NULL for any. */
static size_t count(const struct diags *d, enum code code, const char *at, const char *state)
{
    size_t n = 0;
    for (size_t i = 0; i < d->n; i++)
        n += d->rows[i].code == code && (!at || (d->rows[i].at && !strcmp(d->rows[i].at, at))) &&
             (!state || (d->rows[i].state && !strcmp(d->rows[i].state, state)));
    return n;
}

/* A claim of an open relief valve and of a manual valve that a fault sticks is judged by the fault. */
static void claims_under_fault(void)
{
    struct fault_set set;
    struct trace healthy;
    begin(unit_text);
    healthy = trace;
    CU_ASSERT_TRUE_FATAL(faults_read("stick safety at open + stick manual at D", &network, &arena, &set, &unit.d));
    trace_run(&network, &set.edits, 1, &healthy, &trace);
    CU_ASSERT_EQUAL(judge("go: safety open"), VERDICT_YES);
    CU_ASSERT_EQUAL(judge("stop: manual D"), VERDICT_YES);
    trace_release(&healthy);
    end();
}

static void findings_not_settled(void)
{
    struct diags d;
    diags_init(&d);
    begin(unit_text);
    trace.cases[1].settled = false;
    findings_run(&trace, NULL, 0, false, &d);
    CU_ASSERT_EQUAL(count(&d, NOT_SETTLED, NULL, "go"), 1);
    CU_ASSERT_EQUAL(count(&d, NOT_SETTLED, NULL, NULL), 1);
    CU_ASSERT_EQUAL(count(&d, NEVER_FED, NULL, NULL), 0); /* a state without an answer could be the one that feeds it */
    CU_ASSERT_EQUAL(count(&d, UNDETERMINED_VALVE, "relay", "stop"), 1);
    CU_ASSERT_EQUAL(count(&d, UNDETERMINED_VALVE, "relay", "go"), 0);
    trace.cases[1].settled = true;
    diags_release(&d);
    diags_init(&d);
    findings_run(&trace, NULL, 0, false, &d);
    CU_ASSERT_EQUAL(count(&d, NOT_SETTLED, NULL, NULL), 0);
    CU_ASSERT_EQUAL(count(&d, NEVER_FED, "body.shut", NULL), 1);
    CU_ASSERT_EQUAL(count(&d, DEAD_END, "body.blank", NULL), 1);
    CU_ASSERT_EQUAL(count(&d, UNDETERMINED_VALVE, "relay", NULL), 2);
    diags_release(&d);
    end();
}

/* Common practice, no source: what only a fault can bring. */
static void findings_under_fault(void)
{
    static const struct {
        const char *fault;
        enum code code;
        const char *at;
        bool wanted;
    } rows[] = {
        {"stick regulator at shut", NO_LIMIT_ON_LINE, "regulator", true},
        {"stick regulator at open", NO_LIMIT_ON_LINE, NULL, false},
        {"block manual.c1", CANNOT_RELEASE, "clutch", true},
        {"resize H2 to 1 mm", CANNOT_RELEASE, NULL, false},
        {"block H6", CANNOT_RELEASE, NULL, false}, /* the relay's end is fed in both states: nothing drains there */
    };
    begin(unit_text);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct fault_set set;
        struct trace faulty;
        struct diags d;
        diags_init(&d);
        CU_ASSERT_TRUE_FATAL(faults_read(rows[i].fault, &network, &arena, &set, &unit.d));
        trace_run(&network, &set.edits, 1, &trace, &faulty);
        findings_run(&faulty, NULL, 0, true, &d);
        if ((count(&d, rows[i].code, rows[i].at, NULL) > 0) != rows[i].wanted)
            fprintf(stderr, "%s: %s\n", rows[i].fault, code_row(rows[i].code)->id);
        CU_ASSERT_EQUAL(count(&d, rows[i].code, rows[i].at, NULL) > 0, rows[i].wanted);
        CU_ASSERT_EQUAL(count(&d, NEVER_FED, NULL, NULL) + count(&d, DEAD_END, NULL, NULL),
                        0); /* of the model, not of a fault */
        trace_release(&faulty);
        diags_release(&d);
    }
    end();
}

static void expectations(void)
{
    struct text text = {0};
    text_add(&text, unit_text);
    text_add(&text, "  more:\n    manual: D\n    line: 90\n    expect:\n      case.c1: [fed, 80 psi, exhausted]\n"
                    "      body.out: fed\n      some mixed: fed\n");
    begin(text_string(&text));
    struct expectations e = {0};
    expectations_count(&trace, NULL, 0, (state_ix){2}, &e);
    CU_ASSERT_EQUAL(e.n_met, 2);
    CU_ASSERT_EQUAL(e.n_failed, 1);
    CU_ASSERT_EQUAL(e.n_undecided, 1);
    CU_ASSERT_EQUAL(e.n_not_judged, 1);
    struct diags d;
    diags_init(&d);
    findings_run(&trace, NULL, 0, false, &d);
    CU_ASSERT_EQUAL(count(&d, EXPECTATION_FAILED, NULL, "more"), 1);
    CU_ASSERT_EQUAL(count(&d, UNDECIDED, NULL, "more"), 1);
    diags_release(&d);
    end();
    text_release(&text);
}

/* Every finding has a check that looks for it and says what it means; none is listed twice. */
static void table_is_whole(void)
{
    size_t n_healthy, n_faulty;
    const char *const *healthy = findings_checks(false, &n_healthy);
    const char *const *faulty = findings_checks(true, &n_faulty);
    CU_ASSERT_TRUE(n_healthy && n_faulty);
    for (int c = 0; c < N_CODES; c++) {
        const struct code_row *row = code_row((enum code)c);
        size_t in_healthy = 0, in_faulty = 0;
        for (size_t i = 0; i < n_healthy; i++)
            in_healthy += !strcmp(healthy[i], row->id);
        for (size_t i = 0; i < n_faulty; i++)
            in_faulty += !strcmp(faulty[i], row->id);
        CU_ASSERT_TRUE(strlen(row->what) > 10 && strlen(row->road) > 10 && strlen(row->mend) > 10);
        CU_ASSERT_TRUE(in_healthy <= 1 && in_faulty <= 1);
        CU_ASSERT_EQUAL(in_healthy + in_faulty > 0, row->kind == CODE_FINDING);
    }
}

static const struct unit_test tests[] = {
    {"claims are judged yes, no, cannot tell or not at all", claims_verdicts},
    {"claims see a fault", claims_under_fault},
    {"a state that does not settle", findings_not_settled},
    {"findings that only a fault brings", findings_under_fault},
    {"expectations are counted", expectations},
    {"every finding is looked for and explained", table_is_whole},
};

UNIT_MAIN("findings", tests)
