/* JUnit XML, by libxml2's writer. The format has no published standard; this is the common part of what build services
 * read: testsuites, testsuite, testcase with failure, error or skipped. */
#include "base/escape.h"
#include "base/mem.h"
#include "report/ci.h"
#include <libxml/xmlwriter.h>
#include <string.h>

#define XML(words) ((const xmlChar *)(words))

void junit_begin(struct text *t)
{
    text_add(t, "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<testsuites name=\"feedtrace\">\n");
}

void junit_end(struct text *t)
{
    text_add(t, "</testsuites>\n");
}

static void attribute(xmlTextWriterPtr w, const char *name, const char *words)
{
    struct text safe = {0};
    escape_plain(&safe, words, strlen(words));
    if (xmlTextWriterWriteAttribute(w, XML(name), XML(text_string(&safe))) < 0)
        mem_ended(); /* the writer fails only for want of memory */
    text_release(&safe);
}

static void number(xmlTextWriterPtr w, const char *name, size_t n)
{
    struct text words = {0};
    text_addf(&words, "%zu", n);
    attribute(w, name, text_string(&words));
    text_release(&words);
}

static void lines(xmlTextWriterPtr w, const char *body)
{
    struct text safe = {0};
    while (*body) {
        size_t n = strcspn(body, "\n");
        text_add_char(&safe, '\n');
        escape_plain(&safe, body, n);
        body += n + (body[n] == '\n');
    }
    text_add_char(&safe, '\n');
    if (xmlTextWriterWriteString(w, XML(text_string(&safe))) < 0)
        mem_ended();
    text_release(&safe);
}

static void put_case(xmlTextWriterPtr w, const char *suite, const struct junit_case *c)
{
    static const char *const elements[] = {
        [JUNIT_FAILED] = "failure", [JUNIT_ERROR] = "error", [JUNIT_SKIPPED] = "skipped"};
    xmlTextWriterStartElement(w, XML("testcase"));
    attribute(w, "classname", suite);
    attribute(w, "name", c->name);
    if (c->result != JUNIT_PASSED) {
        xmlTextWriterStartElement(w, XML(elements[c->result]));
        attribute(w, "message", c->message ? c->message : "");
        if (c->body)
            lines(w, c->body);
        xmlTextWriterEndElement(w);
    }
    xmlTextWriterEndElement(w);
}

void junit_suite(struct text *t, const char *suite, const char *file, const struct junit_case *cases, size_t n)
{
    size_t n_of[4] = {0};
    for (size_t i = 0; i < n; i++)
        n_of[cases[i].result]++;
    xmlBufferPtr buffer = xmlBufferCreate();
    xmlTextWriterPtr w = buffer ? xmlNewTextWriterMemory(buffer, 0) : NULL;
    if (!w)
        mem_ended();
    xmlTextWriterSetIndent(w, 1);
    xmlTextWriterStartElement(w, XML("testsuite"));
    attribute(w, "name", suite);
    if (file)
        attribute(w, "file", file);
    number(w, "tests", n);
    number(w, "failures", n_of[JUNIT_FAILED]);
    number(w, "errors", n_of[JUNIT_ERROR]);
    number(w, "skipped", n_of[JUNIT_SKIPPED]);
    for (size_t i = 0; i < n; i++)
        put_case(w, suite, &cases[i]);
    if (xmlTextWriterEndElement(w) < 0 || xmlTextWriterFlush(w) < 0)
        mem_ended();
    xmlFreeTextWriter(w);
    text_add_bytes(t, (const char *)xmlBufferContent(buffer), (size_t)xmlBufferLength(buffer));
    xmlBufferFree(buffer);
}

/* ---- check */

struct making {
    const struct answer *answer;
    enum level fail_on;
    struct junit_case *cases;
    struct text *texts; /* [3 * cap] body, message and name of each case */
    size_t n, cap;
};

static bool same_place(struct span a, struct span b)
{
    return a.line == b.line && a.column == b.column && a.file == b.file;
}

