/* A blocked end pushes with 0 and its passage is otherwise as it was; by
 * structure it still feels its passage. Expected pressures are closed forms: holes in series share the pressure by the
 * fourth powers of their diameters (Q = Cd A sqrt(2 dp / rho), the same Q through both). */
#include "pressure_case.h"

#define HEAD                                                                                                           \
    "feedtrace: 1\nmodel: ends\nlayers: [{id: case, kind: casting}]\n"                                                 \
    "circuits: {oil: {passages: [case.line, case.out, case.sig, case.hold]}}\n"

#define DIVIDED(FROM, HOLE, DRAIN)                                                                                     \
    ((FROM) * (HOLE) * (HOLE) * (HOLE) * (HOLE) /                                                                      \
     ((HOLE) * (HOLE) * (HOLE) * (HOLE) + (DRAIN) * (DRAIN) * (DRAIN) * (DRAIN)))

static void near(double is, double want, double tol)
{
    if (!(fabs(is - want) <= tol))
        printf("\n%.10g is not %.10g\n", is, want);
    CU_ASSERT_TRUE(fabs(is - want) <= tol);
}

static uint8_t structure(const struct unit_case *c, const char *state, const char *valve)
{
    state_ix s = {unit_state(c, state)};
    return trace_valve(&c->trace, trace_case(&c->trace, 0, s), (valve_ix){unit_row(c, PART_VALVE, valve)});
}

/* ---- spools */

/* Line at `sig` strokes the spool, line at `hold` helps the spring; no window is at either port. At 100 psi each end
 * pushes with 100 psi x 60 mm2 = 41 N against 12 N, and 17 N at the end of the travel. */
#define SHIFT                                                                                                          \
    HEAD "joints: {L: {joins: [case.out, sump], diameter: 1.5}}\n"                                                     \
         "valves:\n  shift:\n    kind: spool\n"                                                                        \
         "    ports: {sig: case.sig, hold: case.hold, in: case.line, out: case.out, x: sump}\n"                        \
         "    rest: [[out, x]]\n    stroked: [[in, out]]\n    window_diameter: 4\n"                                    \
         "    ends: [{port: sig, pushes: stroke, area: 60}, {port: hold, pushes: rest, area: 60}]\n"                   \
         "    spring: {preload: 12, rate: 1.0}\n    travel: 5\n"                                                       \
         "feeds: {line: {into: case.line}, a: {into: case.sig}, b: {into: case.hold}}\n"                               \
         "states: {sig: {line: 100, a: 100, b: off}, both: {line: 100, a: 100, b: 100}}\n"

static void test_one_of_two_ends(void)
{
    struct unit_case c;
    unit_case_text(&c, SHIFT);
    CU_ASSERT_EQUAL(unit_position(&c, c.healthy, "sig", "shift"), POSITION_STROKED);
    CU_ASSERT_EQUAL(unit_position(&c, c.healthy, "both", "shift"), POSITION_REST);
    unit_case_fault(&c, "block shift.sig", 0); /* the spring is alone */
    CU_ASSERT_EQUAL(unit_position(&c, c.faulty, "sig", "shift"), POSITION_REST);
    near(unit_psi(&c, c.faulty, "sig", "case.out"), 0, 1e-6);
    near(unit_psi(&c, c.faulty, "sig", "case.sig"), 100, 1e-3); /* the passage is as it was */
    CU_ASSERT_EQUAL(structure(&c, "sig", "shift"), MAY_STROKED);
    unit_case_fault(&c, "block shift.hold", 0); /* nothing helps the spring */
    CU_ASSERT_EQUAL(unit_position(&c, c.faulty, "both", "shift"), POSITION_STROKED);
    near(unit_psi(&c, c.faulty, "both", "case.out"), DIVIDED(100, 4.0, 1.5), 1e-3);
    CU_ASSERT_EQUAL(structure(&c, "both", "shift"), MAY_REST);
    unit_case_fault(&c, "block shift.hold + block shift.sig", 0);
    CU_ASSERT_EQUAL(unit_position(&c, c.faulty, "both", "shift"), POSITION_REST);
    unit_case_fault(&c, "block shift.sig + break shift", 0); /* no force at all: where a spool starts */
    CU_ASSERT_EQUAL(unit_position(&c, c.faulty, "sig", "shift"), POSITION_REST);
    unit_case_fault(&c, "block shift.sig + stick shift at stroked", 0); /* a stuck spool feels no end */
    CU_ASSERT_EQUAL(unit_position(&c, c.faulty, "sig", "shift"), POSITION_STROKED);
    unit_case_release(&c);
}

/* Outlet oil against the spring, felt through a window's own port or through one that is an end only. */
#define REDUCER(PORTS, END)                                                                                            \
    HEAD "joints: {L: {joins: [case.out, sump], diameter: 1.5}}\n"                                                     \
         "valves:\n  reducer:\n    kind: spool\n    ports: {" PORTS                                                    \
         "}\n    rest: [[in, out]]\n    window_diameter: 4\n"                                                          \
         "    ends: [{port: " END ", pushes: stroke, area: 60}]\n    spring: {preload: 12, rate: 1.0}\n"               \
         "    travel: 5\nfeeds: {line: {into: case.line}}\nstates: {s: {line: 100}}\n"

