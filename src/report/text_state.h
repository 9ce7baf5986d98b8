/* Pieces that several text reports share: the head of a report, a state's first line, what is unsure and why. */
#ifndef REPORT_TEXT_STATE_H
#define REPORT_TEXT_STATE_H
#include "report/answer.h"

/** "heron-4: Heron 4 four-speed unit, with leak H130 into ...". */
void say_heading(struct text *t, const struct view *v, const struct answer *a);

/** "drive_2: second, as commanded", with a sentence on what it means on the road where it is not. */
void say_state(struct text *t, const struct view *v, const struct answer *a, state_ix s);

/** What the gear that is obtained means for the driver, a sentence; "" when it is the one commanded or none is
 * commanded. */
const char *gear_road(uint32_t commanded, const struct gear_answer *gear, const struct model *m);

/** The gears that are possible where the answer is unsure. */
void say_possible(struct text *t, const struct view *v, const struct model *m, const struct gear_answer *gear);

/** Valves, balls and devices whose answer is open, each with the reason; nothing when all is sure.
 *  @param solved pressures tell where valves and balls are; only what oil locked in may do is then open */
void say_unsure(struct text *t, const struct view *v, const struct trace *trace, uint32_t c, bool solved);

/** What an effect does to the oil, a folded line for each sentence, with the circuits that it holds for.
 *  @param plain two models are compared: neither of them is the healthy one */
void say_oil(struct text *t, const struct view *v, const struct model *m, const struct effect *e, bool plain);

/** The trace's lines about one state: sources, devices, valves and taps, with pressures where they were solved. */
void say_sources(struct text *t, const struct view *v, const struct answer *a, state_ix s);
void say_devices(struct text *t, const struct view *v, const struct answer *a, state_ix s);
void say_valves(struct text *t, const struct view *v, const struct answer *a, state_ix s);
void say_taps(struct text *t, const struct view *v, const struct answer *a, state_ix s);

/** Appends " 89 to 90 psi" for passages of one circuit in a solved state; nothing for drained ones without pressure. */
void add_range(struct text *t, const struct view *v, const struct answer *a, state_ix s, const passage_ix *passages,
               uint32_t n);

/** By which answer a report goes, and how far its figures may be trusted. */
void say_basis(struct text *t, const struct view *v, const struct answer *a);

/** What a fault does to pressures, as sentences of a list; `what` chooses the kind of change. */
void say_shifts(struct text *t, const struct view *v, const struct model *m, const struct effect *e);
void say_rates(struct text *t, const struct view *v, const struct model *m, const struct effect *e);

/** How many of the states asked for give none, a tie-up, another gear than commanded, or cannot tell. */
uint32_t states_with_wrong_gear(const struct answer *a);
#endif
