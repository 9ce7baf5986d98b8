/* Pieces of a fault's effect that both one fault's words and sweeps are made from. Inside faults/ only. */
#ifndef FAULTS_EFFECT_H
#define FAULTS_EFFECT_H
#include "faults/faults.h"

/* Does a limiting valve still hold a circuit that is `limited_by` it? */
enum limit_answer { LIMIT_HELD, LIMIT_MAY_EXCEED, LIMIT_OVER };
extern const char *const limit_answer_words[];

/** Judges a circuit with a `limited_by` in one settled case. */
enum limit_answer limit_answer(const struct trace *t, uint32_t c, const struct circuit *circuit);

/** True when what the edit adds is a leak between a passage that is fed and one that is not, in a settled case. */
bool leak_is_active(const struct trace *t, uint32_t c, const struct edit *e, passage_ix *fed, passage_ix *other);
#endif
