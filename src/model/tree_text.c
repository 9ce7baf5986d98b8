/* The raw text of a file, looked through before libyaml gets it for what libyaml places badly (bytes that are not
 * UTF-8, control characters) or takes too long over (directives). */
#include "model/tree.h"
#include <string.h>

struct place { /* a walk through the bytes */
    const unsigned char *at, *end, *line_start;
    uint32_t line;
    int file;
};

struct span tree_span(uint32_t line, size_t column, size_t length, int file)
{
    return (struct span){.line = line,
                         .column = column > UINT16_MAX ? UINT16_MAX : (uint16_t)column,
                         .file = (uint8_t)file,
                         .length = length > UINT8_MAX ? UINT8_MAX
                                   : length           ? (uint8_t)length
                                                      : 1};
}

static struct span place_span(const struct place *p)
{
    size_t column = 1;
    for (const unsigned char *c = p->line_start; c < p->at; c++)
        column += (*c & 0xC0) != 0x80; /* bytes that begin a code point */
    return tree_span(p->line, column, 1, p->file);
}

/* One code point from 0x80 up; 0 when the bytes are not UTF-8. */
static uint32_t code_point(const unsigned char *c, const unsigned char *end, size_t *n)
{
    static const uint32_t least[] = {0, 0, 0x80, 0x800, 0x10000};
    size_t bytes = *c >= 0xF0 && *c < 0xF8 ? 4 : *c >= 0xE0 ? 3 : *c >= 0xC0 ? 2 : 0;
    if (!bytes || *c >= 0xF8 || (size_t)(end - c) < bytes)
        return 0;
    uint32_t point = *c & (0xFFu >> (bytes + 1));
    for (size_t i = 1; i < bytes; i++) {
        if ((c[i] & 0xC0) != 0x80)
            return 0;
        point = point << 6 | (c[i] & 0x3F);
    }
    *n = bytes;
    return point < least[bytes] || point > 0x10FFFF || (point >= 0xD800 && point < 0xE000) ? 0 : point;
}

/* What YAML lets stand in a text beside ASCII; 0x85 is a line break. */
static bool allowed(uint32_t point)
{
    return point >= 0xA0 && point != 0xFEFF && point != 0xFFFE && point != 0xFFFF;
}

static bool ascii_word(const unsigned char *c)
{ /* eight printable ASCII bytes, none of them a control character or DEL */
    uint64_t w;
    memcpy(&w, c, 8);
    const uint64_t ones = 0x0101010101010101u, highs = 0x8080808080808080u;
    uint64_t below_space = (w - ones * 0x20) & ~w & highs;
    uint64_t x = w ^ (ones * 0x7F);
    uint64_t del = (x - ones) & ~x & highs;
    return !((w & highs) | below_space | del);
}

/* Bytes of the line break at c, 0: none. Those of libyaml: LF, CR, CR LF, NEL, LS, PS. */
static size_t line_break(const unsigned char *c, const unsigned char *end)
{
    size_t left = (size_t)(end - c);
    if (*c == '\n' || *c == '\r')
        return *c == '\r' && left > 1 && c[1] == '\n' ? 2 : 1;
    if (left > 1 && *c == 0xC2 && c[1] == 0x85)
        return 2;
    return left > 2 && *c == 0xE2 && c[1] == 0x80 && (c[2] == 0xA8 || c[2] == 0xA9) ? 3 : 0;
}

/* A line that begins with `%`: only `%YAML 1.1` and `%YAML 1.2` pass. */
static bool directive_fine(const unsigned char *c, const unsigned char *end)
{
    static const char *const fine[] = {"%YAML 1.1", "%YAML 1.2"};
    for (size_t i = 0; i < 2; i++)
        if ((size_t)(end - c) >= 9 && !memcmp(c, fine[i], 9))
            return c + 9 == end || c[9] == ' ' || c[9] == '\t' || c[9] == '\r' || c[9] == '\n';
    return false;
}

bool tree_text_fine(const char *bytes, size_t n, int file, struct diags *d)
{
    struct place p = {(const unsigned char *)bytes, (const unsigned char *)bytes + n, NULL, 1, file};
    p.line_start = p.at;
    bool head = true; /* nothing but comments, empty lines and directives so far */
    while (p.at < p.end) {
        unsigned char c = *p.at;
        if (p.at == p.line_start) {
            if (c == '%' && !(head && directive_fine(p.at, p.end))) {
                diag(d, YAML_FEATURE, place_span(&p),
                     "a directive other than `%%YAML 1.1` and `%%YAML 1.2` at the top");
                diag_help(d, "remove the line; a text that begins with %% goes into quotes, behind spaces");
                return false;
            }
            head = head && (c == '%' || c == '#' || c == '\n' || c == '\r' || c == ' ');
        }
        if (p.end - p.at >= 8 && ascii_word(p.at)) {
            p.at += 8;
        } else if ((c >= 0x20 && c < 0x7F) || c == '\t') {
            p.at++;
        } else if (line_break(p.at, p.end)) {
            p.at += line_break(p.at, p.end);
            p.line_start = p.at;
            p.line++;
        } else if (c < 0x80) {
            diag(d, YAML_SYNTAX, place_span(&p), "the control character U+%04X", c);
            diag_help(d, c ? "remove it, or write it as an escape in double quotes" : "this looks like no text file");
            return false;
        } else {
            size_t bytes = 1;
            uint32_t point = code_point(p.at, p.end, &bytes);
            if (!point) {
                diag(d, NOT_UTF8, place_span(&p), "the byte 0x%02X is not part of UTF-8 text", c);
                diag_help(d, "save the file as UTF-8");
                return false;
            }
            if (!allowed(point)) {
                diag(d, YAML_SYNTAX, place_span(&p), "the character U+%04X, which YAML does not have", point);
                diag_help(d, "remove it, or write it as an escape in double quotes");
                return false;
            }
            p.at += bytes;
        }
    }
    return true;
}
