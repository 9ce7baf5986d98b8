/* Quantities and other values as entries of a model give them, with the units of the file in which they stand.
 * Factors: NIST SP 811 (2008), appendix B.8 (psi, in), so 115 psi = 792.8970887 kPa; drill 65 = 0.035 in, ANSI/ASME
 * B94.11M. */
#include "model/read.h"
#include "model_text.h"
#include "unit.h"
#include <math.h>

struct values {
    struct fixture f;
    struct reader r;
};

static void values_init(struct values *v)
{
    memset(&v->r, 0, sizeof v->r);
    fixture_init(&v->f);
    v->r.m = mem_zero(1, sizeof *v->r.m);
    arena_init(&v->r.m->arena);
    arena_init(&v->r.scratch);
    v->r.m->names = arena_alloc(&v->r.m->arena, sizeof *v->r.m->names);
    v->r.arena = &v->r.m->arena;
    v->r.files = &v->f.files;
    v->r.d = &v->f.d;
    v->r.units = arena_rows(&v->r.scratch, SOURCE_FILES_MAX, sizeof *v->r.units);
    for (size_t i = 0; i < SOURCE_FILES_MAX; i++)
        v->r.units[i] = units_default();
}

static void values_release(struct values *v)
{
    arena_release(&v->r.scratch);
    model_free(v->r.m);
    fixture_release(&v->f);
}

/* A quantity in a file whose pressure is in `pressure` units and length in `length` units; told: the messages. */
static void expect_quantity(const char *text, enum dimension dim, double si, const char *told, int line)
{
    struct values v;
    double value = -77;
    values_init(&v);
    bool read = read_quantity(&v.r, fixture_tree(&v.f, text), "`size` of hole H01", dim, &value);
    bool same = read == !*told && !strcmp(fixture_told(&v.f), told) &&
                (read ? fabs(value - si) <= 1e-9 * fabs(si) : value == -77);
    if (!same)
        printf("\n  line %d: %.12g | %s\n", line, value, fixture_told(&v.f));
    CU_ASSERT(same);
    if (!read && *told)
        CU_ASSERT(v.f.d.rows[0].help && *v.f.d.rows[0].help);
    values_release(&v);
}
#define QUANTITY(text, dim, si)  expect_quantity(text, dim, si, "", __LINE__)
#define REFUSED(text, dim, code) expect_quantity(text, dim, 0, "1:1 " code, __LINE__)

static void test_quantities(void)
{
    QUANTITY("115", DIM_PRESSURE, 792897.0887); /* psi where the file says nothing */
    QUANTITY("115 psi", DIM_PRESSURE, 792897.0887);
    QUANTITY("8 bar", DIM_PRESSURE, 8e5);
    QUANTITY("'0.9'", DIM_LENGTH, 0.9e-3);
    QUANTITY("0.035 in", DIM_LENGTH, 0.889e-3);
    QUANTITY("drill 65", DIM_LENGTH, 0.889e-3);
    QUANTITY("5 %", DIM_SHARE, 0.05);
    QUANTITY("5", DIM_SHARE, 0.05); /* a bare share is per cent */
    QUANTITY("80 degC", DIM_TEMPERATURE, 353.15);
    QUANTITY("34 cSt", DIM_VISCOSITY, 34e-6);
    QUANTITY("20 L/min", DIM_FLOW, 20.0 / 60000);
    QUANTITY("2.6", DIM_NUMBER, 2.6);
    QUANTITY("0", DIM_LENGTH, 0);
    QUANTITY("1e3 Pa", DIM_PRESSURE, 1000);
}

static void test_refused_quantities(void)
{
    REFUSED("nan", DIM_PRESSURE, "bad-quantity");
    REFUSED(".inf", DIM_PRESSURE, "bad-quantity");
    REFUSED("inf", DIM_PRESSURE, "bad-quantity");
    REFUSED("0x10", DIM_LENGTH, "bad-quantity");
    REFUSED("1e999", DIM_LENGTH, "bad-quantity");
    REFUSED("wide", DIM_LENGTH, "bad-quantity");
    REFUSED("''", DIM_LENGTH, "bad-quantity");
    REFUSED("5 furlong", DIM_LENGTH, "bad-quantity");
    REFUSED("drill 999", DIM_LENGTH, "bad-quantity");
    REFUSED("-0.9 mm", DIM_LENGTH, "bad-quantity");
    REFUSED("0,9", DIM_LENGTH, "bad-quantity");
    REFUSED("5 psi", DIM_LENGTH, "wrong-dimension");
    REFUSED("5 mm", DIM_PRESSURE, "wrong-dimension");
    REFUSED("drill 65", DIM_PRESSURE, "wrong-dimension");
    REFUSED("2 mm", DIM_NUMBER, "wrong-dimension");
    REFUSED("[1]", DIM_LENGTH, "wrong-shape");
    REFUSED("{a: 1}", DIM_LENGTH, "wrong-shape");
    REFUSED("~", DIM_LENGTH, "wrong-shape");
}

