/* Which answer counts: the pressure's where the model is sized and the state's solve converged, else the structure's.
 * Conditions, feeds and `past` are always the structure's. */
#ifndef PRESSURE_COUNTS_H
#define PRESSURE_COUNTS_H
#include "pressure/pressure.h"

/* Solved states of one set of a trace, beside that trace. NULL for all of it: by structure alone. */
struct pressed {
    const struct pressures *now;     /* [n_states]; a state that was not asked for is as pressures_init() left it */
    const struct pressures *healthy; /* [n_states] the same without faults; `now` itself when there are none */
};

/** The solution of a state; NULL: by structure alone, not asked for, or not converged. */
const struct pressures *pressed_state(const struct pressed *p, uint32_t state);

/** True when the state was asked for and its solve failed. */
bool pressed_failed(const struct pressed *p, uint32_t state);

/** Gear, device and valve that count in a settled case; `p` NULL: by structure. Words are borrowed. */
const struct gear_answer *counts_gear(const struct trace_case *c, const struct pressures *p);
enum device counts_device(const struct trace_case *c, const struct pressures *p, uint32_t actuator);
const char *counts_device_word(const struct trace_case *c, const struct pressures *p, uint32_t actuator);
/** Where a valve stands by pressure: a limiting valve that is closed is `shut` where structure says so (its reaction
 * end is fed from elsewhere), and else limits. */
enum valve_position counts_position(const struct trace *t, uint32_t row, const struct pressures *p, valve_ix v);
const char *counts_valve_word(const struct trace *t, uint32_t row, const struct pressures *p, valve_ix v);
/** True when counts_position() tells where the valve stands; else the structure's answer counts: without `p`, of a
 * manual valve, and of a spool that structure leaves undetermined and whose forces are not known. */
bool counts_by_pressure(const struct trace *t, uint32_t row, const struct pressures *p, valve_ix v);

/** True when a healthy orifice is the only way to a valve's end and the edit opens it or a way beside it: the spool has
 * lost its damping, which no steady pressure shows. @param hole, valve out */
bool damping_lost(const struct network *n, const struct edit *e, uint32_t *hole, valve_ix *valve);

/** Appends a pressure in the user's unit with three digits, "115 psi"; what no gauge shows is "0 psi"; NAN: "closed
 * off". */
void pressure_add(struct text *t, double pressure, const struct units *u);
/** The pressure with the digits of pressure_add(), in Pa, however small; NAN stays NAN. */
double pressure_rounded(double pressure, const struct units *u);

#define FLOW_SHOWN_LEAST                                                                                               \
    1.7e-8 /* m3/s, a thousandth of a litre a minute: less is the tie-break of closed ways, no flow */
/** Appends a flow in the user's unit with three digits, "4.71 L/min"; under FLOW_SHOWN_LEAST "next to nothing". */
void flow_rate_add(struct text *t, double flow, const struct units *u);

/** The time in s that a device takes to fill or to drain its `volume` at a steady rate: volume / flow. It is no time of
 * a shift: pressures and valves move during one.
 * @param flow m3/s, `fill` or `drain` of struct pressures
 * @return NAN: it has no volume, or the flow is NAN; INFINITY: the flow is under FLOW_SHOWN_LEAST */
double device_seconds(const struct actuator *d, double flow);
/** Marks the nodes that drain by way of a shuttle: how fast a device there drains depends on where the ball rests, so
 * that only the ratio to healthy is worth telling. The way is looked for through holes and joints, not past valves.
 * @param nodes out, [n_nodes] */
void shuttle_drains_find(const struct network *n, uint8_t *nodes);
/** Appends a time of device_seconds() with two digits, "in 0.091 s"; INFINITY: "hardly at all". Not for NAN. */
void seconds_add(struct text *t, double seconds);
#endif
