/* Inner to pressure/: one case as a system of equations. */
#ifndef PRESSURE_PROBLEM_H
#define PRESSURE_PROBLEM_H
#include "pressure/laws.h"
#include "pressure/matrix.h"
#include "pressure/pressure.h"
#include "trace/conduct.h"

/* What opens and shuts flows: its opening u depends on pressures. */
enum mover_kind { MOVER_SPOOL, MOVER_LIMIT, MOVER_EXHAUST, MOVER_RELIEF, MOVER_SEAT, MOVER_ALSO_FEEDS };
#define KINKS_MAX 4
struct mover {
    enum mover_kind kind;
    uint32_t row; /* spool, limit, valve (relief), seat, source (also_feeds) of the network or problem */
    bool never;   /* stays at `at` whatever the pressures: stuck, broken, or not sized */
    bool held;    /* stays there for now */
    double at;    /* u where the laws are evaluated */
    double value; /* u at the present pressures */
    uint32_t first_term, n_terms;
    double offset;           /* u = offset + sum of weight x pressure; also_feeds: see mover_value() */
    double kinks[KINKS_MAX]; /* [n_kinks] rising: where a share that depends on it has a corner */
    uint32_t n_kinks;
};
struct term {
    uint32_t unknown;
    double weight; /* du/dp, 1/Pa */
};

/* How a flow's share depends on its mover. */
enum share_by {
    SHARE_ALWAYS,
    SHARE_OPENS,     /* clamp(u) */
    SHARE_REST,      /* a spool's window at rest */
    SHARE_STROKED,   /* one when stroked */
    SHARE_OUTWARD,   /* a shuttle's hole: free from a to b, clamp(u) from b to a */
    SHARE_WHILE_SHUT /* a worn shuttle's seat: 1 - clamp(u) */
};
enum law { LAW_OPENING, LAW_GAP };

/* Something that passes oil from a to b. */
struct flow {
    uint32_t a, b; /* unknowns; NONE: sump */
    enum law law;
    bool one_way; /* from a to b only */
    enum share_by share_by;
    uint32_t mover; /* or NONE */
    double lap;
    double share;            /* constant factor: 0 where it does not conduct at all, a solenoid's share of time */
    double gain, transition; /* of struct opening; LAW_GAP: gain is the conductance */
    double at;               /* pressure difference where the law is evaluated */
    uint32_t element;        /* row in the network, or NONE */
    uint32_t added;          /* row in pressures.added_flow, or NONE */
    uint32_t first_slot; /* in problem.slots: (a,a) (a,b) (b,a) (b,b), then (a,t) (b,t) for each term of the mover */
};

struct source_row {
    feed_ix feed;
    uint32_t node;    /* unknown of its pressure, NONE: its passage is sump */
    uint32_t unknown; /* of its flow */
    bool on;
    double setting;       /* Pa, INFINITY: stuck shut, gives its capacity */
    double base, at_most; /* regulated: setting = base + terms */
    bool regulated, clamped;
    uint32_t first_term, n_terms;
    double capacity;     /* m3/s, INFINITY */
    uint32_t slots[3];   /* (node, flow) (flow, node) (flow, flow) */
    uint32_t first_slot; /* in problem.slots: (flow, term) for each term */
};

#define BOUND_MORE 1e3 /* Pa: how far the bound lies above all that gives pressure */

struct problem {
    const struct network *network;
    const struct scene *scene;
    const struct trace *trace;
    uint32_t c;
    struct oil oil;
    uint32_t *unknown_of; /* [n_passages] NONE: sump */
    uint32_t n_nodes;     /* unknowns that are pressures; then the sources' flows */
    uint32_t n;           /* all unknowns */
    double *weight;       /* [n_nodes] passages in each */
    passage_ix *passage;  /* [n_nodes] the first of them */
    double leakdown;
    struct flow *flows;
    uint32_t n_flows, cap_flows, n_base_flows; /* those behind n_base_flows are what edits add */
    struct mover *movers;
    uint32_t n_movers, cap_movers;
    struct term *terms;
    uint32_t n_terms, cap_terms;
    struct source_row *sources;
    uint32_t n_sources;
    uint32_t n_added;
    uint32_t *spool_mover, *limit_mover, *exhaust_mover, *seat_mover; /* rows in movers, NONE */
    uint32_t *valve_mover;                                            /* [n_valves] relief and regulating */
    double bound;                                                     /* Pa: no pressure lies above */
    double highest;                                                   /* Pa: highest setting */
    /* what assembly needs */
    struct matrix *matrix; /* borrowed */
    uint32_t *slots;       /* positions of entries in the matrix */
    uint32_t n_slots, cap_slots;
    uint32_t *diagonal; /* [n] */
    uint8_t *pinned;    /* [n] 1: its row says x = target */
    double *target;     /* [n] */
    /* the state of a solve */
    double *x;          /* [n] */
    double *rest;       /* [n] imbalance: into the passage, m3/s */
    double *step;       /* [n] */
    double smoothing;   /* Pa: least transition of all openings */
    double capacitance; /* m3 per Pa and passage, over the time step: m3/(s Pa); 0: steady */
    double *answer;     /* [n] x of the solution that counts */
    double pace;        /* m3/(s Pa): how fast sources' flows follow in a time step; 0: at once */
    double *x_before;   /* [n] x at the beginning of a time step */
    uint32_t n_steps;
    struct arena arena; /* owns all of the above but matrix */
};

