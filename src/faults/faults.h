/* Faults in words, as a user writes them: "leak H30 at 2 mm + lose B1". They become edits of a network; the model never
 * changes. */
#ifndef FAULTS_FAULTS_H
#define FAULTS_FAULTS_H
#include "pressure/counts.h"

#define FAULTS_MAX 16 /* in one set */

struct fault_set {
    struct edits edits; /* owned by the arena given */
    const char *words;  /* the set in its canonical words: sorted, joined by " + " */
    const char **each;  /* [n] the faults one by one, canonical words */
    uint32_t n;
    bool regulator_shut; /* `stick REGULATOR at shut`: no limit on line */
};

/** Reads a fault expression. Words: block, leak, resize, lose, seat, unseat, stick, wear, break, unplug, weaken,
 * misadjust; several joined by " + ", order never matters.
 *  @return false with the reasons in d (BAD_FAULT, UNKNOWN_NAME, FAULTS_CLASH, ... without a place, the message quotes
 * the word). */
bool faults_read(const char *expression, const struct network *n, struct arena *a, struct fault_set *out,
                 struct diags *d);

/* One thing that a fault changes in a state, against the same state healthy. */
enum change_what {
    CHANGE_SETTLED,
    CHANGE_GEAR,
    CHANGE_ACTUATOR,
    CHANGE_VALVE,
    CHANGE_CONDITION,
    CHANGE_REACH,
    CHANGE_LIMIT,
    CHANGE_CROSS_LEAK,
    CHANGE_SOLVED,   /* pressures could be calculated in one of the two only */
    CHANGE_PRESSURE, /* at a tap or a device: over 5 % and 3 psi */
    CHANGE_FILL,     /* of a device: over 25 % */
    CHANGE_DRAIN,
    CHANGE_DAMPING /* of a valve */
};
struct change {
    enum change_what what;
    struct part_ref subject;     /* the passage, actuator, valve; PART_NONE for gear and settled */
    feed_ix feed;                /* CHANGE_REACH */
    valve_ix limiting;           /* CHANGE_LIMIT: the limiting valve */
    uint32_t hole;               /* CHANGE_DAMPING: the orifice that calmed the valve */
    const char *was, *now;       /* words; arena */
    double was_value, now_value; /* CHANGE_PRESSURE: Pa, NAN closed; CHANGE_FILL, CHANGE_DRAIN: m3/s; else NAN */
};
struct effect {
    struct change *rows; /* [n] in order of importance: gear, devices, valves, limits, cross-leaks, pressures, fill and
                          * drain, damping, reach, conditions */
    uint32_t n;
};

/** The difference by structure between case `c` of a faulty trace and the same state of the healthy one (whose only set
 * is empty). Texts and rows lie in the arena. */
void effect_find(const struct trace *healthy, const struct trace *faulty, uint32_t c, struct arena *a,
                 struct effect *out);

/** The same by the answer that counts. @param p pressures of the case's set, or NULL: by structure */
void effect_find_pressed(const struct trace *healthy, const struct trace *faulty, const struct pressed *p, uint32_t c,
                         struct arena *a, struct effect *out);
#endif
