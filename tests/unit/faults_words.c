/* Fault words: what they become, and what is said when they cannot be read. Expected edits follow from what each fault
 * means to the oil, part by part of tests/data/faults.yaml. */
#include "faults/faults.h"
#include "faults/kinds.h"
#include "faults/list.h"
#include "unit_model.h"
#include <math.h>
#include <string.h>

static struct sources files;
static struct diags diags;
static struct arena arena;
static struct model *model;
static struct network network;

static uint32_t row(enum part_kind kind, const char *id)
{
    struct part_ref ref = model_find(model, id, strlen(id));
    CU_ASSERT_EQUAL_FATAL(ref.kind, kind);
    return ref.i;
}

static void begin(void)
{
    sources_init(&files);
    diags_init(&diags);
    arena_init(&arena);
    model = model_read(FEEDTRACE_SOURCE_DIR "/tests/data/faults.yaml", &files, &diags);
    for (size_t i = 0; i < diags.n; i++)
        fprintf(stderr, "line %u: %s\n", diags.rows[i].where.line, diags.rows[i].message);
    CU_ASSERT_PTR_NOT_NULL_FATAL(model);
    /* Only a layout finds out that a hole opens into a second passage, so this one is told. */
    model->holes[row(PART_HOLE, "H4")].bridges.i = row(PART_PASSAGE, "body.e");
    network_build(model, false, &network);
}

static void end(void)
{
    network_release(&network);
    model_free(model);
    arena_release(&arena);
    diags_release(&diags);
    sources_release(&files);
}

static struct fault_set read_good(const char *words)
{
    struct fault_set s;
    bool ok = faults_read(words, &network, &arena, &s, &diags);
    if (!ok)
        fprintf(stderr, "%s: %s\n", words, diags.n ? diags.rows[diags.n - 1].message : "?");
    CU_ASSERT_TRUE_FATAL(ok);
    return s;
}

static uint32_t passage(const char *id)
{
    return strcmp(id, "sump") == 0 ? SUMP.i : row(PART_PASSAGE, id);
}

/* ---- edits */

static bool is_edit(const struct edit *e, enum edit_kind kind, enum part_kind part, const char *id)
{
    return e->kind == kind && e->part.kind == part && (!id || strcmp(model_id(model, e->part), id) == 0);
}

static void check_add(const struct edit *e, const char *from, const char *to, enum strength strength, bool one_way)
{
    CU_ASSERT_EQUAL(e->kind, EDIT_ADD);
    CU_ASSERT_EQUAL(e->from.i, passage(from));
    CU_ASSERT_EQUAL(e->to.i, passage(to));
    CU_ASSERT_EQUAL(e->strength, strength);
    CU_ASSERT_EQUAL(e->one_way, one_way);
}

static void test_block(void)
{
    begin();
    struct fault_set s = read_good("block H1");
    CU_ASSERT_EQUAL_FATAL(s.edits.n, 1);
    CU_ASSERT_TRUE(is_edit(&s.edits.rows[0], EDIT_REMOVE, PART_HOLE, "H1"));
    CU_ASSERT_EQUAL(s.edits.rows[0].element.i, network.hole_element[row(PART_HOLE, "H1")]);
    CU_ASSERT_FALSE(s.edits.splits_joint);
    CU_ASSERT_STRING_EQUAL(s.words, "block H1");

    s = read_good("block J1"); /* lossless: its two passages are no longer one */
    CU_ASSERT_EQUAL(s.edits.n, 1);
    CU_ASSERT_TRUE(s.edits.splits_joint);
    s = read_good("block S1"); /* a screen with a diameter is an element already */
    CU_ASSERT_EQUAL(s.edits.n, 1);
    CU_ASSERT_FALSE(s.edits.splits_joint);

    CU_ASSERT_EQUAL(read_good("block H4").edits.n, 2);   /* and what it bridges into */
    CU_ASSERT_EQUAL(read_good("block sol").edits.n, 1);  /* a bleed has one window */
    CU_ASSERT_EQUAL(read_good("block duty").edits.n, 4); /* two open, two half open */
    s = read_good("block shift.out");                    /* out to x, in to out */
    CU_ASSERT_EQUAL(s.edits.n, 2);
    CU_ASSERT_TRUE(is_edit(&s.edits.rows[0], EDIT_REMOVE, PART_VALVE, "shift"));
    s = read_good("block shift.sig"); /* an end without a window */
    CU_ASSERT_EQUAL_FATAL(s.edits.n, 1);
    CU_ASSERT_TRUE(is_edit(&s.edits.rows[0], EDIT_BLOCK_END, PART_VALVE, "shift"));
    CU_ASSERT_EQUAL(s.edits.rows[0].valve.i, row(PART_VALVE, "shift"));
    CU_ASSERT_STRING_EQUAL(model->valves[s.edits.rows[0].valve.i].ports[s.edits.rows[0].position].name, "sig");
    s = read_good("block limit.reaction");
    CU_ASSERT_EQUAL_FATAL(s.edits.n, 1);
    CU_ASSERT_TRUE(is_edit(&s.edits.rows[0], EDIT_BLOCK_END, PART_VALVE, "limit"));
    CU_ASSERT_EQUAL(read_good("block limit.outlet").edits.n, 2);
    end();
}