/** Makes the problem of a case. With `shared` the entries of the matrix are looked up there, and when they do not all
 * lie in it *fits is false: make the matrix anew with problem_pattern().  @param scene must outlive the problem */
void problem_build(const struct trace *t, uint32_t c, const struct scene *scene, struct problem *out);
void problem_release(struct problem *p);

/** Lists the (row, column) pairs that the problem needs, flows' in the order of their slots. */
void problem_entries(const struct problem *p, struct entries *out);

/** Looks the slots up; false: the matrix lacks some. */
bool problem_attach(struct problem *p, struct matrix *m);

/** The network's and model's sizes for one element; NAN diameters become the assumed ones. */
double element_size(const struct network *n, const struct element *e);

/* ---- balance.c */

/** Present value of a mover's opening; brings the weights of its terms up to date. */
double mover_value(const struct problem *p, struct mover *m);
/** All movers' values and the regulated sources' settings. */
void movers_update(struct problem *p);
/** Fills rest (and the matrix) by the laws linearised where each flow and mover is evaluated. */
void balance_assemble(struct problem *p);
/** Moves the points of evaluation to the present pressures, each past one corner at most. @return true when all of them
 * got there. @param exact true: go all the way */
bool balance_follow(struct problem *p, bool exact);
/** Moves the points of evaluation all the way and makes `rest` the true imbalance. */
void balance_find(struct problem *p);
/** The flow of one flow at its point of evaluation, m3/s from a to b. */
double flow_now(const struct problem *p, const struct flow *f);
/** True when the flow conducts: share above 0 and no seated ball. */
bool flow_conducts(const struct problem *p, const struct flow *f);
/** Marks in closed [n_nodes] what nothing conducting joins to a source or to sump. */
void closed_find(const struct problem *p, uint8_t *closed);

/* ---- newton.c */
struct newton_end {
    bool converged;
    double imbalance, last_step;
    uint32_t worst; /* unknown */
    bool stable;    /* no odd number of disturbances grows */
};
enum newton_care {
    ROUGH,   /* between levels of smoothing and inside time steps */
    FIRM,    /* the statement of convergence holds */
    POLISHED /* and further, until printed digits stay the same whatever the start */
};
/** Newton steps from the present x and points of evaluation. */
struct newton_end newton_run(struct problem *p, unsigned n_max, enum newton_care care);

/* ---- continuation.c, euler.c */
/** Newton from the present x with movers held as they are; x need not be near. */
struct newton_end held_newton(struct problem *p, enum newton_care care);
/** Solves with movers held as they are, smoothing from 1e6 Pa down; with `warm` first straight from the present x. */
struct newton_end held_solve(struct problem *p, bool warm, enum newton_care care);
/** Implicit Euler steps from the present x, then Newton. @param paced sources take time as well */
struct newton_end euler_solve(struct problem *p, bool paced);

/* ---- warm.c */
/** Keeps a solution. @param x [n]  @param rest [n] what is left of its balances, or NULL  @param a owns it */
struct warm_start *warm_give(const struct problem *p, const double *x, const double *rest, struct arena *a);
/** Makes x what was kept. */
void warm_take(struct problem *p, const struct warm_start *w);
/** Makes x what a solution [n] would become if it changed as the one that was kept: x = solution + (to - from). */
void warm_shift(struct problem *p, const struct warm_start *from, const struct warm_start *to, const double *solution);
/** After warm_take(): true when the kept solution solves this problem just as well, for every balance of it is what it
 * was, so nothing that differs between the two cases matters there. Both must hold the same. */
bool warm_holds(struct problem *p, const struct warm_start *w);

/* ---- roots.c */
/** Holds spools and seats where they stand, or releases them. */
void movers_hold(struct problem *p, bool hold);
struct start {                     /* where movers stand */
    double *at;                    /* [n_movers] */
    const struct warm_start *warm; /* where to begin, or NULL: at the present x where `begun`, else cold */
    bool begun;
    const struct warm_start *first_warm; /* with `first` */
    const double *first; /* [n] the held solution of the case's own start, to which first_warm belongs as
                          * `warm` to this one; NULL: not known */
    double *held;        /* [n] out: the solution with all of them held */
    double *rest;        /* [n] out: what is left of its balances; NULL: not wanted */
    double *ends;        /* [n_movers] out: where they stand in the solution that it led to */
};
/** Solves from the positions of a start. @param tried out, bits */
struct newton_end start_solve(struct problem *p, const struct start *s, unsigned *tried);
/** Solves a start with everything held. @return true: it then implies the spools' positions of `known`, all at their
 * ends, so it leads to the solution that those led to. */
bool start_leads_to(struct problem *p, const struct start *s, const struct start *known);
/** Releases what start_leads_to() held, and goes on. */
struct newton_end start_release(struct problem *p, const struct start *s, unsigned *tried);
#endif