/* The expectation that earned a finding, or NULL. */
static const struct claims *expectation_of(const struct state *s, const struct diag *d)
{
    if (d->code != EXPECTATION_FAILED && d->code != UNDECIDED)
        return NULL;
    for (uint32_t i = 0; i < s->n_expect; i++)
        if (same_place(s->expect[i].where, d->where))
            return &s->expect[i];
    return NULL;
}

static void finding_line(struct text *t, const struct answer *a, const struct diag *d)
{
    bool placed = d->where.line && d->where.file < a->files->n_files;
    if (placed)
        text_addf(t, "%s:%u:%u: ", a->files->files[d->where.file].name, d->where.line, d->where.column);
    text_addf(t, "%s[%s]: %s\n", level_word(d->level), code_row(d->code)->id, d->message);
}

/* A case of the findings of one state (NULL: of those without a state): what an expectation earned, or (`expected`
 * NULL) all that none did. */
static void make_case(struct making *m, const char *name, const struct state *state, const struct claims *expected)
{
    struct text body = {0}, message = {0};
    size_t n = 0;
    for (size_t i = 0; i < m->answer->diags->n; i++) {
        const struct diag *d = &m->answer->diags->rows[i];
        bool here = state ? d->state && !strcmp(d->state, state->part.id) : !d->state;
        if (!here || d->level < m->fail_on || (state && expectation_of(state, d) != expected))
            continue;
        if (!n++)
            text_add(&message, d->message);
        finding_line(&body, m->answer, d);
    }
    if (n > 1)
        text_addf(&message, " (and %zu more)", n - 1);
    if (m->n == m->cap) {
        m->cap = m->cap ? 2 * m->cap : 16;
        m->cases = mem_resize(m->cases, m->cap, sizeof *m->cases);
        m->texts = mem_resize(m->texts, 3 * m->cap, sizeof *m->texts);
    }
    struct text *kept = m->texts + 3 * m->n;
    kept[0] = body;
    kept[1] = message;
    kept[2] = (struct text){0};
    text_add(&kept[2], name);
    m->cases[m->n++] = (struct junit_case){.result = n ? JUNIT_FAILED : JUNIT_PASSED};
}

static void make_state(struct making *m, state_ix s)
{
    const struct answer *a = m->answer;
    const struct state *state = &a->model->states[s.i];
    struct text name = {0};
    text_addf(&name, "state %s", state->part.id);
    make_case(m, text_string(&name), state, NULL);
    for (uint32_t i = 0; i < state->n_expect; i++) {
        const struct claims *c = &state->expect[i];
        text_clear(&name);
        text_addf(&name, "expect %s", c->text);
        make_case(m, text_string(&name), state, c);
        if (m->cases[m->n - 1].result == JUNIT_PASSED &&
            (!a->shown->cases[trace_case(a->shown, 0, s)].settled ||
             claims_judge(c, a->shown, a->pressed, 0, s) == VERDICT_NOT_JUDGED)) {
            m->cases[m->n - 1].result = JUNIT_SKIPPED;
            text_add(&m->texts[3 * (m->n - 1) + 1],
                     a->pressed ? "not judged" : "not judged: this check goes by structure");
        }
    }
    text_release(&name);
}

void junit_check(struct text *t, const struct answer *a, enum level fail_on)
{
    struct making m = {.answer = a, .fail_on = a->model ? fail_on : LEVEL_ERROR};
    make_case(&m, a->model ? "model as a whole" : "model can be read", NULL, NULL);
    if (!a->model && m.cases[0].result == JUNIT_FAILED)
        m.cases[0].result = JUNIT_ERROR;
    for (uint32_t i = 0; i < a->n_states; i++)
        make_state(&m, a->states[i]);
    for (size_t i = 0; i < m.n; i++) {
        struct text *kept = m.texts + 3 * i;
        m.cases[i].body = kept[0].n ? text_string(&kept[0]) : NULL;
        m.cases[i].message = text_string(&kept[1]);
        m.cases[i].name = text_string(&kept[2]);
    }
    junit_suite(t, a->model ? a->model->id : a->path, a->path, m.cases, m.n);
    for (size_t i = 0; i < 3 * m.n; i++)
        text_release(&m.texts[i]);
    mem_free(m.texts);
    mem_free(m.cases);
}
