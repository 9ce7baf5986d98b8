/* Drawings: what is in the DOT, that the same input gives the same bytes, that pictures come out whole, and that a
 * helper process that fails is told of. How a drawing looks is for eyes. */
#include "draw/draw.h"
#include "draw/child.h"
#include "faults/faults.h"
#include "unit.h"
#include <signal.h>
#include <string.h>
#include <unistd.h>

static struct sources files;
static struct diags diags;
static struct arena arena;
static struct model *model;
static struct network network;
static struct trace healthy, faulty;
static struct fault_set set;
static struct edits none;

static void begin(const char *file, const char *fault)
{
    sources_init(&files);
    diags_init(&diags);
    arena_init(&arena);
    struct text path = {0};
    text_addf(&path, "%s/models/%s", FEEDTRACE_SOURCE_DIR, file);
    model = model_read(text_string(&path), &files, &diags);
    text_release(&path);
    CU_ASSERT_PTR_NOT_NULL_FATAL(model);
    network_build(model, false, &network);
    trace_run(&network, &none, 1, NULL, &healthy);
    CU_ASSERT_TRUE_FATAL(faults_read(fault, &network, &arena, &set, &diags));
    trace_run(&network, &set.edits, 1, &healthy, &faulty);
}

static void end(void)
{
    trace_release(&faulty);
    trace_release(&healthy);
    network_release(&network);
    model_free(model);
    arena_release(&arena);
    diags_release(&diags);
    sources_release(&files);
}

static struct draw_options options(const char *state)
{
    return (struct draw_options){.state = model_state(model, state, strlen(state)),
                                 .feed = {NONE},
                                 .circuit = {NONE},
                                 .around = {PART_NONE, NONE},
                                 .units = model->units};
}

static void draw(const struct trace *t, const struct draw_options *o, struct text *out)
{
    text_clear(out);
    CU_ASSERT_TRUE_FATAL(draw_dot(t, 0, t == &faulty ? &healthy : NULL, o, out, &diags));
}

static bool has(const struct text *t, const char *s)
{
    return strstr(text_string(t), s) != NULL;
}

/* Every live passage, hole and valve of the trainer is there, castings are clusters, and no edge has a label. */
static void test_healthy(void)
{
    struct text dot = {0}, again = {0};
    begin("tern-l2.yaml", "block H11");
    struct draw_options o = options("line_150");
    draw(&healthy, &o, &dot);
    static const char *const wanted[] = {"cluster_pump",
                                         "cluster_case",
                                         "cluster_body",
                                         "newrank=true",
                                         "H01",
                                         "\"body.react\"",
                                         "H31",
                                         "B1",
                                         "feed_limit",
                                         "sol_a",
                                         "clutch",
                                         "limiting",
                                         "line_150",
                                         "Depressurise before opening a port.",
                                         "service information decides",
                                         "0.9 mm",
                                         "applied",
                                         "tap T_sup",
                                         "switch W_c1",
                                         "feed solenoid_supply",
                                         "150 psi"};
    for (size_t i = 0; i < sizeof wanted / sizeof *wanted; i++)
        CU_ASSERT_TRUE(has(&dot, wanted[i]));
    CU_ASSERT_FALSE(has(&dot, "cluster_plate")); /* a plate is a column of holes */
    CU_ASSERT_FALSE(has(&dot, "ortho"));
    CU_ASSERT_FALSE(has(&dot, "body.ex")); /* exhausted: not without --all */
    CU_ASSERT_FALSE(has(&dot, "body.sig_b"));
    CU_ASSERT_FALSE(has(&dot, "BLOCKED"));
    for (const char *edge = strstr(text_string(&dot), " -> "); edge; edge = strstr(edge + 1, " -> ")) {
        const char *label = strstr(edge, "label=");
        CU_ASSERT_TRUE(!label || label > edge + strcspn(edge, "]"));
    }
    draw(&healthy, &o, &again);
    CU_ASSERT_STRING_EQUAL(text_string(&dot), text_string(&again));
    o.all = true;
    draw(&healthy, &o, &dot);
    CU_ASSERT_TRUE(has(&dot, "\"body.ex\"") && has(&dot, "\"body.sig_b\"") && has(&dot, "H40"));
    text_release(&dot);
    text_release(&again);
    end();
}

