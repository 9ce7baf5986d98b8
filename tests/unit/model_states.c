/* Devices, gears, states and symptoms as read. */
#include "model/claim.h"
#include "unit_model.h"
#include <math.h>

#define PSI 6894.757293 /* Pa, NIST SP 811 (2008), appendix B.8 */

#define HEAD                                                                                                           \
    "feedtrace: 1\n"                                                                                                   \
    "model: states\n"                                                                                                  \
    "layers: [{id: case, kind: casting}, {id: plate, kind: plate}, {id: body, kind: casting}]\n"                       \
    "circuits:\n"                                                                                                      \
    "  line: {passages: [case.line, body.line]}\n"                                                                     \
    "  out: {passages: [case.out, body.out]}\n"                                                                        \
    "holes: {H1: {joins: [case.line, body.line], diameter: 8}, H2: {joins: [case.out, body.out], diameter: 4}}\n"      \
    "feeds: {line: {into: case.line, capacity: 30}, drive: {from: body.out}}\n"
#define VALVES                                                                                                         \
    "valves:\n"                                                                                                        \
    "  manual: {kind: manual, ports: {in: body.line, d: body.out, x: sump}, positions: {P: [[d, x]], D: [[in, d]]}}\n" \
    "  shift: {kind: spool, ports: {in: body.line, out: body.out}, stroked: [[in, out]]}\n"                            \
    "  regulator: {kind: regulating, source: line, sets: {base: 55}}\n"                                                \
    "solenoids:\n"                                                                                                     \
    "  sol_a: {kind: bleed, normally: open, joins: [body.out, sump]}\n"                                                \
    "  sol_d: {kind: duty, normally: low, supply: body.line, output: body.out, exhaust: sump}\n"                       \
    "actuators:\n"                                                                                                     \
    "  clutch: {kind: clutch, apply: case.out, applies_at: 40, volume: 25}\n"                                          \
    "  band: {kind: band, apply: case.out, release: body.out, apply_area: 900, release_area: 1150,\n"                  \
    "         spring: {preload: 60, rate: 4}, seal: 0.1}\n"                                                            \
    "taps: {T1: case.out, T2: {on: body.out, title: Second tap}}\n"                                                    \
    "switches: {W1: {on: case.out, closes_at: 20}}\n"                                                                  \
    "gears: {neutral: [], first: [clutch], second: {on: [clutch], either: [band], note: may}}\n"                       \
    "clash: [[clutch, band]]\n"

static void test_devices(void)
{
    struct read_text t = unit_good_model(HEAD VALVES);
    const struct model *m = t.m;
    const struct actuator *a = m->actuators;
    CU_ASSERT_TRUE(a[0].kind == ACTUATOR_CLUTCH && a[0].release.i == NONE && !a[0].has_spring && isnan(a[0].seal));
    CU_ASSERT_DOUBLE_EQUAL(a[0].applies_at, 40 * PSI, 0.01);
    CU_ASSERT_DOUBLE_EQUAL(a[0].volume, 25e-6, 1e-15);
    CU_ASSERT_TRUE(a[1].kind == ACTUATOR_BAND && a[1].has_spring && a[1].preload == 60 && a[1].rate == 4000);
    CU_ASSERT_TRUE(isnan(a[1].applies_at) && a[1].release.i != NONE);
    CU_ASSERT_DOUBLE_EQUAL(a[1].release_area, 1150e-6, 1e-12);
    CU_ASSERT_EQUAL(m->taps[0].on.i, a[0].apply.i);
    CU_ASSERT_STRING_EQUAL(m->taps[1].part.title, "Second tap");
    CU_ASSERT_DOUBLE_EQUAL(m->switches[0].closes_at, 20 * PSI, 0.01);
    CU_ASSERT_TRUE(m->gears[0].n_on == 0 && m->gears[1].n_on == 1 && m->gears[1].on[0].i == 0);
    CU_ASSERT_TRUE(m->gears[2].n_either == 1 && m->gears[2].either[0].i == 1);
    CU_ASSERT_TRUE(m->n_clashes == 1 && m->clashes[0].pair[0].i == 0 && m->clashes[0].pair[1].i == 1);
    unit_model_release(&t);
}

