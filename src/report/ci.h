/* Formats that machines of a build service read: SARIF for findings at their lines, JUnit XML for cases that pass or
 * fail. Each holds all models of a run in one document: begin, a piece for each model, end. */
#ifndef REPORT_CI_H
#define REPORT_CI_H
#include "report/answer.h"

void sarif_begin(struct text *t);
void sarif_check(struct text *t, const struct answer *a);
void sarif_end(struct text *t);

/** Appends what names a finding without line numbers: "MODEL CODE PART STATE", "-" for no model or state. Without a
 * part its message stands for it, `_` for each space. */
void finding_key(struct text *t, const struct model *m, const struct diag *d);

enum junit_result { JUNIT_PASSED, JUNIT_FAILED, JUNIT_ERROR, JUNIT_SKIPPED };
struct junit_case {
    const char *name;
    enum junit_result result;
    const char *message; /* one line: why it failed or was left out; NULL when it passed */
    const char *body;    /* lines, or NULL */
};

void junit_begin(struct text *t);
/** One suite. Texts may hold anything: what XML does not allow leaves as an escape.
 *  @param suite name, such as a model's; `file` where it stands, or NULL. */
void junit_suite(struct text *t, const char *suite, const char *file, const struct junit_case *cases, size_t n);
void junit_end(struct text *t);

/** A suite for a model: a case for what holds in all states, one for each state, one for each expectation. Findings at
 * `fail_on` or above fail their case. */
void junit_check(struct text *t, const struct answer *a, enum level fail_on);
#endif