static void test_fault(void)
{
    struct text dot = {0};
    begin("tern-l2.yaml", "block H11");
    struct draw_options o = options("line_150");
    o.faults = set.words;
    draw(&faulty, &o, &dot);
    CU_ASSERT_TRUE(has(&dot, "BLOCKED"));
    CU_ASSERT_TRUE(has(&dot, "block H11"));
    CU_ASSERT_TRUE(has(&dot, "trapped, healthy: fed")); /* body.react is shown because the fault changed it */
    CU_ASSERT_TRUE(has(&dot, "wide"));
    text_release(&dot);
    end();
    begin("tern-l2.yaml", "leak H30 at 2 mm + stick shift at rest + lose B1");
    o = options("line_90");
    o.faults = set.words;
    draw(&faulty, &o, &dot);
    CU_ASSERT_TRUE(has(&dot, "LEAK"));
    CU_ASSERT_TRUE(has(&dot, "2 mm"));
    CU_ASSERT_TRUE(has(&dot, "lose B1 +<BR") || has(&dot, "leak H30 at 2 mm +<BR"));
    CU_ASSERT_TRUE(has(&dot, "FAULT"));
    text_release(&dot);
    end();
    begin("tern-l2.yaml", "block shift.sig"); /* a ring where pressure is felt, a bar where the way ends */
    o = options("line_90");
    draw(&healthy, &o, &dot);
    CU_ASSERT_TRUE(has(&dot, "\"body.sig_a\" -> shift:p0\t[arrowhead=odot"));
    draw(&faulty, &o, &dot);
    CU_ASSERT_TRUE(has(&dot, "\"body.sig_a\" -> shift:p0\t[arrowhead=tee"));
    text_release(&dot);
    end();
}

/* Each way to narrow the full-size unit leaves less, and what was asked for. */
static void test_narrow(void)
{
    struct text all = {0}, live = {0}, part = {0};
    begin("heron-4.yaml", "leak H130 at 3 mm");
    struct draw_options o = options("drive_2");
    draw(&healthy, &o, &live);
    o.all = true;
    draw(&healthy, &o, &all);
    CU_ASSERT_TRUE(live.n < all.n);
    CU_ASSERT_TRUE(has(&all, "B20") && has(&all, "reverse_lockout") && has(&all, "high_clutch"));

    o = options("drive_2");
    o.feed = model_feed(model, "converter", 9);
    draw(&healthy, &o, &part);
    CU_ASSERT_TRUE(part.n < live.n && has(&part, "pump.conv_feed") && !has(&part, "lower.sig_1"));

    o = options("drive_2");
    o.circuit = (circuit_ix){model_find(model, "second", 6).i};
    draw(&healthy, &o, &part);
    CU_ASSERT_TRUE(part.n < live.n && has(&part, "\"upper.second\"") && has(&part, "\"upper.drive\"") &&
                   !has(&part, "pump.out"));

    o = options("drive_2");
    o.around = model_find(model, "feed_limit", 10);
    o.hops = 1;
    draw(&healthy, &o, &part);
    size_t one = part.n;
    CU_ASSERT_TRUE(one < live.n && has(&part, "\"lower.sup\"") && !has(&part, "\"upper.second\""));
    o.hops = 4;
    draw(&healthy, &o, &part);
    CU_ASSERT_TRUE(part.n > one);
    text_release(&all);
    text_release(&live);
    text_release(&part);
    end();
}

static void test_route(void)
{
    struct text dot = {0};
    struct routes r;
    begin("tern-l2.yaml", "block H11");
    struct draw_options o = options("line_150");
    uint32_t c = trace_case(&healthy, 0, o.state);
    CU_ASSERT_TRUE_FATAL(
        routes_find(&healthy, c, model->feeds[0].passage, model->actuators[0].apply, &arena, &r, &diags));
    CU_ASSERT_TRUE_FATAL(r.reached);
    CU_ASSERT_EQUAL(r.best.n_crossings, 2); /* H02 down to the body, H30 up to the case */
    CU_ASSERT_STRING_EQUAL(element_id(&network, &r.best.steps[r.best.tightest].element), "H30");
    o.route = &r.best;
    draw(&healthy, &o, &dot);
    CU_ASSERT_TRUE(has(&dot, "penwidth=6"));
    CU_ASSERT_TRUE(has(&dot, "the route that was asked for"));
    text_release(&dot);
    end();
}

/* Text of a model is text, whatever it holds. */
static void test_escaping(void)
{
    struct text dot = {0}, svg = {0};
    begin("tern-l2.yaml", "block H11");
    model->title = "</TABLE>\"\\N]; a -> b & <B>\x1b[2J";
    struct draw_options o = options("line_90");
    draw(&healthy, &o, &dot);
    CU_ASSERT_TRUE(has(&dot, "&lt;/TABLE&gt;"));
    CU_ASSERT_FALSE(has(&dot, "\x1b"));
    CU_ASSERT_TRUE(draw_render(&dot, DRAW_SVG, &svg, &diags));
    CU_ASSERT_FALSE(has(&svg, "<B>") || has(&svg, "\x1b"));
    text_release(&dot);
    text_release(&svg);
    end();
}

