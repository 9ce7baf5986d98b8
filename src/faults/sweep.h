/* Every single fault, or every pair of faults, that a model can have, in every state: what each does, and how bad it
 * is. A sweep is cut into jobs that do not depend on each other and whose answers are plain bytes, so that processes
 * and machines may share them; what comes out depends neither on the order of the jobs nor on who did them. */
#ifndef FAULTS_SWEEP_H
#define FAULTS_SWEEP_H
#include "base/text.h"
#include "faults/faults.h"

/* How bad an effect is, worst first, as a rebuilder would rank it. By structure nothing slips or drags and no gauge
 * reads otherwise; by pressure a gear is unsure because something slips or drags. */
enum sweep_rank {
    SWEEP_TIE_UP,         /* two devices that fight each other */
    SWEEP_NO_DRIVE,       /* a gear is asked for, and no gear or a neutral one comes */
    SWEEP_DRIVES_UNASKED, /* no gear is asked for, and one comes */
    SWEEP_WRONG_GEAR,
    SWEEP_SLIP, /* a device of a gear should be on and holds in part only, or fills too slowly to hold */
    SWEEP_DRAG, /* the same of one that should be off */
    SWEEP_GEAR_UNSURE,
    SWEEP_NO_ANSWER, /* the state does not settle, or its pressures could not be calculated */
    SWEEP_DEVICE,    /* off and should be on, or the other way, or unsure; the gear is right */
    SWEEP_OVER_LIMIT,
    SWEEP_VALVE,
    SWEEP_PRESSURE, /* at a tap or a device */
    SWEEP_RATE,     /* a device fills or drains otherwise, a valve loses its damping */
    SWEEP_CIRCUIT,  /* oil in circuits, limits that may be exceeded */
    SWEEP_CROSS_LEAK,
    SWEEP_NOTHING,
    N_SWEEP_RANKS
};

/* What a pair does in a state, against the worse of its two faults alone. */
enum sweep_news { SWEEP_WORSE, SWEEP_OTHER, SWEEP_MILDER, N_SWEEP_NEWS };

/* One thing that changes. Rows are of the model's tables. */
struct sweep_change {
    uint32_t what;     /* enum change_what; conditions and reach are of circuits here, not of passages */
    uint32_t kind;     /* pressure: enum part_kind of its subject, a tap or an actuator; else 0 */
    uint32_t subject;  /* actuator, valve, circuit, tap; cross-leak: the passage leaked into; else NONE */
    uint32_t of;       /* reach: feed; limit: limiting valve; cross-leak: the passage that is fed; damping: hole */
    uint32_t was, now; /* gear: answer; actuator: enum applied; valve: set of positions or detent; limit: enum
                        * limit_answer; condition, reach: enum, or SWEEP_MIXED; by pressure SWEEP_PRESSED is added: enum
                        * device, enum valve_position */
    double was_value, now_value; /* pressure: Pa as pressure_rounded() has it; fill, drain: 1 and rate_factor() */
};
#define SWEEP_MIXED   UINT32_MAX
#define SWEEP_PRESSED 0x100u

struct sweep_state { /* one state in which something changes (pairs: changes otherwise than both faults alone) */
    uint32_t state;
    uint32_t rank;      /* enum sweep_rank */
    uint32_t news;      /* enum sweep_news; 0 of single faults */
    uint32_t n_changes; /* its changes follow those of the states before it */
};

struct sweep_record {
    uint32_t first, second; /* rows of the faults; second NONE: a single fault */
    uint64_t effect[2];     /* fingerprint of every difference in every state listed; zero: nothing shows */
    uint32_t n_states;      /* 0 while the fingerprint is not zero: an equal effect was told by an earlier record */
    const struct sweep_state *states; /* [n_states] borrowed from the bytes read */
    const struct sweep_change *changes;
};

struct sweep_counts {
    uint64_t n_sets, n_excluded;        /* examined; pairs that exclude each other */
    uint64_t n_cases, n_not_settled;    /* sets times states asked for */
    uint64_t n_not_solved;              /* cases whose pressures were asked for and could not be calculated */
    uint64_t n_news_sets, n_news_cases; /* pairs whose effect is not the union of both */
    uint64_t n_apart;                   /* cases of pairs of which that was known without settling them */
    uint64_t n_rounds, n_words, n_repacked, n_expanded, n_fallbacks;
};

struct sweep_wanted {
    bool pairs;
    unsigned kinds;         /* bits of enum fault_kind, 0: all; of both faults of a pair */
    const char *part;       /* only this part's faults, of a pair at least one; NULL: all */
    const state_ix *states; /* [n_states] in file order */
    uint32_t n_states;
};

struct sweep;

/** Lists the faults and prepares; of pairs it also traces every single fault. Everything given is borrowed. Caller
 * releases with sweep_close().
 * @param healthy a trace of the merged network without edits
 * @param pressures [n_states] its solutions, with fill and drain, at least of the states wanted; NULL: a sweep by
 * structure, as every sweep of pairs is */
struct sweep *sweep_open(const struct network *n, const struct trace *healthy, const struct pressures *pressures,
                         const struct sweep_wanted *wanted);
void sweep_close(struct sweep *s);

/** The faults, in the order of their rows: words as a user would write them. Borrowed. */
uint32_t sweep_faults(const struct sweep *s);
const char *sweep_fault_words(const struct sweep *s, uint32_t row);

/** The network that was given. */
const struct network *sweep_network(const struct sweep *s);

/** How many jobs there are, and which sets one does, in words for a message. */
uint64_t sweep_jobs(const struct sweep *s);
void sweep_job_words(const struct sweep *s, uint64_t job, struct text *out);

/** Does one job and appends its answer, bytes for sweep_counts_read() and sweep_record_read() of the same program. */
void sweep_job(struct sweep *s, uint64_t job, struct text *out);

/** Adds the counts that begin an answer of n bytes. @return the place behind them. */
size_t sweep_counts_read(const char *answer, size_t n, struct sweep_counts *sum);

/** Reads the record at *at and moves on; false at the end. */
bool sweep_record_read(const char *answer, size_t n, size_t *at, struct sweep_record *out);

/** "second", "released", "slipping", "stroked", "over", "fed", "mixed", "115 psi", "2.9 times faster", ...: a change's
 * two values in words, as `whatif` has them. Borrowed, or in the arena. */
const char *sweep_was(const struct network *n, const struct sweep_change *c, struct arena *a);
const char *sweep_now(const struct network *n, const struct sweep_change *c, struct arena *a);

/** "tie-up", "no-drive", ...: names for machine formats, and back (N_SWEEP_RANKS, N_SWEEP_NEWS: none). */
const char *sweep_rank_id(enum sweep_rank rank);
enum sweep_rank sweep_rank_find(const char *id);
const char *sweep_news_id(enum sweep_news news);
enum sweep_news sweep_news_find(const char *id);
#endif