static void test_leak(void)
{
    begin();
    struct fault_set s = read_good("leak H1"); /* neighbour body.b: from the hole's passage in that casting */
    CU_ASSERT_EQUAL_FATAL(s.edits.n, 1);
    check_add(&s.edits.rows[0], "body.a", "body.b", STRENGTH_LEAK, false);
    CU_ASSERT_DOUBLE_EQUAL(s.edits.rows[0].diameter, 0.0005, 1e-15);
    CU_ASSERT_STRING_EQUAL(s.words, "leak H1 at 0.5 mm");
    s = read_good("leak H1 at 0.6 mm");
    CU_ASSERT_EQUAL(s.edits.rows[0].strength, STRENGTH_ORIFICE);
    s = read_good("leak case.c into sump at 2.5"); /* a bare number is in the model's unit */
    check_add(&s.edits.rows[0], "case.c", "sump", STRENGTH_OPEN, false);
    CU_ASSERT_STRING_EQUAL(s.words, "leak case.c into sump at 2.5 mm");
    s = read_good("leak clutch at drill 65"); /* 0.0350 in by the trade's table of drills */
    check_add(&s.edits.rows[0], "case.c", "sump", STRENGTH_ORIFICE, false);
    CU_ASSERT_STRING_EQUAL(s.words, "leak clutch at 0.889 mm");
    end();
}

static void test_resize(void)
{
    begin();
    struct fault_set s = read_good("resize H1 to 0.035 in");
    CU_ASSERT_EQUAL_FATAL(s.edits.n, 1);
    CU_ASSERT_TRUE(is_edit(&s.edits.rows[0], EDIT_RESIZE, PART_HOLE, "H1"));
    CU_ASSERT_EQUAL(s.edits.rows[0].strength, STRENGTH_ORIFICE);
    CU_ASSERT_STRING_EQUAL(s.words, "resize H1 to 0.889 mm");
    s = read_good("lose B1 + resize H5 to 3 mm"); /* one element that has both */
    CU_ASSERT_EQUAL_FATAL(s.edits.n, 3);
    check_add(&s.edits.rows[2], "case.c", "body.f", STRENGTH_OPEN, false);
    CU_ASSERT_DOUBLE_EQUAL(s.edits.rows[2].diameter, 0.003, 1e-15);
    end();
}

