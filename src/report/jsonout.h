/* JSON written piece by piece: brackets and keys here, the small values by jansson, so that a big report is never one
 * tree. */
#ifndef REPORT_JSONOUT_H
#define REPORT_JSONOUT_H
#include "base/text.h"
#include <jansson.h>
#include <stdbool.h>

#define JSON_DEPTH_MAX 16

struct jsonout {
    struct text *t;
    unsigned depth;
    char close[JSON_DEPTH_MAX]; /* the bracket that ends each level */
    bool some[JSON_DEPTH_MAX];  /* the level has an entry already */
};

/** Starts an object '{' or a list '[' under `key` (NULL: in a list, or the document itself). */
void json_begin(struct jsonout *j, const char *key, char bracket);

/** Ends what json_begin() started last. */
void json_end(struct jsonout *j);

/** Writes one value on one line and frees it. */
void json_put(struct jsonout *j, const char *key, json_t *value);

/** The same of a value that is JSON already, on one line. */
void json_put_text(struct jsonout *j, const char *key, const struct text *json);

/** Appends one value, on one line and as json_put() has it, to a text; for many small ones without a tree. */
void json_write_words(struct text *t, const char *s); /* NULL: null */
void json_write(struct text *t, json_t *value);       /* frees the value */

/** A text value; bytes that are not UTF-8 become escapes; NULL becomes null. */
json_t *json_words(const char *s);

/** A real number rounded to 10 significant digits; NAN becomes null. */
json_t *json_number(double value);

/** What was calculated, without the digits that no solution is good for: a pressure to 0.1 Pa, a flow to 6 significant
 * digits, a share to 6 decimals; NAN becomes null. */
json_t *json_pressure(double pascal);
json_t *json_flow(double m3_s);
json_t *json_seconds(double s); /* infinite: null too */
json_t *json_share(double share);

/** Hands jansson the program's door for memory. Call once before anything else. */
void json_memory(void);
#endif
