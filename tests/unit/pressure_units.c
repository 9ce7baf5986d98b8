/* Whole units: the trainer and the four-speed unit, healthy and with faults. */
#include "faults/list.h"
#include "pressure_case.h"

#define TERN  FEEDTRACE_SOURCE_DIR "/models/tern-l2.yaml"
#define HERON FEEDTRACE_SOURCE_DIR "/models/heron-4.yaml"

static void between(double is, double low, double high)
{
    if (!(is >= low && is <= high))
        printf("\n%g is not between %g and %g\n", is, low, high);
    CU_ASSERT_TRUE(is >= low && is <= high);
}

/* Common practice, no source: line 55, 90, 115, 150, 300 psi gives a solenoid supply of about 55, 90, at most 115, 115,
 * 115 psi. About: within 2 %. */
static void test_supply_follows_line(void)
{
    struct unit_case c;
    unit_case_file(&c, TERN);
    between(unit_psi(&c, c.healthy, "line_55", "case.sup"), 55 * 0.98, 55);
    between(unit_psi(&c, c.healthy, "line_90", "case.sup"), 90 * 0.98, 90);
    between(unit_psi(&c, c.healthy, "line_115", "case.sup"), 115 * 0.98, 115);
    between(unit_psi(&c, c.healthy, "line_150", "case.sup"), 115 * 0.98, 115);
    between(unit_psi(&c, c.healthy, "line_300", "case.sup"), 115 * 0.98, 115);
    CU_ASSERT_EQUAL(unit_position(&c, c.healthy, "line_55", "feed_limit"), POSITION_LIMITING);
    CU_ASSERT_EQUAL(unit_position(&c, c.healthy, "line_300", "feed_limit"), POSITION_LIMITING);
    unit_case_release(&c);
}

/* Common practice, no source: reaction orifice blocked, outlet = line at any line pressure; line leaks into the
 * reaction end, the valve shuts and the solenoids starve; line leaks past the valve faster than the solenoids draw, the
 * outlet rises over the limit with a healthy valve; a broken spring, low supply. */
static void test_limiting_valve_faults(void)
{
    struct unit_case c;
    unit_case_file(&c, TERN);
    unit_case_fault(&c, "block H11", 0);
    between(unit_psi(&c, c.faulty, "line_55", "case.sup"), 55 * 0.98, 55);
    between(unit_psi(&c, c.faulty, "line_150", "case.sup"), 150 * 0.98, 150);
    between(unit_psi(&c, c.faulty, "line_300", "case.sup"), 300 * 0.98, 300);
    CU_ASSERT_EQUAL(unit_position(&c, c.faulty, "line_300", "feed_limit"), POSITION_WIDE);
    CU_ASSERT_TRUE(isnan(unit_psi(&c, c.faulty, "line_300", "body.react"))); /* closed: no pressure, not 0 */
    unit_case_fault(&c, "leak body.line into body.sup at 1 mm", 0);
    between(unit_psi(&c, c.faulty, "line_300", "case.sup"), 290, 300); /* nothing draws with the solenoid shut */
    CU_ASSERT_EQUAL(unit_position(&c, c.faulty, "line_300", "feed_limit"), POSITION_LIMITING);
    /* Drawn from by the open solenoid and fed past the shut valve, by H11 alone: holes in series divide by the fourth
     * power of their diameters, 150 psi x 0.9^4 / (0.9^4 + 1 / (0.8^-4 + 2^-4)) = 93.2 psi, the leak's own loss aside.
     */
    unit_case_fault(&c, "leak H11 at 3 mm + stick sol_a at off", 0);
    between(unit_psi(&c, c.faulty, "line_150", "case.sup"), 91, 93.3);
    CU_ASSERT_EQUAL(unit_position(&c, c.faulty, "line_150", "feed_limit"), POSITION_SHUT);
    unit_case_fault(&c, "break feed_limit", 0);
    CU_ASSERT_EQUAL(unit_position(&c, c.faulty, "line_150", "feed_limit"), POSITION_SHUT);
    unit_case_release(&c);
}