static void test_balls(void)
{
    begin();
    struct fault_set s = read_good("lose B1");
    CU_ASSERT_EQUAL_FATAL(s.edits.n, 3);
    CU_ASSERT_EQUAL(s.edits.rows[0].kind, EDIT_FREE_BALL);
    CU_ASSERT_TRUE(is_edit(&s.edits.rows[1], EDIT_REMOVE, PART_HOLE, "H5"));
    check_add(&s.edits.rows[2], "case.c", "body.f", STRENGTH_ORIFICE, false);
    s = read_good("lose B2"); /* a shuttle: both seats open, its holes stay */
    CU_ASSERT_EQUAL(s.edits.n, 1);
    CU_ASSERT_EQUAL(s.edits.rows[0].kind, EDIT_FREE_BALL);
    s = read_good("lose B1 + block H5"); /* blocked all the same */
    for (uint32_t i = 0; i < s.edits.n; i++)
        CU_ASSERT_NOT_EQUAL(s.edits.rows[i].kind, EDIT_ADD);

    s = read_good("seat B1");
    CU_ASSERT_EQUAL_FATAL(s.edits.n, 1);
    CU_ASSERT_EQUAL(s.edits.rows[0].kind, EDIT_REMOVE);
    CU_ASSERT_STRING_EQUAL(read_good("seat B1 on H5").words, "seat B1"); /* it has no other */
    s = read_good("seat B2 on H7"); /* stuck there it no longer guards the other seat */
    CU_ASSERT_EQUAL_FATAL(s.edits.n, 2);
    CU_ASSERT_EQUAL(s.edits.rows[0].element.i, network.hole_element[row(PART_HOLE, "H7")]);
    CU_ASSERT_EQUAL(s.edits.rows[1].kind, EDIT_FREE_BALL);

    s = read_good("unseat B1"); /* the blocked way: out of the pocket */
    CU_ASSERT_EQUAL_FATAL(s.edits.n, 1);
    check_add(&s.edits.rows[0], "body.f", "case.c", STRENGTH_LEAK, true);
    s = read_good("unseat B2 on H6 at 1 mm");
    check_add(&s.edits.rows[0], "body.g", "case.b", STRENGTH_ORIFICE, true);
    end();
}

static void check_pin(const char *words, uint32_t position, uint32_t n_edits)
{
    struct fault_set s = read_good(words);
    CU_ASSERT_EQUAL_FATAL(s.edits.n, n_edits);
    CU_ASSERT_EQUAL(s.edits.rows[0].kind, EDIT_PIN);
    CU_ASSERT_EQUAL(s.edits.rows[0].position, position);
}

static void test_stick(void)
{
    begin();
    check_pin("stick shift at rest", SPOOL_REST, 1);
    check_pin("stick shift at stroked", SPOOL_STROKED, 1);
    check_pin("stick lever at D", 2, 1);
    check_pin("stick limit at wide", PIN_OPEN, 1);
    check_pin("stick limit at shut", PIN_SHUT, 1);
    check_pin("stick safety at open", PIN_OPEN, 1);
    check_pin("stick regulator at open", PIN_OPEN, 2); /* and its source's passage spills */
    check_add(&read_good("stick regulator at open").edits.rows[1], "case.p", "sump", STRENGTH_OPEN, false);
    check_pin("stick regulator at shut", PIN_SHUT, 1);
    CU_ASSERT_TRUE(read_good("stick regulator at shut").regulator_shut);
    CU_ASSERT_FALSE(read_good("stick regulator at open").regulator_shut);
    struct fault_set s = read_good("stick sol at on");
    CU_ASSERT_EQUAL(s.edits.rows[0].kind, EDIT_SOLENOID);
    CU_ASSERT_EQUAL(s.edits.rows[0].value, 1);
    CU_ASSERT_EQUAL(read_good("stick duty at off").edits.rows[0].value, 0);
    end();
}

