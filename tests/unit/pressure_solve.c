/* Small circuits, one rule of the solver each. Where a number is expected its formula stands beside it. */
#include "pressure_case.h"

#define HEAD                                                                                                           \
    "feedtrace: 1\nmodel: small\nlayers:\n  - {id: case, kind: casting}\n  - {id: plate, kind: plate}\n"               \
    "  - {id: body, kind: casting}\n"

static void near(double is, double want, double tol)
{
    if (!(fabs(is - want) <= tol))
        printf("\n%.10g is not %.10g\n", is, want);
    CU_ASSERT_TRUE(fabs(is - want) <= tol);
}

/* ---- closed groups and leakdown */

static void test_closed(void)
{
    struct unit_case c;
    unit_case_text(&c, HEAD "circuits: {oil: {passages: [case.line, case.a, case.b, case.c, case.dead]}}\n"
                            "joints:\n"
                            "  A: {joins: [case.line, case.a], diameter: 2}\n"
                            "  B: {joins: [case.a, sump], diameter: 2}\n"
                            "  C: {joins: [case.b, case.c], diameter: 2}\n" /* joined to each other, to nothing else */
                            "  D: {joins: [case.line, case.dead], diameter: 1}\n"
                            "feeds: {line: {into: case.line}}\nstates: {on: {line: 100}, off: {line: off}}\n");
    CU_ASSERT_TRUE(isnan(unit_psi(&c, c.healthy, "on", "case.b")));
    CU_ASSERT_TRUE(isnan(unit_psi(&c, c.healthy, "on", "case.c")));
    near(unit_psi(&c, c.healthy, "on", "case.a"), 50, 1e-4); /* two equal holes halve the pressure */
    near(unit_psi(&c, c.healthy, "on", "case.dead"), 100, 1e-3);
    near(unit_psi(&c, c.healthy, "off", "case.line"), 0, 1e-9); /* drained through A and B: open to sump, not closed */
    CU_ASSERT_TRUE(isnan(c.healthy[unit_state(&c, "off")].sources[0].flow));
    unit_case_fault(&c, "block B", 0);
    near(unit_psi(&c, c.faulty, "on", "case.a"), 100, 1e-3);
    unit_case_fault(&c, "block A + block B", 0);
    CU_ASSERT_TRUE(isnan(unit_psi(&c, c.faulty, "on", "case.a")));
    unit_case_release(&c);
}

/* ---- sources */

static void test_capacity(void)
{
    struct unit_case c;
    unit_case_text(&c,
                   HEAD "circuits: {oil: {passages: [case.line]}}\n"
                        "joints: {A: {joins: [case.line, sump], diameter: 1.5}, B: {joins: [case.line, sump], "
                        "diameter: 2}}\nfeeds: {line: {into: case.line, capacity: 5}}\n"
                        "states: {high: {line: 100}, low: {line: 20}, own: {line: {pressure: 100, capacity: 9}}}\n");
    /* 47.58666 psi: network pump_flow of tests/data/networks.yaml */
    const struct pressures *p = &c.healthy[unit_state(&c, "high")];
    near(unit_psi(&c, c.healthy, "high", "case.line"), 47.58666147, 1e-4);
    CU_ASSERT_TRUE(p->sources[0].limited);
    near(p->sources[0].flow / L_PER_MIN, 5, 1e-9);
    near(unit_psi(&c, c.healthy, "low", "case.line"), 20, 1e-9);
    CU_ASSERT_FALSE(c.healthy[unit_state(&c, "low")].sources[0].limited);
    CU_ASSERT_FALSE(c.healthy[unit_state(&c, "own")].sources[0].limited); /* 7.25 L/min at 100 psi */
    unit_case_fault(&c, "weaken line to 2.5 L/min", 0);
    near(unit_psi(&c, c.faulty, "own", "case.line"), 47.58666147 / 4,
         1e-4); /* half the flow, a quarter of the pressure */
    unit_case_fault(&c, "weaken line to 8 L/min", 0);
    near(unit_psi(&c, c.faulty, "high", "case.line"), 47.58666147,
         1e-4); /* which gave 5 L/min before, and no more now */
    unit_case_release(&c);
}

