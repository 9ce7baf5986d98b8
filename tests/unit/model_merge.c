/* A change merged over a base: expected results follow from the rules (mappings merge, lists replace, null removes,
 * short and long forms merge as long), worked out by hand. */
#include "model_text.h"
#include "unit.h"

static void expect_merge(const char *base, const char *change, const char *merged, const char *told,
                         const char *removed, int line)
{
    struct fixture f;
    struct text t = {0}, r = {0};
    struct removals removals = {0};
    fixture_init(&f);
    struct node *b = fixture_tree(&f, base), *c = fixture_tree(&f, change);
    CU_ASSERT_FATAL(b && c);
    tree_text(&t, tree_merge(b, c, &f.arena, &removals, &f.d));
    for (size_t i = 0; i < removals.n; i++)
        text_addf(&r, "%s%.*s", i ? " " : "", (int)removals.rows[i].n, removals.rows[i].name);
    bool same =
        !strcmp(text_string(&t), merged) && !strcmp(fixture_told(&f), told) && !strcmp(text_string(&r), removed);
    if (!same)
        printf("\n  line %d: %s | %s | %s\n", line, text_string(&t), fixture_told(&f), text_string(&r));
    CU_ASSERT(same);
    mem_free(removals.rows);
    text_release(&t);
    text_release(&r);
    fixture_release(&f);
}
#define MERGE(base, change, merged, told, removed) expect_merge(base, change, merged, told, removed, __LINE__)

static void test_mappings(void)
{
    MERGE("{a: 1, b: 2}", "{}", "{a:1,b:2}", "", "");
    MERGE("{}", "{a: 1}", "{a:1}", "", "");
    MERGE("{a: 1, b: 2, c: 3}", "{b: 9}", "{a:1,b:9,c:3}", "", "");
    MERGE("{a: 1}", "{b: 2, c: 3}", "{a:1,b:2,c:3}", "", "");
    MERGE("{a: {x: 1, y: {z: 1}}}", "{a: {y: {w: 2}, v: 3}}", "{a:{x:1,y:{z:1,w:2},v:3}}", "", "");
    MERGE("{a: {x: 1}}", "{a: 2}", "{a:2}", "", "");
    MERGE("{a: 2}", "{a: {x: 1}}", "{a:{x:1}}", "", "");
}

static void test_lists(void)
{
    MERGE("{layers: [{id: a}, {id: b}], x: 1}", "{layers: [{id: c}]}", "{layers:[{id:c}],x:1}", "", "id a id b");
    MERGE("{holes: {H: {leaks_to: [p, q], joins: [p, r]}}}", "{holes: {H: {leaks_to: [s]}}}",
          "{holes:{H:{leaks_to:[s],joins:[p,r]}}}", "", "p q");
}

static void test_removal(void)
{
    MERGE("{a: 1, b: 2, c: 3}", "{a: null}", "{b:2,c:3}", "", "a 1");
    MERGE("{a: 1, b: 2, c: 3}", "{b: ~, c: }", "{a:1}", "", "b 2 c 3");
    MERGE("{a: 1, b: 2}", "{b: null, c: 3, a: null}", "{c:3}", "", "a 1 b 2");
    MERGE("{a: {x: 1, y: [p, {q: r}, s]}, b: 2}", "{a: null}", "{b:2}", "", "a x 1 y p q r s");
    MERGE("{a: {x: 1, y: 2}}", "{a: {x: null}}", "{a:{y:2}}", "", "x 1");
    MERGE("{a: {x: 1}}", "{a: {x: null}}", "{a:{}}", "", "x 1");
    MERGE("{a: 1}", "{b: null, c: {d: null}}", "{a:1,c:{d:null}}", "1:2 unknown-name", "");
    MERGE("{a: {x: 1}}", "{a: {y: null, z: 2}}", "{a:{x:1,z:2}}", "1:6 unknown-name", "");
    MERGE("{a: 1}", "{a: 'null'}", "{a:null}", "", ""); /* a quoted null is text */
}

