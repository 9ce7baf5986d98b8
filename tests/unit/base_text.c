/* Texts, "did you mean", arenas. */
#include "base/arena.h"
#include "base/text.h"
#include "unit.h"
#include <stdalign.h>
#include <stdint.h>
#include <string.h>

static void test_growing(void)
{
    struct text t = {0};
    CU_ASSERT_STRING_EQUAL(text_string(&t), "");
    for (int i = 0; i < 1000; i++)
        text_addf(&t, "%03d", i);
    text_add_char(&t, '.');
    text_add_bytes(&t, "ab\0c", 4);
    CU_ASSERT_EQUAL(t.n, 3005);
    CU_ASSERT(!memcmp(t.at + 2994, "998999.ab\0c", 12)); /* with the NUL behind it */
    text_clear(&t);
    CU_ASSERT_STRING_EQUAL(text_string(&t), "");
    text_add(&t, "again");
    CU_ASSERT_STRING_EQUAL(text_string(&t), "again");
    text_release(&t);
    CU_ASSERT_PTR_NULL(t.at);
}

static void test_nearest(void)
{
    /* Edit distances counted by hand; a third of a word's length, rounded down, may differ, at least one letter. */
    static const char *const keys[] = {"diameter", "orifice", "joins", "strength", "note", "title", "plate", "at"};
    size_t n = sizeof keys / sizeof *keys;
    CU_ASSERT_STRING_EQUAL(text_nearest("diametr", keys, n), "diameter");
    CU_ASSERT_STRING_EQUAL(text_nearest("dimaeter", keys, n), "diameter"); /* neighbours swapped */
    CU_ASSERT_STRING_EQUAL(text_nearest("orific", keys, n), "orifice");
    CU_ASSERT_STRING_EQUAL(text_nearest("join", keys, n), "joins");
    CU_ASSERT_STRING_EQUAL(text_nearest("titel", keys, n), "title");
    CU_ASSERT_STRING_EQUAL(text_nearest("plate", keys, n), "plate");
    CU_ASSERT_STRING_EQUAL(text_nearest("strenght", keys, n), "strength");
    CU_ASSERT_STRING_EQUAL(text_nearest("st", keys, n), "at");
    CU_ASSERT_PTR_NULL(text_nearest("xt", keys, 7));
    CU_ASSERT_PTR_NULL(text_nearest("jo", keys, n));
    CU_ASSERT_PTR_NULL(text_nearest("radius", keys, n));
    CU_ASSERT_PTR_NULL(text_nearest("", keys, n));
    CU_ASSERT_PTR_NULL(text_nearest("note", keys, 0));
    static const char *const ties[] = {"body.b1", "body.b2"};
    CU_ASSERT_PTR_EQUAL(text_nearest("body.b3", ties, 2), ties[0]);
    static const char *const letters[] = {"a"};
    CU_ASSERT_PTR_NULL(text_nearest("b", letters, 1)); /* nothing of it is the same */
    char longest[4000];
    memset(longest, 'x', sizeof longest - 1);
    longest[sizeof longest - 1] = '\0';
    const char *one[] = {longest};
    CU_ASSERT_PTR_NULL(text_nearest(longest, one, 1)); /* too long for a slip of the pen */
    CU_ASSERT_PTR_NULL(text_nearest("note", one, 1));
}

static void test_arena(void)
{
    struct arena a;
    arena_init(&a);
    /* Pieces of all sizes: zeroed, aligned, apart from each other. */
    enum { N = 3000 };
    static unsigned char *piece[N];
    static size_t size[N];
    for (size_t i = 0; i < N; i++) {
        size[i] = i % 500 == 499 ? 600000 : i * 7 % 1000;
        piece[i] = arena_alloc(&a, size[i]);
        CU_ASSERT_EQUAL((uintptr_t)piece[i] % alignof(max_align_t), 0);
        for (size_t j = 0; j < size[i]; j++)
            if (piece[i][j])
                CU_FAIL_FATAL("not zero");
        memset(piece[i], (int)(i % 251 + 1), size[i]);
    }
    for (size_t i = 0; i < N; i++)
        for (size_t j = 0; j < size[i]; j++)
            if (piece[i][j] != i % 251 + 1)
                CU_FAIL_FATAL("overwritten by another piece");
    CU_ASSERT_PTR_NOT_EQUAL(arena_alloc(&a, 0), arena_alloc(&a, 0));
    CU_ASSERT_STRING_EQUAL(arena_text(&a, "plate hole", 5), "plate");
    CU_ASSERT_STRING_EQUAL(arena_text(&a, NULL, 0), "");
    CU_ASSERT_STRING_EQUAL(arena_format(&a, "%s.%d", "H", 30), "H.30");
    int *rows = arena_rows(&a, 10, sizeof *rows);
    CU_ASSERT_EQUAL(rows[9], 0);
    arena_release(&a);
    CU_ASSERT_STRING_EQUAL(arena_text(&a, "again", 5), "again");
    arena_release(&a);
}

static const struct unit_test tests[] = {{"growing", test_growing}, {"nearest", test_nearest}, {"arena", test_arena}};
UNIT_MAIN("base/text", tests)
