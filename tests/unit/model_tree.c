/* YAML into trees: shapes, places, what is refused, limits. Expected places are counted by hand in the texts. */
#include "model_text.h"
#include "unit.h"

/* The tree and the messages that a text gives. */
static void expect_tree(const char *text, const char *tree, const char *told, int line)
{
    struct fixture f;
    struct text t = {0};
    fixture_init(&f);
    struct node *root = fixture_tree(&f, text);
    if (root)
        tree_text(&t, root);
    bool same = !strcmp(text_string(&t), tree) && !strcmp(fixture_told(&f), told);
    if (!same)
        printf("\n  line %d: %s | %s\n", line, text_string(&t), fixture_told(&f));
    CU_ASSERT(same);
    text_release(&t);
    fixture_release(&f);
}
#define TREE(text, tree, told) expect_tree(text, tree, told, __LINE__)

static void test_shapes(void)
{
    TREE("a: b\n", "{a:b}", "");
    TREE("a: {b: [1, 2, {c: d}], e: }\nf:\n  - x\n  - y: z\n", "{a:{b:[1,2,{c:d}],e:null},f:[x,{y:z}]}", "");
    TREE("- 1\n-\n- ~\n- null\n- 'null'\n- \"\"\n", "[1,null,null,null,null,]",
         "");                                                  /* a quoted null is text, see below */
    TREE("a: on\nb: no\nN: 0x1F\n", "{a:on,b:no,N:0x1F}", ""); /* scalars stay text */
    TREE("{}\n", "{}", "");
    TREE("[]\n", "[]", "");
}

static void test_nulls(void)
{
    struct fixture f;
    fixture_init(&f);
    struct node *root = fixture_tree(&f, "[null, 'null', ~, \"\", '~', ]\n");
    static const bool nulls[] = {true, false, true, false, false};
    CU_ASSERT_PTR_NOT_NULL_FATAL(root);
    CU_ASSERT_EQUAL_FATAL(root->n_children, 5);
    int i = 0;
    for (struct node *item = root->first; item; item = item->next)
        CU_ASSERT_EQUAL(item->plain_null, nulls[i++]);
    fixture_release(&f);
}

static void test_places(void)
{
    struct fixture f;
    fixture_init(&f);
    struct node *root = fixture_tree(&f, "ä: öü\nmap:\n  key: [1, 22]\nlong: |\n  text\n"), *key;
    CU_ASSERT_PTR_NOT_NULL_FATAL(root);
    struct node *value = tree_get(root, "ä", &key);
    CU_ASSERT(key->where.line == 1 && key->where.column == 1 && key->where.length == 1);
    CU_ASSERT(value->where.line == 1 && value->where.column == 4 &&
              value->where.length == 2); /* code points, not bytes */
    struct node *map = tree_get(root, "map", NULL);
    CU_ASSERT(map->where.line == 2 && map->where.column == 1 && map->where.length == 3); /* a block stands at its key */
    struct node *list = tree_get(map, "key", NULL);
    CU_ASSERT(list->where.line == 3 && list->where.column == 8 && list->where.length == 7);
    CU_ASSERT(list->first->next->where.column == 12 && list->first->next->where.length == 2);
    CU_ASSERT_PTR_NULL(tree_get(root, "nowhere", NULL));
    fixture_release(&f);
}

static void test_duplicates(void)
{
    TREE("a: 1\nb: 2\na: 3\nc: 4\n", "{a:1,b:2,c:4}", "3:1 duplicate-key");
    TREE("{a: 1, a: 2, a: 3}\n", "{a:1}", "1:8 duplicate-key, 1:14 duplicate-key");
    TREE("x: {b: 1, 'b': 2}\n", "{x:{b:1}}", "1:11 duplicate-key");
    TREE("x: {b: 1}\ny: {b: 1}\n", "{x:{b:1},y:{b:1}}", "");
    /* A mapping of many keys is looked through another way. */
    struct fixture f;
    struct text t = {0};
    fixture_init(&f);
    for (int i = 0; i < 1000; i++)
        text_addf(&t, "key%d: %d\n", i, i);
    text_add(&t, "key999: x\nkey0: x\nnew: y\nkey500: x\n");
    struct node *root = fixture_tree(&f, text_string(&t));
    CU_ASSERT_PTR_NOT_NULL_FATAL(root);
    CU_ASSERT_EQUAL(root->n_children, 2 * 1001);
    CU_ASSERT_STRING_EQUAL(fixture_told(&f), "1001:1 duplicate-key, 1002:1 duplicate-key, 1004:1 duplicate-key");
    CU_ASSERT_EQUAL(f.d.rows[0].second.line, 1000);
    CU_ASSERT_EQUAL(f.d.rows[1].second.line, 1);
    CU_ASSERT_EQUAL(f.d.rows[2].second.line, 501);
    CU_ASSERT_STRING_EQUAL(tree_get(root, "key500", NULL)->text, "500");
    CU_ASSERT_STRING_EQUAL(tree_get(root, "new", NULL)->text, "y");
    text_release(&t);
    fixture_release(&f);
}