static void test_valves(void)
{
    begin();
    struct fault_set s = read_good("wear shift"); /* sig-x, x-out, out-in; `in` and `again` are one passage */
    CU_ASSERT_EQUAL_FATAL(s.edits.n, 3);
    check_add(&s.edits.rows[2], "body.b", "body.c", STRENGTH_LEAK, false);
    CU_ASSERT_STRING_EQUAL(s.words, "wear shift");
    s = read_good("wear shift between out and x at 0.06 mm"); /* bore order, whatever order is written */
    CU_ASSERT_EQUAL_FATAL(s.edits.n, 1);
    check_add(&s.edits.rows[0], "sump", "body.b", STRENGTH_LEAK, false);
    CU_ASSERT_STRING_EQUAL(s.words, "wear shift between x and out at 0.06 mm");
    CU_ASSERT_EQUAL(read_good("wear limit between supply and outlet at 3 mm").edits.rows[0].strength, STRENGTH_LEAK);
    CU_ASSERT_EQUAL(read_good("wear lever").edits.n, 2);

    CU_ASSERT_EQUAL(read_good("break shift").edits.rows[0].kind, EDIT_BREAK_SPRING);
    CU_ASSERT_EQUAL(read_good("break regulator").edits.rows[0].kind, EDIT_BREAK_SPRING);
    check_pin("break safety", PIN_OPEN, 1);
    s = read_good("break shift + stick shift at rest"); /* a stuck valve does not feel its spring */
    CU_ASSERT_EQUAL_FATAL(s.edits.n, 1);
    CU_ASSERT_EQUAL(s.edits.rows[0].kind, EDIT_PIN);

    s = read_good("unplug shift");
    check_add(&s.edits.rows[0], "body.a", "sump", STRENGTH_OPEN, false);
    CU_ASSERT_EQUAL(read_good("unplug limit").edits.rows[0].kind, EDIT_BREAK_SPRING);

    s = read_good("weaken pump to 8 L/min");
    CU_ASSERT_EQUAL(s.edits.rows[0].kind, EDIT_WEAKEN);
    CU_ASSERT_DOUBLE_EQUAL(s.edits.rows[0].value, 8e-3 / 60, 1e-12);
    CU_ASSERT_STRING_EQUAL(read_good("weaken pump to 20").words, "weaken pump to 20 L/min");
    CU_ASSERT_STRING_EQUAL(read_good("weaken pump to 100.0 L/min").words, "weaken pump to 100 L/min");
    CU_ASSERT_STRING_EQUAL(read_good("weaken pump to 0").words, "weaken pump to 0 L/min");
    CU_ASSERT_STRING_EQUAL(read_good("weaken pump to 120").words, "weaken pump to 120 L/min"); /* as it is: harmless */
    CU_ASSERT_EQUAL(read_good("weaken pump to 31.7006462829 gal/min").n, 1); /* the same within rounding */
    s = read_good("misadjust lever between D and P");
    CU_ASSERT_EQUAL(s.edits.rows[0].kind, EDIT_BOTH_DETENTS);
    CU_ASSERT_EQUAL(s.edits.rows[0].position, 0);
    CU_ASSERT_EQUAL(s.edits.rows[0].position2, 2);
    CU_ASSERT_STRING_EQUAL(s.words, "misadjust lever between P and D");
    end();
}

/* ---- sets */

static void test_order(void)
{
    static const char *const same[] = {"leak H1 at 2 mm + lose B1 + block H3", "block H3 + leak H1 at 2 + lose B1",
                                       "  lose B1   +  block H3 + lose B1 + leak H1 at 2 mm + block H3 "};
    begin();
    struct fault_set first = read_good(same[0]);
    CU_ASSERT_STRING_EQUAL(first.words, "block H3 + leak H1 at 2 mm + lose B1");
    CU_ASSERT_EQUAL(first.n, 3);
    CU_ASSERT_STRING_EQUAL(first.each[1], "leak H1 at 2 mm");
    for (int i = 1; i < 3; i++) {
        struct fault_set s = read_good(same[i]);
        CU_ASSERT_STRING_EQUAL(s.words, first.words);
        CU_ASSERT_EQUAL_FATAL(s.edits.n, first.edits.n);
        for (uint32_t e = 0; e < s.edits.n; e++)
            CU_ASSERT_EQUAL(s.edits.rows[e].kind, first.edits.rows[e].kind);
    }
    CU_ASSERT_STRING_EQUAL(read_good(first.words).words, first.words);
    end();
}

/* What the canonical words mean has the same canonical words. */
static void test_words_stand(void)
{
    static const char *const sizes[] = {"0.1 in", "2.222222206222222 mm", "22222222062222222206 mm", "1e-300 mm",
                                        "0.123456789012345678 in"};
    begin();
    for (size_t i = 0; i < sizeof sizes / sizeof *sizes; i++) {
        char words[80];
        snprintf(words, sizeof words, "leak H1 at %s", sizes[i]);
        const char *first = read_good(words).words;
        CU_ASSERT_STRING_EQUAL(read_good(first).words, first);
    }
    end();
}

