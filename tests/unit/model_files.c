/* Whole models from files: what the rows hold, variants over files. */
#include "model/model.h"
#include "model_text.h"
#include "unit.h"
#include <math.h>
#include <sys/stat.h>

static char folder[] = "model-files-XXXXXX";

static char *path_of(const char *name)
{
    static char path[256];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    return path;
}

static void write_file(const char *name, const char *text)
{
    FILE *f = fopen(path_of(name), "wb");
    CU_ASSERT_PTR_NOT_NULL_FATAL(f);
    CU_ASSERT_EQUAL(fwrite(text, 1, strlen(text), f), strlen(text));
    CU_ASSERT_EQUAL(fclose(f), 0);
}

static const char base[] =
    "feedtrace: 1\n"
    "model: base\n"
    "title: Base\n"
    "units: {length: mm, pressure: psi}\n"
    "layers:\n"
    "  - {id: pump, kind: casting}\n"
    "  - {id: case, kind: casting}\n"
    "  - {id: plate, kind: plate}\n"
    "  - {id: body, kind: casting}\n"
    "circuits:\n"
    "  line: {fed_by: [line], passages: [pump.out, case.line]}\n"
    "  b: {under: a}\n"
    "  a: {under: line, limited_by: lim, passages: [body.a]}\n"
    "  own: {under: a, fed_by: []}\n"
    "passages:\n"
    "  body.b: b\n"
    "  odd: {layer: body, circuit: own, volume: 4}\n"
    "joints: {J1: [pump.out, case.line]}\n"
    "screens: {S1: {joins: [body.a, odd], diameter: 8}}\n"
    "holes:\n"
    "  H1: {joins: [body.a, case.line], diameter: 7, strength: main}\n"
    "  H2: {joins: [body.b, case.line], diameter: drill 65, orifice: true}\n"
    "  H3: {joins: [sump, body.b], diameter: 3, leaks_to: [odd]}\n"
    "check_balls: {B1: {seats_on: H2, lies_in: body.b}}\n"
    "valves: {lim: {kind: limiting, supply: case.line, outlet: body.a, reaction: body.b, limit: 115}}\n"
    "feeds: {after: {from: body.a}, line: {into: pump.out, capacity: 30}}\n"
    "states: {s: {line: 55}}\n";

static struct model *read_file(struct fixture *f, const char *name)
{
    return model_read(path_of(name), &f->files, &f->d);
}

static uint32_t row(const struct model *m, const char *id)
{
    return model_find(m, id, strlen(id)).i;
}

static void test_rows(void)
{
    struct fixture f;
    fixture_init(&f);
    write_file("base.yaml", base);
    struct model *m = read_file(&f, "base.yaml");
    CU_ASSERT_STRING_EQUAL(fixture_told(&f), "");
    CU_ASSERT_PTR_NOT_NULL_FATAL(m);
    CU_ASSERT_STRING_EQUAL(m->id, "base");
    CU_ASSERT(m->n_layers == 4 && m->layers[2].kind == LAYER_PLATE);
    CU_ASSERT(m->n_passages == 6 && !strcmp(m->passages[0].part.id, "sump"));
    const struct circuit *c = m->circuits;
    CU_ASSERT(!c[0].any_feed && c[0].n_fed_by == 1 && !strcmp(m->feeds[c[0].fed_by[0].i].part.id, "line"));
    CU_ASSERT(c[0].n_passages == 2 && c[0].limited_by.i == NONE);
    CU_ASSERT(c[1].n_fed_by == 1 && c[1].limited_by.i == 0); /* through a, defined after it */
    CU_ASSERT(!c[3].any_feed && c[3].n_fed_by == 0 &&
              c[3].limited_by.i == 0); /* its own fed_by, inherited limited_by */
    const struct passage *odd = &m->passages[row(m, "odd")];
    CU_ASSERT(odd->layer.i == 3 && odd->circuit.i == 3);
    CU_ASSERT_DOUBLE_EQUAL(odd->volume, 4e-6, 1e-15);
    CU_ASSERT(m->passages[row(m, "case.line")].layer.i == 1 && isnan(m->passages[1].volume));
    CU_ASSERT(m->n_joints == 2 && !m->joints[0].screen && m->joints[1].screen && isnan(m->joints[0].diameter));
    const struct hole *h = m->holes;
    CU_ASSERT(h[0].plate.i == 2 && h[0].strength == STRENGTH_MAIN && h[0].strength_given && h[0].ball.i == NONE);
    CU_ASSERT(h[1].strength == STRENGTH_ORIFICE && h[1].ball.i == 0);
    CU_ASSERT_DOUBLE_EQUAL(hole_diameter(&h[1]), 0.889e-3, 1e-12); /* drill 65 = 0.035 in, ANSI/ASME B94.11M */
    CU_ASSERT(h[2].plate.i == 2 && h[2].joins[0].i == SUMP.i && h[2].n_leaks_to == 1 && h[2].strength == STRENGTH_OPEN);
    CU_ASSERT(m->balls[0].n_seats == 1 && m->balls[0].seats_on[0].i == 1 && m->balls[0].lies_in.i == row(m, "body.b"));
    CU_ASSERT(m->feeds[0].is_source && !strcmp(m->feeds[0].part.id, "line") &&
              !m->feeds[1].is_source); /* sources first */
    CU_ASSERT_DOUBLE_EQUAL(m->feeds[0].capacity, 30.0 / 60000, 1e-12);
    CU_ASSERT(model_feed(m, "after", 5).i == 1 && model_state(m, "s", 1).i == 0 && model_gear(m, "s", 1).i == NONE);
    CU_ASSERT(model_find(m, "nowhere", 7).kind == PART_NONE && model_find(m, "lim", 3).kind == PART_VALVE);
    CU_ASSERT(model_find(m, "li", 2).kind == PART_NONE &&
              model_find(m, "lime", 3).kind == PART_VALVE); /* n bytes count */
    CU_ASSERT_STRING_EQUAL(model_nearest(m, PART_NONE, "case.lime"), "case.line");
    CU_ASSERT_PTR_NULL(model_nearest(m, PART_HOLE, "case.lime"));
    model_free(m);
    fixture_release(&f);
}

