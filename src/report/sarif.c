/* Findings in SARIF 2.1.0 (OASIS standard, 2020), so that a code host can show each one at its line. One run holds the
 * findings of all models. */
#include "base/escape.h"
#include "base/mem.h"
#include "report/ci.h"
#include "report/jsonout.h"
#include <string.h>

static json_t *message(const char *words)
{
    return json_pack("{s:o}", "text", json_words(words));
}

static json_t *rule(enum code code)
{
    const struct code_row *row = code_row(code);
    struct text full = {0};
    text_addf(&full, "%s; %s", row->what, row->road);
    json_t *value = json_pack("{s:o, s:o, s:o, s:o, s:{s:s}}", "id", json_words(row->id), "shortDescription",
                              message(row->what), "fullDescription", message(text_string(&full)), "help",
                              message(row->mend), "defaultConfiguration", "level", level_word(row->level));
    text_release(&full);
    return value;
}

/* Results follow; sarif_end() closes what is open. */
void sarif_begin(struct text *t)
{
    struct jsonout j = {.t = t};
    json_begin(&j, NULL, '{');
    json_put(&j, "$schema",
             json_string("https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/"
                         "sarif-schema-2.1.0.json"));
    json_put(&j, "version", json_string("2.1.0"));
    json_begin(&j, "runs", '[');
    json_begin(&j, NULL, '{');
    json_begin(&j, "tool", '{');
    json_begin(&j, "driver", '{');
    json_put(&j, "name", json_string("feedtrace"));
    json_put(&j, "version", json_string(FEEDTRACE_VERSION));
    json_begin(&j, "rules", '[');
    for (int code = 0; code < N_CODES; code++)
        json_put(&j, NULL, rule((enum code)code));
    json_end(&j);
    json_end(&j);
    json_end(&j);
    json_put(&j, "columnKind", json_string("unicodeCodePoints"));
    json_begin(&j, "results", '[');
}

/* A writer that stands in the list of results. */
static struct jsonout at_results(struct text *t)
{
    struct jsonout j = {.t = t, .depth = 4};
    memcpy(j.close, "}]}]", 4);
    for (int i = 0; i < 4; i++)
        j.some[i] = i < 3 || t->at[t->n - 1] != '[';
    return j;
}

void sarif_end(struct text *t)
{
    struct jsonout j = at_results(t);
    while (j.depth)
        json_end(&j);
    text_add_char(t, '\n');
}

/* A file's name as a reference of RFC 3986; "file:" before an absolute one. */
static json_t *uri(const char *name)
{
    static const char plain[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-._~/";
    struct text t = {0};
    text_add(&t, name[0] == '/' ? "file://" : "");
    for (const char *at = name; *at; at++)
        text_addf(&t, strchr(plain, *at) ? "%c" : "%%%02X", (unsigned char)*at);
    json_t *value = json_string(text_string(&t));
    text_release(&t);
    return value;
}

static json_t *location(const struct answer *a, struct span where, const char *at, const char *words)
{
    bool placed = where.line && where.file < a->files->n_files;
    json_t *physical =
        json_pack("{s:{s:o}}", "artifactLocation", "uri", uri(placed ? a->files->files[where.file].name : a->path));
    json_t *value = json_object();
    if (placed) {
        json_t *region = json_pack("{s:I}", "startLine", (json_int_t)where.line);
        if (where.column) {
            json_object_set_new(region, "startColumn", json_integer(where.column));
            json_object_set_new(region, "endColumn", json_integer(where.column + (where.length ? where.length : 1)));
        }
        json_object_set_new(physical, "region", region);
    }
    json_object_set_new(value, "physicalLocation", physical);
    if (at)
        json_object_set_new(value, "logicalLocations", json_pack("[{s:o}]", "name", json_words(at)));
    if (words)
        json_object_set_new(value, "message", message(words));
    return value;
}

static bool same_but_state(const struct diag *a, const struct diag *b)
{
    return a->code == b->code && !memcmp(&a->where, &b->where, sizeof a->where) && a->state && b->state &&
           !strcmp(a->message, b->message) && !strcmp(a->at ? a->at : "", b->at ? b->at : "");
}

void finding_key(struct text *t, const struct model *m, const struct diag *d)
{
    struct text words = {0};
    escape_plain(&words, d->message, strlen(d->message));
    for (size_t i = 0; i < words.n; i++)
        words.at[i] = words.at[i] == ' ' ? '_' : words.at[i];
    text_addf(t, "%s %s %s %s", m ? m->id : "-", code_row(d->code)->id, d->at ? d->at : text_string(&words),
              d->state ? d->state : "-");
    text_release(&words);
}

/* The same finding in several states is one result. */
static json_t *result(const struct answer *a, size_t row, bool *done)
{
    const struct diag *d = &a->diags->rows[row];
    json_t *states = json_array();
    struct text words = {0}, key = {0};
    text_add(&words, d->message);
    for (size_t k = row; d->state && k < a->diags->n; k++) {
        const struct diag *other = &a->diags->rows[k];
        if (k > row && (done[k] || !same_but_state(d, other)))
            continue;
        done[k] = true;
        text_addf(&words, "%s%s", k == row ? " (in " : ", ", other->state);
        json_array_append_new(states, json_words(other->state));
    }
    if (d->state)
        text_add_char(&words, ')');
    /* in a file that the model extends, where its own findings may stand too */
    bool elsewhere =
        d->where.line && d->where.file < a->files->n_files && strcmp(a->files->files[d->where.file].name, a->path) != 0;
    if (elsewhere && a->model)
        text_addf(&words, " (model %s)", a->model->id);
    if (d->help)
        text_addf(&words, ". Help: %s", d->help);
    finding_key(&key, a->model, d);
    json_t *value = json_pack("{s:s, s:i, s:s, s:o, s:[o], s:{s:o}}", "ruleId", code_row(d->code)->id, "ruleIndex",
                              (int)d->code, "level", level_word(d->level), "message", message(text_string(&words)),
                              "locations", location(a, d->where, d->at, NULL), "partialFingerprints",
                              "codePartState/v1", json_words(text_string(&key)));
    if (d->second_text)
        json_object_set_new(value, "relatedLocations", json_pack("[o]", location(a, d->second, NULL, d->second_text)));
    if (json_array_size(states))
        json_object_set_new(value, "properties", json_pack("{s:O}", "states", states));
    json_decref(states);
    text_release(&words);
    text_release(&key);
    return value;
}

void sarif_check(struct text *t, const struct answer *a)
{
    struct jsonout j = at_results(t);
    bool *done = mem_zero(a->diags->n + 1, sizeof *done);
    for (size_t i = 0; i < a->diags->n; i++)
        if (!done[i])
            json_put(&j, NULL, result(a, i, done));
    mem_free(done);
}
