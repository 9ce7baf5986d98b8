/* Inner to trace/: which devices are on, and the gear that they give. */
#ifndef TRACE_GEAR_H
#define TRACE_GEAR_H
#include "trace/trace.h"

/** Is a device on, by the conditions of its apply and release passages (release: EXHAUSTED where it has none)? */
enum applied device_applied(enum condition apply, enum condition release);

/* The gears that are possible, collected over alternatives: [n_gears] gears, then none, then tie-up. */
struct gear_names {
    const struct model *model;
    uint8_t *counts; /* [n_actuators] 1: named in gears, 2: named in clash */
    uint8_t *tried;  /* [n_actuators] room for gear_find() */
};

/** Looks up which devices gears and clashes name; in the arena. */
void gear_names_find(const struct model *m, struct arena *a, struct gear_names *out);

/** Marks in possible [n_gears + 2] every gear that the devices [n_actuators] may give. */
void gear_find(const struct gear_names *g, const uint8_t *applied, uint8_t *possible);

/** The answer from the marks; its list lies in the arena. */
struct gear_answer gear_answer_make(const struct model *m, const uint8_t *possible, struct arena *a);
#endif
