/* A model: what one file (or a base and its variants) says about a unit, checked and with every name resolved.
 * READ THIS HEADER FIRST. It is what all other folders stand on; nothing in it knows YAML, and nothing in it changes
 * after model_read(): a fault, a state or a solver never edits a model (see network/network.h, the second header).
 *
 * A model is a handful of tables. A row points at other rows by index, each kind of row with an index type of its own,
 * so the compiler refuses a hole where a passage is meant. Row 0 of `passages` is `sump`: atmosphere, the pan, every
 * exhaust. Units are SI: Pa, m, m2, m3, m3/s, N, N/m, K. NAN means: the model does not say. Order is the file's. */
#ifndef MODEL_MODEL_H
#define MODEL_MODEL_H
#include "base/diag.h"
#include "base/source.h"
#include "base/units.h"
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define NONE UINT32_MAX /* no row */
#define ROW(kind)                                                                                                      \
    typedef struct {                                                                                                   \
        uint32_t i;                                                                                                    \
    } kind
ROW(layer_ix);
ROW(circuit_ix);
ROW(passage_ix);
ROW(joint_ix);
ROW(hole_ix);
ROW(ball_ix);
ROW(valve_ix);
ROW(solenoid_ix);
ROW(actuator_ix);
ROW(feed_ix);
ROW(gear_ix);
ROW(state_ix);
#define SUMP ((passage_ix){0})

/* What every entry of the file has. */
struct part {
    const char *id;
    const char *title; /* or NULL */
    const char *note;  /* or NULL */
    struct span where; /* its ID in the file */
    double odds;       /* prior odds of a fault here against the usual, default 1 */
    double cd;         /* discharge coefficient, NAN: the law's own */
};

/* What an ID of the first namespace names. */
enum part_kind {
    PART_NONE,
    PART_PASSAGE,
    PART_JOINT,
    PART_HOLE,
    PART_BALL,
    PART_VALVE,
    PART_SOLENOID,
    PART_ACTUATOR,
    PART_TAP,
    PART_SWITCH,
    PART_CIRCUIT
};

/* How easily oil passes. A path is as strong as its weakest element. */
enum strength {
    STRENGTH_LEAK,
    STRENGTH_ORIFICE,
    STRENGTH_OPEN,
    STRENGTH_MAIN,
    STRENGTH_JOINED /* one and the same passage */
};

enum layer_kind { LAYER_CASTING, LAYER_PLATE };
struct layer { /* in stacking order */
    struct part part;
    enum layer_kind kind;
};

struct circuit { /* an oil that a rebuilder names; `under`'s values are already inherited */
    struct part part;
    circuit_ix under; /* or NONE */
    bool any_feed;    /* no `fed_by` given or inherited: any feed may reach it */
    feed_ix *fed_by;  /* [n_fed_by] feeds that may */
    uint32_t n_fed_by;
    valve_ix limited_by;  /* limiting valve that its oil must have passed, or NONE */
    bool flows;           /* fed and drained at once by design */
    passage_ix *passages; /* [n_passages] of this very circuit, in file order */
    uint32_t n_passages;
};

struct ring { /* a closed polygon: xy is [2 n], m, x then y */
    double *xy;
    uint32_t n;
};
struct outline {
    struct ring *rings; /* [n] or NULL */
    uint32_t n;
};

struct passage {
    struct part part;
    layer_ix layer;     /* NONE for sump */
    circuit_ix circuit; /* NONE for sump */
    double volume;      /* m3 */
    struct outline outline;
};

struct joint { /* an open connection that is no plate hole, or a screen */
    struct part part;
    bool screen;
    passage_ix joins[2];
    double diameter; /* m; NAN: lossless, its two passages are one node */
    bool strength_given;
    enum strength strength; /* as given, else MAIN */
};

struct hole {
    struct part part;
    layer_ix plate;
    passage_ix joins[2];        /* one may be SUMP */
    passage_ix bridges;         /* a second passage on one side that it opens into, or NONE (layout) */
    double diameter;            /* m */
    double equivalent_diameter; /* m, for an outline that is no circle; `hole_diameter()` gives what counts */
    double at[2];               /* m, NAN: not given */
    struct outline outline;
    bool orifice;
    bool strength_given;
    enum strength strength; /* OPEN, ORIFICE by `orifice: true`, or as given */
    passage_ix *leaks_to;   /* [n_leaks_to] neighbours that a bad seal would reach */
    uint32_t n_leaks_to;
    struct span leaks_where;
    ball_ix ball; /* the check ball that seats on it, or NONE */
};

struct ball { /* one seat: oil may enter the pocket through the hole, not leave by it; two seats: a shuttle */
    struct part part;
    uint32_t n_seats; /* 1 or 2 */
    hole_ix seats_on[2];
    passage_ix lies_in; /* the pocket */
};

enum valve_kind { VALVE_MANUAL, VALVE_SPOOL, VALVE_LIMITING, VALVE_REGULATING, VALVE_RELIEF };