#define REGULATED                                                                                                      \
    HEAD "circuits: {oil: {passages: [case.line, case.conv, case.sig]}}\n"                                             \
         "joints:\n  A: {joins: [case.line, sump], diameter: 1.5}\n  C: {joins: [case.conv, sump], diameter: 2}\n"     \
         "  F: {joins: [case.line, case.sig], diameter: 1}\n"                                                          \
         "holes: {S: {joins: [case.sig, sump], diameter: 1}}\n"                                                        \
         "valves:\n  reg: {kind: regulating, source: line, also_feeds: {from: case.line, to: case.conv}, "             \
         "sets: {base: 55, plus: [{from: case.sig, gain: 0.5}], at_most: 70}}\n"
#define RELIEF "  safety: {kind: relief, inlet: case.line, outlet: sump, cracks_at: 200, diameter: 6}\n"

static void test_regulated(void)
{
    struct unit_case c;
    unit_case_text(&c, REGULATED "feeds: {line: {into: case.line, capacity: 40}}\n"
                                 "states: {s: {line: regulated}, starved: {line: {pressure: 100, capacity: 3}}}\n");
    /* line = 55 + 0.5 sig and sig = line / 2: 73.3, so at_most */
    near(unit_psi(&c, c.healthy, "s", "case.line"), 70, 1e-6);
    unit_case_fault(&c, "block F", 0);
    near(unit_psi(&c, c.faulty, "s", "case.line"), 55, 1e-6);
    unit_case_fault(&c, "resize S to 2 mm", 0); /* sig = line / 17: line = 55 / (1 - 0.5 / 17) */
    near(unit_psi(&c, c.faulty, "s", "case.line"), 55 / (1 - 0.5 / 17), 1e-3);
    /* At its capacity the regulator no longer spills: the converter starves first. */
    CU_ASSERT_TRUE(c.healthy[unit_state(&c, "starved")].sources[0].limited);
    CU_ASSERT_TRUE(unit_psi(&c, c.healthy, "starved", "case.conv") < 0.1);
    unit_case_release(&c);
}

static void test_stuck_regulator(void)
{
    struct unit_case c;
    unit_case_text(&c, REGULATED RELIEF "feeds: {line: {into: case.line, capacity: 30}}\nstates: {s: {line: 60}}\n");
    unit_case_fault(&c, "stick reg at shut", 0);
    const struct pressures *p = &c.faulty[0];
    CU_ASSERT_TRUE(unit_psi(&c, c.faulty, "s", "case.line") > 200);        /* until the relief opens */
    CU_ASSERT_TRUE(unit_psi(&c, c.faulty, "s", "case.line") < 200 * 1.05); /* it has more than enough */
    near(p->sources[0].flow / L_PER_MIN, 30, 1e-9);
    CU_ASSERT_EQUAL(unit_position(&c, c.faulty, "s", "safety"), POSITION_OPEN);
    near(unit_psi(&c, c.faulty, "s", "case.conv"), 0, 1e-6); /* also_feeds is shut */
    unit_case_fault(&c, "stick reg at open", 0);             /* a 6 mm spill takes all of it: more than it has */
    CU_ASSERT_TRUE(p->sources[0].limited);
    CU_ASSERT_TRUE(unit_psi(&c, c.faulty, "s", "case.line") < 60);
    CU_ASSERT_EQUAL(unit_position(&c, c.faulty, "s", "reg"), POSITION_OPEN);
    unit_case_release(&c);

    unit_case_text(&c, REGULATED "feeds: {line: {into: case.line, capacity: 30}}\nstates: {s: {line: 60}}\n");
    unit_case_fault(&c, "stick reg at shut", 0);
    CU_ASSERT_FALSE(c.faulty[0].end.converged); /* no relief: no number */
    CU_ASSERT_EQUAL(c.faulty[0].end.why, SOLVE_NO_LIMIT);
    unit_case_release(&c);
}

