/* JSON written piece by piece. */
#include "report/jsonout.h"
#include "base/escape.h"
#include "base/mem.h"
#include <assert.h>
#include <math.h>
#include <string.h>

/* Everything beyond ASCII as \u escapes: what a terminal could take as an order stays harmless, and locales do not
 * matter. */
#define DUMP (JSON_ENSURE_ASCII | JSON_ENCODE_ANY | JSON_REAL_PRECISION(10))

void json_memory(void)
{
    json_set_alloc_funcs(mem_alloc, mem_free);
}

json_t *json_words(const char *s)
{
    if (!s)
        return json_null();
    size_t n = strlen(s);
    if (escape_valid_utf8(s, n)) {
        json_t *value = json_stringn(s, n);
        if (value)
            return value;
    }
    struct text safe = {0};
    escape_plain(&safe, s, n);
    json_t *value = json_string(text_string(&safe));
    text_release(&safe);
    assert(value);
    return value;
}

json_t *json_number(double value)
{
    return isfinite(value) ? json_real(value) : json_null();
}

/* Never -0. */
static json_t *rounded(double value, double digit)
{
    double shown = round(value / digit) * digit;
    return json_number(shown == 0 ? 0 : shown);
}

json_t *json_pressure(double pascal)
{
    return rounded(pascal, 0.1);
}

json_t *json_flow(double m3_s)
{
    if (!(fabs(m3_s) >= 1e-12)) /* NAN too: a smaller flow is none */
        return isnan(m3_s) ? json_null() : json_real(0);
    return rounded(m3_s, pow(10, floor(log10(fabs(m3_s))) - 5));
}

json_t *json_seconds(double s)
{
    if (!isfinite(s))
        return json_null();
    return s > 0 ? rounded(s, pow(10, floor(log10(s)) - 5)) : json_real(0);
}

json_t *json_share(double share)
{
    return rounded(share, 1e-6);
}

static int add_bytes(const char *bytes, size_t n, void *t)
{
    const char *del;
    while ((del = memchr(bytes, 0x7f, n)) != NULL) { /* the one control character that jansson lets through */
        text_add_bytes(t, bytes, (size_t)(del - bytes));
        text_add(t, "\\u007f");
        n -= (size_t)(del - bytes) + 1;
        bytes = del + 1;
    }
    text_add_bytes(t, bytes, n);
    return 0;
}

static void dump(struct text *t, const json_t *value)
{
    int bad = json_dump_callback(value, add_bytes, t, DUMP);
    assert(!bad);
    (void)bad;
}

void json_write(struct text *t, json_t *value)
{
    dump(t, value);
    json_decref(value);
}

void json_write_words(struct text *t, const char *s)
{
    size_t n = 0;
    while (s && s[n] >= ' ' && s[n] < 0x7f && s[n] != '"' && s[n] != '\\')
        n++;
    if (!s || s[n]) { /* something to be escaped */
        json_write(t, json_words(s));
        return;
    }
    text_add_char(t, '"');
    text_add_bytes(t, s, n);
    text_add_char(t, '"');
}

/* What stands before an entry: comma, line break, indentation, key. */
static void lead(struct jsonout *j, const char *key)
{
    if (j->depth) {
        if (j->some[j->depth - 1])
            text_add_char(j->t, ',');
        j->some[j->depth - 1] = true;
        text_add_char(j->t, '\n');
        for (unsigned i = 0; i < j->depth; i++)
            text_add_char(j->t, ' ');
    }
    if (key) {
        json_write_words(j->t, key);
        text_add(j->t, ": ");
    }
}

void json_begin(struct jsonout *j, const char *key, char bracket)
{
    lead(j, key);
    assert(j->depth < JSON_DEPTH_MAX);
    text_add_char(j->t, bracket);
    j->close[j->depth] = bracket == '{' ? '}' : ']';
    j->some[j->depth] = false;
    j->depth++;
}

void json_end(struct jsonout *j)
{
    assert(j->depth);
    j->depth--;
    if (j->some[j->depth]) {
        text_add_char(j->t, '\n');
        for (unsigned i = 0; i < j->depth; i++)
            text_add_char(j->t, ' ');
    }
    text_add_char(j->t, j->close[j->depth]);
}

void json_put(struct jsonout *j, const char *key, json_t *value)
{
    lead(j, key);
    json_write(j->t, value);
}

void json_put_text(struct jsonout *j, const char *key, const struct text *json)
{
    lead(j, key);
    text_add_bytes(j->t, text_string(json), json->n);
}