struct port { /* limiting: supply, outlet, reaction, exhaust; regulating: from, to; relief: inlet, outlet */
    const char *name;
    passage_ix passage;
    struct span where;
};
struct window { /* rows in the valve's ports */
    uint32_t a, b;
    struct span where;
};
struct position { /* manual: a detent; spool: row 0 is rest, row 1 stroked */
    const char *name;
    struct window *windows; /* [n_windows] open in it */
    uint32_t n_windows;
    struct span where;
};
#define SPOOL_REST    0u
#define SPOOL_STROKED 1u
struct end { /* where pressure pushes a spool */
    uint32_t port;
    int pushes;  /* +1: towards stroked, -1: towards rest */
    double area; /* m2 */
    struct span where;
};
struct boost {
    passage_ix from;
    double gain;
};
#define PLUG_NONE   UINT32_MAX
#define PLUG_SPRING (UINT32_MAX - 1) /* the bore plug closes the spring's end */

struct valve {
    struct part part;
    enum valve_kind kind;
    struct port *ports; /* [n_ports], in written order */
    uint32_t n_ports;
    struct position *positions; /* [n_positions] manual and spool */
    uint32_t n_positions;
    double window_diameter; /* m: spool, manual; also open_diameter of a limiting, diameter of a relief valve */
    struct end *ends;       /* [n_ends] spool */
    uint32_t n_ends;
    bool has_spring;
    double preload, rate; /* N, N/m */
    double area;          /* m2, reaction area of a limiting valve */
    double travel;        /* m */
    double lap;           /* share of travel, 0 by default */
    uint32_t plug;        /* a port, PLUG_SPRING or PLUG_NONE */
    uint32_t *along;      /* [n_along] ports in bore order: `along`, else the order of `ports` */
    uint32_t n_along;
    bool has_clearance;
    double bore, gap, land, eccentricity;       /* m, m, m, share */
    uint32_t supply, outlet, reaction, exhaust; /* limiting: rows in ports; exhaust may be NONE */
    double limit, droop; /* Pa, share of the limit: as written, else from spring, area and travel; droop else 0.05 */
    bool limit_given, droop_given;
    feed_ix source;       /* regulating: the source whose pressure it sets */
    bool also_feeds;      /* regulating: ports 0 (from) and 1 (to) are given */
    bool sets;            /* regulating: `sets` is given */
    double base, at_most; /* Pa */
    struct boost *plus;   /* [n_plus] */
    uint32_t n_plus;
    double cracks_at; /* Pa, relief: inlet is port 0, outlet port 1 */
};

enum solenoid_kind { SOLENOID_BLEED, SOLENOID_THREE_WAY, SOLENOID_DUTY };
struct solenoid { /* bleed: ports a, b; the others: supply, output, exhaust */
    struct part part;
    enum solenoid_kind kind;
    bool off_passes; /* bleed: normally open; three-way and duty: output on supply when off (normally high) */
    struct port *ports;
    uint32_t n_ports;
    double diameter; /* m */
    bool strength_given;
    enum strength strength;
};

enum actuator_kind { ACTUATOR_CLUTCH, ACTUATOR_BAND, ACTUATOR_ACCUMULATOR, ACTUATOR_CONVERTER };
struct actuator {
    struct part part;
    enum actuator_kind kind;
    passage_ix apply;
    passage_ix release;              /* or NONE */
    double applies_at;               /* Pa */
    double volume;                   /* m3 */
    double apply_area, release_area; /* m2 */
    bool has_spring;
    double preload, rate; /* N, N/m */
    double seal;          /* m, as `seal` gives it */
};

struct feed { /* sources first, then feeds derived from them, upstream first */
    struct part part;
    bool is_source;
    passage_ix passage; /* `into` of a source, `from` of a derived feed */
    double capacity;    /* m3/s, NAN: no limit */
};

struct tap {
    struct part part;
    passage_ix on;
};
struct pressure_switch {
    struct part part;
    passage_ix on;
    double closes_at; /* Pa */
};

struct gear {
    struct part part;
    actuator_ix *on; /* [n_on] */
    uint32_t n_on;
    actuator_ix *either; /* [n_either] may be on or off */
    uint32_t n_either;
};
struct clash {
    actuator_ix pair[2];
    struct span where;
};

struct source_setting {
    double pressure; /* Pa; 0: off */
    bool regulated;  /* pressure is then the regulator's base */
    double capacity; /* m3/s: the state's, else the feed's, else NAN */
    struct span where;
};
struct claims; /* model/claim.h */
struct state {
    struct part part;
    uint32_t *detents;              /* [n_valves] row in positions; NONE where the valve is not manual */
    double *shares;                 /* [n_solenoids] 0 off .. 1 on */
    struct source_setting *sources; /* [n_feeds]; derived feeds: pressure NAN */
    gear_ix gear;                   /* commanded, or NONE */
    struct span gear_where;
    state_ix after;        /* or NONE */
    double temperature;    /* K, the fluid's where the state sets none */
    struct claims *expect; /* [n_expect] in file order */
    uint32_t n_expect;
};
struct symptom {
    struct part part;
    struct claims *when; /* [n_when] */
    uint32_t n_when;
};
struct accept { /* a finding that the modeler knows and accepts */
    enum code code;
    const char *at;
    const char *why;
    struct span where;
};
struct cost {
    const char *what; /* kind of test, or the ID of a part */
    double cost;
    struct span where;
};