/* Without oil at its supply a limiting valve stands open and could limit, in every state alike, whatever rounding
 * leaves at its outlet and its reaction. */
static void test_limiting_valve_without_oil(void)
{
    struct unit_case c;
    unit_case_file(&c, HERON);
    unit_case_fault(&c, "block H01", 0);
    for (uint32_t s = 0; s < c.m->n_states; s++)
        CU_ASSERT_EQUAL(unit_position(&c, c.faulty, c.m->states[s].part.id, "feed_limit"), POSITION_LIMITING);
    unit_case_release(&c);
}

/* A clutch whose own hole is blocked and whose shuttle lies on its other seat is closed off in every state where that
 * is so, whatever sign rounding gives to the difference across the seat. */
static void test_closed_by_ball(void)
{
    struct unit_case c;
    unit_case_file(&c, HERON);
    unit_case_fault(&c, "block H256", 0);
    CU_ASSERT_TRUE(isnan(unit_psi(&c, c.faulty, "manual_1", "upper.coast")));
    CU_ASSERT_TRUE(isnan(unit_psi(&c, c.faulty, "manual_2", "upper.coast")));
    unit_case_release(&c);
}

/* What flows into each passage sums to zero, by the flows that are reported: the unit has no gaps. */
static void test_mass_balance(void)
{
    struct unit_case c;
    unit_case_file(&c, TERN);
    const struct model *m = c.m;
    double *sum = mem_zero(c.network.n_nodes, sizeof *sum);
    for (uint32_t s = 0; s < m->n_states; s++) {
        const struct pressures *p = &c.healthy[s];
        memset(sum, 0, c.network.n_nodes * sizeof *sum);
        for (uint32_t i = 0; i < c.network.n_elements; i++) {
            sum[c.network.node_of[c.network.elements[i].from.i]] -= p->flow[i];
            sum[c.network.node_of[c.network.elements[i].to.i]] += p->flow[i];
        }
        for (uint32_t i = 0; i < m->n_passages; i++)
            sum[c.network.node_of[i]] -= i == SUMP.i || isnan(p->pressure[i]) ? 0 : m->leakdown * p->pressure[i];
        sum[c.network.node_of[m->feeds[0].passage.i]] += p->sources[0].flow;
        for (uint32_t i = 1; i < c.network.n_nodes; i++)
            CU_ASSERT_TRUE(fabs(sum[i]) < 1e-13); /* 1e-9 of 1e-4 m3/s */
    }
    mem_free(sum);
    unit_case_release(&c);
}

static void test_every_state_converges(void)
{
    struct unit_case c;
    unit_case_file(&c, HERON);
    for (uint32_t i = 0; i < c.m->n_states; i++) {
        CU_ASSERT_TRUE(c.healthy[i].end.converged);
        CU_ASSERT_TRUE(c.healthy[i].end.imbalance < 1e-12);
        CU_ASSERT_TRUE(c.healthy[i].end.last_step < 10);
        CU_ASSERT_EQUAL(c.healthy[i].gear.gear, c.m->states[i].gear.i); /* as commanded */
        CU_ASSERT_EQUAL(c.healthy[i].n_solutions, 0);
    }
    unit_case_release(&c);
}

/* Every single fault in every state either converges or says why not. */
static void faults_check(const char *path)
{
    struct unit_case c;
    unit_case_file(&c, path);
    struct fault_list list;
    fault_list_make(&c.network, 0, NULL, &list);
    uint32_t n = 0, n_converged = 0;
    for (uint32_t k = 0; k < list.n; k++) {
        unit_case_fault(&c, list.rows[k].words, SOLVE_ONE_START);
        for (uint32_t i = 0; i < c.m->n_states; i++, n++) {
            const struct solve_end *e = &c.faulty[i].end;
            n_converged += e->converged;
            if (!e->converged)
                printf("\n%s in %s: %s\n", list.rows[k].words, c.m->states[i].part.id, solve_why_words(e->why));
        }
    }
    CU_ASSERT_TRUE(n > 400);
    CU_ASSERT_EQUAL(n_converged, n);
    fault_list_release(&list);
    unit_case_release(&c);
}
static void test_trainer_faults(void)
{
    faults_check(TERN);
}
static void test_unit_faults(void)
{
    faults_check(HERON);
}

