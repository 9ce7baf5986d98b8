/* Two models beside each other: which hole is which, what differs in the parts, what that does. The expected rows
 * follow from the two texts; no outside source. */
#include "compare/compare.h"
#include "base/mem.h"
#include "unit_model.h"

#define HEAD                                                                                                           \
    "feedtrace: 1\nmodel: m\nlayers: [{id: case, kind: casting}, {id: plate, kind: plate}, {id: body, kind: "          \
    "casting}]\n"                                                                                                      \
    "circuits: {line: {passages: [case.line, body.line]}, c1: {passages: [body.c1, case.c1, body.x]}}\n"
#define REST                                                                                                           \
    "valves: {manual: {kind: manual, ports: {in: body.line, c1: body.c1, x: sump}, positions: {N: [[c1, x]], D: "      \
    "[[in, c1]]}}}\n"                                                                                                  \
    "actuators: {clutch: {kind: clutch, apply: case.c1}}\nfeeds: {line: {into: case.line}}\n"                          \
    "gears: {neutral: [], first: [clutch]}\n"                                                                          \
    "states: {stop: {manual: N, line: 55, gear: neutral}, go: {manual: D, line: 90, gear: first}}\n"

static struct read_text old, new;
static struct arena arena;

static void begin(const char *was, const char *now)
{
    old = unit_good_model(was);
    new = unit_good_model(now);
    arena_init(&arena);
}

static void end(void)
{
    arena_release(&arena);
    unit_model_release(&old);
    unit_model_release(&new);
}

/* The old hole that a new one is: its ID, or "-". */
static const char *match_of(const char *id)
{
    uint32_t *match = holes_match(old.m, new.m);
    struct part_ref ref = model_find(new.m, id, strlen(id));
    uint32_t row = match[ref.i];
    mem_free(match);
    return row == NONE ? "-" : old.m->holes[row].part.id;
}

/* Within 0.3 mm it is the same hole whatever its name; the nearest wins; then names count, also where a hole moved. */
static void holes_by_place(void)
{
    begin(HEAD "holes:\n"
               "  A: {joins: [case.line, body.line], at: [10, 10]}\n"
               "  B: {joins: [case.c1, body.c1], at: [20, 10]}\n"
               "  C: {joins: [case.c1, body.x], at: [30, 10]}\n"
               "  D: {joins: [case.line, body.x]}\n"
               "  E: {joins: [case.line, body.c1], at: [50, 10]}\n" REST,
          HEAD "holes:\n"
               "  B: {joins: [case.line, body.line], at: [10.2, 10]}\n" /* the old A */
               "  A: {joins: [case.c1, body.c1], at: [20, 9.8]}\n"      /* the old B */
               "  F: {joins: [case.c1, body.x], at: [30.1, 10]}\n"      /* the nearer one to the old C */
               "  C: {joins: [case.c1, body.x], at: [30.2, 10]}\n"
               "  D: {joins: [case.line, body.x], at: [40, 10]}\n"    /* the old one has no place */
               "  E: {joins: [case.line, body.c1], at: [57, 10]}\n"   /* moved */
               "  G: {joins: [case.line, body.c1], at: [50.4, 10]}\n" /* too far off the old E */
          REST);
    CU_ASSERT_STRING_EQUAL(match_of("B"), "A");
    CU_ASSERT_STRING_EQUAL(match_of("A"), "B");
    CU_ASSERT_STRING_EQUAL(match_of("F"), "C");
    CU_ASSERT_STRING_EQUAL(match_of("C"), "-");
    CU_ASSERT_STRING_EQUAL(match_of("D"), "D");
    CU_ASSERT_STRING_EQUAL(match_of("E"), "E");
    CU_ASSERT_STRING_EQUAL(match_of("G"), "-");
    end();
}