static void test_short_forms(void)
{
    MERGE("{passages: {p: line}}", "{passages: {p: {volume: 4}}}", "{passages:{p:{circuit:line,volume:4}}}", "", "");
    MERGE("{passages: {p: {layer: c, circuit: line}}}", "{passages: {p: lube}}",
          "{passages:{p:{layer:c,circuit:lube}}}", "", "");
    MERGE("{passages: {p: line}}", "{passages: {p: lube}}", "{passages:{p:lube}}", "", "");
    MERGE("{joints: {J: [a, b]}}", "{joints: {J: {diameter: 3}}}", "{joints:{J:{joins:[a,b],diameter:3}}}", "", "");
    MERGE("{screens: {S: {joins: [a, b], diameter: 8}}}", "{screens: {S: [a, c]}}",
          "{screens:{S:{joins:[a,c],diameter:8}}}", "", "a b");
    MERGE("{taps: {T: p}}", "{taps: {T: {note: n}}}", "{taps:{T:{on:p,note:n}}}", "", "");
    MERGE("{gears: {g: [a]}}", "{gears: {g: {either: [b]}}}", "{gears:{g:{on:[a],either:[b]}}}", "", "");
    MERGE("{defaults: {line: 55}}", "{defaults: {line: {capacity: 12}}}", "{defaults:{line:{pressure:55,capacity:12}}}",
          "", "");
    MERGE("{states: {s: {line: 55, gear: first}}}", "{states: {s: {line: {capacity: 12}}}}",
          "{states:{s:{line:{pressure:55,capacity:12},gear:first}}}", "", "");
    MERGE("{states: {s: {line: {pressure: 55, capacity: 12}}}}", "{states: {s: {line: 90}}}",
          "{states:{s:{line:{pressure:90,capacity:12}}}}", "", "");
    /* No short form: what stands there is replaced. */
    MERGE("{states: {s: {expect: {a: b}}}}", "{states: {s: {expect: x}}}", "{states:{s:{expect:x}}}", "", "");
    MERGE("{holes: {H: x}}", "{holes: {H: {diameter: 3}}}", "{holes:{H:{diameter:3}}}", "", "");
    MERGE("{passages: {p: line}}", "{passages: {p: null}}", "{passages:{}}", "", "p line");
}

static void test_places(void)
{
    struct fixture f;
    struct removals removals = {0};
    fixture_init(&f);
    struct node *base = fixture_tree(&f, "holes:\n  H: {diameter: 3, note: x}\n  G: 1\n");
    struct node *change = fixture_tree(&f, "\n\nholes:\n  G: null\n  H: {diameter: 4}\n");
    struct node *holes = tree_get(tree_merge(base, change, &f.arena, &removals, &f.d), "holes", NULL), *h_key, *d_key;
    struct node *h = tree_get(holes, "H", &h_key), *diameter = tree_get(h, "diameter", &d_key);
    CU_ASSERT(h_key->where.file == 0 && h_key->where.line == 2); /* an entry stays where it is defined */
    CU_ASSERT(d_key->where.file == 1 && d_key->where.line == 5); /* what is changed stands in the change */
    CU_ASSERT(diameter->where.file == 1 && tree_get(h, "note", NULL)->where.file == 0);
    CU_ASSERT(removals.n == 2 && removals.rows[0].where.file == 1 && removals.rows[0].where.line == 4);
    mem_free(removals.rows);
    fixture_release(&f);
}

static void test_many(void)
{
    struct fixture f;
    struct text b = {0}, c = {0};
    struct removals removals = {0};
    fixture_init(&f);
    for (int i = 0; i < 5000; i++) {
        text_addf(&b, "k%d: %d\n", i, i);
        if (i % 2)
            text_addf(&c, "k%d: %s\n", i, i % 4 == 1 ? "null" : "x");
    }
    struct node *merged = tree_merge(fixture_tree(&f, b.at), fixture_tree(&f, c.at), &f.arena, &removals, &f.d);
    CU_ASSERT_EQUAL(merged->n_children, 2 * (5000 - 1250));
    CU_ASSERT_EQUAL(removals.n, 2 * 1250);
    CU_ASSERT_PTR_NULL(tree_get(merged, "k4997", NULL));
    CU_ASSERT_STRING_EQUAL(tree_get(merged, "k4999", NULL)->text, "x");
    CU_ASSERT_STRING_EQUAL(tree_get(merged, "k4998", NULL)->text, "4998");
    mem_free(removals.rows);
    text_release(&b);
    text_release(&c);
    fixture_release(&f);
}

static const struct unit_test tests[] = {
    {"mappings", test_mappings},       {"lists", test_lists},   {"removal", test_removal},
    {"short forms", test_short_forms}, {"places", test_places}, {"many keys", test_many},
};
UNIT_MAIN("model: merge", tests)
