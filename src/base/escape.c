/* One printer for everything that came from a file or an argument. */
#include "base/escape.h"
#include <string.h>
#include <utf8proc.h>

#define ZERO_WIDTH_NON_JOINER 0x200C
#define ZERO_WIDTH_JOINER     0x200D

/* One step through the bytes. */
struct step {
    size_t n;           /* bytes taken, at least 1 */
    utf8proc_int32_t c; /* code point, -1 for a byte that is not UTF-8 */
    bool printable;     /* may leave as it is */
};

static bool is_printable(utf8proc_int32_t c)
{
    if (c < 0x80)
        return c >= 0x20 && c != 0x7F;
    if ((c & 0xFFFE) == 0xFFFE || (c >= 0xFDD0 && c <= 0xFDEF))
        return false; /* no characters, and not allowed in XML */
    switch (utf8proc_category(c)) {
    case UTF8PROC_CATEGORY_CC:
    case UTF8PROC_CATEGORY_CS:
    case UTF8PROC_CATEGORY_ZL:
    case UTF8PROC_CATEGORY_ZP:
        return false;
    case UTF8PROC_CATEGORY_CF: /* bidirectional controls, byte order mark, invisible tags */
        return c == ZERO_WIDTH_NON_JOINER || c == ZERO_WIDTH_JOINER;
    default:
        return true;
    }
}

static struct step step(const char *s, size_t n)
{
    unsigned char first = (unsigned char)s[0];
    if (first < 0x80)
        return (struct step){1, first, is_printable(first)};
    utf8proc_int32_t c;
    utf8proc_ssize_t got = utf8proc_iterate((const utf8proc_uint8_t *)s, (utf8proc_ssize_t)n, &c);
    if (got <= 0)
        return (struct step){1, -1, false};
    return (struct step){(size_t)got, c, is_printable(c)};
}

/* How a format writes a printable ASCII character, or NULL for as it is. */
typedef const char *special(char c);

static const char *special_plain(char c)
{
    (void)c;
    return NULL;
}

static const char *special_xml(char c)
{
    switch (c) {
    case '&':
        return "&amp;";
    case '<':
        return "&lt;";
    case '>':
        return "&gt;";
    case '"':
        return "&quot;";
    case '\'':
        return "&#39;";
    default:
        return NULL;
    }
}

static const char *special_dot(char c)
{
    return c == '"' ? "\\\"" : c == '\\' ? "\\\\" : NULL;
}

static const char *special_csv(char c)
{
    return c == '"' ? "\"\"" : NULL;
}

/* `backslash` is how the format writes the one that our escapes begin with. */
static void escape(struct text *t, const char *s, size_t n, special *special, const char *backslash)
{
    size_t plain = 0; /* bytes seen that leave as they are, not yet added */
    for (size_t i = 0; i < n;) {
        struct step now = step(s + i, n - i);
        const char *other = now.n == 1 && now.printable ? special(s[i]) : NULL;
        if (now.printable && !other) {
            i += now.n;
            plain += now.n;
            continue;
        }
        text_add_bytes(t, s + i - plain, plain);
        plain = 0;
        if (other)
            text_add(t, other);
        else if (now.c == '\t')
            text_add_char(t, ' ');
        else if (now.c < 0)
            text_addf(t, "%sx%02X", backslash, (unsigned char)s[i]);
        else
            text_addf(t, "%su{%04X}", backslash, (unsigned)now.c);
        i += now.n;
    }
    if (plain)
        text_add_bytes(t, s + n - plain, plain);
}

void escape_plain(struct text *t, const char *s, size_t n)
{
    escape(t, s, n, special_plain, "\\");
}

void escape_xml(struct text *t, const char *s, size_t n)
{
    escape(t, s, n, special_xml, "\\");
}

void escape_dot(struct text *t, const char *s, size_t n)
{
    escape(t, s, n, special_dot, "\\\\");
}

void escape_csv(struct text *t, const char *s, size_t n)
{
    bool guard = n && memchr("=+-@", s[0], 4);
    bool quote = n && (s[0] == ' ' || s[0] == '\t' || s[n - 1] == ' ' || s[n - 1] == '\t');
    for (size_t i = 0; i < n && !quote; i++)
        quote = s[i] == ',' || s[i] == ';' || s[i] == '"';
    if (quote)
        text_add_char(t, '"');
    if (guard)
        text_add_char(t, '\'');
    escape(t, s, n, special_csv, "\\");
    if (quote)
        text_add_char(t, '"');
}

size_t escape_width(const char *s, size_t n)
{
    size_t width = 0;
    for (size_t i = 0; i < n;) {
        struct step now = step(s + i, n - i);
        if (now.printable)
            width += now.c < 0x80 ? 1 : (size_t)utf8proc_charwidth(now.c);
        else if (now.c == '\t')
            width += 1;
        else /* \xNN, \u{XXXX}, longer beyond the first plane */
            width += now.c < 0 ? 4 : now.c < 0x10000 ? 8 : now.c < 0x100000 ? 9 : 10;
        i += now.n;
    }
    return width;
}

bool escape_valid_utf8(const char *s, size_t n)
{
    for (size_t i = 0; i < n;) {
        struct step now = step(s + i, n - i);
        if (now.c < 0)
            return false;
        i += now.n;
    }
    return true;
}
