/* Pieces that the effects of faults, sweeps and comparisons of two models are made from. */
#ifndef FAULTS_EFFECT_H
#define FAULTS_EFFECT_H
#include "faults/faults.h"

/* Does a limiting valve still hold a circuit that is `limited_by` it? */
enum limit_answer { LIMIT_HELD, LIMIT_MAY_EXCEED, LIMIT_OVER };
extern const char *const limit_answer_words[];

/** Judges a circuit with a `limited_by` in one settled case. */
enum limit_answer limit_answer(const struct trace *t, uint32_t c, const struct circuit *circuit);

/* Changes while they are being found. */
struct change_list {
    struct change *rows;
    size_t n, cap;
};

/** Adds a change whose feed, limiting valve and values are none yet. Borrowed until the next one is added. */
struct change *change_list_add(struct change_list *l, enum change_what what, enum part_kind kind, uint32_t i,
                               const char *was, const char *now);

/** Copies the list into the arena and empties it. */
void change_list_take(struct change_list *l, struct arena *a, struct effect *out);

/** "second", or "unsure (second or none)". In the arena or static. */
const char *gear_answer_words(const struct model *m, const struct gear_answer *g, struct arena *a);

/** "115 psi" in the model's unit, in the arena. */
const char *pressure_words(const struct model *m, double pressure, struct arena *a);

/** True when a pressure (NAN: closed, counts as 0) has moved by more than 5 % of what it was and 3 psi: less is no
 * news. */
bool pressure_shifted(double was, double now);

/** How many times faster (above 0) or slower (below 0) a device fills or drains, to two digits; 0: not at all. NAN: the
 * change is no news (up to 25 %), one of the two is not known, or there was next to none. */
double rate_factor(double was, double now);

/** x above 0 to two digits. */
double two_digits(double x);

/** True of a fill so slow that the device is as good as off, whatever pressure it has in the end: from 20 times slower.
 * Common practice, no source: a shift takes well under a second. */
bool fill_is_useless(double factor);

/** "2.9 times faster", "1.6 times slower", "hardly at all" (1,000 times slower), "not at all", in the arena or static.
 */
const char *rate_words(double factor, struct arena *a);

/** Adds a pressure at tap or device i of a model, in its words, where it has shifted. Pa; NAN: closed. */
void pressure_change_add(struct change_list *l, const struct model *m, enum part_kind kind, uint32_t i, double was,
                         double now, struct arena *a);

/** True when a tap added from row `first` on shows the same two pressures to the digit: a device's need no telling. */
bool tap_tells(const struct change_list *l, size_t first, const struct model *m, double was, double now,
               struct arena *a);

/** Adds how fast device i fills or drains (m3/s), where that is news. @param was_words what it is held against */
void rate_change_add(struct change_list *l, enum change_what what, uint32_t i, double was, double now,
                     const char *was_words, struct arena *a);

/** Appends what only pressures show in case `c`: shifts at taps and devices, rates of fill and drain, damping lost.
 * Words lie in the arena. */
void effect_pressures(const struct trace *healthy, const struct trace *faulty, uint32_t c, const struct pressures *was,
                      const struct pressures *now, struct arena *a, struct change_list *out);

/** True when what the edit adds is a leak between a passage that is fed and one that is not, in a settled case. */
bool leak_is_active(const struct trace *t, uint32_t c, const struct edit *e, passage_ix *fed, passage_ix *other);
#endif