static void test_settings(void)
{
    struct read_text t = unit_good_model(
        HEAD VALVES "defaults: {manual: P, sol_d: 70 %, line: 60}\n"
                    "states:\n"
                    "  park: {}\n"
                    "  low: {manual: D, sol_a: on, sol_d: 25, line: {pressure: 90, capacity: 12}, gear: first,\n"
                    "        after: park, temperature: -20 degC, title: Low}\n"
                    "  next: {sol_d: on, line: regulated}\n"
                    "  cut: {line: off, sol_d: off}\n");
    const struct state *s = t.m->states;
    CU_ASSERT_EQUAL_FATAL(t.m->n_states, 4);
    CU_ASSERT_TRUE(s[0].detents[0] == 0 && s[0].detents[1] == NONE);
    CU_ASSERT_TRUE(s[0].shares[0] == 0 && s[0].shares[1] == 0.7);
    CU_ASSERT_DOUBLE_EQUAL(s[0].sources[0].pressure, 60 * PSI, 0.01);
    CU_ASSERT_DOUBLE_EQUAL(s[0].sources[0].capacity, 30e-3 / 60, 1e-12); /* the feed's 30 L/min */
    CU_ASSERT_TRUE(isnan(s[0].sources[1].pressure));
    CU_ASSERT_TRUE(s[0].gear.i == NONE && s[0].after.i == NONE);
    CU_ASSERT_EQUAL(s[0].temperature, t.m->fluid.temperature);

    CU_ASSERT_TRUE(s[1].detents[0] == 1 && s[1].shares[0] == 1 && s[1].shares[1] == 0.25);
    CU_ASSERT_DOUBLE_EQUAL(s[1].sources[0].pressure, 90 * PSI, 0.01);
    CU_ASSERT_DOUBLE_EQUAL(s[1].sources[0].capacity, 12e-3 / 60, 1e-12);
    CU_ASSERT_TRUE(s[1].gear.i == 1 && s[1].after.i == 0);
    CU_ASSERT_DOUBLE_EQUAL(s[1].temperature, 253.15, 1e-9);

    CU_ASSERT_TRUE(s[2].detents[0] == 0 && s[2].shares[1] == 1 && s[2].sources[0].regulated); /* not what `low` set */
    CU_ASSERT_DOUBLE_EQUAL(s[2].sources[0].pressure, 55 * PSI, 0.01);
    CU_ASSERT_TRUE(s[3].shares[1] == 0 && s[3].sources[0].pressure == 0 && !s[3].sources[0].regulated);
    unit_model_release(&t);
}

static void test_expectations(void)
{
    struct read_text t =
        unit_good_model(HEAD VALVES "states:\n"
                                    "  park:\n"
                                    "    manual: P\n"
                                    "    line: 55\n"
                                    "    expect:\n"
                                    "      gear: neutral\n"
                                    "      out: [exhausted, not reached by drive]\n"
                                    "      some line: \"not 5 bar to 6 bar\"\n"
                                    "      clutch: released\n"
                                    "symptoms:\n"
                                    "  one: {title: One, when: \"any: clutch applied and T1 above 4 bar\"}\n"
                                    "  two: {when: [\"park: gear first\", \"every: not gear second\"]}\n");
    const struct state *s = t.m->states;
    CU_ASSERT_EQUAL_FATAL(s->n_expect, 5);
    CU_ASSERT_TRUE(s->expect[0].rows[0].what == CLAIM_GEAR && s->expect[0].rows[0].gear == 0);
    CU_ASSERT_TRUE(s->expect[0].in == IN_STATE && s->expect[0].state.i == 0 && s->expect[0].where.line == 29);
    CU_ASSERT_FALSE(s->expect[1].rows[0].negated);
    CU_ASSERT_STRING_EQUAL(s->expect[1].text, "park: out exhausted");
    CU_ASSERT_TRUE(s->expect[2].rows[0].negated && s->expect[2].rows[0].feed.i == 1);
    CU_ASSERT_STRING_EQUAL(s->expect[2].text, "park: not out reached by drive"); /* good for a command line too */
    CU_ASSERT_TRUE(s->expect[3].rows[0].some && s->expect[3].rows[0].negated && s->expect[3].rows[0].high == 6e5);
    CU_ASSERT_EQUAL(s->expect[4].rows[0].subject.kind, PART_ACTUATOR);
    CU_ASSERT_EQUAL_FATAL(t.m->n_symptoms, 2);
    CU_ASSERT_TRUE(t.m->symptoms[0].n_when == 1 && t.m->symptoms[0].when[0].n_rows == 2);
    CU_ASSERT_TRUE(t.m->symptoms[1].n_when == 2 && t.m->symptoms[1].when[1].in == IN_EVERY);
    unit_model_release(&t);
}

