/* What faults change in the small trainer. The expected behaviour is that of a limiting valve and of its reaction
 * orifice: common practice, no source. */
#include "faults/faults.h"
#include "unit.h"
#include <string.h>

static struct sources files;
static struct diags diags;
static struct arena arena;
static struct model *model;
static struct network network, apart;
static struct trace healthy;
static struct edits none;

static void begin(void)
{
    sources_init(&files);
    diags_init(&diags);
    arena_init(&arena);
    model = model_read(FEEDTRACE_SOURCE_DIR "/models/tern-l2.yaml", &files, &diags);
    CU_ASSERT_PTR_NOT_NULL_FATAL(model);
    network_build(model, false, &network);
    network_build(model, true, &apart);
    trace_run(&network, &none, 1, NULL, &healthy);
}

static void end(void)
{
    trace_release(&healthy);
    network_release(&apart);
    network_release(&network);
    model_free(model);
    arena_release(&arena);
    diags_release(&diags);
    sources_release(&files);
}

/* The effect of a fault in one state. */
static struct effect effect_of(const char *fault, const char *state)
{
    struct fault_set set;
    struct trace faulty;
    struct effect e;
    CU_ASSERT_TRUE_FATAL(faults_read(fault, &network, &arena, &set, &diags));
    trace_run(set.edits.splits_joint ? &apart : &network, &set.edits, 1, &healthy, &faulty);
    effect_find(&healthy, &faulty, trace_case(&faulty, 0, model_state(model, state, strlen(state))), &arena, &e);
    trace_release(&faulty);
    return e;
}

/* The change of a kind about a part (NULL: any) or NULL. */
static const struct change *change_of(const struct effect *e, enum change_what what, const char *id)
{
    for (uint32_t i = 0; i < e->n; i++)
        if (e->rows[i].what == what &&
            (!id || (e->rows[i].subject.kind != PART_NONE && strcmp(model_id(model, e->rows[i].subject), id) == 0)))
            return &e->rows[i];
    return NULL;
}

static void check(const struct effect *e, enum change_what what, const char *id, const char *was, const char *now)
{
    const struct change *c = change_of(e, what, id);
    if (!c || strcmp(c->was, was) != 0 || strcmp(c->now, now) != 0)
        fprintf(stderr, "%s: %s -> %s, found %s -> %s\n", id ? id : "-", was, now, c ? c->was : "-", c ? c->now : "-");
    CU_ASSERT_TRUE(c && strcmp(c->was, was) == 0 && strcmp(c->now, now) == 0);
}

/* The reaction orifice blocked: the valve stays wide open, the solenoids get full line pressure. */
static void test_reaction_blocked(void)
{
    begin();
    struct effect e = effect_of("block H11", "line_150");
    check(&e, CHANGE_VALVE, "feed_limit", "limiting", "wide");
    check(&e, CHANGE_LIMIT, "supply", "held", "over");
    check(&e, CHANGE_CONDITION, "body.react", "fed", "trapped");
    check(&e, CHANGE_REACH, "body.react", "sure", "no");
    CU_ASSERT_PTR_NULL(change_of(&e, CHANGE_GEAR, NULL));
    end();
}

/* The reaction end fed from line by a leak: the valve shuts where line is above the limit. What still reaches the
 * solenoids comes back through the reaction orifice, past a shut valve. */
static void test_reaction_fed_by_line(void)
{
    begin();
    struct effect e = effect_of("leak body.line into body.react at 3 mm", "line_150");
    check(&e, CHANGE_VALVE, "feed_limit", "limiting", "shut");
    check(&e, CHANGE_LIMIT, "supply", "held", "may exceed");
    e = effect_of("leak body.line into body.react at 3 mm", "line_90");
    CU_ASSERT_PTR_NULL(change_of(&e, CHANGE_VALVE, NULL));
    end();
}

/* Line past a healthy valve: it may rise over the limit. */
static void test_leak_past(void)
{
    begin();
    struct effect e = effect_of("leak body.line into body.sup at 1 mm", "line_150");
    check(&e, CHANGE_LIMIT, "supply", "held", "may exceed");
    CU_ASSERT_PTR_NULL(change_of(&e, CHANGE_CROSS_LEAK, NULL)); /* both are fed */
    end();
}

/* A leak into a drained clutch is active even where the clutch's drain wins. */
static void test_cross_leak(void)
{
    begin();
    struct effect e = effect_of("leak H30 at 0.5 mm", "line_55"); /* neighbour case.sup, from case.c1 */
    check(&e, CHANGE_CROSS_LEAK, "case.c1", "tight", "case.sup leaks into case.c1");
    CU_ASSERT_PTR_NULL(change_of(&e, CHANGE_CONDITION, NULL));
    e = effect_of("leak clutch at 0.5 mm", "line_90");
    check(&e, CHANGE_CROSS_LEAK, "case.c1", "tight", "case.c1 leaks into sump");
    e = effect_of("lose B1", "line_55"); /* the hole that loses its ball is no leak */
    CU_ASSERT_PTR_NULL(change_of(&e, CHANGE_CROSS_LEAK, NULL));
    end();
}

static void test_nothing(void)
{
    begin();
    CU_ASSERT_EQUAL(effect_of("weaken line to 5 L/min", "line_90").n, 0);
    CU_ASSERT_EQUAL(effect_of("stick shift at stroked", "line_90").n, 0); /* it is stroked there */
    struct effect e = effect_of("stick shift at rest", "line_90");
    check(&e, CHANGE_ACTUATOR, "clutch", "applied", "released");
    check(&e, CHANGE_GEAR, NULL, "drive", "neutral");
    CU_ASSERT_EQUAL(e.rows[0].what, CHANGE_GEAR); /* the important thing first */
    e = effect_of("stick shift at stroked", "line_55");
    check(&e, CHANGE_GEAR, NULL, "neutral", "drive");
    e = effect_of("block J1", "line_90"); /* a joint that made its two passages one */
    check(&e, CHANGE_GEAR, NULL, "drive", "neutral");
    end();
}

static const struct unit_test tests[] = {
    {"reaction orifice blocked", test_reaction_blocked},
    {"reaction end fed by line", test_reaction_fed_by_line},
    {"line past the valve", test_leak_past},
    {"cross-leak", test_cross_leak},
    {"no change, stuck, joint", test_nothing},
};
UNIT_MAIN("faults_effect", tests)