/* ---- spools */

/* A spool that holds itself: its end is fed by what its own window delivers. A second end starts it. */
#define LATCH                                                                                                          \
    HEAD "circuits: {oil: {passages: [case.line, case.out, case.start]}}\n"                                            \
         "joints: {L: {joins: [case.out, sump], diameter: 0.8}}\n"                                                     \
         "valves:\n  latch:\n    kind: spool\n    ports: {in: case.line, out: case.out, start: case.start, x: sump}\n" \
         "    rest: [[out, x]]\n    stroked: [[in, out]]\n    window_diameter: 4\n"                                    \
         "    ends: [{port: out, pushes: stroke, area: 60}, {port: start, pushes: stroke, area: 60}]\n"                \
         "    spring: {preload: 12, rate: 1.0}\n    travel: 5\n"                                                       \
         "solenoids: {sol: {kind: three_way, normally: low, supply: case.line, output: case.start, exhaust: sump, "    \
         "diameter: 2}}\nfeeds: {line: {into: case.line, capacity: 20}}\n"

static void test_two_solutions(void)
{
    struct unit_case c;
    unit_case_text(&c, LATCH "states:\n  idle: {line: 100}\n  push: {line: 100, sol: on, after: idle}\n"
                             "  held: {line: 100, after: push}\n");
    uint32_t latch = unit_row(&c, PART_VALVE, "latch");
    const struct pressures *idle = &c.healthy[unit_state(&c, "idle")], *held = &c.healthy[unit_state(&c, "held")];
    CU_ASSERT_EQUAL(unit_position(&c, c.healthy, "idle", "latch"), POSITION_REST);
    CU_ASSERT_EQUAL(unit_position(&c, c.healthy, "push", "latch"), POSITION_STROKED);
    CU_ASSERT_EQUAL(unit_position(&c, c.healthy, "held", "latch"),
                    POSITION_STROKED); /* it stays where `push` left it */
    CU_ASSERT_EQUAL(c.healthy[unit_state(&c, "push")].n_solutions, 0);
    CU_ASSERT_EQUAL_FATAL(idle->n_solutions, 1); /* the other one each; the unstable one between them never */
    CU_ASSERT_EQUAL_FATAL(held->n_solutions, 1);
    near(idle->solutions[0].travel[latch], 1, 1e-9);
    near(held->solutions[0].travel[latch], 0, 1e-9);
    CU_ASSERT_EQUAL(idle->solutions[0].from, TRIED_STROKED);
    CU_ASSERT_EQUAL(held->solutions[0].from, TRIED_REST);
    CU_ASSERT_TRUE(held->solutions[0].pressure[unit_row(&c, PART_PASSAGE, "case.out")] < PSI);
    unit_case_release(&c);
}

