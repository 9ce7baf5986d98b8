/* Two models beside each other: which parts differ, and what that does. Parts are matched by ID, plate holes by place
 * first where both models give one. Nothing here prints. */
#ifndef COMPARE_COMPARE_H
#define COMPARE_COMPARE_H
#include "faults/faults.h"

/* One of the two models, with its healthy trace. */
struct compared {
    const struct model *model;
    const struct trace *trace;
    const struct pressed *pressed; /* NULL: by structure alone */
};

/* ---- parts */

/* Kinds of parts in the order of telling; all but the last are tables of a model. */
enum described_kind {
    DESCRIBED_LAYER,
    DESCRIBED_CIRCUIT,
    DESCRIBED_PASSAGE,
    DESCRIBED_JOINT,
    DESCRIBED_HOLE,
    DESCRIBED_BALL,
    DESCRIBED_VALVE,
    DESCRIBED_SOLENOID,
    DESCRIBED_ACTUATOR,
    DESCRIBED_FEED,
    DESCRIBED_TAP,
    DESCRIBED_SWITCH,
    DESCRIBED_GEAR,
    DESCRIBED_STATE,
    DESCRIBED_MODEL, /* what belongs to no part: the fluid, clashes; its ID is "" */
    N_DESCRIBED
};

/** "plate hole", "valve", "state". */
const char *described_word(enum described_kind kind);

struct attribute { /* something that the model says of a part */
    const char *name, *words;
};
struct description {
    struct attribute *rows; /* in the order of importance */
    size_t n, cap;
};

/** Appends what the model says of a part. Texts lie in the arena; rows are freed by the caller with mem_free(). */
void part_describe(const struct model *m, enum described_kind kind, uint32_t row, const struct units *u,
                   struct arena *a, struct description *out);

/** Rows of a kind in a model, and the part that begins one; NULL for DESCRIBED_MODEL. */
uint32_t described_rows(const struct model *m, enum described_kind kind);
const struct part *described_part(const struct model *m, enum described_kind kind, uint32_t row);

struct attribute_change {
    const char *name, *was, *now; /* NULL: not given */
};
enum part_status { PART_GONE, PART_NEW, PART_CHANGED };
struct part_change {
    enum part_status status;
    enum described_kind kind;
    uint32_t was_row, now_row;     /* NONE where it is not there */
    const char *id;                /* the new one where there is one */
    struct attribute_change *rows; /* [n] what changed; gone and new: what it was or is */
    uint32_t n;
};
struct parts_compared {
    struct part_change *rows; /* [n] the gone, the new, the changed; by kind, in the order of the files */
    uint32_t n;
    uint32_t n_status[3]; /* by enum part_status */
};

/** What differs in the parts. Texts and rows lie in the arena. @param u units of the words */
void parts_compare(const struct model *was, const struct model *now, const struct units *u, struct arena *a,
                   struct parts_compared *out);

/** Row of the old hole that each hole of the new model is, NONE: a new one. By place where both models give one on
 * plates of one name (within the new layout's `fit`, else 0.3 mm; the nearest first), then by ID.
 *  @return [n_holes of now] freed by the caller with mem_free() */
uint32_t *holes_match(const struct model *was, const struct model *now);

/* ---- behaviour */

/** The difference of one state that both models have: gear, devices and valves by the answer that counts, limits,
 * pressures at taps and devices, rates of fill and drain (where both were solved, asked for with SOLVE_FILL), then oil,
 * of all that both have. Rows of subjects and feeds are the new model's. Texts and rows lie in the arena.
 *  @param s the state's row in the new model; it must be in the old one too. */
void behaviour_compare(const struct compared *was, const struct compared *now, state_ix s, struct arena *a,
                       struct effect *out);

/** Row of the state in the old model, NONE: it has none of this ID. */
state_ix behaviour_state(const struct compared *was, const struct compared *now, state_ix s);
#endif
