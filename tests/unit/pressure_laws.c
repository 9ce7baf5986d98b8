/* The laws of pressure against textbook examples, measurements and closed forms. A check that reads a row of a file in
 * tests/data has its source there, in the row. */
#include "pressure/laws.h"
#include "unit.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define PI         3.14159265358979323846
#define PSI        6894.757293168361 /* Pa, exact definitions */
#define INCH       0.0254            /* m, exact */
#define GALLON     3.785411784e-3    /* m3, US, exact */
#define L_PER_MIN  (1e-3 / 60)       /* m3/s */
#define CST        1e-6              /* m2/s */
#define WATER      1000.0            /* kg/m3: density to which specific gravities refer */
#define ZERO_DEG_C 273.15            /* K */

/* ---- rows of CSV files */

#define FIELDS_MAX 16

/* Splits a line of CSV, quotes and all, in place. */
static size_t fields(char *line, char *field[FIELDS_MAX])
{
    size_t n = 0;
    for (char *p = line; n < FIELDS_MAX; p++) {
        char *to = field[n++] = p;
        bool quoted = false;
        for (; *p && *p != '\n' && (quoted || *p != ','); p++) {
            if (*p == '"')
                quoted = !quoted;
            else
                *to++ = *p;
        }
        char end = *p;
        *to = '\0';
        if (end != ',')
            break;
    }
    return n;
}

struct row {
    double value, tol;
};

/* Value and tolerance of the row `id`; an empty tolerance is 0. */
static struct row row_of(const char *file, const char *id, size_t value_ix, size_t tol_ix)
{
    char path[4096], line[2048], *field[FIELDS_MAX];
    snprintf(path, sizeof path, "%s/tests/data/%s", FEEDTRACE_SOURCE_DIR, file);
    FILE *f = fopen(path, "r");
    CU_ASSERT_PTR_NOT_NULL_FATAL(f);
    struct row row = {NAN, NAN};
    while (fgets(line, sizeof line, f)) {
        if (*line != '#' && fields(line, field) > tol_ix && !strcmp(field[0], id))
            row = (struct row){strtod(field[value_ix], NULL), strtod(field[tol_ix], NULL)};
    }
    fclose(f);
    CU_ASSERT_FALSE_FATAL(isnan(row.value));
    return row;
}
static struct row orifice_row(const char *id)
{
    return row_of("orifice.csv", id, 4, 6);
}
static struct row annular_row(const char *id)
{
    return row_of("annular.csv", id, 3, 5);
}

static void check_near(double is, double want, double tol)
{
    if (!(fabs(is - want) <= tol * fabs(want)))
        printf("\n%.12g is not %.12g to %g\n", is, want, tol);
    CU_ASSERT_TRUE(fabs(is - want) <= tol * fabs(want));
}
static void check_row(double is, struct row row)
{
    check_near(is, row.value, row.tol > 1e-12 ? row.tol : 1e-12);
}

static double flow(double d, double cd, double dp, const struct oil *oil)
{
    double slope;
    struct opening o = opening_make(d, cd, oil);
    return opening_flow(o.gain, o.transition, dp, &slope);
}

/* ---- openings */

static void test_worked_orifices(void)
{
    struct oil thin = {0.9 * WATER, 1e-12}; /* turbulent, as the examples assume */
    check_row(flow(INCH, 0.80, 100 * PSI, &thin) / (GALLON / 60), orifice_row("ex_esp84"));
    /* A needle valve is told by what it passes of water at 1 psi: our hole that passes the example's flow of oil. */
    double q = 10 * (3.14 - 0.79) * INCH * INCH * INCH, dp = (500 * 3.14 - 1000) / (3.14 - 0.79) * PSI;
    double d = INCH * sqrt(q / flow(INCH, CD_SHARP, dp, &thin));
    struct oil water = {WATER, 1e-12};
    check_row(flow(d, CD_SHARP, PSI, &water) / (GALLON / 60), orifice_row("ex_esp86"));
    thin.density = 0.85 * WATER;
    q = 1000 * GALLON / 60;
    check_row(q / flow(2 * INCH, 1.0, 120 * PSI, &thin), orifice_row("ex_sul57"));
    /* merritt70: in2/(s lbf^0.5), from 0.78e-4 lbf s2/in4: q / (A dp^0.5 / 2^0.5) */
    const double lbf = 4.4482216152605;
    struct oil merritt = {0.78e-4 * lbf / (INCH * INCH * INCH * INCH), 1e-12};
    double area = PI / 4 * INCH * INCH;
    double cd_over_root = flow(INCH, CD_SHARP, 1e6, &merritt) / (area * sqrt(2 * 1e6)); /* (m3/kg)^0.5 */
    check_row(cd_over_root * sqrt(lbf) / (INCH * INCH), orifice_row("merritt70"));
}

