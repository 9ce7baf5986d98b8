/* Steady pressures and flows of one case of a trace: one state under one set of faults. READ AFTER trace/trace.h.
 *
 * The unknowns are the pressure of each passage (gauge; sump = 0; passages joined without loss share one) and the flow
 * of each source. The balance: what flows into a passage sums to zero. Each element passes oil by a law of laws.h;
 * spools, limiting valves, relief valves and shuttles move with the pressures, so their windows belong to the balance
 * too.
 *
 *   case of a trace --problem.c--> a problem: flows, movers, sources         (what can pass oil, what opens it)
 *   problem --balance.c--> imbalance of each passage, and its slopes         (one assembly)
 *           --matrix.c---> a step                                            (KLU)
 *           --newton.c---> a solution, or where it stalled
 *   roots.c: held where the trace left everything, then released; also from all spools at rest and all stroked
 *   answers.c: positions, devices and gear by pressure.   fill.c: how fast devices fill and drain.
 *
 * Passages that nothing conducting joins to a source or to sump are closed: they have no pressure (NAN, never 0).
 * A solve that does not converge says so in struct solve_end and gives no pressures. Everything is deterministic. */
#ifndef PRESSURE_PRESSURE_H
#define PRESSURE_PRESSURE_H
#include "base/arena.h"
#include "trace/trace.h"

/* How a solve ended. */
enum solve_why {
    SOLVE_CONVERGED,
    SOLVE_NOT_SETTLED, /* the trace gives no positions to start from (or was not asked for this case) */
    SOLVE_NO_LIMIT,    /* a regulator is stuck shut and nothing else bounds line: no number */
    SOLVE_STALLED,     /* nothing that was tried converged */
    SOLVE_UNSTABLE     /* only a root was found that a small disturbance leaves */
};
enum {                    /* what was tried: bits */
       TRIED_HELD = 1,    /* spools and seats held where the trace left them */
       TRIED_NEWTON = 2,  /* everything released at once */
       TRIED_STEPS = 4,   /* implicit Euler steps in time, then Newton */
       TRIED_REST = 8,    /* from all spools at rest */
       TRIED_STROKED = 16 /* from all spools stroked */
};
struct solve_end {
    bool converged;
    enum solve_why why;
    unsigned tried;   /* TRIED_* bits */
    uint32_t n_steps; /* linear systems solved */
    double imbalance; /* m3/s, the largest of any passage */
    double last_step; /* Pa, the largest of the last full Newton step */
    passage_ix worst; /* the passage with the largest imbalance; NONE before anything was solved */
};

/* Position of a valve by pressure. */
enum valve_position {
    POSITION_REST,
    POSITION_PART_WAY,
    POSITION_STROKED, /* spools */
    POSITION_WIDE,
    POSITION_LIMITING,
    POSITION_SHUT,       /* limiting; SHUT also relief */
    POSITION_OPEN,       /* relief that passes oil, regulating stuck open */
    POSITION_REGULATING, /* regulating valve */
    POSITION_DETENT      /* manual valve: the trace's detent */
};
enum device { DEVICE_RELEASED, DEVICE_APPLIED, DEVICE_SLIPPING }; /* the values of enum applied */

struct source_answer {
    double pressure; /* Pa at its passage; NAN: off */
    double flow;     /* m3/s, NAN: off */
    double setting;  /* Pa that it would hold */
    double capacity; /* m3/s, INFINITY: no limit */
    bool limited;    /* gives all its capacity and does not hold its setting */
};

/* Another stable answer of the same case. */
struct solution {
    double *pressure; /* [n_passages] as below */
    double *travel;   /* [n_valves] as below */
    unsigned from;    /* TRIED_HELD, TRIED_REST or TRIED_STROKED: the start that leads to it */
};

/* Inner: where the solve of a case near this one may begin. */
struct warm_start {
    double *x;    /* [n_passages] Pa, then [n_feeds] m3/s: a solution */
    double *rest; /* the same rows: what is left of its balances, m3/s; NULL: not known */
};

