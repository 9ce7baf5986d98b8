/* What one run found out about one model: what every report is made from. Reports read it and change nothing. */
#ifndef REPORT_ANSWER_H
#define REPORT_ANSWER_H
#include "base/source.h"
#include "faults/faults.h"
#include "findings/findings.h"
#include "report/view.h"
#include "routes/routes.h"
#include "trace/trace.h"

struct answer {
    const char *path;              /* the model's file as the command line names it */
    struct sources *files;         /* of this model, for excerpts */
    const struct model *model;     /* NULL: it could not be read, `diags` says why and nothing else is there */
    const struct trace *healthy;   /* its only set is empty */
    const struct trace *shown;     /* the trace asked for: `healthy`, or under `fault` */
    const struct pressed *pressed; /* NULL: not sized, or --structure: by structure alone */
    const struct fault_set *fault; /* NULL: healthy */
    const state_ix *states;        /* [n_states] asked for, in file order */
    uint32_t n_states;
    struct diags *diags;       /* findings of the states asked for; errors of reading without a model */
    const char *const *checks; /* [n_checks] that ran */
    size_t n_checks;
    struct expectations expectations;
    bool has_baseline; /* findings that a baseline lists are not in `diags` */
    size_t n_known;    /* left out for that */
    size_t n_gone;     /* listed for this model and not found any more */
};

/* One route asked for, and the states in which it is the same. */
struct route_answer {
    const struct network *network;
    const char *from, *to; /* as the user named them */
    passage_ix from_passage, to_passage;
    struct part_ref consumer;      /* actuator, tap, switch or passage; PART_NONE for an end of a valve */
    const struct routes *by_state; /* [answer.n_states]; `reached` false in a state that did not settle */
};

/** Appends one finding or error as `FILE:LINE:COLUMN: error[CODE]: what`, with excerpt, second place and help.
 *  @param states other states in which the same holds, already in words, or NULL. @param road say what it means on the
 * road */
void text_diag(struct text *t, const struct view *v, const struct diag *d, struct sources *files, const char *states,
               bool road);

/** All of d in its order; findings that differ only in the state are said once. `road`: say once a code what it means.
 */
void text_diags(struct text *t, const struct view *v, const struct diags *d, struct sources *files, bool road);

/** "2 errors, 1 warning". */
void text_counts(struct text *t, const struct diags *d);

/* The reports, a format each. */
void text_check(struct text *t, const struct view *v, const struct answer *a);
void text_trace(struct text *t, const struct view *v, const struct answer *a);
void text_whatif(struct text *t, const struct view *v, const struct answer *a);
void text_route(struct text *t, const struct view *v, const struct answer *a, const struct route_answer *r);
void json_check(struct text *t, const struct view *v, const struct answer *a);
void json_trace(struct text *t, const struct view *v, const struct answer *a);
void json_whatif(struct text *t, const struct view *v, const struct answer *a);
void json_route(struct text *t, const struct view *v, const struct answer *a, const struct route_answer *r);
#endif