static void test_measured_orifices(void)
{
    static const char *const ids[] = {"bov1",  "bov2",  "bov4",  "bov6",  "bov8", "bov10",
                                      "bov12", "bov14", "bov16", "bov18", "bov20"};
    const double d = 0.01269, foot = 0.3048, g = 9.80665;
    struct oil water = {998, 1e-6}; /* at 20 degC, from memory: the law forgets viscosity here */
    for (size_t i = 0; i < sizeof ids / sizeof *ids; i++) {
        double head = strtod(ids[i] + 3, NULL) * foot;
        double ideal = PI / 4 * d * d * sqrt(2 * g * head);
        check_row(flow(d, NAN, water.density * g * head, &water) / ideal, orifice_row(ids[i]));
    }
}

static void test_coefficient_ends(void)
{
    check_near(CD_SHARP, orifice_row("vm0").value, 1e-4); /* three digits of pi / (pi + 2) */
    struct oil oil = {850, 0.1};
    const double d = 1e-3, dp = 1;
    double q = flow(d, NAN, dp, &oil), speed = q / (PI / 4 * d * d), re = speed * d / oil.viscosity;
    double cd = speed / sqrt(2 * dp / oil.density);
    check_row(cd / sqrt(re), orifice_row("lam_round"));
    struct opening o = opening_make(d, NAN, &oil);
    double ret = o.gain / (PI / 4 * d * d) * sqrt(o.transition) * d / oil.viscosity; /* at dp = transition, turbulent */
    check_row(ret, orifice_row("lam_Ret"));
}

/* One opening through the whole range of the law. Regression values of networks.yaml, `transition`. */
static void test_transition(void)
{
    static const struct {
        double nu, d, at_001, at_1, at_100; /* cSt, mm, L/min at 0.01, 1, 100 psi */
    } rows[] = {{10.8780841, 0.5, 0.0026359889, 0.028992278, 0.28992614},
                {10.8780841, 2.0, 0.046367212, 0.46388181, 4.6388183},
                {221.434257, 0.5, 0.00017262155, 0.016758822, 0.2898685},
                {221.434257, 2.0, 0.011038946, 0.46034555, 4.6388147},
                {923.958465, 0.5, 4.1370306e-05, 0.004136602, 0.2746794},
                {923.958465, 2.0, 0.0026476926, 0.25817667, 4.6377262}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct oil oil = {850, rows[i].nu * CST};
        check_near(flow(rows[i].d * 1e-3, NAN, 0.01 * PSI, &oil) / L_PER_MIN, rows[i].at_001, 1e-6);
        check_near(flow(rows[i].d * 1e-3, NAN, PSI, &oil) / L_PER_MIN, rows[i].at_1, 1e-6);
        check_near(flow(rows[i].d * 1e-3, NAN, 100 * PSI, &oil) / L_PER_MIN, rows[i].at_100, 1e-6);
        check_near(flow(rows[i].d * 1e-3, NAN, -PSI, &oil) / L_PER_MIN, -rows[i].at_1, 1e-6);
    }
}

static void test_opening_slopes(void)
{
    struct oil oil = {850, 10e-6};
    struct opening o = opening_make(1e-3, NAN, &oil);
    for (double dp = -1e6; dp <= 1e6; dp += 12345.678) {
        double slope, slope_at, h = 1e-4 * (fabs(dp) + o.transition);
        double low = opening_flow(o.gain, o.transition, dp - h, &slope);
        double high = opening_flow(o.gain, o.transition, dp + h, &slope);
        opening_flow(o.gain, o.transition, dp, &slope_at);
        check_near(slope_at, (high - low) / (2 * h), 1e-5); /* central difference */
        CU_ASSERT_TRUE(slope_at > 0);
    }
}