/* The layout may say how far parts sit off their places. */
static void holes_fit(void)
{
    begin(HEAD "holes: {A: {joins: [case.line, body.line], at: [10, 10]}}\n" REST,
          HEAD "holes: {B: {joins: [case.line, body.line], at: [11, 10]}}\nlayout: {fit: 1.5 mm}\n" REST);
    CU_ASSERT_STRING_EQUAL(match_of("B"), "A");
    end();
}

static const char *told(const struct parts_compared *p)
{
    struct text t = {0};
    static const char *const status[] = {"-", "+", "~"};
    for (uint32_t i = 0; i < p->n; i++) {
        text_addf(&t, "%s%s %s:", status[p->rows[i].status], described_word(p->rows[i].kind), p->rows[i].id);
        for (uint32_t k = 0; k < p->rows[i].n && (p->rows[i].status == PART_CHANGED || k < 2); k++)
            text_addf(&t, " [%s] %s > %s", p->rows[i].rows[k].name,
                      p->rows[i].rows[k].was ? p->rows[i].rows[k].was : "",
                      p->rows[i].rows[k].now ? p->rows[i].rows[k].now : "");
        text_add(&t, "\n");
    }
    const char *words = arena_text(&arena, text_string(&t), t.n);
    text_release(&t);
    return words;
}

static void parts(void)
{
    struct units u = units_default();
    struct parts_compared p;
    begin(
        HEAD "holes: {H1: {joins: [case.line, body.line], diameter: 6}, H2: {joins: [body.c1, case.c1], diameter: 2},"
             " H3: {joins: [body.x, case.c1], diameter: 1}}\n"
             "taps: {T: case.c1}\n" REST,
        HEAD
        "holes: {H1: {joins: [body.line, case.line], diameter: 0.6 cm}, H2: {joins: [body.c1, case.line], diameter: "
        "2.5, orifice: true}, H4: {joins: [body.x, case.c1], diameter: 1}}\n"
        "switches: {T: {on: case.c1, closes_at: 20}}\nclash: [[clutch, clutch2]]\n"
        "valves: {manual: {kind: manual, ports: {in: body.line, c1: body.c1, x: sump}, positions: {N: [[x, c1]], D: "
        "[[c1, x]]}}}\n"
        "actuators: {clutch: {kind: clutch, apply: case.c1}, clutch2: {kind: band, apply: case.c1, applies_at: 30}}\n"
        "feeds: {line: {into: case.line}}\n"
        "gears: {neutral: [], first: {on: [clutch], either: [clutch2]}}\n"
        "states: {stop: {manual: N, line: 55, gear: neutral}, go: {manual: D, line: off, gear: first, after: stop}}\n");
    parts_compare(old.m, new.m, &u, &arena, &p);
    CU_ASSERT_STRING_EQUAL(told(&p), "-plate hole H3: [joins] body.x and case.c1 >  [diameter] 1 mm > \n"
                                     "-tap T: [on] case.c1 > \n"
                                     "+plate hole H4: [joins]  > body.x and case.c1 [diameter]  > 1 mm\n"
                                     "+device clutch2: [kind]  > band [apply side]  > case.c1\n"
                                     "+switch T: [on]  > case.c1 [closes at]  > 20 psi\n"
                                     "~plate hole H2: [joins] body.c1 and case.c1 > body.c1 and case.line [diameter] 2 "
                                     "mm > 2.5 mm [strength] open > orifice\n"
                                     "~valve manual: [D opens] c1 to in > c1 to x\n"
                                     "~gear first: [on or off]  > clutch2\n"
                                     "~state go: [line] 90 psi > off [after]  > stop\n"
                                     "~model : [never on together]  > clutch with clutch2\n");
    CU_ASSERT_EQUAL(p.n_status[PART_GONE], 2);
    CU_ASSERT_EQUAL(p.n_status[PART_NEW], 3);
    CU_ASSERT_EQUAL(p.n_status[PART_CHANGED], 5);
    parts_compare(old.m, old.m, &u, &arena, &p);
    CU_ASSERT_EQUAL(p.n, 0);
    end();
}

