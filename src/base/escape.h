/* One printer for everything that came from a file or an argument: what a terminal or a format could take as an order
 * leaves as an escape. */
#ifndef BASE_ESCAPE_H
#define BASE_ESCAPE_H
#include "base/text.h"
#include <stdbool.h>
#include <stddef.h>

/** Appends bytes as plain text for a terminal or a log: control characters, C1, DEL, bidirectional and separator
 * characters as \u{XXXX}, bytes that are not UTF-8 as \xNN. A tab becomes one space. */
void escape_plain(struct text *t, const char *s, size_t n);

/** The same, in XML or HTML text or attribute values (& < > " ' as entities as well). */
void escape_xml(struct text *t, const char *s, size_t n);

/** A DOT double-quoted string's inside (quotes and backslashes escaped, control characters as by escape_plain). */
void escape_dot(struct text *t, const char *s, size_t n);

/** One CSV field, quoted where needed; a leading = + - @ is guarded by a single quote. */
void escape_csv(struct text *t, const char *s, size_t n);

/** Columns that the text takes on a terminal (East Asian wide characters count two, combining ones none). */
size_t escape_width(const char *s, size_t n);

/** True when the bytes are valid UTF-8. */
bool escape_valid_utf8(const char *s, size_t n);
#endif
