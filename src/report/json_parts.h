/* Pieces that all JSON documents share. */
#ifndef REPORT_JSON_PARTS_H
#define REPORT_JSON_PARTS_H
#include "report/answer.h"
#include "report/jsonout.h"

/** What every document begins with: version, model, findings, checks, counts; with `fault` the fault's words too. */
void json_put_head(struct jsonout *j, const struct answer *a, bool fault);
void json_put_end(struct jsonout *j);

/** The list "changes" of one state; subjects are parts of `m`. */
void json_put_changes(struct jsonout *j, const struct model *m, const struct effect *effect);
#endif