static void test_variants(void)
{
    struct fixture f;
    fixture_init(&f);
    write_file("base.yaml", base);
    CU_ASSERT_EQUAL(mkdir(path_of("later"), 0700), 0);
    write_file("later/one.yaml", "feedtrace: 1\nmodel: one\nextends: ../base.yaml\nunits: {length: in, pressure: bar}\n"
                                 "change:\n  holes: {H1: {diameter: 0.25}, H2: null}\n  check_balls: {B1: null}\n"
                                 "  states: {s: {line: {pressure: 5}}}\n");
    write_file("two.yaml", "feedtrace: 1\nextends: later/one.yaml\nchange:\n  holes: {H3: {diameter: 0.5}}\n"
                           "  passages: {body.b: {volume: 1}}\n");
    struct model *m = read_file(&f, "two.yaml");
    CU_ASSERT_STRING_EQUAL(fixture_told(&f), "");
    CU_ASSERT_PTR_NOT_NULL_FATAL(m);
    CU_ASSERT_EQUAL(f.files.n_files, 3);
    CU_ASSERT_STRING_EQUAL(m->id, "one"); /* the nearest that gives one */
    CU_ASSERT_STRING_EQUAL(m->title, "Base");
    CU_ASSERT_STRING_EQUAL(m->units.name[DIM_PRESSURE], "bar"); /* two.yaml has its base's units */
    CU_ASSERT(m->n_holes == 2 && m->n_balls == 0);
    CU_ASSERT_DOUBLE_EQUAL(m->holes[0].diameter, 0.25 * 25.4e-3, 1e-12); /* in, of one.yaml; strength kept */
    CU_ASSERT_EQUAL(m->holes[0].strength, STRENGTH_MAIN);
    CU_ASSERT_DOUBLE_EQUAL(m->holes[1].diameter, 0.5 * 25.4e-3, 1e-12);     /* in, of two.yaml */
    CU_ASSERT_DOUBLE_EQUAL(m->passages[row(m, "odd")].volume, 4e-6, 1e-15); /* cm3, of base.yaml */
    CU_ASSERT_EQUAL(m->passages[row(m, "body.b")].circuit.i, 1);            /* short form of the base kept */
    CU_ASSERT_DOUBLE_EQUAL(m->states[0].sources[0].pressure, 5e5, 1e-6);
    model_free(m);
    fixture_release(&f);
}

/* The messages about a file as "FILE line:column code". */
static void expect_told(const char *name, const char *text, const char *told, int line)
{
    struct fixture f;
    struct text t = {0};
    fixture_init(&f);
    write_file(name, text);
    struct model *m = read_file(&f, name);
    CU_ASSERT_PTR_NULL(m);
    for (size_t i = 0; i < f.d.n; i++) {
        const struct diag *d = &f.d.rows[i];
        const char *slash = strrchr(f.files.n_files ? f.files.files[d->where.file].name : "/", '/');
        text_addf(&t, "%s%s %u:%u %s", i ? ", " : "", slash ? slash + 1 : "", d->where.line, d->where.column,
                  code_row(d->code)->id);
    }
    if (strcmp(text_string(&t), told))
        printf("\n  line %d: %s\n", line, text_string(&t));
    CU_ASSERT_STRING_EQUAL(text_string(&t), told);
    model_free(m);
    text_release(&t);
    fixture_release(&f);
}
#define TOLD(name, text, told) expect_told(name, text, told, __LINE__)

