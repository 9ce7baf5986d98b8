/* Quantities against published factors and drill sizes: tests/data/units.csv and drills.csv name their sources. */
#include "base/units.h"
#include "unit.h"
#include <float.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static enum quantity_problem read_text(const char *text, enum dimension dim, double *value, size_t *unit_at)
{
    struct units u = units_default();
    return quantity_read(text, strlen(text), dim, &u, value, unit_at);
}

/* Equal but for the roundings of a product and a quotient. */
static int same(double a, double b)
{
    return fabs(a - b) <= 4 * DBL_EPSILON * fabs(b);
}

/* Splits a line at its commas in place; returns the number of fields. */
static size_t fields(char *line, char *field[], size_t most)
{
    size_t n = 0;
    for (char *p = line; p && n < most; n++) {
        field[n] = p;
        p = strchr(p, ',');
        if (p)
            *p++ = '\0';
    }
    return n;
}

static FILE *open_data(const char *name)
{
    char path[4096];
    snprintf(path, sizeof path, "%s/tests/data/%s", FEEDTRACE_SOURCE_DIR, name);
    FILE *f = fopen(path, "r");
    CU_ASSERT_PTR_NOT_NULL_FATAL(f);
    return f;
}

static void test_published_factors(void)
{
    static const struct {
        const char *quantity;
        enum dimension dim;
    } dims[] = {{"pressure", DIM_PRESSURE},     {"length", DIM_LENGTH},   {"area", DIM_AREA},
                {"volume", DIM_VOLUME},         {"flow", DIM_FLOW},       {"force", DIM_FORCE},
                {"stiffness", DIM_SPRING_RATE}, {"density", DIM_DENSITY}, {"viscosity_kin", DIM_VISCOSITY}};
    FILE *f = open_data("units.csv");
    char line[512], *field[7];
    int n_rows = 0;
    while (fgets(line, sizeof line, f)) {
        if (line[0] == '#' || fields(line, field, 7) < 4)
            continue;
        for (size_t i = 0; i < sizeof dims / sizeof *dims; i++) {
            if (strcmp(field[0], dims[i].quantity))
                continue;
            char text[64];
            double value = NAN;
            snprintf(text, sizeof text, "2 %s", field[1]);
            CU_ASSERT_EQUAL(read_text(text, dims[i].dim, &value, NULL), QUANTITY_OK);
            if (!same(value, 2 * strtod(field[3], NULL))) {
                printf("\n    %s: %.17g\n", field[1], value / 2);
                CU_FAIL("differs from the published factor");
            }
            n_rows++;
        }
    }
    fclose(f);
    CU_ASSERT_EQUAL(n_rows, 48); /* of 54 rows: no torque, dynamic viscosity, mass */
}

static void test_published_drills(void)
{
    FILE *f = open_data("drills.csv");
    char line[512], *field[3];
    int n_rows = 0;
    while (fgets(line, sizeof line, f)) {
        if (line[0] == '#' || fields(line, field, 3) < 3 || !strcmp(field[0], "designation"))
            continue;
        char text[64];
        double value = NAN;
        snprintf(text, sizeof text, "drill %s", field[0]);
        CU_ASSERT_EQUAL(read_text(text, DIM_LENGTH, &value, NULL), QUANTITY_OK);
        CU_ASSERT(same(value, strtod(field[2], NULL) / 1000));
        CU_ASSERT(same(value, strtod(field[1], NULL) * 0.0254)); /* one inch is 25.4 mm: international yard, 1959 */
        n_rows++;
    }
    fclose(f);
    CU_ASSERT_EQUAL(n_rows, 106); /* 1 to 80 and A to Z */
}