/* The valve that feeds the clutch in one model drains it in the other; rows are named by the new model's order. */
static void behaviour(void)
{
    static const struct edits none;
    struct network networks[2];
    struct trace traces[2];
    begin(HEAD "holes: {H1: {joins: [case.line, body.line]}, H2: {joins: [body.c1, case.c1]}}\n" REST,
          "feedtrace: 1\nmodel: m\nlayers: [{id: case, kind: casting}, {id: plate, kind: plate}, {id: body, kind: "
          "casting}]\n"
          "circuits: {new: {passages: [case.new]}, c1: {passages: [case.c1, body.c1]}, line: {passages: [body.line, "
          "case.line]}}\n"
          "holes: {H1: {joins: [case.line, body.line]}, H2: {joins: [body.c1, case.c1]}}\n"
          "valves: {manual: {kind: manual, ports: {in: body.line, c1: body.c1, x: sump}, positions: {N: [[c1, x]], D: "
          "[[x, c1]]}}}\n"
          "actuators: {other: {kind: clutch, apply: case.new}, clutch: {kind: clutch, apply: case.c1}}\n"
          "feeds: {line: {into: case.line}}\ngears: {first: [clutch], neutral: []}\n"
          "states: {more: {manual: D, line: 5}, go: {manual: D, line: 90, gear: first}, stop: {manual: N, line: 55, "
          "gear: "
          "neutral}}\n");
    const struct model *models[2] = {old.m, new.m};
    for (int i = 0; i < 2; i++) {
        network_build(models[i], false, &networks[i]);
        trace_run(&networks[i], &none, 1, NULL, &traces[i]);
    }
    struct compared was = {old.m, &traces[0], NULL}, now = {new.m, &traces[1], NULL};
    CU_ASSERT_EQUAL(behaviour_state(&was, &now, (state_ix){0}).i, NONE);
    CU_ASSERT_EQUAL(behaviour_state(&was, &now, (state_ix){1}).i, 1);
    struct effect e;
    behaviour_compare(&was, &now, (state_ix){2}, &arena, &e);
    CU_ASSERT_EQUAL(e.n, 0);
    behaviour_compare(&was, &now, (state_ix){1}, &arena, &e);
    CU_ASSERT_EQUAL_FATAL(e.n, 6); /* gear, device, line no more at two passages, and these two drain */
    CU_ASSERT_EQUAL(e.rows[0].what, CHANGE_GEAR);
    CU_ASSERT_STRING_EQUAL(e.rows[0].was, "first");
    CU_ASSERT_STRING_EQUAL(e.rows[0].now, "neutral");
    CU_ASSERT_EQUAL(e.rows[1].what, CHANGE_ACTUATOR);
    CU_ASSERT_STRING_EQUAL(model_id(new.m, e.rows[1].subject), "clutch");
    CU_ASSERT_STRING_EQUAL(e.rows[1].now, "released");
    CU_ASSERT_EQUAL(e.rows[2].what, CHANGE_REACH);
    CU_ASSERT_EQUAL(e.rows[4].what, CHANGE_CONDITION);
    CU_ASSERT_STRING_EQUAL(model_id(new.m, e.rows[4].subject), "case.c1");
    CU_ASSERT_STRING_EQUAL(e.rows[4].was, "fed");
    CU_ASSERT_STRING_EQUAL(e.rows[4].now, "exhausted");
    for (int i = 0; i < 2; i++) {
        trace_release(&traces[i]);
        network_release(&networks[i]);
    }
    end();
}

static const struct unit_test tests[] = {
    {"holes by place, then by name", holes_by_place},
    {"how far a place may be off", holes_fit},
    {"parts gone, new and changed", parts},
    {"behaviour of what both have", behaviour},
};

UNIT_MAIN("compare", tests)