/* What is wrong, the code, and what the help must say. */
static const struct bad {
    const char *words;
    enum code code;
    const char *message, *help;
} bad[] = {
    {"", BAD_FAULT, "empty", "block H1"},
    {"block H1 +", BAD_FAULT, "missing beside a `+`", NULL},
    {"+", BAD_FAULT, "missing", NULL},
    {"blok H1", BAD_FAULT, "`blok`", "did you mean `block`?"},
    {"H1", BAD_FAULT, "no fault word", "misadjust"},
    {"block", BAD_FAULT, "does not name", "block VALVE.PORT"},
    {"block H1 H2", BAD_FAULT, "one word too many", "block ID"},
    {"block H11", UNKNOWN_NAME, "H11", "did you mean H1?"},
    {"block shift", WRONG_KIND, "a valve", "block shift.sig"},
    {"block shift.inn", UNKNOWN_NAME, "no port `inn`", "block shift.in"},
    {"block B2", WRONG_KIND, "B2", "seat B2 on HOLE"},
    {"block case.c", WRONG_KIND, "a passage", "block H3"},
    {"leak H2", BAD_FAULT, "2 neighbours", "leak case.b into case.c`, `leak body.b into body.c"},
    {"leak H3", BAD_FAULT, "no neighbour", "leak case.c into PASSAGE"},
    {"leak case.c", WRONG_KIND, "a passage", "leak case.c into sump"},
    {"leak T1 into case.c", WRONG_KIND, "T1", "on passage case.a"},
    {"leak case.c into case.c", BAD_FAULT, "into itself", NULL},
    {"leak case.x into case.y", UNKNOWN_NAME, "case.x", NULL},
    {"leak shift", WRONG_KIND, "a valve", "wear shift"},
    {"leak H1 at", BAD_QUANTITY, "needed", "leak HOLE"},
    {"leak H1 at 2 psi", WRONG_DIMENSION, "2 psi", NULL},
    {"leak H1 at 2 furlong", BAD_QUANTITY, "unit", NULL},
    {"leak H1 at two", BAD_QUANTITY, "no length", NULL},
    {"leak H1 at -2", BAD_QUANTITY, "above 0", NULL},
    {"leak H1 at 0", BAD_QUANTITY, "above 0", NULL},
    {"leak H1 at drill 99", BAD_QUANTITY, "drill", NULL},
    {"leak H1 at 1e999", BAD_QUANTITY, "1e999", NULL},
    {"leak H1 with 2", BAD_FAULT, "`with`", "leak HOLE [at 0.5 mm]"},
    {"resize H1", BAD_FAULT, "`to` is needed", "resize HOLE"},
    {"resize H1 at 2", BAD_FAULT, "where `to`", NULL},
    {"resize B1 to 2", WRONG_KIND, "B1", "H5"},
    {"lose H5", WRONG_KIND, "a plate hole", "lose B1"},
    {"lose", BAD_FAULT, "check ball", NULL},
    {"seat B2", BAD_FAULT, "two seats", "seat B2 on H6`, `seat B2 on H7"},
    {"unseat B2", BAD_FAULT, "two seats", "unseat B2 on H6"},
    {"seat B2 on H1", BAD_FAULT, "no seat on H1", "seat B2 on H6"},
    {"seat B2 on H66", UNKNOWN_NAME, "H66", NULL},
    {"seat B1 at 2", BAD_FAULT, "too many", NULL},
    {"stick shift at half", BAD_FAULT, "half", "stick shift at rest`, `stick shift at stroked"},
    {"stick lever at N", BAD_FAULT, "`N`", "stick lever at P"},
    {"stick limit at open", BAD_FAULT, "open", "stick limit at wide"},
    {"stick sol at 1", BAD_FAULT, "`1`", "stick sol at off"},
    {"stick B1 at shut", WRONG_KIND, "B1", "seat B1"},
    {"stick shift", BAD_FAULT, "`at` is needed", NULL},
    {"wear shift between sig and in", BAD_FAULT, "no neighbours", "wear shift between sig and x"},
    {"wear shift between sig and foo", UNKNOWN_NAME, "foo", "wear shift between"},
    {"wear shift between in and again", BAD_FAULT, "no neighbours", NULL},
    {"wear safety", BAD_FAULT, "relief", "leak case.a into sump"},
    {"wear regulator", BAD_FAULT, "regulating", NULL},
    {"break lever", BAD_FAULT, "no spring", "break shift"},
    {"unplug lever", BAD_FAULT, "plug", "unplug shift"},
    {"weaken signal to 8", BAD_FAULT, "derived", "weaken pump to"},
    {"weaken pmp to 8", UNKNOWN_NAME, "pmp", "weaken pump to"},
    {"weaken pump to -1", BAD_QUANTITY, "above 0", NULL},
    {"weaken pump to 121 L/min", BAD_FAULT, "gives 120 L/min at most", "below 120 L/min"},
    {"block nonsense", UNKNOWN_NAME, "nonsense", "plate holes: H1, H2, H3, H4, H5 and "},
    {"block nonsense", UNKNOWN_NAME, "nonsense", "solenoids: sol, duty"},
    {"seat nonsense", UNKNOWN_NAME, "nonsense", "check balls: B1, B2"},
    {"stick nonsense at on", UNKNOWN_NAME, "nonsense", "valves: "},
    {"leak nonsense", UNKNOWN_NAME, "nonsense", "actuators: "},
    {"leak nonsense into sump", UNKNOWN_NAME, "nonsense",
     "passages: case."}, /* not sump: it is no place to leak from */
    {"misadjust shift between P and D", WRONG_KIND, "a spool valve", "misadjust lever"},
    {"misadjust lever between P and P", BAD_FAULT, "twice", NULL},
    {"misadjust lever between P and X", UNKNOWN_NAME, "`X`", "misadjust lever between P and R"},
    {"stick shift at rest + stick shift at stroked", FAULTS_CLASH, "`stick shift at rest` and `stick shift at stroked`",
     NULL},
    {"stick lever at P + misadjust lever between P and R", FAULTS_CLASH, "lever", NULL},
    {"lose B1 + seat B1", FAULTS_CLASH, "B1", NULL},
    {"unseat B1 + seat B1", FAULTS_CLASH, "B1", NULL},
    {"seat B2 on H6 + seat B2 on H7", FAULTS_CLASH, "B2", NULL},
    {"block H1 + resize H1 to 2", FAULTS_CLASH, "`block H1` and `resize H1 to 2 mm`", NULL},
    {"a b c d e f g h i j k l m n o p q", TOO_LARGE, "17 words", NULL},
    {"block H\xff", NOT_UTF8, "UTF-8", NULL},
};