static void test_bad_variants(void)
{
    write_file("base.yaml", base);
    TOLD("used.yaml", "feedtrace: 1\nextends: base.yaml\nchange:\n  holes: {H2: null}\n  passages: {odd: null}\n",
         "base.yaml 19:32 still-used, base.yaml 23:55 still-used, base.yaml 24:30 still-used"); /* S1, H3's leaks_to, B1
                                                                                                 */
    TOLD("loop.yaml", "feedtrace: 1\nextends: loop.yaml\n", "loop.yaml 2:10 cycle");
    write_file("ring.yaml", "feedtrace: 1\nextends: ring2.yaml\n");
    TOLD("ring2.yaml", "feedtrace: 1\nextends: ./ring.yaml\n", "ring.yaml 2:10 cycle");
    TOLD("gone.yaml", "feedtrace: 1\nextends: nowhere.yaml\n", "gone.yaml 2:10 file-unreadable");
    TOLD("abs.yaml", "feedtrace: 1\nextends: /dev/null\n", "abs.yaml 2:10 wrong-value");
    TOLD("empty.yaml", "feedtrace: 1\nextends: ''\n", "empty.yaml 2:10 wrong-value");
    TOLD("alone.yaml", "feedtrace: 1\nmodel: x\nchange: {}\n", "alone.yaml 3:1 missing-key");
    TOLD("beside.yaml", "feedtrace: 1\nextends: base.yaml\nholes: {}\nchange: {title: x}\n",
         "beside.yaml 3:1 unknown-key, beside.yaml 4:10 unknown-key");
    TOLD("list.yaml", "feedtrace: 1\nextends: base.yaml\nchange: [x]\n", "list.yaml 3:9 wrong-shape");
    write_file("two.yaml", "feedtrace: 2\nmodel: x\n");
    TOLD("newer.yaml", "feedtrace: 1\nextends: two.yaml\n", "two.yaml 1:12 unknown-version");
    char name[32], text[64];
    for (int i = 0; i < 40; i++) {
        snprintf(name, sizeof name, "deep%d.yaml", i);
        snprintf(text, sizeof text, "feedtrace: 1\nextends: deep%d.yaml\n", i + 1);
        write_file(name, text);
    }
    TOLD("start.yaml", "feedtrace: 1\nextends: deep0.yaml\n", "deep31.yaml 2:10 too-large");
}

/* Sources joined without an element between: union over joints without a diameter. */
static void test_sources_joined(void)
{
    static const char head[] = "feedtrace: 1\nmodel: x\nlayers: [{id: case, kind: casting}]\n"
                               "circuits: {c: {passages: [case.a, case.b, case.c]}}\n"
                               "feeds: {one: {into: case.a}, two: {into: case.c}}\nstates: {s: {one: 5, two: 6}}\n";
    char text[600];
    snprintf(text, sizeof text, "%sjoints: {J: [case.a, case.b], K: [case.c, case.b]}\n", head);
    TOLD("joined.yaml", text, "joined.yaml 5:30 sources-joined");
    snprintf(text, sizeof text, "%sjoints: {J: [case.a, case.b], K: [case.b, sump]}\n", head);
    TOLD("pan.yaml", text, "pan.yaml 5:9 sources-joined");
    snprintf(text, sizeof text, "%sjoints: {J: [case.a, case.b], K: {joins: [case.c, case.b], diameter: 3}}\n", head);
    write_file("apart.yaml", text);
    struct fixture f;
    fixture_init(&f);
    struct model *m = read_file(&f, "apart.yaml");
    CU_ASSERT_PTR_NOT_NULL(m);
    model_free(m);
    fixture_release(&f);
}

/* Chains as long as a user likes need no deep stack, and a circle is told once. */
static void test_long_chains(void)
{
    struct text t = {0};
    struct fixture f;
    text_add(&t, "feedtrace: 1\nmodel: x\nvalves: {v: {kind: limiting}}\nfeeds: {f: {}}\ncircuits:\n");
    for (int i = 0; i < 100000; i++)
        text_addf(&t, "  c%d: {under: c%d}\n", i, i + 1);
    size_t open_end = t.n;
    text_add(&t, "  c100000: {under: c5}\n");
    fixture_init(&f);
    write_file("ring.yaml", text_string(&t));
    CU_ASSERT_PTR_NULL(read_file(&f, "ring.yaml"));
    size_t n_cycles = 0;
    for (size_t i = 0; i < f.d.n; i++)
        n_cycles += f.d.rows[i].code == CYCLE;
    CU_ASSERT_EQUAL(n_cycles, 1);
    fixture_release(&f);
    t.at[open_end] = '\0';
    t.n = open_end;
    text_add(&t, "  c100000: {}\n");
    fixture_init(&f);
    write_file("chain.yaml", text_string(&t));
    CU_ASSERT_PTR_NULL(read_file(&f, "chain.yaml")); /* the valve is wrong, which does not matter here */
    for (size_t i = 0; i < f.d.n; i++)
        CU_ASSERT_NOT_EQUAL(f.d.rows[i].code, CYCLE);
    text_release(&t);
    fixture_release(&f);
}

static void remove_folder(void)
{
    char command[300];
    snprintf(command, sizeof command, "rm -r '%s'", folder);
    CU_ASSERT_EQUAL(system(command), 0);
}

static const struct unit_test tests[] = {
    {"rows", test_rows},
    {"variants", test_variants},
    {"bad variants", test_bad_variants},
    {"sources joined", test_sources_joined},
    {"long chains", test_long_chains},
    {"clean up", remove_folder},
};

int main(void)
{
    if (!mkdtemp(folder))
        return 1;
    return unit_run("model: files", tests, sizeof tests / sizeof *tests);
}
