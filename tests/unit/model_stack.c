/* Units stacked from the layers of several models: what goes with which layer, what meets nothing, what is left. The
 * expected rows follow from the two texts below and the rules of ownership; no outside source. */
#include "model/model.h"
#include "model_text.h"
#include "unit.h"
#include <math.h>
#include <sys/stat.h>

static char folder[] = "model-stack-XXXXXX";
static struct fixture f;

static char *path_of(const char *name)
{
    static char path[256];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    return path;
}

static void write_file(const char *name, const char *text)
{
    FILE *file = fopen(path_of(name), "wb");
    CU_ASSERT_PTR_NOT_NULL_FATAL(file);
    CU_ASSERT_EQUAL(fwrite(text, 1, strlen(text), file), strlen(text));
    CU_ASSERT_EQUAL(fclose(file), 0);
}

/* Lengths in inches: a bare number keeps the unit of its own file. */
static const char early[] =
    "feedtrace: 1\nmodel: early\nunits: {length: in, pressure: bar}\n"
    "layers: [{id: case, kind: casting, title: Early}, {id: plate, kind: plate, title: Early}, "
    "{id: body, kind: casting, title: Early}]\n"
    "circuits:\n"
    "  line: {title: Early line, fed_by: [line], passages: [case.line, body.line, body.sig, body.c1, case.c1]}\n"
    "  rev: {passages: [case.rev, body.rev, body.pocket]}\n"
    "joints:\n"
    "  J_cross: [case.line, body.line]\n"
    "  J_case: {joins: [case.rev, sump], diameter: 0.1}\n"
    "screens: {S_body: {joins: [body.line, body.sig], diameter: 0.3}}\n"
    "holes:\n"
    "  H1: {joins: [case.line, body.c1], diameter: 0.2, orifice: true, leaks_to: [case.rev, body.rev]}\n"
    "  H2: {joins: [case.c1, body.pocket], diameter: 0.2}\n"
    "  H3: {joins: [case.rev, body.pocket], diameter: 0.2}\n"
    "  H4: {joins: [case.c1, body.c1], diameter: 0.2}\n"
    "check_balls: {B1: {seats_on: H4, lies_in: body.c1}, B2: {seats_on: [H2, H3], lies_in: body.pocket}}\n"
    "valves:\n"
    "  manual: {kind: manual, ports: {in: body.line, out: body.c1, x: sump}, positions: {N: [[out, x]], D: [[in, "
    "out]]}}\n"
    "  safety: {kind: relief, inlet: case.line, outlet: sump, cracks_at: 20}\n"
    "  regulator: {kind: regulating, source: line}\n"
    "solenoids: {sol: {kind: bleed, normally: open, joins: [body.sig, sump], diameter: 0.1}}\n"
    "actuators: {clutch: {kind: clutch, apply: case.c1, applies_at: 3}}\n"
    "strengths: {H1: leak, H4: main}\n"
    "feeds: {line: {into: case.line}}\n"
    "gears: {neutral: [], first: [clutch]}\n"
    "states: {n: {manual: N, line: 5, gear: neutral}, d: {manual: D, line: 5, gear: first}}\n";