static void test_feedback(void)
{
    struct unit_case c;
    unit_case_text(&c, REDUCER("in: case.line, out: case.out, end: case.out", "end"));
    uint32_t row = unit_row(&c, PART_VALVE, "reducer");
    CU_ASSERT_EQUAL(unit_position(&c, c.healthy, "s", "reducer"), POSITION_PART_WAY);
    unit_case_fault(&c, "block reducer.end", 0); /* the window at the same passage stays: wide open */
    CU_ASSERT_EQUAL(unit_position(&c, c.faulty, "s", "reducer"), POSITION_REST);
    near(unit_psi(&c, c.faulty, "s", "case.out"), DIVIDED(100, 4.0, 1.5), 1e-3);
    unit_case_fault(&c, "block reducer.out", 0); /* the end stays: it feels an empty passage */
    near(unit_psi(&c, c.faulty, "s", "case.out"), 0, 1e-6);
    unit_case_release(&c);

    /* One window only: blocking either of its ports takes the same window, but only one of them is the end. */
    unit_case_text(&c, REDUCER("in: case.line, out: case.out", "in"));
    row = unit_row(&c, PART_VALVE, "reducer");
    CU_ASSERT_EQUAL(unit_position(&c, c.healthy, "s", "reducer"), POSITION_STROKED); /* line shuts it */
    unit_case_fault(&c, "block reducer.out", 0);
    near(c.faulty[0].travel[row], 1, 1e-9);
    unit_case_fault(&c, "block reducer.in", 0);
    near(c.faulty[0].travel[row], 0, 1e-9);
    near(unit_psi(&c, c.faulty, "s", "case.out"), 0, 1e-6); /* at rest, and its window is blocked */
    unit_case_release(&c);
}

/* Without areas forces are not known: the spool keeps the position that structure finds, which still feels the end. */
static void test_unsized(void)
{
    struct unit_case c;
    unit_case_text(&c, HEAD "joints: {L: {joins: [case.out, sump], diameter: 1.5}}\n"
                            "valves: {shift: {kind: spool, ports: {sig: case.line, in: case.line, out: case.out}, "
                            "stroked: [[in, out]], ends: [{port: sig, pushes: stroke}]}}\n"
                            "feeds: {line: {into: case.line}}\nstates: {s: {line: 100}}\n");
    unit_case_fault(&c, "block shift.sig", 0);
    CU_ASSERT_EQUAL(structure(&c, "s", "shift"), MAY_STROKED);
    CU_ASSERT_EQUAL(unit_position(&c, c.faulty, "s", "shift"), POSITION_STROKED);
    unit_case_release(&c);
}

/* ---- limiting valves */

#define LIMITED(EXHAUST, DRAIN)                                                                                        \
    HEAD "joints: {R: {joins: [case.out, case.sig], diameter: 0.9}" DRAIN "}\n"                                        \
         "valves: {lim: {kind: limiting, supply: case.line, outlet: case.out, reaction: case.sig, " EXHAUST            \
         "limit: 115, open_diameter: 4}}\n"                                                                            \
         "feeds: {line: {into: case.line}}\nstates: {low: {line: 55}, high: {line: 150}, most: {line: 300}}\n"

/* Common practice, no source: with no oil at the reaction end the outlet is line at any line pressure. */
static void test_reaction(void)
{
    struct unit_case c;
    unit_case_text(&c, LIMITED("", ""));
    near(unit_psi(&c, c.healthy, "most", "case.out"), 115, 0.1);
    unit_case_fault(&c, "block lim.reaction", 0);
    near(unit_psi(&c, c.faulty, "low", "case.out"), 55, 1e-3);
    near(unit_psi(&c, c.faulty, "high", "case.out"), 150, 1e-3);
    near(unit_psi(&c, c.faulty, "most", "case.out"), 300, 1e-3);
    near(unit_psi(&c, c.faulty, "most", "case.sig"), 300, 1e-3); /* the passage is as it was: it follows the outlet */
    CU_ASSERT_EQUAL(unit_position(&c, c.faulty, "low", "lim"), POSITION_WIDE);
    CU_ASSERT_EQUAL(unit_position(&c, c.faulty, "most", "lim"), POSITION_WIDE);
    CU_ASSERT_EQUAL(structure(&c, "most", "lim"), MAY_LIMIT);
    unit_case_fault(&c, "block lim.reaction + stick lim at shut", 0);
    CU_ASSERT_EQUAL(unit_position(&c, c.faulty, "most", "lim"), POSITION_SHUT);
    unit_case_release(&c);

    /* drawn from through a hole of 2 mm, the valve open as far as 4 mm; its exhaust stays shut */
    unit_case_text(&c, LIMITED("exhaust: sump, ", ", D: {joins: [case.out, sump], diameter: 2, strength: orifice}"));
    CU_ASSERT_TRUE(unit_psi(&c, c.healthy, "most", "case.out") < 116);
    unit_case_fault(&c, "block lim.reaction", 0);
    near(unit_psi(&c, c.faulty, "most", "case.out"), DIVIDED(300, 4.0, 2.0), 1e-3);
    /* A broken spring with oil at the reaction end shuts the valve; with none there it stands wide. */
    unit_case_fault(&c, "break lim", 0);
    near(unit_psi(&c, c.faulty, "most", "case.out"), 0, 1e-6);
    unit_case_fault(&c, "block lim.reaction + break lim", 0);
    near(unit_psi(&c, c.faulty, "most", "case.out"), DIVIDED(300, 4.0, 2.0), 1e-3);
    CU_ASSERT_EQUAL(unit_position(&c, c.faulty, "most", "lim"), POSITION_WIDE);
    unit_case_release(&c);
}

static const struct unit_test tests[] = {
    {"one of two ends", test_one_of_two_ends},
    {"an end that feels the outlet", test_feedback},
    {"an end without area", test_unsized},
    {"reaction end of a limiting valve", test_reaction},
};
UNIT_MAIN("pressure_blocked_ends", tests)
