/* The facts of the trade that the trace must show on the shipped models. Every expected value here: common practice, no
 * source. */
#include "base/mem.h"
#include "faults/faults.h"
#include "unit.h"
#include <string.h>

/* A model with its healthy trace, and one fault at a time. */
struct bench {
    struct sources files;
    struct diags d;
    struct arena arena;
    struct model *m;
    struct network apart;
    struct trace healthy, faulty;
    struct fault_set fault;
    struct edits none;
};

static void bench_init(struct bench *b, const char *path, const char *fault)
{
    memset(b, 0, sizeof *b);
    sources_init(&b->files);
    diags_init(&b->d);
    arena_init(&b->arena);
    b->m = model_read(path, &b->files, &b->d);
    CU_ASSERT_PTR_NOT_NULL_FATAL(b->m);
    network_build(b->m, true, &b->apart);
    trace_run(&b->apart, &b->none, 1, NULL, &b->healthy);
    CU_ASSERT_TRUE_FATAL(!fault || faults_read(fault, &b->apart, &b->arena, &b->fault, &b->d));
    trace_run(&b->apart, &b->fault.edits, 1, fault ? &b->healthy : NULL, &b->faulty);
}

static void bench_release(struct bench *b)
{
    trace_release(&b->faulty);
    trace_release(&b->healthy);
    network_release(&b->apart);
    model_free(b->m);
    arena_release(&b->arena);
    diags_release(&b->d);
    sources_release(&b->files);
}

#define TERN  FEEDTRACE_SOURCE_DIR "/models/tern-l2.yaml"
#define HERON FEEDTRACE_SOURCE_DIR "/models/heron-4.yaml"

static passage_ix passage(const struct bench *b, const char *id)
{
    struct part_ref r = model_find(b->m, id, strlen(id));
    CU_ASSERT_EQUAL_FATAL(r.kind, PART_PASSAGE);
    return (passage_ix){r.i};
}

static valve_ix valve(const struct bench *b, const char *id)
{
    struct part_ref r = model_find(b->m, id, strlen(id));
    CU_ASSERT_EQUAL_FATAL(r.kind, PART_VALVE);
    return (valve_ix){r.i};
}

static uint32_t state(const struct bench *b, const char *id)
{
    state_ix s = model_state(b->m, id, strlen(id));
    CU_ASSERT_NOT_EQUAL_FATAL(s.i, NONE);
    return s.i;
}

static const char *gear(const struct bench *b, const char *id)
{
    return gear_word(b->m, b->faulty.cases[state(b, id)].gear.gear);
}

/* Healthy: the valve limits in every state, the solenoids are fed through it and nothing gets past it. */
static void limiting_valve_feeds_solenoids(void)
{
    struct bench b;
    bench_init(&b, TERN, NULL);
    for (uint32_t c = 0; c < b.m->n_states; c++) {
        CU_ASSERT_STRING_EQUAL(trace_valve_word(&b.faulty, c, valve(&b, "feed_limit")), "limiting");
        CU_ASSERT_EQUAL(trace_condition(&b.faulty, c, passage(&b, "body.sup_b")), FED);
        CU_ASSERT_EQUAL(trace_past(&b.faulty, c, 0, passage(&b, "body.sup_b")), CERTAIN_NO);
        CU_ASSERT_EQUAL(trace_past(&b.faulty, c, 0, passage(&b, "body.react")), CERTAIN_NO);
        CU_ASSERT_FALSE(b.faulty.cases[c].second_feed[0]);
    }
    bench_release(&b);
}

/* The reaction orifice blocked: no oil at the reaction end, the spring wins, the supply gets line pressure. */
static void blocked_reaction_orifice(void)
{
    struct bench b;
    bench_init(&b, TERN, "block H11");
    for (uint32_t c = 0; c < b.m->n_states; c++) {
        CU_ASSERT_STRING_EQUAL(trace_valve_word(&b.faulty, c, valve(&b, "feed_limit")), "wide");
        CU_ASSERT_EQUAL(trace_past(&b.faulty, c, 0, passage(&b, "body.sup_b")), CERTAIN_YES);
    }
    bench_release(&b);
}