/* The late plate has no H4, another H3, and H5 and H6, which need channels that early castings do not have. */
static const char late[] =
    "feedtrace: 1\nmodel: late\n"
    "layers: [{id: case, kind: casting, title: Late}, {id: plate, kind: plate, title: Late}, "
    "{id: body, kind: casting, title: Late}]\n"
    "circuits:\n"
    "  line: {title: Late line, passages: [case.line, body.line, body.sig, body.c1, case.c1]}\n"
    "  soft: {under: softer, passages: [body.soft]}\n"
    "  softer: {title: Softer, passages: [case.soft]}\n"
    "joints: {J_cross: [case.line, body.line], J_body: {joins: [body.soft, sump], diameter: 2}}\n"
    "holes:\n"
    "  H1: {joins: [case.line, body.c1], diameter: 4, leaks_to: [body.soft, body.sig]}\n"
    "  H2: {joins: [case.c1, body.line], diameter: 2}\n"
    "  H5: {joins: [case.soft, body.c1], diameter: 2}\n"
    "  H6: {joins: [body.soft, case.soft], diameter: 2}\n"
    "  H7: {joins: [body.c1, sump], diameter: 1}\n"
    "valves:\n"
    "  manual: {kind: manual, ports: {in: body.line, out: body.c1, x: sump}, positions: {N: [[out, x]], D: [[in, "
    "out]]}}\n"
    "strengths: {H1: orifice, H6: leak}\n"
    "actuators: {clutch: {kind: clutch, apply: case.c1}, lockup: {kind: converter, apply: case.soft}}\n"
    "feeds: {line: {into: case.line}}\n"
    "states: {s: {manual: N, line: 55}}\n";

static struct model *read_file(const char *name, const char *text)
{
    fixture_init(&f);
    write_file(name, text);
    return model_read(path_of(name), &f.files, &f.d);
}

static struct model *good_file(const char *name, const char *text)
{
    struct model *m = read_file(name, text);
    for (size_t i = 0; i < f.d.n; i++)
        fprintf(stderr, "%s %u:%u: %s\n", f.files.files[f.d.rows[i].where.file].name, f.d.rows[i].where.line,
                f.d.rows[i].where.column, f.d.rows[i].message);
    CU_ASSERT_PTR_NOT_NULL_FATAL(m);
    return m;
}

static void done(struct model *m)
{
    model_free(m);
    fixture_release(&f);
}

static struct part_ref find(const struct model *m, const char *id)
{
    return model_find(m, id, strlen(id));
}

static const struct hole *hole(const struct model *m, const char *id)
{
    struct part_ref ref = find(m, id);
    CU_ASSERT_EQUAL_FATAL(ref.kind, PART_HOLE);
    return &m->holes[ref.i];
}

#define STACK(case, plate, body, rest)                                                                                 \
    "feedtrace: 1\nmodel: mixed\nstack: {case: " case ".yaml, plate: " plate ".yaml, body: " body ".yaml, rest: " rest \
                                                      ".yaml}\n"

static void write_members(void)
{
    write_file("early.yaml", early);
    write_file("late.yaml", late);
}

/* A model of a single file, taken whole: the same rows as read alone. */
static void test_whole(void)
{
    struct model *m = good_file("mixed.yaml", STACK("early", "early", "early", "early"));
    CU_ASSERT_EQUAL(m->n_passages, 9);
    CU_ASSERT_EQUAL(m->n_joints, 3);
    CU_ASSERT_EQUAL(m->n_holes, 4);
    CU_ASSERT_EQUAL(m->n_balls, 2);
    CU_ASSERT_EQUAL(m->n_valves, 3);
    CU_ASSERT_EQUAL(m->n_solenoids, 1);
    CU_ASSERT_EQUAL(m->n_circuits, 2);
    CU_ASSERT_EQUAL(m->n_blanks, 0);
    CU_ASSERT_EQUAL(m->n_seams, 0);
    CU_ASSERT_STRING_EQUAL(m->id, "mixed");
    CU_ASSERT_STRING_EQUAL(m->units.name[DIM_PRESSURE], "bar"); /* those of `rest` */
    CU_ASSERT_DOUBLE_EQUAL(hole(m, "H4")->diameter, 0.2 * 0.0254, 1e-12);
    CU_ASSERT_EQUAL(hole(m, "H4")->strength, STRENGTH_MAIN);
    CU_ASSERT_EQUAL(hole(m, "H1")->strength, STRENGTH_LEAK);
    CU_ASSERT_EQUAL(m->circuits[0].n_passages, 5);
    done(m);
}