static void test_features(void)
{
    TREE("a: &x 1\nb: *x\n", "{a:1,b:?}", "1:4 yaml-feature, 2:4 yaml-feature");
    TREE("a: !!int 1\nb: !own {c: d}\n", "{a:1,b:{c:d}}", "1:4 yaml-feature, 2:4 yaml-feature");
    TREE("a: {<<: {x: y}, b: c}\n", "{a:{b:c}}", "1:5 yaml-feature");
    TREE("a: {'<<': b}\n", "{a:{<<:b}}", "");
    TREE("[x]: y\nz: 1\n", "{z:1}", "1:1 wrong-shape");
    TREE("{? {a: b} : c, d: e, *f : g}\n", "{d:e}", "1:4 wrong-shape, 1:22 yaml-feature");
    TREE("a: 1\n---\nb: 2\n", "", "2:1 yaml-feature");
    TREE("--- {a: 1}\n...\n", "{a:1}", "");
    TREE("a: \"x\\0y\"\n", "{a:?}", "1:4 wrong-value");
    TREE("\"x\\0y\": a\nb: c\n", "{b:c}", "1:1 wrong-value");
}

static void test_directives(void)
{
    TREE("%YAML 1.1\n---\na: 1\n", "{a:1}", "");
    TREE("# head\n\n%YAML 1.2 # which\n---\na: 1\n", "{a:1}", "");
    TREE("%YAML 1.3\n---\na: 1\n", "", "1:1 yaml-feature");
    TREE("%TAG ! tag:x\n---\na: 1\n", "", "1:1 yaml-feature");
    TREE("a: 1\n...\n%YAML 1.1\n---\nb: 2\n", "", "3:1 yaml-feature");
    TREE("a: 5 %\n", "{a:5 %}", "");
    TREE("\r %YAML 1.1\n", "", "2:2 yaml-syntax"); /* behind a space it is no directive, and a text cannot begin so */
    TREE("%YAML 1.1\t\n---\na: 1\n", "{a:1}", "");
    TREE("%YAML 1.1\r---\ra: 1\r", "{a:1}", "");
    TREE("%YAML 1.1", "", "2:1 yaml-syntax");
    TREE("%YAML 1.12\n---\na: 1\n", "", "1:1 yaml-feature");
    TREE("%YAML", "", "1:1 yaml-feature");
}

static void expect_bytes(const char *bytes, size_t n, const char *told, int line)
{
    struct fixture f;
    fixture_init(&f);
    fixture_tree_bytes(&f, bytes, n);
    if (strcmp(fixture_told(&f), told))
        printf("\n  line %d: %s\n", line, fixture_told(&f));
    CU_ASSERT_STRING_EQUAL(fixture_told(&f), told);
    fixture_release(&f);
}
#define BYTES(bytes, told) expect_bytes(bytes, sizeof(bytes) - 1, told, __LINE__)