/* Line into the reaction end at 3 mm: with line above the limit the valve shuts and the solenoids starve; below it the
 * valve stands as always, with a second feed at its reaction. */
static void line_into_reaction(void)
{
    struct bench b;
    bench_init(&b, TERN, "leak body.line into body.react at 3 mm");
    for (uint32_t c = 0; c < b.m->n_states; c++) {
        bool above = trace_setting(&b.faulty, c, (feed_ix){0}) > b.m->valves[valve(&b, "feed_limit").i].limit;
        CU_ASSERT_STRING_EQUAL(trace_valve_word(&b.faulty, c, valve(&b, "feed_limit")), above ? "shut" : "limiting");
        CU_ASSERT_TRUE(b.faulty.cases[c].second_feed[0]);
    }
    CU_ASSERT_STRING_EQUAL(trace_valve_word(&b.faulty, state(&b, "line_300"), valve(&b, "feed_limit")), "shut");
    CU_ASSERT_STRING_EQUAL(trace_valve_word(&b.faulty, state(&b, "line_55"), valve(&b, "feed_limit")), "limiting");
    bench_release(&b);
}

/* A shuttle ball lost: its two inlets meet through the pocket, so what was drained on one side is no longer just
 * drained. */
static void lost_shuttle_joins_inlets(void)
{
    struct bench b;
    bench_init(&b, HERON, "lose B20");
    struct part_ref ball = model_find(b.m, "B20", 3);
    const struct hole *one = &b.m->holes[b.m->balls[ball.i].seats_on[0].i];
    const struct hole *two = &b.m->holes[b.m->balls[ball.i].seats_on[1].i];
    passage_ix pocket = b.m->balls[ball.i].lies_in;
    passage_ix in[2] = {one->joins[one->joins[0].i == pocket.i], two->joins[two->joins[0].i == pocket.i]};
    uint32_t met = 0;
    for (uint32_t c = 0; c < b.m->n_states; c++) {
        for (int k = 0; k < 2; k++) {
            bool was_dead = trace_condition(&b.healthy, c, in[k]) == EXHAUSTED;
            enum condition now = trace_condition(&b.faulty, c, in[k]);
            met += was_dead && trace_condition(&b.healthy, c, in[!k]) == FED && now != EXHAUSTED && now != TRAPPED;
        }
    }
    CU_ASSERT_TRUE(met > 0);
    bench_release(&b);
}

/* A shift valve stuck stroked gives the higher gear where the lower one is commanded. */
static void stuck_shift_valve(void)
{
    struct bench b;
    bench_init(&b, HERON, "stick shift_12 at stroked");
    CU_ASSERT_STRING_EQUAL(gear(&b, "drive_1"), "second");
    CU_ASSERT_STRING_EQUAL(gear(&b, "manual_1"), "second");
    bench_release(&b);
    bench_init(&b, HERON, "stick shift_23 at stroked");
    CU_ASSERT_STRING_EQUAL(gear(&b, "drive_2"), "third");
    bench_release(&b);
}

/* The plate hole between the second clutch's circuit and the low and reverse clutch leaks: both apply, the unit ties
 * up. */
static void leaking_plate_hole(void)
{
    struct bench b;
    bench_init(&b, HERON, "leak H130 at 3 mm");
    CU_ASSERT_STRING_EQUAL(gear(&b, "drive_2"), "tie-up");
    CU_ASSERT_STRING_EQUAL(gear(&b, "drive_1"), "first");
    bench_release(&b);
}

static const struct unit_test tests[] = {
    {"a limiting valve feeds the solenoids and nothing gets past it", limiting_valve_feeds_solenoids},
    {"its reaction orifice blocked: wide, over limit", blocked_reaction_orifice},
    {"line into its reaction end: shut above the limit, limiting below", line_into_reaction},
    {"a lost shuttle ball: the inlets meet", lost_shuttle_joins_inlets},
    {"a stuck shift valve: the gear that a rebuilder expects", stuck_shift_valve},
    {"a leaking plate hole: tie-up", leaking_plate_hole},
};
UNIT_MAIN("trace: facts of the trade", tests)