/* The late plate between early castings. */
static void test_late_plate(void)
{
    struct model *m = good_file("mixed.yaml", STACK("early", "late", "early", "early"));
    CU_ASSERT_STRING_EQUAL(m->layers[0].part.title, "Early");
    CU_ASSERT_STRING_EQUAL(m->layers[1].part.title, "Late");
    CU_ASSERT_EQUAL(m->n_layers, 3);
    CU_ASSERT_EQUAL(m->n_passages, 9);
    CU_ASSERT_EQUAL(m->n_circuits, 2);
    CU_ASSERT_STRING_EQUAL(m->circuits[0].part.title, "Early line");
    CU_ASSERT_EQUAL(m->n_joints, 3); /* J_cross of `rest`, J_case and S_body of early castings */
    CU_ASSERT_EQUAL(m->n_holes, 3);  /* H1, H2, H7 */
    CU_ASSERT_DOUBLE_EQUAL(hole(m, "H1")->diameter, 0.004, 1e-12); /* mm of its own file */
    CU_ASSERT_EQUAL(hole(m, "H1")->strength, STRENGTH_ORIFICE);
    CU_ASSERT_EQUAL(hole(m, "H1")->n_leaks_to, 1); /* body.soft is not there */
    CU_ASSERT_STRING_EQUAL(m->passages[hole(m, "H1")->leaks_to[0].i].part.id, "body.sig");
    CU_ASSERT_EQUAL(find(m, "H6").kind, PART_NONE);
    CU_ASSERT_EQUAL(find(m, "H4").kind, PART_NONE);
    /* H5: the case side is missing; H6: both sides are. B1 has lost H4. B2 has lost H3, and the late H2 opens into
     * line, not into its pocket. */
    CU_ASSERT_EQUAL_FATAL(m->n_blanks, 6);
    const struct blank *b = m->blanks;
    CU_ASSERT_STRING_EQUAL(b[0].id, "H5");
    CU_ASSERT_STRING_EQUAL(b[0].wanted, "case.soft");
    CU_ASSERT_STRING_EQUAL(b[0].layer, "case");
    CU_ASSERT_STRING_EQUAL(b[0].layer_file, "early.yaml");
    CU_ASSERT_STRING_EQUAL(b[0].file, "late.yaml");
    CU_ASSERT_STRING_EQUAL(b[0].other, "body.c1");
    CU_ASSERT_STRING_EQUAL(b[1].id, "H6");
    CU_ASSERT_PTR_NULL(b[1].other);
    CU_ASSERT_STRING_EQUAL(b[2].id, "H6");
    CU_ASSERT_EQUAL(b[3].kind, PART_BALL);
    CU_ASSERT_STRING_EQUAL(b[3].id, "B1");
    CU_ASSERT_STRING_EQUAL(b[3].wanted, "H4");
    CU_ASSERT_STRING_EQUAL(b[4].wanted, "H2");
    CU_ASSERT_STRING_EQUAL(b[5].wanted, "H3");
    CU_ASSERT_EQUAL(m->n_balls, 0);
    CU_ASSERT_EQUAL_FATAL(m->n_seams, 1);
    CU_ASSERT_STRING_EQUAL(m->seams[0].plate, "plate");
    CU_ASSERT_STRING_EQUAL(m->seams[0].others, "early.yaml");
    CU_ASSERT_EQUAL(m->seams[0].n_holes, 3);
    CU_ASSERT_EQUAL(m->n_valves, 3);
    CU_ASSERT_EQUAL(m->n_solenoids, 1);
    CU_ASSERT_EQUAL(m->n_states, 2);
    done(m);
}