/* Outlet oil against the spring: a spool that regulates comes to rest part-way. Balance: 12 N + 5 N x / 60 mm2. */
static void test_part_way(void)
{
    struct unit_case c;
    unit_case_text(&c, HEAD "circuits: {oil: {passages: [case.line, case.out]}}\n"
                            "joints: {L: {joins: [case.out, sump], diameter: 1.5}}\n"
                            "valves:\n  reducer:\n    kind: spool\n    ports: {in: case.line, out: case.out, x: sump}\n"
                            "    rest: [[in, out]]\n    stroked: [[out, x]]\n    window_diameter: 4\n"
                            "    ends: [{port: out, pushes: stroke, area: 60}]\n    spring: {preload: 12, rate: 1.0}\n"
                            "    travel: 5\nfeeds: {line: {into: case.line}}\n"
                            "states: {s: {line: 100}, low: {line: 20}}\n");
    uint32_t row = unit_row(&c, PART_VALVE, "reducer");
    CU_ASSERT_EQUAL(unit_position(&c, c.healthy, "s", "reducer"), POSITION_PART_WAY);
    double x = c.healthy[unit_state(&c, "s")].travel[row];
    CU_ASSERT_TRUE(x > 0.3 && x < 0.5);
    near(unit_psi(&c, c.healthy, "s", "case.out"), (12 + 5 * x) / 60e-6 / PSI, 1e-6);
    CU_ASSERT_EQUAL(unit_position(&c, c.healthy, "low", "reducer"), POSITION_REST); /* 20 psi x 60 mm2 = 8 N */
    unit_case_fault(&c, "break reducer", 0); /* 0.1 N takes it through: the outlet stays near nothing */
    CU_ASSERT_TRUE(unit_psi(&c, c.faulty, "s", "case.out") < 0.1 / 60e-6 / PSI);
    unit_case_fault(&c, "stick reducer at stroked", 0);
    near(unit_psi(&c, c.faulty, "s", "case.out"), 0, 1e-6);
    unit_case_release(&c);
}

/* A limiting valve with gaps and no exhaust: a dead-ended outlet rises to line; with an exhaust it does not. */
#define GAPPED(EXHAUST)                                                                                                \
    HEAD "circuits: {oil: {passages: [case.line, case.out, case.react]}}\n"                                            \
         "joints: {R: {joins: [case.out, case.react], diameter: 0.9}}\n"                                               \
         "valves:\n  lim: {kind: limiting, supply: case.line, outlet: case.out, reaction: case.react, " EXHAUST        \
         "limit: 115, open_diameter: 4, clearance: {bore: 12, gap: 0.02, land: 6}}\n"                                  \
         "feeds: {line: {into: case.line}}\nstates: {s: {line: 200}}\n"

static void test_gaps(void)
{
    struct unit_case c;
    unit_case_text(&c, GAPPED(""));
    near(unit_psi(&c, c.healthy, "s", "case.out"), 200, 0.2); /* leakdown takes some */
    unit_case_release(&c);
    unit_case_text(&c, GAPPED("exhaust: sump, "));
    CU_ASSERT_TRUE(unit_psi(&c, c.healthy, "s", "case.out") < 115 * 1.07);
    unit_case_release(&c);
    /* wear makes a gap where the model gives none, and replaces one that it gives: eight times the flow of twice the
     * gap */
    unit_case_text(&c, HEAD "circuits: {oil: {passages: [case.line, case.a, case.u, case.v]}}\n"
                            "joints: {Z: {joins: [case.a, sump], diameter: 10}}\n"
                            "valves: {v: {kind: spool, ports: {a: case.line, b: case.a, u: case.u, v: case.v}, "
                            "rest: [[u, v]], along: [a, b], clearance: {bore: 12, gap: 0.02, land: 6}}}\n"
                            "feeds: {line: {into: case.line}}\nstates: {s: {line: 115}}\n");
    /* 0.021551889 L/min: row own1 of tests/data/annular.csv; there 80 degC, the fluid's own temperature here */
    double through = c.healthy[0].sources[0].flow / L_PER_MIN;
    near(through, 0.021551889, 1e-4);
    unit_case_fault(&c, "wear v between a and b at 0.04 mm", 0);
    near(c.faulty[0].sources[0].flow / L_PER_MIN, 8 * through, 1e-3);
    unit_case_release(&c);
}

/* ---- balls */

/* 80 and 60 psi into one pocket: the lower seat shuts. Figures: network `shuttle` of tests/data/networks.yaml. */
#define SHUTTLE                                                                                                        \
    HEAD "circuits: {oil: {passages: [case.s1, case.s2, case.a, case.b, body.k]}}\n"                                   \
         "joints:\n  I1: {joins: [case.s1, case.a], diameter: 4}\n  I2: {joins: [case.s2, case.b], diameter: 4}\n"     \
         "  D: {joins: [body.k, sump], diameter: 1}\n  L2: {joins: [case.b, sump], diameter: 1}\n"                     \
         "holes:\n  X1: {joins: [case.a, body.k], diameter: 2}\n  X2: {joins: [case.b, body.k], diameter: 2}\n"        \
         "check_balls: {B: {seats_on: [X1, X2], lies_in: body.k}}\n"                                                   \
         "feeds: {f1: {into: case.s1}, f2: {into: case.s2}}\nstates: {s: {f1: 80, f2: 60}, same: {f1: 60, f2: 60}}\n"