static void test_pictures(void)
{
    struct text dot = {0}, one = {0}, two = {0};
    begin("heron-4.yaml", "leak H130 at 3 mm");
    struct draw_options o = options("drive_2");
    o.faults = set.words;
    draw(&faulty, &o, &dot);
    CU_ASSERT_TRUE_FATAL(draw_render(&dot, DRAW_SVG, &one, &diags));
    CU_ASSERT_TRUE_FATAL(draw_render(&dot, DRAW_SVG, &two, &diags));
    CU_ASSERT_STRING_EQUAL(text_string(&one), text_string(&two));
    CU_ASSERT_TRUE(has(&one, "</svg>"));
    CU_ASSERT_TRUE(has(&one, "H130"));
    CU_ASSERT_TRUE(draw_render(&dot, DRAW_DOT, &two, &diags));
    CU_ASSERT_STRING_EQUAL(text_string(&dot), text_string(&two));
    text_release(&dot);
    end();

    begin("tern-l2.yaml", "block H11");
    o = options("line_90");
    draw(&healthy, &o, &dot);
    CU_ASSERT_TRUE(draw_render(&dot, DRAW_PNG, &one, &diags));
    CU_ASSERT_TRUE(one.n > 1000 && memcmp(one.at, "\x89PNG\r\n\x1a\n", 8) == 0); /* ISO/IEC 15948, PNG signature */
    CU_ASSERT_TRUE(draw_render(&dot, DRAW_PDF, &one, &diags));
    CU_ASSERT_TRUE(one.n > 1000 && memcmp(one.at, "%PDF-", 5) == 0); /* ISO 32000-1, 7.5.2 */
    text_clear(&dot);
    text_add(&dot, "digraph { a -> ");
    CU_ASSERT_FALSE(draw_render(&dot, DRAW_SVG, &one, &diags));
    CU_ASSERT_EQUAL(one.n, 0);
    CU_ASSERT_EQUAL(diags.rows[diags.n - 1].code, CANNOT_DRAW);
    text_release(&dot);
    text_release(&one);
    text_release(&two);
    end();
}

/* ---- helper processes */

static bool work_echo(const struct text *in, struct text *out, struct text *why)
{
    (void)why;
    text_add_bytes(out, in->at, in->n);
    return true;
}

static bool work_refuse(const struct text *in, struct text *out, struct text *why)
{
    (void)in;
    text_add(out, "half");
    text_add(why, "no good");
    return false;
}

static bool work_crash(const struct text *in, struct text *out, struct text *why)
{
    (void)in;
    (void)out;
    (void)why;
    raise(SIGKILL);
    return true;
}

static bool work_exit(const struct text *in, struct text *out, struct text *why)
{
    (void)in;
    (void)out;
    (void)why;
    _exit(1); /* as a library does for want of memory */
}

static void test_child(void)
{
    struct text in = {0}, out = {0}, why = {0};
    for (int i = 0; i < 300000; i++) /* more than a pipe holds */
        text_add_char(&in, (char)('a' + i % 26));
    CU_ASSERT_TRUE(child_run(work_echo, &in, &out, &why));
    CU_ASSERT_EQUAL(out.n, in.n);
    CU_ASSERT_STRING_EQUAL(text_string(&out), text_string(&in));
    text_clear(&out);
    CU_ASSERT_FALSE(child_run(work_refuse, &in, &out, &why));
    CU_ASSERT_STRING_EQUAL(text_string(&why), "no good");
    text_clear(&why);
    CU_ASSERT_FALSE(child_run(work_crash, &in, &out, &why));
    CU_ASSERT_PTR_NOT_NULL(strstr(text_string(&why), "signal"));
    text_clear(&why);
    CU_ASSERT_FALSE(child_run(work_exit, &in, &out, &why));
    CU_ASSERT_PTR_NOT_NULL(strstr(text_string(&why), "early"));
    CU_ASSERT_EQUAL(out.n, 0);
    text_release(&in);
    text_release(&out);
    text_release(&why);
}

static void test_format(void)
{
    enum draw_format f;
    CU_ASSERT_TRUE(draw_format_of("a.b/x.SVG", &f) && f == DRAW_SVG);
    CU_ASSERT_TRUE(draw_format_of("x.gv", &f) && f == DRAW_DOT);
    CU_ASSERT_TRUE(draw_format_of("x.dot", &f) && f == DRAW_DOT);
    CU_ASSERT_TRUE(draw_format_of("x.pdf", &f) && f == DRAW_PDF);
    CU_ASSERT_TRUE(draw_format_of("x.Png", &f) && f == DRAW_PNG);
    CU_ASSERT_FALSE(draw_format_of("x.jpg", &f));
    CU_ASSERT_FALSE(draw_format_of(".svg", &f));
    CU_ASSERT_FALSE(draw_format_of("svg", &f));
}

static const struct unit_test tests[] = {
    {"a healthy state", test_healthy}, {"a fault", test_fault},
    {"narrowed", test_narrow},         {"a route", test_route},
    {"escaping", test_escaping},       {"pictures", test_pictures},
    {"helper processes", test_child},  {"formats by ending", test_format},
};
UNIT_MAIN("draw", tests)