/* A late body under an early plate and case: what the body owns comes along, with the circuits that it needs. */
static void test_late_body(void)
{
    struct model *m = good_file("mixed.yaml", STACK("early", "early", "late", "early"));
    CU_ASSERT_EQUAL(find(m, "body.soft").kind, PART_PASSAGE);
    CU_ASSERT_EQUAL(find(m, "case.soft").kind, PART_NONE);
    CU_ASSERT_EQUAL(find(m, "J_body").kind, PART_JOINT);
    CU_ASSERT_EQUAL(find(m, "S_body").kind, PART_NONE);     /* both passages in the early body */
    CU_ASSERT_EQUAL(find(m, "J_case").kind, PART_JOINT);    /* the pan belongs to no casting */
    CU_ASSERT_EQUAL(find(m, "sol").kind, PART_NONE);        /* of the early body */
    CU_ASSERT_EQUAL(find(m, "safety").kind, PART_VALVE);    /* of the early case */
    CU_ASSERT_EQUAL(find(m, "regulator").kind, PART_VALVE); /* of no casting: of `rest` */
    CU_ASSERT_EQUAL(find(m, "lockup").kind, PART_NONE);
    struct part_ref soft = find(m, "soft"), softer = find(m, "softer");
    CU_ASSERT_EQUAL_FATAL(soft.kind, PART_CIRCUIT);
    CU_ASSERT_EQUAL_FATAL(softer.kind, PART_CIRCUIT);
    CU_ASSERT_EQUAL(m->circuits[soft.i].under.i, softer.i);
    CU_ASSERT_EQUAL(m->circuits[softer.i].n_passages, 0);
    CU_ASSERT_STRING_EQUAL(m->circuits[find(m, "line").i].part.title, "Early line");
    done(m);
}

/* A shuttle that keeps one seat is a ball with one seat. */
static void test_shuttle_keeps_a_seat(void)
{
    write_file("later.yaml", "feedtrace: 1\nmodel: later\nextends: early.yaml\n"
                             "change: {holes: {H3: null}, check_balls: {B2: null}}\n");
    struct model *m = good_file("mixed.yaml", STACK("early", "later", "early", "early"));
    struct part_ref b2 = find(m, "B2");
    CU_ASSERT_EQUAL_FATAL(b2.kind, PART_BALL);
    CU_ASSERT_EQUAL(m->balls[b2.i].n_seats, 1);
    CU_ASSERT_STRING_EQUAL(m->holes[m->balls[b2.i].seats_on[0].i].part.id, "H2");
    CU_ASSERT_EQUAL(m->n_blanks, 1);
    done(m);
}

/* Holes may land on blank metal on a casting that has the hole's own year; a joint across castings likewise. */
static void test_joint_on_blank(void)
{
    write_file("other.yaml", "feedtrace: 1\nmodel: other\nextends: early.yaml\nchange:\n"
                             "  passages: {case.jet: line, body.jet: line}\n"
                             "  joints: {J_jet: [case.jet, body.jet]}\n  taps: {T: body.line}\n");
    struct model *m = good_file("mixed.yaml", STACK("early", "early", "other", "other"));
    CU_ASSERT_EQUAL_FATAL(m->n_blanks, 1);
    CU_ASSERT_EQUAL(m->blanks[0].kind, PART_JOINT);
    CU_ASSERT_STRING_EQUAL(m->blanks[0].wanted, "case.jet");
    CU_ASSERT_STRING_EQUAL(m->blanks[0].other, "body.jet");
    CU_ASSERT_EQUAL(m->n_taps, 1);
    done(m);
}

/* A variant of a stack changes the unit that was stacked; other paths to one file are one model. */
static void test_variant_of_a_stack(void)
{
    write_file("mixed.yaml", STACK("early", "./early", "early", "early"));
    struct model *m = good_file("variant.yaml", "feedtrace: 1\nmodel: variant\nextends: mixed.yaml\n"
                                                "change: {holes: {H4: {diameter: 9}}, joints: {J_case: null}}\n");
    CU_ASSERT_STRING_EQUAL(m->id, "variant");
    CU_ASSERT_EQUAL(m->n_seams, 0);
    CU_ASSERT_DOUBLE_EQUAL(hole(m, "H4")->diameter, 9 * 0.0254, 1e-12);
    CU_ASSERT_EQUAL(m->n_joints, 2);
    done(m);
}