static void test_bytes(void)
{
    BYTES("a: b\r\nc: d\r\n", "");
    BYTES("\xEF\xBB\xBF"
          "a: b\na: c\n",
          "2:1 duplicate-key");
    BYTES("\xEF\xBB\xBF"
          "a: {b: 1, b: 2}\n",
          "1:11 duplicate-key"); /* the mark takes no column */
    BYTES("a: \xC3\xA4\nb: x\xC3\n", "2:5 not-utf8");
    BYTES("a: \xC3\xA4\xFF\n", "1:5 not-utf8");     /* columns count code points */
    BYTES("a: \xC0\xAF\n", "1:4 not-utf8");         /* overlong */
    BYTES("a: \xE0\x80\xAF\n", "1:4 not-utf8");     /* overlong */
    BYTES("a: \xED\xA0\x80\n", "1:4 not-utf8");     /* half of a surrogate pair */
    BYTES("a: \xF4\x90\x80\x80\n", "1:4 not-utf8"); /* beyond U+10FFFF */
    BYTES("a: \xF0\x9F\x94\xA7\n", "");             /* U+1F527 */
    BYTES("a: \xE2\x82", "1:4 not-utf8");           /* cut at the end */
    BYTES("\xFF\xFE"
          "a\0:\0",
          "1:1 not-utf8");
    BYTES("a: b\0c\n", "1:5 yaml-syntax");
    BYTES("ab: c\nd: \x07\n", "2:4 yaml-syntax");
    BYTES("long enough line: \x7F\n", "1:19 yaml-syntax");
    BYTES("a: \xC2\x90\n", "1:4 yaml-syntax");      /* C1 */
    BYTES("a: b\xEF\xBB\xBF\n", "1:5 yaml-syntax"); /* a byte order mark amid the text */
    BYTES("# a\xE2\x80\xA8"
          "b: \x01\n",
          "2:4 yaml-syntax"); /* U+2028 breaks a line for libyaml */
    BYTES("# a\xE2\x80\xA9\xC2\x85\r\r\n"
          "b: \x01\n",
          "5:4 yaml-syntax");                                               /* PS, NEL, CR, CR LF */
    BYTES("# \xC2\xA9 \xE2\x81\xA8 \xE2\x80\xA7\n\x01", "2:1 yaml-syntax"); /* that only begin like a break */
    BYTES("a: \xF8\x88\x80\x80\x80\n", "1:4 not-utf8");
    BYTES("a: \xEF\xBF\xBE\n", "1:4 yaml-syntax"); /* U+FFFE and U+FFFF are no characters */
    BYTES("a: \xEF\xBF\xBF\n", "1:4 yaml-syntax");
    BYTES("a\r", "");
    BYTES("a: b \xC2", "1:6 not-utf8");
    BYTES("", "1:1 not-a-model");
    BYTES("# nothing\n", "1:1 not-a-model");
}

static void test_syntax(void)
{
    TREE("a: [1, 2\nb: 3\n", "", "2:2 yaml-syntax"); /* at the colon that cannot be */
    TREE("a:\n\tb: 1\n", "", "2:1 yaml-syntax");
    TREE("a: 1\na: 2\nb: {\n", "", "4:1 yaml-syntax"); /* what follows, and the mapping around it, is not checked */
    TREE("a: 'x\n", "", "2:1 yaml-syntax");
}

/* A text of `n` times `piece` behind `head`. */
static char *repeated(const char *head, const char *piece, size_t n)
{
    struct text t = {0};
    text_add(&t, head);
    while (n--)
        text_add(&t, piece);
    return t.at;
}

static void test_limits(void)
{
    char *text = repeated("a: ", "[", 31); /* the mapping is level 1 */
    char *closed = repeated(text, "]", 31);
    TREE(closed, "{a:[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]}", "");
    mem_free(text);
    mem_free(closed);
    text = repeated("a: ", "[", 100000);
    TREE(text, "", "1:35 too-large");
    mem_free(text);
    text = repeated("a:\n ", " -", 40);
    TREE(text, "", "2:65 too-large");
    mem_free(text);
    text = repeated("[short, ", "x", TREE_SCALAR_MAX + 1);
    char *list = repeated(text, "]", 1);
    TREE(list, "[short,?]", "1:9 too-large");
    mem_free(text);
    mem_free(list);

    struct fixture f;
    fixture_init(&f);
    text = repeated("", "x", TREE_SCALAR_MAX);
    struct node *node = fixture_tree(&f, text);
    CU_ASSERT(node && node->kind == NODE_SCALAR && node->n_text == TREE_SCALAR_MAX && f.d.n == 0);
    f.n_nodes = TREE_ENTRIES_MAX - 3; /* nodes are counted over all files */
    CU_ASSERT_PTR_NOT_NULL(fixture_tree(&f, "[a, b]"));
    CU_ASSERT_PTR_NULL(fixture_tree(&f, "a"));
    CU_ASSERT_STRING_EQUAL(fixture_told(&f), "1:1 too-large");
    CU_ASSERT_PTR_NULL(fixture_tree(&f, "[]"));
    CU_ASSERT_PTR_NULL(fixture_tree(&f, "*a"));
    mem_free(text);
    fixture_release(&f);
}

static const struct unit_test tests[] = {
    {"shapes", test_shapes},         {"nulls", test_nulls},          {"places", test_places},
    {"duplicates", test_duplicates}, {"features", test_features},    {"directives", test_directives},
    {"bytes", test_bytes},           {"syntax errors", test_syntax}, {"limits", test_limits},
};
UNIT_MAIN("model: tree", tests)