static void test_cross_values(void)
{
    /* The cross values of the head of tests/data/units.csv, printed there to ten digits. */
    static const struct {
        const char *text;
        enum dimension dim;
        double si;
    } rows[] = {
        {"1 bar", DIM_PRESSURE, 14.503773773 * 6894.757293168362},
        {"100 psi", DIM_PRESSURE, 689475.7293},
        {"115 psi", DIM_PRESSURE, 792897.0887},
        {"1 gal/min", DIM_FLOW, 3.785411784 / 60000},
        {"0.035 in", DIM_LENGTH, 0.889e-3},
        {"1 lbf/in", DIM_SPRING_RATE, 175.126835},
        {"210 degF", DIM_TEMPERATURE, 98.888889 + 273.15},
        {"-40 degF", DIM_TEMPERATURE, 233.15},
        {"-40 degC", DIM_TEMPERATURE, 233.15},
        {"212 degF", DIM_TEMPERATURE, 373.15},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        double value = NAN;
        CU_ASSERT_EQUAL(read_text(rows[i].text, rows[i].dim, &value, NULL), QUANTITY_OK);
        CU_ASSERT_DOUBLE_EQUAL(value, rows[i].si, 1e-8 * fabs(rows[i].si));
    }
}

static void test_grammar(void)
{
    static const struct {
        const char *text;
        enum dimension dim;
        enum quantity_problem problem;
        double si;
        size_t unit_at;
    } rows[] = {
        {"0.9", DIM_LENGTH, QUANTITY_OK, 0.9 / 1000, 0},
        {"0.9mm", DIM_LENGTH, QUANTITY_OK, 0.9 / 1000, 3},
        {"  +9e-1  mm ", DIM_LENGTH, QUANTITY_OK, 0.9 / 1000, 9},
        {"9E2 um", DIM_LENGTH, QUANTITY_OK, 900 / 1e6, 4},
        {"-3", DIM_LENGTH, QUANTITY_OK, -0.003, 0},
        {"drill e", DIM_LENGTH, QUANTITY_OK, 0.25 * 0.0254, 6},
        {"\t5\t%\t", DIM_SHARE, QUANTITY_OK, 0.05, 3},
        {"drill\t65", DIM_LENGTH, QUANTITY_OK, 0.035 * 0.0254, 6},
        {"drills", DIM_LENGTH, QUANTITY_NOT_A_NUMBER, 0, 0},
        {"1X", DIM_LENGTH, QUANTITY_NOT_A_NUMBER, 0, 0},
        {"1 x", DIM_LENGTH, QUANTITY_UNKNOWN_UNIT, 0, 2},
        {"5 %", DIM_SHARE, QUANTITY_OK, 0.05, 2},
        {"5", DIM_SHARE, QUANTITY_OK, 0.05, 0},
        {"2.6", DIM_NUMBER, QUANTITY_OK, 2.6, 0},
        {"", DIM_LENGTH, QUANTITY_NOT_A_NUMBER, 0, 0},
        {"mm", DIM_LENGTH, QUANTITY_NOT_A_NUMBER, 0, 0},
        {"nan", DIM_LENGTH, QUANTITY_NOT_A_NUMBER, 0, 0},
        {"-inf", DIM_LENGTH, QUANTITY_NOT_A_NUMBER, 0, 0},
        {"0x1F", DIM_LENGTH, QUANTITY_NOT_A_NUMBER, 0, 0},
        {".5", DIM_LENGTH, QUANTITY_NOT_A_NUMBER, 0, 0},
        {"1.", DIM_LENGTH, QUANTITY_NOT_A_NUMBER, 0, 0},
        {"1. mm", DIM_LENGTH, QUANTITY_NOT_A_NUMBER, 0, 0},
        {"1,5", DIM_LENGTH, QUANTITY_NOT_A_NUMBER, 0, 0},
        {"1_000", DIM_LENGTH, QUANTITY_NOT_A_NUMBER, 0, 0},
        {"1.2.3", DIM_LENGTH, QUANTITY_NOT_A_NUMBER, 0, 0},
        {"1 2", DIM_LENGTH, QUANTITY_NOT_A_NUMBER, 0, 0},
        {"+-1", DIM_LENGTH, QUANTITY_NOT_A_NUMBER, 0, 0},
        {"1e", DIM_LENGTH, QUANTITY_UNKNOWN_UNIT, 0, 1},
        {"3 furlong", DIM_LENGTH, QUANTITY_UNKNOWN_UNIT, 0, 2},
        {"3 MM", DIM_LENGTH, QUANTITY_UNKNOWN_UNIT, 0, 2},
        {"5 1", DIM_SHARE, QUANTITY_NOT_A_NUMBER, 0, 0},
        {"3 psi", DIM_LENGTH, QUANTITY_WRONG_DIMENSION, 0, 2},
        {"2 %", DIM_NUMBER, QUANTITY_WRONG_DIMENSION, 0, 2},
        {"drill 65", DIM_AREA, QUANTITY_WRONG_DIMENSION, 0, 0},
        {"drill 81", DIM_LENGTH, QUANTITY_UNKNOWN_DRILL, 0, 6},
        {"drill 065", DIM_LENGTH, QUANTITY_UNKNOWN_DRILL, 0, 6},
        {"drill AB", DIM_LENGTH, QUANTITY_UNKNOWN_DRILL, 0, 6},
        {"drill", DIM_LENGTH, QUANTITY_UNKNOWN_DRILL, 0, 5},
        {"1e999", DIM_LENGTH, QUANTITY_OUT_OF_RANGE, 0, 0},
        {"1e308 kPa", DIM_PRESSURE, QUANTITY_OUT_OF_RANGE, 0, 6},
        {"-0.1 K", DIM_TEMPERATURE, QUANTITY_OUT_OF_RANGE, 0, 5},
        {"-273.16 degC", DIM_TEMPERATURE, QUANTITY_OUT_OF_RANGE, 0, 8},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        double value = -77;
        size_t unit_at = 99;
        enum quantity_problem problem = read_text(rows[i].text, rows[i].dim, &value, &unit_at);
        bool right = problem == rows[i].problem &&
                     (problem == QUANTITY_OK ? same(value, rows[i].si) : value == -77 /* untouched */);
        if (problem != QUANTITY_NOT_A_NUMBER && rows[i].unit_at)
            right = right && unit_at == rows[i].unit_at;
        if (!right) {
            printf("\n    \"%s\": problem %d, value %.17g, unit at %zu\n", rows[i].text, problem, value, unit_at);
            CU_FAIL("read wrongly");
        }
    }
    struct units u = units_default();
    double value;
    CU_ASSERT_EQUAL(quantity_read("1 mm\0", 5, DIM_LENGTH, &u, &value, NULL), QUANTITY_UNKNOWN_UNIT);
    CU_ASSERT_EQUAL(quantity_read("drill 6\0zzzzzzzz", 16, DIM_LENGTH, &u, &value, NULL), QUANTITY_UNKNOWN_DRILL);
    CU_ASSERT_EQUAL(quantity_read("-0", 2, DIM_LENGTH, &u, &value, NULL), QUANTITY_OK);
    CU_ASSERT_FALSE(signbit(value));
}

