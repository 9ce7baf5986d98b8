/* Valves and solenoids as read. Expected forces and pressures are worked out beside them: a limiting valve balances
 * where pressure x area = spring force (statics of a piston; spring force = preload + rate x travel). */
#include "unit_model.h"
#include <math.h>

#define HEAD                                                                                                           \
    "feedtrace: 1\n"                                                                                                   \
    "model: valves\n"                                                                                                  \
    "layers: [{id: case, kind: casting}, {id: plate, kind: plate}, {id: body, kind: casting}]\n"                       \
    "circuits: {all: {passages: [case.a, body.a, case.b, body.b, case.c, body.c]}}\n"                                  \
    "holes:\n"                                                                                                         \
    "  A: {joins: [case.a, body.a], diameter: 8}\n"                                                                    \
    "  B: {joins: [case.b, body.b], diameter: 4}\n"                                                                    \
    "  C: {joins: [case.c, body.c], diameter: 1}\n"                                                                    \
    "feeds: {line: {into: case.a}, other: {into: case.b}}\n"

static uint32_t passage(const struct model *m, const char *id)
{
    return model_find(m, id, strlen(id)).i;
}

static uint32_t port(const struct valve *v, const char *name)
{
    return valve_port(v, name, strlen(name));
}

static void test_manual(void)
{
    struct read_text t = unit_good_model(
        HEAD
        "valves:\n"
        "  lever: {kind: manual, title: Lever, odds: 3, cd: 0.7, window_diameter: 6, plug: x,\n"
        "          ports: {in: body.a, d: body.b, x: sump}, positions: {P: [[d, x]], N: [], 2: [[in, d], [x, d]]}}\n");
    const struct valve *v = &t.m->valves[0];
    CU_ASSERT_EQUAL(v->kind, VALVE_MANUAL);
    CU_ASSERT_STRING_EQUAL(v->part.title, "Lever");
    CU_ASSERT_TRUE(v->part.odds == 3 && v->part.cd == 0.7);
    CU_ASSERT_DOUBLE_EQUAL(v->window_diameter, 6e-3, 1e-15);
    CU_ASSERT_EQUAL_FATAL(v->n_ports, 3);
    CU_ASSERT_EQUAL(v->ports[0].passage.i, passage(t.m, "body.a"));
    CU_ASSERT_EQUAL(v->ports[2].passage.i, SUMP.i);
    CU_ASSERT_EQUAL_FATAL(v->n_positions, 3);
    CU_ASSERT_STRING_EQUAL(v->positions[2].name, "2");
    CU_ASSERT_EQUAL(v->positions[1].n_windows, 0);
    CU_ASSERT_EQUAL_FATAL(v->positions[2].n_windows, 2);
    CU_ASSERT_TRUE(v->positions[2].windows[0].a == 0 && v->positions[2].windows[0].b == 1);
    CU_ASSERT_TRUE(v->positions[2].windows[1].a == 2 && v->positions[2].windows[1].b == 1);
    CU_ASSERT_EQUAL(v->plug, 2);
    CU_ASSERT_EQUAL_FATAL(v->n_along, 3); /* the order of `ports` where nothing else is said */
    CU_ASSERT_TRUE(v->along[0] == 0 && v->along[1] == 1 && v->along[2] == 2);
    CU_ASSERT_FALSE(v->has_clearance);
    unit_model_release(&t);
}