static void test_bad(void)
{
    begin();
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        struct fault_set s;
        struct diags d;
        diags_init(&d);
        CU_ASSERT_FALSE(faults_read(bad[i].words, &network, &arena, &s, &d));
        bool good = d.n && d.rows[0].code == bad[i].code && strstr(d.rows[0].message, bad[i].message) &&
                    (!bad[i].help || (d.rows[0].help && strstr(d.rows[0].help, bad[i].help)));
        if (!good)
            fprintf(stderr, "`%s`: %s[%s] help: %s\n", bad[i].words, d.n ? d.rows[0].message : "nothing said",
                    d.n ? code_row(d.rows[0].code)->id : "", d.n && d.rows[0].help ? d.rows[0].help : "none");
        CU_ASSERT_TRUE(good);
        diags_release(&d);
    }
    end();
}

/* All that is wrong is said in one run, and both seats of a shuttle may be worn at once. */
static void test_all_said(void)
{
    struct fault_set s;
    begin();
    CU_ASSERT_FALSE(faults_read("blok H1 + lose H9 + stick shift at x", &network, &arena, &s, &diags));
    CU_ASSERT_EQUAL(diags.n, 3);
    CU_ASSERT_EQUAL(read_good("unseat B2 on H6 + unseat B2 on H7").n, 2);
    end();
}

static void test_limits(void)
{
    struct text t = {0};
    struct fault_set s;
    begin();
    for (int i = 0; i < FAULTS_MAX; i++)
        text_addf(&t, "%sleak H1 at %d mm", i ? " + " : "", i + 1);
    CU_ASSERT_EQUAL(read_good(text_string(&t)).n, FAULTS_MAX);
    text_add(&t, " + block H3");
    CU_ASSERT_FALSE(faults_read(text_string(&t), &network, &arena, &s, &diags));
    CU_ASSERT_EQUAL(diags.rows[0].code, TOO_LARGE);
    CU_ASSERT_PTR_NOT_NULL(strstr(diags.rows[0].message, "16"));
    text_clear(&t);
    for (int i = 0; i < 70000; i++)
        text_add_char(&t, 'x');
    CU_ASSERT_FALSE(faults_read(text_string(&t), &network, &arena, &s, &diags));
    text_release(&t);
    end();
}