/* A warm start makes a solve shorter and never changes the answer; the same solve twice gives the same bytes. */
static void test_warm_and_again(void)
{
    struct unit_case c;
    unit_case_file(&c, HERON);
    struct pressures cold, again;
    pressures_init(&cold);
    pressures_init(&again);
    uint32_t state = unit_state(&c, "drive_3");
    const char *const faults[] = {"leak H130 at 1 mm", "block H205", "lose B4", "stick shift_23 at rest"};
    for (size_t k = 0; k < sizeof faults / sizeof *faults; k++) {
        unit_case_fault(&c, faults[k], 0);
        const struct pressures *after = &c.faulty[c.m->states[state].after.i];
        pressure_solve(c.solver, &c.trace, state, 0, NULL, after, &cold);
        pressure_solve(c.solver, &c.trace, state, 0, NULL, after, &again);
        CU_ASSERT_TRUE_FATAL(cold.end.converged && c.faulty[state].end.converged);
        for (uint32_t i = 0; i < c.m->n_passages; i++) {
            double a = cold.pressure[i], b = c.faulty[state].pressure[i];
            CU_ASSERT_TRUE(isnan(a) ? isnan(b) : fabs(a - b) <= 1e-6 * fabs(a) + 1e-3);
        }
        CU_ASSERT_EQUAL(memcmp(cold.pressure, again.pressure, c.m->n_passages * sizeof *cold.pressure), 0);
    }
    pressures_release(&cold);
    pressures_release(&again);
    unit_case_release(&c);
}

/* Most check-ball and orifice faults show in how fast a device fills and drains. */
static void test_fill_and_drain(void)
{
    struct unit_case c;
    unit_case_file(&c, HERON);
    uint32_t state = unit_state(&c, "drive_2"), band = unit_row(&c, PART_ACTUATOR, "band");
    double fill = c.healthy[state].fill[band];
    CU_ASSERT_TRUE(fill > 0);
    CU_ASSERT_TRUE(isnan(c.healthy[state].drain[band])); /* it is on */
    unit_case_fault(&c, "lose B2",
                    SOLVE_FILL); /* the quick drain's ball: the band now fills through its hole as well */
    CU_ASSERT_TRUE(c.faulty[state].fill[band] > 2 * fill);
    unit_case_fault(&c, "resize H130 to 1 mm", SOLVE_FILL);
    CU_ASSERT_TRUE(c.faulty[state].fill[band] < 0.5 * fill);
    uint32_t off = unit_state(&c, "drive_1");
    double drain = c.healthy[off].drain[band];
    CU_ASSERT_TRUE(drain > 0);
    CU_ASSERT_TRUE(isnan(c.healthy[off].fill[band]));
    unit_case_fault(&c, "seat B2", SOLVE_FILL); /* the quick drain stays shut */
    CU_ASSERT_TRUE(c.faulty[off].drain[band] < 0.5 * drain);
    unit_case_fault(&c, "break regulator", SOLVE_FILL); /* no source gives the pressure from which a device drains */
    for (uint32_t i = 0; i < c.m->n_actuators; i++)
        CU_ASSERT_TRUE(c.faulty[off].drain[i] >= 0);
    unit_case_release(&c);
}

static const struct unit_test tests[] = {
    {"supply follows line up to the limit", test_supply_follows_line},
    {"faults of a limiting valve", test_limiting_valve_faults},
    {"a limiting valve without oil", test_limiting_valve_without_oil},
    {"closed off by a ball", test_closed_by_ball},
    {"mass balance", test_mass_balance},
    {"every healthy state converges", test_every_state_converges},
    {"single faults of the trainer", test_trainer_faults},
    {"single faults of the four-speed unit", test_unit_faults},
    {"warm starts, and the same again", test_warm_and_again},
    {"fill and drain", test_fill_and_drain},
};
UNIT_MAIN("pressure_units", tests)
