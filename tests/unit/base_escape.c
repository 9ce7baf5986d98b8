/* Escaping. What counts as a control, a separator or a bidirectional character: Unicode Standard, general categories
 * Cc, Zl, Zp and Cf; what is valid UTF-8: RFC 3629; East Asian width: Unicode Standard Annex 11. */
#include "base/escape.h"
#include "unit.h"
#include <string.h>

typedef void printer(struct text *, const char *, size_t);

static void expect_bytes(printer *print, const char *bytes, size_t n, const char *wanted)
{
    struct text t = {0};
    print(&t, bytes, n);
    CU_ASSERT_STRING_EQUAL(text_string(&t), wanted);
    if (strcmp(text_string(&t), wanted))
        printf("\n    got %s, wanted %s\n", text_string(&t), wanted);
    text_release(&t);
}

static void expect(printer *print, const char *text, const char *wanted)
{
    expect_bytes(print, text, strlen(text), wanted);
}

static void test_plain(void)
{
    expect(escape_plain, "", "");
    expect(escape_plain, "case.line \xC3\xA9 \xE6\xB2\xB9", "case.line \xC3\xA9 \xE6\xB2\xB9");
    expect(escape_plain, "\x1b[31mred", "\\u{001B}[31mred");
    expect(escape_plain, "a\tb\nc\r", "a b\\u{000A}c\\u{000D}");
    expect_bytes(escape_plain, "a\0b", 3, "a\\u{0000}b");
    expect(escape_plain, "\x7f", "\\u{007F}");
    expect(escape_plain, "\xC2\x9B", "\\u{009B}"); /* C1: a terminal's other ESC [ */
    expect(escape_plain, "\xE2\x80\xAE", "\\u{202E}");
    expect(escape_plain, "\xE2\x81\xA6", "\\u{2066}");
    expect(escape_plain, "\xD8\x9C", "\\u{061C}");
    expect(escape_plain, "\xE2\x80\xA8\xE2\x80\xA9", "\\u{2028}\\u{2029}");
    expect(escape_plain, "\xEF\xBB\xBF", "\\u{FEFF}");
    expect(escape_plain, "\xEF\xBF\xBE", "\\u{FFFE}");
    expect(escape_plain, "\xEF\xB7\x90", "\\u{FDD0}"); /* no character, as those up to U+FDEF */
    expect(escape_plain, "\xEF\xB7\xAF", "\\u{FDEF}");
    expect(escape_plain, "\xEF\xB7\xB0", "\xEF\xB7\xB0");
    expect(escape_plain, "\xE2\x80\x8B\xE2\x80\x8C", "\\u{200B}\xE2\x80\x8C");
    expect(escape_plain, "\xF3\xA0\x81\x81", "\\u{E0041}"); /* an invisible tag letter */
    expect(escape_plain, "\xE2\x80\x8D", "\xE2\x80\x8D");   /* a joiner is part of ordinary writing */
}

static void test_invalid_utf8(void)
{
    expect(escape_plain, "a\xFFz", "a\\xFFz");
    expect(escape_plain, "\xC3", "\\xC3");                            /* cut off */
    expect(escape_plain, "\xC0\xAF", "\\xC0\\xAF");                   /* too long for a slash */
    expect(escape_plain, "\xED\xA0\x80", "\\xED\\xA0\\x80");          /* half a surrogate pair */
    expect(escape_plain, "\xF4\x90\x80\x80", "\\xF4\\x90\\x80\\x80"); /* beyond U+10FFFF */
    CU_ASSERT_TRUE(escape_valid_utf8("", 0));
    CU_ASSERT_TRUE(escape_valid_utf8("\xF4\x8F\xBF\xBF", 4));
    CU_ASSERT_TRUE(escape_valid_utf8("a\0b", 3));
    CU_ASSERT_FALSE(escape_valid_utf8("a\xFF", 2));
    CU_ASSERT_FALSE(escape_valid_utf8("\xE2\x80", 2));
    CU_ASSERT_FALSE(escape_valid_utf8("\xED\xA0\x80", 3));
}

static void test_formats(void)
{
    expect(escape_xml, "a<b> & \"c\" 'd'", "a&lt;b&gt; &amp; &quot;c&quot; &#39;d&#39;");
    expect(escape_xml, "\x01\xFF", "\\u{0001}\\xFF");
    expect(escape_dot, "say \"x\\n\"", "say \\\"x\\\\n\\\"");
    expect(escape_dot, "\n", "\\\\u{000A}");
    expect(escape_csv, "plain", "plain");
    expect(escape_csv, "", "");
    expect(escape_csv, "a,b", "\"a,b\"");
    expect(escape_csv, "say \"x\"", "\"say \"\"x\"\"\"");
    expect(escape_csv, "=1+1", "'=1+1");
    expect(escape_csv, "-2", "'-2");
    expect(escape_csv, "+2", "'+2");
    expect(escape_csv, "@x,y", "\"'@x,y\"");
    expect(escape_csv, "a\nb", "a\\u{000A}b");
    expect(escape_csv, " a", "\" a\"");
    expect(escape_csv, "a ", "\"a \"");
    expect(escape_csv, "\ta", "\" a\"");
    expect(escape_csv, "a\t", "\"a \"");
    expect(escape_csv, "a;b", "\"a;b\"");
}

static void test_width(void)
{
    CU_ASSERT_EQUAL(escape_width("", 0), 0);
    CU_ASSERT_EQUAL(escape_width("case", 4), 4);
    CU_ASSERT_EQUAL(escape_width("\xE6\xB2\xB9", 3), 2); /* wide */
    CU_ASSERT_EQUAL(escape_width("e\xCC\x81", 3), 1);    /* combining */
    /* As wide as what is printed for it. */
    static const char *const rows[] = {"\x1b", "\xFF", "\t", "\xC2\x9B", "\xF3\xA0\x81\x81", "\xF4\x8F\xBF\xBF"};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct text t = {0};
        escape_plain(&t, rows[i], strlen(rows[i]));
        CU_ASSERT_EQUAL(escape_width(rows[i], strlen(rows[i])), t.n);
        text_release(&t);
    }
}

static const struct unit_test tests[] = {
    {"plain", test_plain},
    {"invalid UTF-8", test_invalid_utf8},
    {"XML, DOT, CSV", test_formats},
    {"width", test_width},
};
UNIT_MAIN("base/escape", tests)