static void expect_told(const char *text, const char *told, int line)
{
    struct model *m = read_file("bad.yaml", text);
    CU_ASSERT_PTR_NULL(m);
    struct text t = {0};
    for (size_t i = 0; i < f.d.n; i++)
        text_addf(&t, "%s%s %u:%u %s", i ? ", " : "", strrchr(f.files.files[f.d.rows[i].where.file].name, '/') + 1,
                  f.d.rows[i].where.line, f.d.rows[i].where.column, code_row(f.d.rows[i].code)->id);
    if (strcmp(text_string(&t), told) != 0)
        printf("\n  line %d: %s\n", line, text_string(&t));
    CU_ASSERT_STRING_EQUAL(text_string(&t), told);
    text_release(&t);
    done(m);
}
#define TOLD(text, told) expect_told(text, told, __LINE__)

static void test_bad_stacks(void)
{
    /* The clutch of late is on a channel that the early case does not have. */
    TOLD(STACK("early", "early", "early", "late"), "late.yaml 18:86 unknown-name");
    /* What is wrong in a member is told once, though it is a base as well. */
    write_file("broken.yaml", "feedtrace: 1\nmodel: broken\nlayers: [{id: case, kind: casting}]\nholes: {H: {}}\n");
    write_file("heir.yaml", "feedtrace: 1\nmodel: heir\nextends: broken.yaml\n");
    TOLD("feedtrace: 1\nmodel: x\nstack: {case: broken.yaml, rest: heir.yaml}\n", "broken.yaml 4:9 missing-key");
    TOLD("feedtrace: 1\nmodel: x\nstack: {case: bad.yaml, rest: early.yaml}\n", "bad.yaml 3:1 unknown-key");
    TOLD("feedtrace: 1\nstack: {rest: early.yaml}\n", "bad.yaml 1:1 missing-key, bad.yaml 2:1 missing-key, bad.yaml "
                                                      "2:1 missing-key, bad.yaml 2:1 missing-key"); /* no model:, three
                                                                                                       layers */
    TOLD("feedtrace: 1\nmodel: x\nchange: {}\nstack: {case: early.yaml, body: early.yaml, plate: early.yaml, rest: "
         "early.yaml}\n",
         "bad.yaml 3:1 missing-key, bad.yaml 4:27 wrong-value");
}

/* A state sets a solenoid of a casting that the stack left behind: the message says whose it is. */
static void test_left_behind(void)
{
    write_file("sets.yaml", "feedtrace: 1\nmodel: sets\nextends: early.yaml\nchange: {states: {n: {sol: on}}}\n");
    struct model *m = read_file("bad.yaml", STACK("early", "early", "late", "sets"));
    CU_ASSERT_PTR_NULL(m);
    CU_ASSERT_EQUAL_FATAL(f.d.n, 1);
    CU_ASSERT_EQUAL(f.d.rows[0].code, UNKNOWN_NAME);
    CU_ASSERT_STRING_EQUAL(f.d.rows[0].second_text, "sets.yaml has it in its layer `body`, which is not in this stack");
    done(m);
}

static void remove_folder(void)
{
    char command[300];
    snprintf(command, sizeof command, "rm -r '%s'", folder);
    CU_ASSERT_EQUAL(system(command), 0);
}

static const struct unit_test tests[] = {
    {"the members", write_members},
    {"one model taken whole", test_whole},
    {"a late plate between early castings", test_late_plate},
    {"a late body", test_late_body},
    {"a shuttle that keeps one seat", test_shuttle_keeps_a_seat},
    {"a joint on blank metal", test_joint_on_blank},
    {"a variant of a stack", test_variant_of_a_stack},
    {"bad stacks", test_bad_stacks},
    {"what the stack leaves behind", test_left_behind},
    {"clean up", remove_folder},
};

int main(void)
{
    if (!mkdtemp(folder))
        return 1;
    return unit_run("model: stacks", tests, sizeof tests / sizeof *tests);
}
