/* What two models that are sized do differently, by pressure. Flow through a sharp-edged opening goes with the square
 * of its diameter and the root of the pressure difference (H. E. Merritt, Hydraulic Control Systems, Wiley 1967, ch.
 * 3). */
#include "compare/compare.h"
#include "pressure_case.h"

/* A clutch behind the opening A, which the manual valve feeds in D and drains in N. `more` are further openings. */
static void unit_clutch(struct unit_case *c, const char *diameter, const char *more)
{
    char text[1024];
    snprintf(text, sizeof text,
             "feedtrace: 1\nmodel: m\nlayers: [{id: case, kind: casting}]\n"
             "circuits: {oil: {passages: [case.line, case.v, case.c]}}\n"
             "joints: {A: {joins: [case.v, case.c], diameter: %s}%s}\n"
             "valves: {manual: {kind: manual, ports: {in: case.line, v: case.v, x: sump}, window_diameter: 12, "
             "positions: {N: [[v, x]], D: [[in, v]]}}}\n"
             "actuators: {clutch: {kind: clutch, apply: case.c, applies_at: 30}}\n"
             "feeds: {line: {into: case.line}}\ngears: {neutral: [], first: [clutch]}\n"
             "states: {on: {manual: D, line: 90}, off: {manual: N, line: 90}}\n",
             diameter, more);
    unit_case_text(c, text);
}

/* The changes of one state from one model to the other. */
static void find(const struct unit_case *old, const struct unit_case *new, const char *state, struct arena *a,
                 struct effect *e)
{
    const struct pressed p_old = {old->healthy, old->healthy}, p_new = {new->healthy, new->healthy};
    const struct compared was = {old->m, &old->healthy_trace, &p_old}, now = {new->m, &new->healthy_trace, &p_new};
    behaviour_compare(&was, &now, model_state(new->m, state, strlen(state)), a, e);
}

/* Half the diameter is a quarter of the flow; 1.9 of 2 mm, 10 % less, is no news. */
static void rates(void)
{
    struct unit_case two, one, near_two;
    struct arena arena;
    struct effect e;
    arena_init(&arena);
    unit_clutch(&two, "2", "");
    unit_clutch(&one, "1", "");
    unit_clutch(&near_two, "1.9", "");
    find(&two, &one, "on", &arena, &e);
    CU_ASSERT_EQUAL_FATAL(e.n, 1);
    CU_ASSERT_EQUAL(e.rows[0].what, CHANGE_FILL);
    CU_ASSERT_STRING_EQUAL(model_id(one.m, e.rows[0].subject), "clutch");
    CU_ASSERT_STRING_EQUAL(e.rows[0].now, "4 times slower");
    CU_ASSERT_DOUBLE_EQUAL(e.rows[0].now_value / e.rows[0].was_value, 0.25, 1e-3);
    find(&one, &two, "on", &arena, &e);
    CU_ASSERT_EQUAL_FATAL(e.n, 1);
    CU_ASSERT_STRING_EQUAL(e.rows[0].now, "4 times faster");
    find(&two, &one, "off", &arena, &e);
    CU_ASSERT_EQUAL_FATAL(e.n, 1);
    CU_ASSERT_EQUAL(e.rows[0].what, CHANGE_DRAIN);
    CU_ASSERT_STRING_EQUAL(e.rows[0].now, "4 times slower");
    find(&two, &near_two, "on", &arena, &e);
    CU_ASSERT_EQUAL(e.n, 0);
    unit_case_release(&two);
    unit_case_release(&one);
    unit_case_release(&near_two);
    arena_release(&arena);
}

/* Without a tap a device's own pressure tells: 90 psi over 2 and 1 mm in series leave 90 x 16/17, over 1 and 1 mm half.
 */
static void device_pressure(void)
{
    static const char bleed[] = ", B: {joins: [case.c, sump], diameter: 1}";
    struct unit_case two, one;
    struct arena arena;
    struct effect e;
    arena_init(&arena);
    unit_clutch(&two, "2", bleed);
    unit_clutch(&one, "1", bleed);
    find(&two, &one, "on", &arena, &e);
    uint32_t row = 0;
    while (row < e.n && e.rows[row].what != CHANGE_PRESSURE)
        row++;
    CU_ASSERT_TRUE_FATAL(row < e.n);
    CU_ASSERT_STRING_EQUAL(model_id(one.m, e.rows[row].subject), "clutch");
    CU_ASSERT_DOUBLE_EQUAL(e.rows[row].was_value / PSI, 90.0 * 16 / 17, 0.01);
    CU_ASSERT_DOUBLE_EQUAL(e.rows[row].now_value / PSI, 45, 0.01);
    unit_case_release(&two);
    unit_case_release(&one);
    arena_release(&arena);
}

static const struct unit_test tests[] = {
    {"rates of fill and drain", rates},
    {"pressure of a device without a tap", device_pressure},
};

UNIT_MAIN("compare_pressure", tests)
