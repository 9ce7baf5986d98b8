/* What structure alone tells: where oil goes, state by state, healthy or with faults. READ THIS HEADER THIRD.
 *
 * The trace is a switch-level evaluation (R. E. Bryant, "A switch-level model and simulator for MOS digital systems",
 * IEEE Trans. Computers C-33, 1984, is the published relative): sources and sump are the roots, elements have one of
 * four strengths, and from the strongest level to the weakest each passage takes what reaches it first: feed, exhaust,
 * or both (a fight that only sizes decide). Shuttles, limiting valves and spools then move, and conditions are found
 * anew, until nothing moves.
 *
 * A case is one set of edits in one state. All cases of a run are evaluated side by side, one bit each ("lanes",
 * trace/pack.h); a single trace is the same code with the states as lanes. */
#ifndef TRACE_TRACE_H
#define TRACE_TRACE_H
#include "network/network.h"

enum condition { TRAPPED, EXHAUSTED, FED, PARTIAL, UNSURE };
enum certainty { CERTAIN_NO, CERTAIN_MAY, CERTAIN_YES };
enum applied { RELEASED, APPLIED, APPLY_UNSURE };

/* Positions that a valve or a seat may have, as a set: more than one bit is undetermined (a seat: doubtful). */
enum { MAY_REST = 1, MAY_STROKED = 2 };             /* spools */
enum { MAY_WIDE = 1, MAY_LIMIT = 2, MAY_SHUT = 4 }; /* limiting valves */
enum { SEAT_OPEN = 1, SEAT_SHUT = 2 };              /* seats of shuttles */

#define DOUBTFUL_MAX                                                                                                   \
    8u /* elements in doubt whose combinations are all evaluated; beyond, whatever they reach is unsure */

/* The gear that the devices give. */
struct gear_answer {
    uint32_t gear;      /* row in gears, GEAR_ANSWER_NONE, GEAR_ANSWER_TIE_UP or GEAR_ANSWER_UNSURE */
    uint32_t *possible; /* [n_possible] with UNSURE: gears in file order, then NONE, TIE_UP */
    uint32_t n_possible;
};
#define GEAR_ANSWER_NONE   UINT32_MAX
#define GEAR_ANSWER_TIE_UP (UINT32_MAX - 1)
#define GEAR_ANSWER_UNSURE (UINT32_MAX - 2)

struct trace_case {       /* one set of edits in one state */
    bool asked;           /* false: not evaluated, see trace_run_some() */
    bool settled;         /* false: no answer; only the commanded gear is known */
    uint8_t *positions;   /* [n_spools + n_limits + n_seats] sets of positions; in this order */
    uint8_t *restless;    /* [same] 1: part of a race, 2: hunting; such an element was pinned as undetermined */
    uint8_t *second_feed; /* [n_limits] 1: its reaction passage has a feed that does not come through its outlet */
    uint8_t *applied;     /* [n_actuators] enum applied */
    uint8_t *locked;      /* [n_actuators] 1: drains when healthy, trapped under the fault; then spools: [n_spools] */
    double *relief_estimate; /* [n_valves] Pa, estimated pressure at a relief valve's inlet, 0 where there is none; NULL
                                without relief valves */
    struct gear_answer gear;
};

struct trace {
    const struct network *network; /* borrowed; the trace must be released first */
    const struct edits *sets;      /* [n_sets] borrowed */
    uint32_t n_sets;
    uint32_t n_states;           /* all states of the model, in file order */
    struct trace_case *cases;    /* [n_sets * n_states], set by set */
    struct trace_planes *planes; /* conditions, reach and past as planes of bits: ask by the functions below */
    struct arena arena;
    /* for --verbose and the bench */
    uint64_t n_rounds, n_words, n_repacked, n_expanded, n_fallbacks;
};

/** Evaluates every set of edits in every state. Needs a network built apart when a set splits a joint.
 *  @param sets [n_sets] borrowed, must outlive the trace.
 *  @param healthy a trace of the same model without edits, to find what is locked; NULL when these sets are all empty.
 * The network of `healthy` may be built otherwise (apart or not).
 *  @param out caller releases with trace_release().  Cannot fail: a case that does not settle says so. */
void trace_run(const struct network *n, const struct edits *sets, uint32_t n_sets, const struct trace *healthy,
               struct trace *out);

/** The same for some cases only, and what they come `after`.
 *  @param wanted [n_sets * n_states] by trace_case(); NULL: all. Of the others nothing may be asked but `asked`, which
 * is false. */
void trace_run_some(const struct network *n, const struct edits *sets, uint32_t n_sets, const uint8_t *wanted,
                    const struct trace *healthy, struct trace *out);
void trace_release(struct trace *t);

/** Row of a case. */
static inline uint32_t trace_case(const struct trace *t, uint32_t set, state_ix state)
{
    return set * t->n_states + state.i;
}

/** Answers for one passage in one settled case (row `c` by trace_case()). */
enum condition trace_condition(const struct trace *t, uint32_t c, passage_ix p);
enum certainty trace_reach(const struct trace *t, uint32_t c, feed_ix f, passage_ix p);

/** Is the passage reached past limiting valve row `limit` of network.limits? */
enum certainty trace_past(const struct trace *t, uint32_t c, uint32_t limit, passage_ix p);

/** True when the strongest route past limit `limit` to the passage is weaker than `open`: an exhaust on the valve
 * holds. */
bool trace_past_is_weak(const struct trace *t, uint32_t c, uint32_t limit, passage_ix p);

/** Set of positions of a spool or limiting valve (MAY_* bits), 0 for the other kinds. */
unsigned trace_valve(const struct trace *t, uint32_t c, valve_ix v);

/** Detent of a manual valve in a case: the state's, or where a fault sticks it. */
uint32_t trace_detent(const struct trace *t, uint32_t c, valve_ix v);

/** Does the element conduct in the case: surely, maybe (through doubt), or not? Elements added by edits are not in the
 * network: see trace_added(). A one-way element that conducts says yes. */
enum certainty trace_conducts(const struct trace *t, uint32_t c, element_ix e);

/** Elements that the edits of the case add (leaks, resized copies, ...), as rows of struct element, in the edits'
 * order. Caller frees *rows with mem_free(). A resized element shows here and no longer in trace_conducts(). Those that
 * do not conduct are left out. */
uint32_t trace_added(const struct trace *t, uint32_t c, struct element **rows);

/** The set of settings of a source in a case, Pa (regulated: its base); 0: off, also when a fault puts it off. */
double trace_setting(const struct trace *t, uint32_t c, feed_ix source);

/** "fed", "exhausted", "partial", "trapped", "unsure". */
const char *condition_word(enum condition c);

/** "rest", "wide", "undetermined", "D", ...: a valve's position in words for a case. Borrowed. */
const char *trace_valve_word(const struct trace *t, uint32_t c, valve_ix v);

/** "applied", "released", "unsure". */
const char *applied_word(enum applied a);

/** ID of the gear, or "none", "tie-up", "unsure". Borrowed. */
const char *gear_word(const struct model *m, uint32_t gear);
#endif
