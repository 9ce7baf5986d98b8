/* Pieces that all JSON documents share. */
#ifndef REPORT_JSON_PARTS_H
#define REPORT_JSON_PARTS_H
#include "report/answer.h"
#include "report/jsonout.h"

/** What every document begins with: version, model, file, fault, findings, checks, counts. */
void json_put_head(struct jsonout *j, const struct answer *a);
void json_put_end(struct jsonout *j);
#endif