/* In a unit stacked from the parts of several models: an opening without its counterpart in the part that it meets.
 * It is in no other table. */
struct blank {
    enum part_kind kind;   /* PART_HOLE, PART_JOINT: a passage is missing; PART_BALL: the hole that it seats on */
    const char *id, *file; /* the opening, and the model that it comes from */
    const char *wanted;    /* what is missing */
    const char *layer, *layer_file; /* where, and the model of that layer; NULL: the stack has no such layer */
    const char *other;              /* what the opening meets on its other side; a ball: its pocket */
    struct span where, layer_where;
};
struct seam { /* in a stack: holes of a plate that meet a casting of another model, joined by their names only */
    const char *plate, *file;
    const char *others; /* the castings' models */
    uint32_t n_holes;
    struct span where; /* of the plate in the stack */
};

struct fluid {
    double density;     /* kg/m3 */
    double t[2], nu[2]; /* K, m2/s: two points of the viscosity line */
    double temperature; /* K */
};

struct model {
    struct arena arena; /* owns everything below */
    const char *id, *title, *note;
    struct span where;  /* of `model:` */
    const char *file;   /* name of the file that was asked for */
    struct units units; /* of that file, for printing */
    struct fluid fluid;
    double leakdown; /* m3/s per Pa */

    /* clang-format off */
    struct layer *layers;       uint32_t n_layers;
    struct circuit *circuits;   uint32_t n_circuits;
    struct passage *passages;   uint32_t n_passages;   /* row 0: sump */
    struct joint *joints;       uint32_t n_joints;     /* joints, then screens */
    struct hole *holes;         uint32_t n_holes;
    struct ball *balls;         uint32_t n_balls;
    struct valve *valves;       uint32_t n_valves;
    struct solenoid *solenoids; uint32_t n_solenoids;
    struct actuator *actuators; uint32_t n_actuators;
    struct feed *feeds;         uint32_t n_feeds;
    struct tap *taps;           uint32_t n_taps;
    struct pressure_switch *switches; uint32_t n_switches;
    struct gear *gears;         uint32_t n_gears;
    struct clash *clashes;      uint32_t n_clashes;
    struct state *states;       uint32_t n_states;
    struct symptom *symptoms;   uint32_t n_symptoms;
    struct accept *accepts;     uint32_t n_accepts;
    struct cost *costs;         uint32_t n_costs;
    struct blank *blanks;       uint32_t n_blanks;     /* of a stack */
    struct seam *seams;         uint32_t n_seams;      /* of a stack */
    /* clang-format on */

    bool has_layout;
    const char *seen_from;
    double land, fit; /* m, layout */

    struct names *names; /* for model_find() */
};

/** Reads a model with all that it extends. Everything wrong is in d, in one run.
 *  @param files out, the files read, for excerpts and for refusing to write over them; the caller inits and releases it
 *         after the model.
 *  @return NULL once d holds an error of this model; else the model, freed by model_free(). */
struct model *model_read(const char *path, struct sources *files, struct diags *d);
void model_free(struct model *m);

struct part_ref {
    enum part_kind kind;
    uint32_t i; /* row in the table of that kind */
};

/** The part with this ID in the namespace of passages, elements and devices; kind PART_NONE when there is none. */
struct part_ref model_find(const struct model *m, const char *id, size_t n);

/** Rows by ID in the other namespaces, NONE where there is none. */
feed_ix model_feed(const struct model *m, const char *id, size_t n);
gear_ix model_gear(const struct model *m, const char *id, size_t n);
state_ix model_state(const struct model *m, const char *id, size_t n);

/** The ID of any part. Borrowed. */
const char *model_id(const struct model *m, struct part_ref ref);
struct span model_where(const struct model *m, struct part_ref ref);

/** The ID nearest to a wrong one among all of the first namespace (with `kind` PART_NONE) or of one kind; NULL: none is
 * near. */
const char *model_nearest(const struct model *m, enum part_kind kind, const char *id);

/** Words of the trade for a kind: "passage", "plate hole", "check ball", "shuttle" is up to the caller. */
const char *part_kind_word(enum part_kind kind);

/** The diameter that counts for flow: equivalent_diameter where given, else diameter; NAN where neither is. */
double hole_diameter(const struct hole *h);

/** A port by name, or NONE. */
uint32_t valve_port(const struct valve *v, const char *name, size_t n);

/** True when the port is an end: its pressure pushes the spool, as that of a limiting valve's reaction does. */
bool valve_port_is_end(const struct valve *v, uint32_t port);

/** True when every end has an area and the spool has a spring: its forces can be balanced in newtons. */
bool valve_is_sized(const struct valve *v);

/** "main", "open", "orifice", "leak". */
const char *strength_word(enum strength s);

/** The strength of a leak or of a resized element: open from 2.5 mm, orifice from 0.6 mm, else leak; NAN counts as 0.5
 * mm. */
enum strength strength_of_size(double diameter);
#endif