static void test_spool(void)
{
    struct read_text t = unit_good_model(HEAD "valves:\n"
                                              "  full:\n"
                                              "    kind: spool\n"
                                              "    ports: {sig: body.c, in: body.a, out: body.b, x: sump}\n"
                                              "    rest: [[out, x]]\n"
                                              "    stroked: [[in, out]]\n"
                                              "    ends:\n"
                                              "      - {port: sig, pushes: stroke, area: 80}\n"
                                              "      - {port: out, pushes: rest, area: 0.1 in2}\n"
                                              "    spring: {preload: 18, rate: 2.0}\n"
                                              "    travel: 5.0\n"
                                              "    lap: 10 %\n"
                                              "    plug: spring\n"
                                              "    along: [sig, x, out]\n"
                                              "    clearance: {bore: 12, gap: 0.02, land: 6, eccentricity: 0.5}\n"
                                              "  plain: {kind: spool, ports: {in: body.a, out: body.b}, stroked: [[in, "
                                              "out]], ends: [{port: in, pushes: rest}], lap: 0.1}\n");
    const struct valve *v = &t.m->valves[0];
    CU_ASSERT_EQUAL(v->n_positions, 2);
    CU_ASSERT_EQUAL(v->positions[SPOOL_REST].windows[0].a, port(v, "out"));
    CU_ASSERT_EQUAL(v->positions[SPOOL_STROKED].windows[0].a, port(v, "in"));
    CU_ASSERT_EQUAL_FATAL(v->n_ends, 2);
    CU_ASSERT_TRUE(v->ends[0].pushes == 1 && v->ends[0].port == port(v, "sig"));
    CU_ASSERT_TRUE(v->ends[1].pushes == -1 && v->ends[1].port == port(v, "out"));
    CU_ASSERT_DOUBLE_EQUAL(v->ends[0].area, 80e-6, 1e-15);
    CU_ASSERT_DOUBLE_EQUAL(v->ends[1].area, 6.4516e-05, 1e-15);           /* 1 in is 25.4 mm */
    CU_ASSERT_TRUE(v->has_spring && v->preload == 18 && v->rate == 2000); /* N/mm to N/m */
    CU_ASSERT_DOUBLE_EQUAL(v->travel, 5e-3, 1e-15);
    CU_ASSERT_DOUBLE_EQUAL(v->lap, 0.1, 1e-15);
    CU_ASSERT_EQUAL(v->plug, PLUG_SPRING);
    CU_ASSERT_EQUAL_FATAL(v->n_along, 3);
    CU_ASSERT_TRUE(v->along[0] == port(v, "sig") && v->along[1] == port(v, "x") && v->along[2] == port(v, "out"));
    CU_ASSERT_TRUE(v->has_clearance && v->eccentricity == 0.5);
    CU_ASSERT_DOUBLE_EQUAL(v->gap, 20e-6, 1e-15);
    CU_ASSERT_TRUE(valve_is_sized(v));

    v = &t.m->valves[1];
    CU_ASSERT_DOUBLE_EQUAL(v->lap, 0.1, 1e-15); /* a bare lap is a share, not per cent */
    CU_ASSERT_EQUAL(v->positions[SPOOL_REST].n_windows, 0);
    CU_ASSERT_EQUAL(v->plug, PLUG_NONE);
    CU_ASSERT_TRUE(isnan(v->ends[0].area) && isnan(v->travel) && isnan(v->window_diameter));
    CU_ASSERT_FALSE(valve_is_sized(v));
    unit_model_release(&t);
}

static void test_limiting(void)
{
    struct read_text t = unit_good_model(
        HEAD "valves:\n"
             "  told: {kind: limiting, reaction: body.c, supply: body.a, outlet: body.b, limit: 8 bar}\n"
             "  sized: {kind: limiting, supply: body.a, exhaust: sump, outlet: body.b, reaction: body.c,\n"
             "          spring: {preload: 41.4, rate: 0.73}, area: 55, travel: 3, open_diameter: 4, plug: reaction}\n"
             "  both: {kind: limiting, supply: body.a, outlet: body.b, reaction: body.c, limit: 115, droop: 4 %,\n"
             "         spring: {preload: 41.4, rate: 0.73}, area: 55, travel: 3}\n");
    const struct valve *v = &t.m->valves[0];
    CU_ASSERT_EQUAL_FATAL(v->n_ports, 3);
    CU_ASSERT_TRUE(v->reaction == 0 && v->supply == 1 && v->outlet == 2 && v->exhaust == NONE); /* in written order */
    CU_ASSERT_STRING_EQUAL(v->ports[0].name, "reaction");
    CU_ASSERT_TRUE(v->limit == 8e5 && v->droop == 0.05 && v->limit_given && !v->droop_given);
    CU_ASSERT_EQUAL(v->n_along, 3);

    v = &t.m->valves[1];
    CU_ASSERT_EQUAL_FATAL(v->n_ports, 4);
    CU_ASSERT_TRUE(v->exhaust == 1 && v->ports[1].passage.i == SUMP.i);
    CU_ASSERT_FALSE(v->limit_given);
    CU_ASSERT_DOUBLE_EQUAL(v->limit, (41.4 + 0.73 * 3) / 55e-6, 1e-6); /* 43.59 N on 55 mm2: 792.5 kPa */
    CU_ASSERT_DOUBLE_EQUAL(v->droop, 0.73 * 3 / 43.59, 1e-12);         /* 5.02 % */
    CU_ASSERT_DOUBLE_EQUAL(v->window_diameter, 4e-3, 1e-15);
    CU_ASSERT_EQUAL(v->plug, v->reaction);

    v = &t.m->valves[2]; /* as written, whatever the spring says: the difference is a finding, not an error */
    CU_ASSERT_TRUE(v->limit_given && v->droop_given && v->droop == 0.04);
    CU_ASSERT_DOUBLE_EQUAL(v->limit, 792897.1, 0.1); /* 115 psi x 6894.757 Pa, NIST SP 811 */
    unit_model_release(&t);
}