/* All that is known of one case. Where `end.converged` is false only `end` holds. */
struct pressures {
    struct solve_end end;
    double *pressure;   /* [n_passages] Pa, gauge; NAN: closed */
    double *travel;     /* [n_valves] spool: share of its travel; limiting, relief, regulating: open share; else NAN */
    uint8_t *position;  /* [n_valves] enum valve_position */
    double *flow;       /* [n_elements] m3/s from `from` to `to`; 0 for what is shut or removed */
    double *added_flow; /* [n_added] the same of what edits add or resize, in the order of the edits */
    uint32_t n_added;
    struct source_answer *sources; /* [n_feeds]; derived feeds: NAN */
    uint8_t *device;               /* [n_actuators] enum device */
    double *device_pressure;       /* [n_actuators] Pa at its apply passage, a closed one 0 */
    double *fill, *drain;          /* [n_actuators] m3/s; NAN: not asked for, or not in this state */
    struct gear_answer gear;
    struct solution *solutions; /* [n_solutions] others than the one above */
    uint32_t n_solutions;
    struct warm_start *warm[3];    /* what each start (the case's own, rest, stroked) led to with everything held;
                                    * NULL: not solved */
    struct warm_start *warm_end;   /* the solution above; NULL: begun warm, or without fill */
    struct warm_start **warm_fill; /* [n_actuators] each device's fill or drain; NULL: not solved, or begun warm */
    struct arena arena;
};

/* A size that the model leaves open and the solver assumes. */
enum assumed_size {
    ASSUMED_WINDOW,    /* hole, window or relief: 6 mm */
    ASSUMED_BLEED,     /* 2 mm */
    ASSUMED_CLEARANCE, /* bore and land of a valve that a fault wears: 12 mm, 6 mm; value: the bore */
    ASSUMED_APPLIES_AT /* 30 psi */
};
struct assumed {
    enum assumed_size what;
    struct part_ref part;
    double value; /* m, or Pa for applies_at */
};

/** A model is sized when any of its elements has a size: only then do pressures count. */
bool network_is_sized(const struct network *n);

/** Lists what is assumed for the model's parts, each part once, in file order, and then for what edits (may be NULL)
 * add. Caller frees *rows with mem_free(). */
uint32_t sizes_assumed(const struct network *n, const struct edits *edits, struct assumed **rows);

/** Keeps what cases of one network share: the pattern of the balance and its symbolic analysis. Not to be shared
 * between threads. */
struct solver;
struct solver *solver_new(const struct network *n); /* n is borrowed and must outlive the solver; caller frees */
void solver_free(struct solver *s);
/** Linear systems solved so far, and analyses made: for --verbose and the bench. */
uint64_t solver_n_steps(const struct solver *s);
uint32_t solver_n_analyses(const struct solver *s);

enum {
    SOLVE_FILL = 1 /* also fill and drain of each device */,
    SOLVE_ONE_START = 2 /* look for no second solutions */
};

/** Solves one case.
 * @param c row of the case in the trace (whose network is the solver's)
 * @param warm a solution near this one, such as the healthy one of the same state, or NULL: it makes a solve shorter
 * and never decides which root is found
 * @param after how the state that this one follows ended under the same faults, or NULL: its travels are the start
 * @param out filled; the caller inits it before and releases it after. */
void pressure_solve(struct solver *s, const struct trace *t, uint32_t c, unsigned how, const struct pressures *warm,
                    const struct pressures *after, struct pressures *out);

/** Solves states of one set of a trace, each after the one that it follows.
 * @param wanted [n_states] states whose solution is needed, or NULL: all; those that they follow are solved too
 * @param healthy [n_states] for warm starts, or NULL
 * @param out [n_states], all inited by the caller; a state that was not solved is as pressures_init() left it */
void pressure_solve_states(struct solver *s, const struct trace *t, uint32_t set, unsigned how, const uint8_t *wanted,
                           const struct pressures *healthy, struct pressures *out);

void pressures_init(struct pressures *p);
void pressures_release(struct pressures *p);

/** "rest", "part-way", "limiting", ...; a manual valve's word is its detent: ask trace_valve_word(). */
const char *position_word(enum valve_position p);
/** The apply pressure in Pa from which device d is on, with its release passage at the pressure that a gives. */
double device_needs(const struct actuator *d, const struct pressures *a);
/** "applied", "released", "slipping". */
const char *device_word(enum device d);
/** "converged", "nothing that was tried converged", ...: for messages. */
const char *solve_why_words(enum solve_why w);
#endif
