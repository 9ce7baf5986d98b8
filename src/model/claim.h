/* Claims: the one grammar of `expect`, `when` and of what a user says was seen.
 *   line  = STATE ":" claim { "and" claim }       STATE: an ID, `any` (one will do) or `every`
 *   claim = [ "not" ] what                        see README for `what` */
#ifndef MODEL_CLAIM_H
#define MODEL_CLAIM_H
#include "model/model.h"

enum claim_what {
    CLAIM_CONDITION,  /* THING condition [pressure] */
    CLAIM_PRESSURE,   /* THING pressure */
    CLAIM_POSITION,   /* VALVE position */
    CLAIM_GEAR,       /* gear gearword */
    CLAIM_SWITCH,     /* SWITCH closed | open */
    CLAIM_REACHED_BY, /* THING reached by FEED */
    CLAIM_RATE,       /* ACTUATOR fills | drains above | below NUMBER x healthy */
    CLAIM_AIR         /* air at PASSAGE leaves at ELEMENT, ... */
};
enum claim_condition {
    CLAIM_FED,
    CLAIM_EXHAUSTED,
    CLAIM_PARTIAL,
    CLAIM_TRAPPED,
    CLAIM_APPLIED,
    CLAIM_RELEASED,
    CLAIM_SLIPPING
};
enum claim_pressure { PRESSURE_NONE, PRESSURE_BELOW, PRESSURE_ABOVE, PRESSURE_BETWEEN };
enum claim_position {
    CLAIM_REST,
    CLAIM_STROKED,
    CLAIM_PART_WAY,
    CLAIM_WIDE,
    CLAIM_LIMITING,
    CLAIM_SHUT,
    CLAIM_OPEN,
    CLAIM_DETENT
};
#define GEAR_NONE   UINT32_MAX
#define GEAR_TIE_UP (UINT32_MAX - 1)

struct claim {
    enum claim_what what;
    bool negated;
    bool some;               /* `some CIRCUIT`: one passage will do, else every one */
    struct part_ref subject; /* a THING: passage, tap, actuator, circuit; or the valve, switch */
    enum claim_condition condition;
    enum claim_pressure pressure; /* PRESSURE_NONE with CLAIM_CONDITION alone */
    double low, high;             /* Pa: below high; above low; between both, inclusive */
    enum claim_position position;
    uint32_t detent; /* row in the manual valve's positions */
    uint32_t gear;   /* row in gears, GEAR_NONE or GEAR_TIE_UP */
    bool closed;     /* switch */
    feed_ix feed;
    bool fills, above; /* rate */
    double times;      /* x healthy */
    passage_ix air_at;
    struct part_ref *leaves_at; /* [n_leaves] */
    uint32_t n_leaves;
};

enum claim_states { IN_STATE, IN_ANY, IN_EVERY };
struct claims { /* one line: all joined by `and` */
    enum claim_states in;
    state_ix state; /* with IN_STATE */
    struct claim *rows;
    uint32_t n_rows;
    const char *text; /* as written: "drive_2: second applied" */
    struct span where;
};

/** Reads one line "STATE: claim and claim". `where` is the place of its first character, used for errors.
 *  @return false with the reason in d. Texts and rows lie in the arena `a`. */
bool claims_read(const char *line, size_t n, struct span where, const struct model *m, struct arena *a,
                 struct claims *out, struct diags *d);
#endif