static void test_regulating_and_relief(void)
{
    struct read_text t = unit_good_model(
        HEAD "valves:\n"
             "  one: {kind: regulating, source: line, also_feeds: {to: body.b, from: case.a},\n"
             "        sets: {base: 55, plus: [{from: body.c, gain: 2.6}, {from: body.b, gain: -1}], at_most: 20 bar}}\n"
             "  two: {kind: regulating, source: other, plug: spring}\n"
             "  safety: {kind: relief, outlet: sump, inlet: case.a, cracks_at: 22 bar, diameter: drill 1}\n");
    const struct valve *v = &t.m->valves[0];
    CU_ASSERT_TRUE(v->source.i == 0 && v->also_feeds && v->sets);
    CU_ASSERT_EQUAL(v->ports[0].passage.i, passage(t.m, "case.a")); /* from, then to, whatever stood first */
    CU_ASSERT_EQUAL(v->ports[1].passage.i, passage(t.m, "body.b"));
    CU_ASSERT_EQUAL(v->at_most, 20e5);
    CU_ASSERT_EQUAL_FATAL(v->n_plus, 2);
    CU_ASSERT_TRUE(v->plus[0].gain == 2.6 && v->plus[1].gain == -1);
    CU_ASSERT_EQUAL(v->plus[0].from.i, passage(t.m, "body.c"));
    v = &t.m->valves[1];
    CU_ASSERT_TRUE(v->source.i == 1 && !v->also_feeds && !v->sets && v->n_ports == 0 && v->plug == PLUG_SPRING);
    v = &t.m->valves[2];
    CU_ASSERT_TRUE(v->ports[0].passage.i == passage(t.m, "case.a") && v->ports[1].passage.i == SUMP.i);
    CU_ASSERT_EQUAL(v->cracks_at, 22e5);
    CU_ASSERT_DOUBLE_EQUAL(v->window_diameter, 0.2280 * 25.4e-3,
                           1e-9); /* twist drill no. 1 is 0.2280 in, ASME B94.11M */
    unit_model_release(&t);
}

static void test_solenoids(void)
{
    struct read_text t =
        unit_good_model(HEAD "solenoids:\n"
                             "  s0: {kind: bleed, normally: open, joins: [body.c, sump], diameter: 2.0}\n"
                             "  s1: {kind: bleed, normally: closed, joins: [body.c, body.b], strength: main}\n"
                             "  s2: {kind: three_way, normally: low, supply: body.a, output: body.b, exhaust: sump}\n"
                             "  s3: {kind: duty, normally: high, exhaust: body.c, output: body.b, supply: body.a}\n");
    const struct solenoid *s = t.m->solenoids;
    CU_ASSERT_TRUE(s[0].kind == SOLENOID_BLEED && s[0].off_passes && s[0].n_ports == 2);
    CU_ASSERT_TRUE(s[0].ports[0].passage.i == passage(t.m, "body.c") && s[0].ports[1].passage.i == SUMP.i);
    CU_ASSERT_TRUE(!s[0].strength_given && s[0].strength == STRENGTH_OPEN);
    CU_ASSERT_DOUBLE_EQUAL(s[0].diameter, 2e-3, 1e-15);
    CU_ASSERT_TRUE(!s[1].off_passes && s[1].strength_given && s[1].strength == STRENGTH_MAIN && isnan(s[1].diameter));
    CU_ASSERT_TRUE(s[2].kind == SOLENOID_THREE_WAY && !s[2].off_passes && s[2].n_ports == 3);
    CU_ASSERT_TRUE(s[3].kind == SOLENOID_DUTY && s[3].off_passes);
    CU_ASSERT_EQUAL(s[3].ports[0].passage.i, passage(t.m, "body.a")); /* supply, output, exhaust */
    CU_ASSERT_EQUAL(s[3].ports[1].passage.i, passage(t.m, "body.b"));
    CU_ASSERT_EQUAL(s[3].ports[2].passage.i, passage(t.m, "body.c"));
    unit_model_release(&t);
}

/* A valve of many ports and windows is read in a time that grows with their number. */
static void test_large_valve(void)
{
    struct text text = {0};
    text_add(&text, HEAD "valves:\n  v:\n    kind: manual\n    ports: {");
    for (int i = 0; i < 50000; i++)
        text_addf(&text, "%sp%d: body.a", i ? ",\n      " : "", i);
    text_add(&text, "}\n    positions:\n      D:\n");
    for (int i = 0; i < 50000; i++)
        text_addf(&text, "        - [p%d, p%d]\n", i, 49999 - i);
    struct read_text t = unit_good_model(text_string(&text));
    CU_ASSERT_EQUAL(t.m->valves[0].positions[0].windows[1].b, 49998);
    unit_model_release(&t);
    text_release(&text);
}

static const struct unit_test tests[] = {
    {"manual", test_manual},       {"spool", test_spool},
    {"limiting", test_limiting},   {"regulating and relief", test_regulating_and_relief},
    {"solenoids", test_solenoids}, {"many ports", test_large_valve},
};
UNIT_MAIN("valves", tests)