/* A bare number is in the units of the file that the node's place names. */
static void test_units_of_files(void)
{
    struct values v;
    double value;
    values_init(&v);
    struct node *first = fixture_tree(&v.f, "2"), *second = fixture_tree(&v.f, "2");
    CU_ASSERT(units_set(&v.r.units[1], DIM_PRESSURE, "bar"));
    CU_ASSERT(read_quantity(&v.r, first, "a pressure", DIM_PRESSURE, &value));
    CU_ASSERT_DOUBLE_EQUAL(value, 2 * 6894.757293, 1e-3);
    CU_ASSERT(read_quantity(&v.r, second, "a pressure", DIM_PRESSURE, &value));
    CU_ASSERT_EQUAL(value, 2e5);
    CU_ASSERT(read_signed(&v.r, fixture_tree(&v.f, "-3 mm"), "a place", DIM_LENGTH, &value));
    CU_ASSERT_DOUBLE_EQUAL(value, -3e-3, 1e-15);
    values_release(&v);
}

struct row {
    struct part part;
    double size;
    unsigned word;
    bool flag;
    struct spring spring;
};
static const char *const words[] = {"open", "closed", NULL};
static const struct key keys[] = {
    {"size", KEY_QUANTITY, true, offsetof(struct row, size), DIM_LENGTH, NULL},
    {"word", KEY_WORD, false, offsetof(struct row, word), 0, words},
    {"flag", KEY_FLAG, false, offsetof(struct row, flag), 0, NULL},
    {"spring", KEY_SPRING, false, offsetof(struct row, spring), 0, NULL},
    {"list", KEY_NODE, false, 0, 0, NULL},
    PART_KEYS,
};

static void expect_keys(const char *text, const char *told, const char *help, int line)
{
    struct values v;
    struct row row = {.word = 77};
    const struct node *values[N_OF(keys)];
    values_init(&v);
    bool read = read_keys(&v.r, fixture_tree(&v.f, text), "hole H01", "FORM", keys, N_OF(keys), &row, values);
    const char *helped = v.f.d.n && v.f.d.rows[0].help ? v.f.d.rows[0].help : "";
    bool same = read == !*told && !strcmp(fixture_told(&v.f), told) && (!help || !strcmp(help, helped));
    if (!same)
        printf("\n  line %d: %s | %s\n", line, fixture_told(&v.f), helped);
    CU_ASSERT(same);
    values_release(&v);
}
#define KEYS(text, told, help) expect_keys(text, told, help, __LINE__)

static void test_keys(void)
{
    KEYS("{size: 3}", "", "");
    KEYS("{size: 3, word: closed, flag: true, spring: {preload: 1, rate: 2}, list: [x], title: T, note: N, odds: 3, "
         "cd: 0.7}",
         "", "");
    KEYS("{sice: 3, size: 1}", "1:2 unknown-key", "did you mean `size`?");
    KEYS("{size: 1, qqqqq: 3}", "1:11 unknown-key", NULL);
    KEYS("{word: open}", "1:1 missing-key", "FORM");
    KEYS("[size, 3]", "1:1 wrong-shape", "FORM");
    KEYS("size", "1:1 wrong-shape", "FORM");
    KEYS("{size: 1, word: clozed}", "1:17 wrong-value", "did you mean `closed`?");
    KEYS("{size: 1, word: 77}", "1:17 wrong-value", "write one of `open` or `closed`");
    KEYS("{size: 1, flag: yes}", "1:17 wrong-value", NULL);
    KEYS("{size: 1, spring: {preload: 1}}", "1:19 missing-key", NULL);
    KEYS("{size: 1, spring: 3}", "1:19 wrong-shape", NULL);
    KEYS("{size: 1, title: [x]}", "1:18 wrong-shape", NULL);
    KEYS("{size: 1, title: ''}", "1:18 wrong-value", NULL);
    KEYS("{size: -1, word: x, other: 1}", "1:8 bad-quantity, 1:18 wrong-value, 1:21 unknown-key",
         NULL);                                   /* all in one run */
    KEYS("{size: *a}", "1:8 yaml-feature", NULL); /* what was reported earns no second message */
}