static void test_long_number(void)
{
    /* Half way between 1 and the next double, and one digit above it: IEEE 754 rounds to even, then up. */
    char text[1200];
    double value;
    snprintf(text, sizeof text, "1.00000000000000011102230246251565404236316680908203125");
    CU_ASSERT_EQUAL(read_text(text, DIM_NUMBER, &value, NULL), QUANTITY_OK);
    CU_ASSERT_EQUAL(value, 1);
    size_t n = strlen(text);
    memset(text + n, '0', 1000);
    memcpy(text + n + 1000, "1", 2);
    CU_ASSERT_EQUAL(read_text(text, DIM_NUMBER, &value, NULL), QUANTITY_OK);
    CU_ASSERT_EQUAL(value, 1 + DBL_EPSILON);
}

static void test_setting_units(void)
{
    struct units u = units_default();
    double value;
    CU_ASSERT_TRUE(units_set(&u, DIM_PRESSURE, "bar"));
    CU_ASSERT_FALSE(units_set(&u, DIM_PRESSURE, "mm"));
    CU_ASSERT_FALSE(units_set(&u, DIM_PRESSURE, "Bar"));
    CU_ASSERT_EQUAL(quantity_read("8", 1, DIM_PRESSURE, &u, &value, NULL), QUANTITY_OK);
    CU_ASSERT(same(value, 8e5));
    CU_ASSERT_STRING_EQUAL(u.name[DIM_SPRING_RATE], "N/mm");
    for (const char *const *force = units_of(DIM_FORCE); *force; force++) {
        for (const char *const *length = units_of(DIM_LENGTH); *length; length++) {
            char name[32];
            CU_ASSERT_TRUE(units_set(&u, DIM_FORCE, *force));
            CU_ASSERT_TRUE(units_set(&u, DIM_LENGTH, *length));
            snprintf(name, sizeof name, "%s/%s", *force, *length);
            CU_ASSERT_STRING_EQUAL(u.name[DIM_SPRING_RATE], name);
            double newton, meter;
            quantity_read("1", 1, DIM_FORCE, &u, &newton, NULL);
            quantity_read("1", 1, DIM_LENGTH, &u, &meter, NULL);
            quantity_read("1", 1, DIM_SPRING_RATE, &u, &value, NULL);
            CU_ASSERT(same(value, newton / meter));
        }
    }
    /* One that was set by itself follows no more. */
    CU_ASSERT_TRUE(units_set(&u, DIM_SPRING_RATE, "N/m"));
    CU_ASSERT_TRUE(units_set(&u, DIM_FORCE, "lbf"));
    CU_ASSERT_STRING_EQUAL(u.name[DIM_SPRING_RATE], "N/m");

    CU_ASSERT_EQUAL(units_dimension("pressure"), DIM_PRESSURE);
    CU_ASSERT_EQUAL(units_dimension("spring_rate"), DIM_SPRING_RATE);
    CU_ASSERT_EQUAL(units_dimension("speed"), N_DIMENSIONS);
    CU_ASSERT_EQUAL(units_dimension(""), N_DIMENSIONS);
}