static void test_shuttle(void)
{
    struct unit_case c;
    unit_case_text(&c, SHUTTLE);
    uint32_t x2 = c.network.hole_element[unit_row(&c, PART_HOLE, "X2")];
    uint32_t x1 = c.network.hole_element[unit_row(&c, PART_HOLE, "X1")];
    near(unit_psi(&c, c.healthy, "s", "body.k"), 75.01831502, 1e-4);
    near(unit_psi(&c, c.healthy, "s", "case.b"), 59.76653696, 1e-4);
    CU_ASSERT_EQUAL(c.healthy[0].flow[x2], 0); /* a seated ball passes exactly nothing */
    /* with both inlets above the pocket both pass, but for the 100 Pa that L2 costs */
    CU_ASSERT_TRUE(c.healthy[unit_state(&c, "same")].flow[x1] > 0);
    CU_ASSERT_TRUE(c.healthy[unit_state(&c, "same")].flow[x2] > 0);
    unit_case_fault(&c, "lose B", 0); /* 80 pushes into 60 */
    CU_ASSERT_TRUE(c.faulty[0].flow[x2] < 0);
    unit_case_fault(&c, "unseat B on X2 at 0.5 mm", 0);
    CU_ASSERT_EQUAL(c.faulty[0].n_added, 1);
    CU_ASSERT_TRUE(c.faulty[0].added_flow[0] > 0); /* out of the pocket past the shut seat */
    CU_ASSERT_EQUAL(c.faulty[0].flow[x2], 0);
    near(c.faulty[unit_state(&c, "same")].added_flow[0], 0, 1e-12); /* no seat is shut there */
    unit_case_release(&c);
}

static void test_check_ball(void)
{
    struct unit_case c;
    unit_case_text(&c, HEAD
                   "circuits: {oil: {passages: [case.line, case.a, body.k]}}\n"
                   "joints: {I: {joins: [case.line, body.k], diameter: 3}, D: {joins: [case.a, sump], diameter: 2}}\n"
                   "holes: {H: {joins: [case.a, body.k], diameter: 2}}\n"
                   "check_balls: {B: {seats_on: H, lies_in: body.k}}\n"
                   "feeds: {line: {into: case.line}}\nstates: {s: {line: 100}}\n");
    CU_ASSERT_EQUAL(c.healthy[0].flow[c.network.hole_element[0]], 0);
    near(unit_psi(&c, c.healthy, "s", "body.k"), 100, 1e-3);
    unit_case_fault(&c, "lose B", 0); /* 3, 2 and 2 mm in series: drops as 1/81 : 1/16 : 1/16 */
    near(unit_psi(&c, c.faulty, "s", "case.a"), 45.50561798, 1e-4); /* network ball_forward of networks.yaml */
    unit_case_fault(&c, "unseat B at 2 mm", 0);
    near(unit_psi(&c, c.faulty, "s", "case.a"), 45.50561798, 1e-4);
    unit_case_release(&c);
}

/* ---- devices */