/* ---- gaps */

static void test_gaps(void)
{
    struct oil fox = {1000, 0.018 / 1000};
    double dp = 19e6;
    check_row(gap_conductance(0.025, 5e-6, 0, 0.015, &fox) * dp * 1e9, annular_row("fox81"));
    check_row(gap_conductance(0.025, 5e-6, 1, 0.015, &fox) * dp * 1e9, annular_row("fox81_e1"));
    double concentric = gap_conductance(0.012, 2e-5, 0, 0.006, &fox);
    static const struct {
        const char *id;
        double e;
    } ratios[] = {{"ratio_e0", 0}, {"ratio_e05", 0.5}, {"ratio_e1", 1}, {"ratio_e07", 0.7}};
    for (size_t i = 0; i < sizeof ratios / sizeof *ratios; i++)
        check_row(gap_conductance(0.012, 2e-5, ratios[i].e, 0.006, &fox) / concentric, annular_row(ratios[i].id));
    check_row(gap_conductance(0.012, 4e-5, 0, 0.006, &fox) / concentric, annular_row("cube"));
    struct oil atf = {850, 10.878084e-6};
    static const struct {
        const char *id;
        double d, c, e, land, psi;
    } own[] = {{"own1", 0.012, 2e-5, 0, 0.006, 115},
               {"own2", 0.012, 2e-5, 1, 0.006, 115},
               {"own3", 0.012, 6e-5, 0, 0.006, 115},
               {"own4", 0.008, 3e-5, 0.5, 0.004, 300}};
    for (size_t i = 0; i < sizeof own / sizeof *own; i++)
        check_row(gap_conductance(own[i].d, own[i].c, own[i].e, own[i].land, &atf) * own[i].psi * PSI / L_PER_MIN,
                  annular_row(own[i].id));
}

/* ---- oil */

static void test_viscosities(void)
{
    FILE *f = fopen(FEEDTRACE_SOURCE_DIR "/tests/data/viscosity.csv", "r");
    CU_ASSERT_PTR_NOT_NULL_FATAL(f);
    char line[2048], *field[FIELDS_MAX];
    unsigned n = 0;
    while (fgets(line, sizeof line, f)) {
        if (*line == '#' || fields(line, field) < 11 || strcmp(field[0], "line") != 0)
            continue;
        double v[6];
        for (int i = 0; i < 6; i++)
            v[i] = strtod(field[2 + i], NULL);
        struct fluid fluid = {
            .density = 850, .t = {v[0] + ZERO_DEG_C, v[2] + ZERO_DEG_C}, .nu = {v[1] * CST, v[3] * CST}};
        check_near(oil_at(&fluid, v[4] + ZERO_DEG_C).viscosity / CST, v[5], strtod(field[10], NULL));
        n++;
    }
    fclose(f);
    CU_ASSERT_TRUE(n >= 30);
}

/* ---- what moves: rules of our own design, checked at their corners */

static void test_spool_shares(void)
{
    double slope;
    CU_ASSERT_EQUAL(share_rest(0, 0, &slope), 1);
    CU_ASSERT_EQUAL(share_rest(0.25, 0, &slope), 0.5);
    CU_ASSERT_EQUAL(slope, -2);
    CU_ASSERT_EQUAL(share_rest(0.5, 0, &slope), 0); /* both shut at mid travel */
    CU_ASSERT_EQUAL(share_stroked(0.5, 0, &slope), 0);
    CU_ASSERT_EQUAL(share_stroked(0.75, 0, &slope), 0.5);
    CU_ASSERT_EQUAL(share_stroked(1, 0, &slope), 1);
    CU_ASSERT_EQUAL(share_rest(0.25, 0.5, &slope), 0); /* lap: shut from a quarter to three quarters */
    CU_ASSERT_EQUAL(share_stroked(0.75, 0.5, &slope), 0);
    CU_ASSERT_EQUAL(share_stroked(0.875, 0.5, &slope), 0.5);
    struct valve v = {.preload = 12, .rate = 1000, .travel = 0.005};
    check_near(spool_range(&v, false), 5, 1e-12);
    CU_ASSERT_EQUAL(spool_range(&v, true), 0.1); /* broken: at least 0.1 N */
    v.rate = 0;
    check_near(spool_range(&v, false), 0.24, 1e-12); /* 2 % of the preload */
}