static void test_every_unit_is_read_back(void)
{
    for (int dim = 0; dim < N_DIMENSIONS; dim++) {
        size_t n = 0;
        for (const char *const *name = units_of((enum dimension)dim); *name; name++, n++) {
            struct units u = units_default();
            struct text t = {0};
            double first, second = NAN;
            CU_ASSERT_TRUE(units_set(&u, (enum dimension)dim, *name));
            CU_ASSERT_EQUAL(quantity_read("123.4", 5, (enum dimension)dim, &u, &first, NULL), QUANTITY_OK);
            quantity_add(&t, first, (enum dimension)dim, &u);
            CU_ASSERT(!strncmp(text_string(&t), "123.4 ", 6) && !strcmp(text_string(&t) + 6, *name));
            CU_ASSERT_EQUAL(quantity_read(t.at, t.n, (enum dimension)dim, &u, &second, NULL), QUANTITY_OK);
            CU_ASSERT_EQUAL(first, second);
            text_release(&t);
        }
        CU_ASSERT_EQUAL(n == 0, dim == DIM_NUMBER);
    }
}

static void test_printing(void)
{
    static const struct {
        double value;
        enum dimension dim;
        const char *text;
    } rows[] = {
        {115 * 6894.757293168362, DIM_PRESSURE, "115 psi"},
        {317.36 * 6894.757293168362, DIM_PRESSURE, "317.4 psi"},
        {0.0009, DIM_LENGTH, "0.9 mm"},
        {12.345678, DIM_LENGTH, "12346 mm"},
        {9.9996, DIM_LENGTH, "10000 mm"},
        {1e13, DIM_LENGTH, "1e+16 mm"}, /* as many digits would say more than is known */
        {0, DIM_LENGTH, "0 mm"},
        {273.15, DIM_TEMPERATURE, "0 degC"},
        {353.15, DIM_TEMPERATURE, "80 degC"},
        {0.05, DIM_SHARE, "5 %"},
        {2.6, DIM_NUMBER, "2.6"},
        {NAN, DIM_PRESSURE, "?"},
        {INFINITY, DIM_PRESSURE, "?"},
    };
    struct units u = units_default();
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct text t = {0};
        quantity_add(&t, rows[i].value, rows[i].dim, &u);
        CU_ASSERT_STRING_EQUAL(text_string(&t), rows[i].text);
        text_release(&t);
    }
}

static const struct unit_test tests[] = {
    {"published factors", test_published_factors},
    {"published drills", test_published_drills},
    {"cross values", test_cross_values},
    {"grammar", test_grammar},
    {"long numbers are rounded correctly", test_long_number},
    {"setting units", test_setting_units},
    {"every unit is read back", test_every_unit_is_read_back},
    {"printing", test_printing},
};
UNIT_MAIN("base/units", tests)