static void test_key_values(void)
{
    struct values v;
    struct row row = {.word = 77};
    const struct node *values[N_OF(keys)];
    values_init(&v);
    struct node *map =
        fixture_tree(&v.f, "{size: 3 mm, word: closed, flag: true, spring: {preload: 1, rate: 2}, list: [x], odds: 3}");
    CU_ASSERT(read_keys(&v.r, map, "hole H01", "FORM", keys, N_OF(keys), &row, values));
    CU_ASSERT_DOUBLE_EQUAL(row.size, 3e-3, 1e-15);
    CU_ASSERT(row.word == 1 && row.flag && row.spring.has && row.spring.preload == 1 && row.spring.rate == 2000 &&
              row.part.odds == 3);
    CU_ASSERT(values[4] && values[4]->kind == NODE_LIST && values[0] && !values[5]);
    values_release(&v);
}

static void expect_outline(const char *text, uint32_t n_rings, uint32_t n_points, const char *told, int line)
{
    struct values v;
    struct outline outline = {0};
    values_init(&v);
    bool read = read_outline(&v.r, fixture_tree(&v.f, text), "passage p", &outline);
    bool same = read == !*told && !strcmp(fixture_told(&v.f), told);
    if (same && read)
        same = outline.n == n_rings && outline.rings[n_rings - 1].n == n_points && outline.rings[0].xy[2] == 5e-3;
    if (!same)
        printf("\n  line %d: %s\n", line, fixture_told(&v.f));
    CU_ASSERT(same);
    values_release(&v);
}
#define OUTLINE(text, n_rings, n_points, told) expect_outline(text, n_rings, n_points, told, __LINE__)

static void test_outlines(void)
{
    OUTLINE("[[1, -2], [5, 4], [3, 3]]", 1, 3, "");
    OUTLINE("[[[1, 2], [5, 4], [3, 3]], [[0, 0], [1, 0], [1 in, 1], [0, 1]]]", 2, 4, "");
    OUTLINE("[[1, 2], [5, 4]]", 0, 0, "1:1 bad-outline");
    OUTLINE("[]", 0, 0, "1:1 bad-outline");
    OUTLINE("round", 0, 0, "1:1 bad-outline");
    OUTLINE("[[1, 2], [5], [3, 3]]", 0, 0, "1:10 bad-outline");
    OUTLINE("[[1, 2], [5, x], [3, 3 psi]]", 0, 0, "1:14 bad-quantity, 1:22 wrong-dimension");
}

static void test_sizes(void)
{
    /* The limits of our own rule: open from 2.5 mm, orifice from 0.6 mm; no size counts as 0.5 mm. */
    CU_ASSERT_EQUAL(strength_of_size(2.5e-3), STRENGTH_OPEN);
    CU_ASSERT_EQUAL(strength_of_size(2.4999e-3), STRENGTH_ORIFICE);
    CU_ASSERT_EQUAL(strength_of_size(0.6e-3), STRENGTH_ORIFICE);
    CU_ASSERT_EQUAL(strength_of_size(0.5999e-3), STRENGTH_LEAK);
    CU_ASSERT_EQUAL(strength_of_size(NAN), STRENGTH_LEAK);
    CU_ASSERT_EQUAL(strength_of_size(600 * 1e-6), STRENGTH_ORIFICE); /* as 600 um would be read */
    for (enum strength s = STRENGTH_LEAK; s < STRENGTH_JOINED; s++)
        CU_ASSERT_STRING_EQUAL(strength_word(s), strength_words[s]);
}

static const struct unit_test tests[] = {
    {"quantities", test_quantities},         {"quantities refused", test_refused_quantities},
    {"units of files", test_units_of_files}, {"mappings by keys", test_keys},
    {"values of keys", test_key_values},     {"outlines", test_outlines},
    {"strength of a size", test_sizes},
};
UNIT_MAIN("model: values", tests)