static void test_valve_openings(void)
{
    double slope;
    struct valve v = {.limit = 100e3, .droop = 0.05, .cracks_at = 200e3};
    check_near(limiting_opening(&v, 95e3, &slope), 1, 1e-12);
    CU_ASSERT_EQUAL(limiting_opening(&v, 100e3, &slope), 0);
    check_near(slope, -1 / 5e3, 1e-12);
    check_near(1 + limiting_exhaust(&v, 102e3, &slope), 1, 1e-12); /* starts at 2 % above */
    check_near(limiting_exhaust(&v, 107e3, &slope), 1, 1e-12);     /* open at 7 % */
    CU_ASSERT_EQUAL(relief_opening(&v, 200e3, &slope), 0);
    check_near(relief_opening(&v, 210e3, &slope), 1, 1e-12);
    double by_setting;
    check_near(1 + also_feeds_opening(98e3, 100e3, &slope, &by_setting), 1, 1e-12);
    check_near(also_feeds_opening(100e3, 100e3, &slope, &by_setting), 1, 1e-12);
    double h = 1e-3, other;
    double low = also_feeds_opening(99e3, 100e3 - h, &slope, &other);
    double high = also_feeds_opening(99e3, 100e3 + h, &slope, &other);
    also_feeds_opening(99e3, 100e3, &slope, &by_setting);
    check_near(by_setting, (high - low) / (2 * h), 1e-5);
    CU_ASSERT_EQUAL(seat_opening(5000, 5000), 1);
    CU_ASSERT_EQUAL(seat_opening(4950, 5000), 0.5);
    CU_ASSERT_EQUAL(seat_opening(4900, 5000), 0);
}

static void test_sources(void)
{
    const double capacity = 2e-4, setting = 1e6;
    enum source_mode mode;
    for (double gain = 1e-14; gain < 1; gain *= 1e3) { /* any gain gives the same rule */
        CU_ASSERT_EQUAL(source_flow(1e-4, gain, setting, setting, capacity, &mode), 1e-4);
        CU_ASSERT_EQUAL(mode, SOURCE_HOLDS);
        CU_ASSERT_EQUAL(source_flow(capacity, gain, setting, 0.9 * setting, capacity, &mode), capacity);
        CU_ASSERT_EQUAL(mode, SOURCE_AT_CAPACITY); /* gives its capacity below its setting */
        CU_ASSERT_EQUAL(source_flow(0, gain, setting, 1.1 * setting, capacity, &mode), 0);
        CU_ASSERT_EQUAL(mode, SOURCE_GIVES_NOTHING); /* and nothing above it */
        CU_ASSERT_NOT_EQUAL(source_flow(1e-4, gain, setting, 0.9 * setting, capacity, &mode), 1e-4); /* not obeyed */
    }
    source_flow(1, SOURCE_GAIN, setting, setting, INFINITY, &mode);
    CU_ASSERT_EQUAL(mode, SOURCE_HOLDS);
    CU_ASSERT_EQUAL(source_flow(0, SOURCE_GAIN, INFINITY, setting, capacity, &mode), capacity);
    bool clamped;
    CU_ASSERT_EQUAL(regulated_setting(55, 100, 300, &clamped), 155);
    CU_ASSERT_FALSE(clamped);
    CU_ASSERT_EQUAL(regulated_setting(55, 250, 300, &clamped), 300);
    CU_ASSERT_TRUE(clamped);
    CU_ASSERT_EQUAL(regulated_setting(55, 250, NAN, &clamped), 305);
}

static const struct unit_test tests[] = {
    {"worked examples of orifices", test_worked_orifices},
    {"measured orifices", test_measured_orifices},
    {"the coefficient at both ends", test_coefficient_ends},
    {"one opening from laminar to turbulent", test_transition},
    {"slopes of openings", test_opening_slopes},
    {"gaps", test_gaps},
    {"viscosity at a third temperature", test_viscosities},
    {"shares of a spool's windows", test_spool_shares},
    {"limiting, relief, what a regulator feeds, shuttles", test_valve_openings},
    {"sources and regulated settings", test_sources},
};
UNIT_MAIN("pressure_laws", tests)