static void test_devices(void)
{
    struct unit_case c;
    unit_case_text(
        &c, HEAD "circuits: {oil: {passages: [case.line, case.c, case.r]}}\n"
                 "joints:\n  A: {joins: [case.line, case.c], diameter: 1}\n  B: {joins: [case.c, sump], diameter: 1}\n"
                 "  R: {joins: [case.line, case.r], diameter: 1}\n"
                 "actuators:\n  clutch: {kind: clutch, apply: case.c, applies_at: 40}\n"
                 "  plain: {kind: clutch, apply: case.c}\n" /* 30 psi is assumed */
                 "  band: {kind: band, apply: case.line, release: case.r, apply_area: 900, release_area: 500, "
                 "spring: {preload: 60, rate: 0}, applies_at: 30}\n"
                 "feeds: {line: {into: case.line}}\n"
                 "gears: {neutral: [], go: [clutch]}\n"
                 "states: {on: {line: 100, gear: go}, slips: {line: 62, gear: go}, off: {line: 30, gear: neutral}}\n");
    const struct pressures *on = &c.healthy[unit_state(&c, "on")], *slips = &c.healthy[unit_state(&c, "slips")],
                           *off = &c.healthy[unit_state(&c, "off")];
    uint32_t clutch = unit_row(&c, PART_ACTUATOR, "clutch"), plain = unit_row(&c, PART_ACTUATOR, "plain");
    uint32_t band = unit_row(&c, PART_ACTUATOR, "band");
    CU_ASSERT_EQUAL(on->device[clutch], DEVICE_APPLIED); /* 50 psi */
    CU_ASSERT_EQUAL(on->gear.gear, 1);
    CU_ASSERT_EQUAL(slips->device[clutch], DEVICE_SLIPPING); /* 31 psi: between 20 and 40 */
    CU_ASSERT_EQUAL(slips->device[plain], DEVICE_APPLIED);
    CU_ASSERT_EQUAL(slips->gear.gear, GEAR_ANSWER_UNSURE);
    CU_ASSERT_EQUAL_FATAL(slips->gear.n_possible, 2);
    CU_ASSERT_EQUAL(off->device[clutch], DEVICE_RELEASED); /* 15 psi: under half of 40 */
    CU_ASSERT_EQUAL(off->gear.gear, 0);
    /* 100 psi x (900 - 500) mm2 = 276 N against 60 N + 30 psi x 900 mm2 = 246 N; 62 psi: 171 N; 30 psi: 83 N */
    CU_ASSERT_EQUAL(on->device[band], DEVICE_APPLIED);
    CU_ASSERT_EQUAL(slips->device[band], DEVICE_SLIPPING);
    CU_ASSERT_EQUAL(off->device[band], DEVICE_RELEASED);
    /* On from 40 psi; the band from (60 N + 30 psi x 900 mm2 + 62 psi x 500 mm2) / 900 mm2 = 0.5109 MPa = 74.11 psi. */
    const struct actuator *rows = c.m->actuators;
    CU_ASSERT_DOUBLE_EQUAL(device_needs(&rows[clutch], slips) / PSI, 40, 1e-9);
    CU_ASSERT_DOUBLE_EQUAL(device_needs(&rows[plain], slips) / PSI, 30, 1e-9);
    CU_ASSERT_DOUBLE_EQUAL(device_needs(&rows[band], slips) / PSI, 74.1134, 1e-3);
    struct assumed *assumed;
    uint32_t n = sizes_assumed(&c.network, NULL, &assumed);
    CU_ASSERT_EQUAL_FATAL(n, 1);
    CU_ASSERT_EQUAL(assumed[0].what, ASSUMED_APPLIES_AT);
    CU_ASSERT_EQUAL(assumed[0].part.i, plain);
    mem_free(assumed);
    CU_ASSERT_TRUE(network_is_sized(&c.network));
    unit_case_release(&c);
}

static const struct unit_test tests[] = {
    {"closed groups and leakdown", test_closed},
    {"capacity", test_capacity},
    {"regulated line", test_regulated},
    {"a stuck regulator", test_stuck_regulator},
    {"two solutions and where they start from", test_two_solutions},
    {"a spool part-way", test_part_way},
    {"gaps and wear", test_gaps},
    {"shuttle", test_shuttle},
    {"check ball", test_check_ball},
    {"devices and gear", test_devices},
};
UNIT_MAIN("pressure_solve", tests)
