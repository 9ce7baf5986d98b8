/* What a sweep found, in groups of equal effect: filled from records as they come, or read back from the JSON of its
 * parts. An effect is kept as the JSON value that reports show, not as a tree. */
#ifndef REPORT_SWEEP_TABLE_H
#define REPORT_SWEEP_TABLE_H
#include "base/source.h"
#include "faults/sweep.h"
#include "report/answer.h"
#include <jansson.h>

struct sweep_member {       /* a fault, or a pair */
    uint32_t first, second; /* rows in the table's faults, first < second; second NONE: a single fault */
};
struct sweep_group {
    uint64_t effect[2]; /* fingerprint; zero: nothing shows */
    char *states;       /* JSON object by state; "{}" when nothing shows */
    enum sweep_rank rank;
    enum sweep_news news; /* pairs */
    uint32_t n_at_rank, n_states;
    struct sweep_member *members; /* [n] */
    size_t n, cap;
};
struct sweep_totals {
    uint64_t n_sets, n_excluded, n_cases, n_not_settled, n_not_solved, n_news_sets, n_news_cases;
};

struct sweep_table {
    json_t *head;  /* version, model, findings, checks, counts */
    json_t *about; /* what was swept: of, by, title, kinds, element, states, number of part and parts */
    bool pairs;
    bool pressed;  /* by pressure */
    char **faults; /* [n_faults] words */
    uint32_t n_faults;
    struct sweep_totals totals;
    json_t *lost; /* list: jobs that gave no answer, in words */
    struct sweep_group *groups;
    size_t n, cap;
    size_t *slots; /* [n_slots] row + 1 of a group by its effect, 0 free */
    size_t n_slots;
    uint32_t *by_words; /* [n_faults] rows in the order of their words; made when first needed */
};

/** Begins a table for a run: `answer` gives the head, and by its pressures what the sweep goes by. @param part, n_parts
 * as --shard has them; 0: the whole. */
void sweep_table_begin(struct sweep_table *t, const struct answer *answer, const struct sweep *sweep,
                       const struct sweep_wanted *wanted, uint32_t part, uint32_t n_parts);
void sweep_table_release(struct sweep_table *t);

/** Takes one job's answer. */
void sweep_table_add(struct sweep_table *t, const struct network *n, const char *answer, size_t size,
                     struct sweep_counts *counts);

/** The group of an effect, or NULL. */
struct sweep_group *sweep_table_group(struct sweep_table *t, const uint64_t effect[2]);
/** Makes it. @param states [n_states] rank and news count  @param json what is shown of them; taken */
struct sweep_group *sweep_table_new_group(struct sweep_table *t, const uint64_t effect[2],
                                          const struct sweep_state *states, uint32_t n_states, char *json);
void sweep_group_add(struct sweep_group *g, struct sweep_member member);

/** Remembers a job that gave no answer, in words. */
void sweep_table_lost(struct sweep_table *t, const char *words);

/** Row of a fault by its words, or NONE. */
uint32_t sweep_table_fault(struct sweep_table *t, const char *words);

/** Worst first, members in the order of the faults. Call once, after the last record and before a report. */
void sweep_table_sort(struct sweep_table *t);

/** A member as a user would write it: "block H11", "block H11 + lose B1". */
void sweep_member_words(const struct sweep_table *t, struct sweep_member m, struct text *out);

#define SWEEP_PARTS_MAX 100000
struct sweep_parts {
    uint32_t n_parts;   /* 0 before the first */
    const char **names; /* [n_parts] file of each part, borrowed; NULL: not read yet */
};

/** Reads one part and adds it to the table (all zero before the first). `name` is kept, borrowed.
 *  @return false with the reason in d. */
bool sweep_table_read(struct sweep_table *t, struct sweep_parts *parts, const struct source *file, const char *name,
                      struct diags *d);
void sweep_parts_release(struct sweep_parts *parts);

struct sweep_report {
    struct sweep_table *table;
    size_t limit_kb;                   /* of the text, 0: all */
    const struct sweep_counts *counts; /* for --verbose, or NULL */
};
void text_sweep(struct text *t, const struct view *v, const struct sweep_report *r);

/** Of a sweep that --only narrows to kinds: says which of them no part of the model can have, and what it would take.
 * Nothing of a sweep of one part, whose command refuses that, and nothing where all kinds are swept. */
void text_sweep_unfit(struct text *t, const struct view *v, const struct sweep_report *r);
void json_sweep(struct text *t, const struct sweep_report *r);

/** The JSON of a model that could not be read: only the head. */
void json_sweep_unread(struct text *t, const struct answer *a);
void csv_sweep(struct text *t, const struct view *v, const struct sweep_report *r);
#endif