/* The forms shown in help texts can be read (with names of this model put in). */
static void test_forms(void)
{
    for (enum fault_kind kind = 0; kind < N_FAULT_KINDS; kind++) {
        const struct fault_kind_row *r = fault_kind_row(kind);
        CU_ASSERT_EQUAL(fault_kind_find(r->word), kind);
        CU_ASSERT_EQUAL(strncmp(r->form, r->word, strlen(r->word)), 0);
        CU_ASSERT_TRUE(strlen(r->what) > 10);
        CU_ASSERT_EQUAL(strncmp(r->needs, "a ", 2), 0); /* "that takes a valve" */
    }
    CU_ASSERT_EQUAL(fault_kind_find("Block"), N_FAULT_KINDS);
}

/* A source is listed at a half and a quarter of what it gives: its own capacity, else the least that a state gives it,
 * in two digits of the model's unit; without a capacity there is nothing to halve. */
static void test_list_weakens(void)
{
    static const char head[] =
        "feedtrace: 1\nmodel: pumps\nunits: {flow: gal/min}\nlayers: [{id: case, kind: casting}]\n"
        "circuits: {a: {passages: [case.a, case.b, case.c, case.d]}}\n"
        "feeds: {own: {into: case.a, capacity: 5.3}, lent: {into: case.b}, free: {into: case.c}, part: {from: "
        "case.d}}\n"
        "states:\n  s: {own: {pressure: 90, capacity: 4}, lent: {pressure: 90, capacity: 250}, free: 90}\n"
        "  t: {own: 90, lent: {pressure: 90, capacity: 300}, free: 90}\n  u: {own: 90, lent: 90, free: 90}\n";
    static const struct {
        const char *part, *words;
    } want[] = {{"own", "weaken own to 2.6 gal/min"}, /* 2.65 in binary is below 2.65 */
                {"own", "weaken own to 1.3 gal/min"},
                {"lent", "weaken lent to 120 gal/min"},
                {"lent", "weaken lent to 62 gal/min"}};
    struct read_text t = unit_good_model(head);
    struct network n;
    struct fault_list list;
    network_build(t.m, false, &n);
    fault_list_make(&n, 1u << FAULT_WEAKEN, NULL, &list);
    CU_ASSERT_EQUAL_FATAL(list.n, 4);
    for (uint32_t i = 0; i < list.n; i++) {
        CU_ASSERT_EQUAL(list.rows[i].kind, FAULT_WEAKEN);
        CU_ASSERT_STRING_EQUAL(list.rows[i].part, want[i].part);
        CU_ASSERT_STRING_EQUAL(list.rows[i].words, want[i].words);
    }
    fault_list_release(&list);
    fault_list_make(&n, 0, "lent", &list);
    CU_ASSERT_EQUAL(list.n, 2); /* of that source, and it has no other kind of fault */
    fault_list_release(&list);

    struct fault_set s;
    struct arena a;
    struct diags d;
    arena_init(&a);
    diags_init(&d);
    CU_ASSERT_TRUE(faults_read("weaken own to 5", &n, &a, &s, &d));    /* above one state's capacity, not the own one */
    CU_ASSERT_TRUE(faults_read("weaken lent to 400", &n, &a, &s, &d)); /* in `u` it has no limit */
    CU_ASSERT_FALSE(faults_read("weaken own to 5.4", &n, &a, &s, &d));
    arena_release(&a);
    diags_release(&d);
    network_release(&n);
    unit_model_release(&t);
}

static const struct unit_test tests[] = {
    {"block", test_block},
    {"leak", test_leak},
    {"resize", test_resize},
    {"lose, seat, unseat", test_balls},
    {"stick", test_stick},
    {"wear, break, unplug, weaken, misadjust", test_valves},
    {"order does not matter", test_order},
    {"canonical words stand", test_words_stand},
    {"what cannot be read", test_bad},
    {"all is said in one run", test_all_said},
    {"limits", test_limits},
    {"weak sources are listed", test_list_weakens},
    {"the table of words", test_forms},
};
UNIT_MAIN("faults_words", tests)
