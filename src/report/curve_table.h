/* Reports of what arrives as one quantity varies. */
#ifndef REPORT_CURVE_TABLE_H
#define REPORT_CURVE_TABLE_H
#include "faults/curve.h"
#include "report/answer.h"

void text_curve(struct text *t, const struct view *v, const struct answer *a, const struct curve *c);
void json_curve(struct text *t, const struct view *v, const struct answer *a, const struct curve *c);

/** The rows, and at each change a row more, whose last column says it. */
void csv_curve(struct text *t, const struct view *v, const struct answer *a, const struct curve *c);

/** The same as an SVG picture, one line a column, told apart by colour and by dashes. */
void plot_curve(struct text *t, const struct view *v, const struct answer *a, const struct curve *c);

/** A pressure as people read it: to the 10 Pa that a converged solve is good for. */
double curve_rounded(double pressure);

/** True where a gear is lost on the way, or is not the one that the state commands: the caution of gears applies. */
bool curve_wrong_gear(const struct answer *a, const struct curve *c);

/** Appends the heading of the list of changes, or the sentence where there is none to list. */
void curve_list_head(struct text *t, const struct curve *c);

/** Appends where a change lies: "at 1.09 mm", the first value at which it was found, or "between 1 mm and 1.1 mm". */
void curve_place(struct text *t, const struct curve *c, const struct curve_event *e, const struct units *u);
#endif