/* Errors in texts, quoted or not, in lists and over several words, stand at the wrong word. */
static void test_places(void)
{
    static const struct {
        unsigned line, column, length;
    } places[] = {{27, 12, 4}, {28, 14, 4}, {29, 21, 4}, {30, 7, 3}, {31, 17, 5}, {33, 29, 6}};
    struct read_text t = unit_model(HEAD VALVES "states:\n"
                                                "  park:\n"
                                                "    expect:\n"
                                                "      out: feed\n"
                                                "      line: 'fe\xc3\xa9l'\n"
                                                "      T1: [fed, not feed]\n"
                                                "      uut: fed\n"
                                                "      T2: about heavy\n"
                                                "symptoms:\n"
                                                "  one: {when: \"park: clutch aplied\"}\n");
    CU_ASSERT_PTR_NULL(t.m);
    size_t n = 0;
    for (size_t i = 0; i < t.d.n; i++) {
        const struct diag *d = &t.d.rows[i];
        if (d->code == UNSET)
            continue;
        CU_ASSERT_TRUE_FATAL(n < sizeof places / sizeof *places);
        if (d->where.line != places[n].line || d->where.column != places[n].column ||
            d->where.length != places[n].length)
            fprintf(stderr, "%u:%u+%u %s\n", d->where.line, d->where.column, d->where.length, d->message);
        CU_ASSERT_EQUAL(d->where.line, places[n].line);
        CU_ASSERT_EQUAL(d->where.column, places[n].column);
        CU_ASSERT_EQUAL(d->where.length, places[n].length);
        n++;
    }
    CU_ASSERT_EQUAL(n, sizeof places / sizeof *places);
    unit_model_release(&t);
}

#define MANY 30000

/* Many states that follow each other, each after the next one in the file: no deep stack, no time that grows faster. */
static void test_long_chain(void)
{
    for (int circle = 0; circle < 2; circle++) {
        struct text text = {0};
        text_add(&text, HEAD "defaults: {line: 55}\nstates:\n");
        for (int i = 0; i < MANY; i++)
            text_addf(&text, i + 1 < MANY || circle ? "  s%d: {after: s%d}\n" : "  s%d: {}\n", i, (i + 1) % MANY);
        struct read_text t = unit_model(text_string(&text));
        if (circle) {
            CU_ASSERT_PTR_NULL(t.m);
            CU_ASSERT_TRUE_FATAL(t.d.n == 1);
            CU_ASSERT_EQUAL(t.d.rows[0].code, CYCLE);
            CU_ASSERT_TRUE(strlen(t.d.rows[0].message) < 300);
        } else {
            CU_ASSERT_PTR_NOT_NULL_FATAL(t.m);
            CU_ASSERT_EQUAL(t.m->states[0].after.i, 1);
            CU_ASSERT_EQUAL(t.m->states[MANY - 1].after.i, NONE);
        }
        unit_model_release(&t);
        text_release(&text);
    }
}

static const struct unit_test tests[] = {
    {"devices, gears, clashes", test_devices},        {"settings and defaults", test_settings},
    {"expectations and symptoms", test_expectations}, {"places of wrong words", test_places},
    {"long chains of states", test_long_chain},
};
UNIT_MAIN("states", tests)
