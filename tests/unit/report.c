/* The small words of reports: escaping, folding, cutting, excerpts, JSON. */
#include "report/answer.h"
#include "report/jsonout.h"
#include "unit_model.h"
#include <math.h>

static const struct view plain = {.width = 40};

static void folds_at_width(void)
{
    struct text t = {0};
    say_folded(&t, &plain, 2, 10, "Label", PAINT_NONE, "one two three four five six seven eight nine");
    CU_ASSERT_STRING_EQUAL(text_string(&t), "  Label   one two three four five six\n          seven eight nine\n");
    text_clear(&t);
    say_folded(&t, &plain, 2, 4, "A label that is long:", PAINT_NONE, "one two three four");
    CU_ASSERT_STRING_EQUAL(text_string(&t), "  A label that is long: one two three\n    four\n");
    text_clear(&t);
    say_folded(&t, &plain, 0, 0, "", PAINT_NONE, "a_word_that_is_longer_than_any_line_of_this_view and more");
    CU_ASSERT_STRING_EQUAL(text_string(&t), "a_word_that_is_longer_than_any_line_of_this_view\nand more\n");
    text_release(&t);
}

static void says_escaped(void)
{
    struct text t = {0};
    struct view colour = {.width = 40, .colour = true};
    say(&t, "%s|%s", "a\033[31mb\n", "\xff");
    CU_ASSERT_STRING_EQUAL(text_string(&t), "a\\u{001B}[31mb\\u{000A}|\\xFF");
    text_clear(&t);
    say_painted(&t, &colour, PAINT_GOOD, "%s", "\033x");
    CU_ASSERT_STRING_EQUAL(text_string(&t), "\033[32m\\u{001B}x\033[0m");
    text_clear(&t);
    say_painted(&t, &plain, PAINT_GOOD, "x");
    CU_ASSERT_STRING_EQUAL(text_string(&t), "x");
    text_release(&t);
}

static void cuts_at_line_ends(void)
{
    struct text t = {0};
    for (int i = 0; i < 300; i++)
        text_addf(&t, "line %03d\n", i); /* 9 bytes each */
    struct text whole = {0};
    text_add(&whole, text_string(&t));
    text_cut(&t, 0);
    CU_ASSERT_STRING_EQUAL(text_string(&t), text_string(&whole));
    text_cut(&t, 3);
    CU_ASSERT_STRING_EQUAL(text_string(&t), text_string(&whole));
    text_cut(&t, 1); /* 1024 bytes: 113 whole lines */
    CU_ASSERT_EQUAL(strncmp(text_string(&t), text_string(&whole), 113 * 9), 0);
    CU_ASSERT_STRING_EQUAL(text_string(&t) + 113 * 9, "... 187 more lines (--limit 0 prints all)\n");
    text_release(&t);
    text_release(&whole);
}

/* A model with an error at the end of a long line, after wide and combining characters: the caret stands under it. */
static void excerpt_has_caret(void)
{
    struct read_text bad = unit_model("feedtrace: 1\nmodel: x\ntitle: \xE6\xB2\xB9 e\xCC\x81\nnope: 1\n");
    struct text t = {0};
    CU_ASSERT_PTR_NULL_FATAL(bad.m);
    diags_sort(&bad.d);
    struct diag *row = NULL;
    for (size_t i = 0; i < bad.d.n; i++)
        if (bad.d.rows[i].code == UNKNOWN_KEY)
            row = &bad.d.rows[i];
    CU_ASSERT_PTR_NOT_NULL_FATAL(row);
    row->help = NULL;
    text_diag(&t, &plain, row, &bad.files, NULL, false);
    CU_ASSERT_PTR_NOT_NULL(strstr(text_string(&t), ":4:1: error[unknown-key]: "));
    CU_ASSERT_PTR_NOT_NULL(strstr(text_string(&t), "\n    4 | nope: 1\n      | ^^^^\n"));
    text_clear(&t);
    row->where.line = 3; /* the title's second character: two columns of the first, one space */
    row->where.column = 10;
    row->where.length = 2;
    text_diag(&t, &plain, row, &bad.files, NULL, false);
    CU_ASSERT_PTR_NOT_NULL(strstr(text_string(&t), "title: \xE6\xB2\xB9 e\xCC\x81\n      |           ^\n"));
    text_clear(&t);
    bad.files.files[row->where.file].is_model = false; /* no excerpt of what is no model */
    text_diag(&t, &plain, row, &bad.files, "drive_2", false);
    CU_ASSERT_PTR_NULL(strstr(text_string(&t), "title:"));
    CU_ASSERT_PTR_NOT_NULL(strstr(text_string(&t), "(in drive_2)"));
    text_release(&t);
    unit_model_release(&bad);
}

static void json_is_exact(void)
{
    struct text t = {0};
    struct jsonout j = {.t = &t};
    json_begin(&j, NULL, '{');
    json_put(&j, "a\"b", json_words("\xE6\xB2\xB9 \xff\n"));
    json_begin(&j, "list", '[');
    json_put(&j, NULL, json_number(0.0018));
    json_put(&j, NULL, json_number(620528.2));
    json_put(&j, NULL, json_number(INFINITY));
    json_end(&j);
    json_begin(&j, "empty", '{');
    json_end(&j);
    json_put(&j, "none", json_words(NULL));
    json_end(&j);
    CU_ASSERT_STRING_EQUAL(text_string(&t),
                           "{\n \"a\\\"b\": \"\\u6CB9 \\\\xFF\\\\u{000A}\",\n \"list\": [\n  0.0018,\n  620528.2,\n"
                           "  null\n ],\n \"empty\": {},\n \"none\": null\n}");
    text_release(&t);
}

static const struct unit_test tests[] = {
    {"lines fold at the width", folds_at_width},
    {"what came from outside is escaped, colour is not", says_escaped},
    {"a report is cut at a line's end", cuts_at_line_ends},
    {"the caret stands under the place", excerpt_has_caret},
    {"JSON is exact", json_is_exact},
};

UNIT_MAIN("report", tests)
