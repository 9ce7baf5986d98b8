/* A model as oil sees it: passages that are one are merged to nodes, and everything that oil can cross is an element.
 * READ THIS HEADER SECOND, after model/model.h. A network is built once from a model and never changes; which elements
 * conduct in one state under one fault is said by a state of the model and a list of edits, and worked out by trace/
 * (structure) and later pressure/ (sizes). This folder knows "remove an element" and "add an element"; fault words live
 * in faults/. */
#ifndef NETWORK_NETWORK_H
#define NETWORK_NETWORK_H
#include "base/text.h"
#include "model/model.h"

ROW(element_ix);

/* What an element is a piece of. */
enum element_kind { ELEMENT_JOINT, ELEMENT_HOLE, ELEMENT_VALVE, ELEMENT_SOLENOID, ELEMENT_ADDED };

/* When an element conducts. */
enum opens {
    OPENS_ALWAYS,
    OPENS_IN_DETENT,   /* manual valve: `when` has a bit for each detent */
    OPENS_IN_POSITION, /* spool: `when` bit 0 at rest, bit 1 stroked */
    OPENS_UNLESS_SHUT, /* the window of a limiting valve */
    OPENS_NEVER,       /* the exhaust of a limiting valve: only pressure opens it */
    OPENS_WITH_SOURCE, /* a regulator's also_feeds: while its source is on */
    OPENS_IF_STUCK,    /* a relief valve: shut by structure unless stuck or broken open */
    OPENS_IN_SHARE,    /* solenoid: `when` bit 0 off, bit 1 on, bit 2 in between */
    OPENS_BY_SEAT      /* hole under a shuttle: unless the ball shuts it */
};

struct element {         /* whatever oil can cross: joint, screen, hole, valve window, solenoid window, leak */
    passage_ix from, to; /* oil also runs to -> from, unless one_way */
    enum strength strength;
    bool one_way;
    double diameter; /* m, equivalent hole; NAN where the model gives none */
    enum element_kind kind;
    struct part_ref part; /* the part that it belongs to; kind PART_NONE for what a fault added */
    uint32_t ports[2];    /* rows in the part's ports of from and to (valve, solenoid); else NONE */
    enum opens opens;
    uint32_t mover; /* OPENS_IN_POSITION: row in spools; _UNLESS_SHUT, _NEVER: in limits; _BY_SEAT: in seats */
    uint64_t when;
    struct span where; /* the YAML that made it, so that every message can point there */
};

struct spool { /* a valve whose position the trace finds */
    valve_ix valve;
    bool sized;       /* forces in N; else each fed end counts 1 and the spring 0.5 */
    double threshold; /* preload + rate x travel / 2, N; unsized: 0.5 */
};
struct limit { /* a limiting valve */
    valve_ix valve;
    element_ix window;  /* supply to outlet */
    element_ix exhaust; /* outlet to exhaust, or NONE */
};
struct seat { /* one of the two seats of a shuttle */
    ball_ix ball;
    element_ix element; /* the hole, from its inlet to the pocket; oil passes both ways while the seat is open */
    passage_ix inlet, pocket;
    uint32_t other; /* the other seat of the same ball */
};

/* The elements at one node. Sorted by strength, strongest first. */
struct arc {
    uint32_t node;   /* at the other end */
    uint32_t packed; /* mask << 6 | switched (32) | strength << 2 | may leave (2) | may enter (1) this node */
};
#define ARC_MASK(a)     ((a).packed >> 6) /* element; or n_elements + seat: a shuttle's hole out of the pocket */
#define ARC_STRENGTH(a) ((enum strength)((a).packed >> 2 & 7u))
#define ARC_SWITCHED(a) ((a).packed & 32u) /* the element does not always conduct */
#define ARC_LEAVES(a)   ((a).packed & 2u)  /* oil may run from this node to arc.node */
#define ARC_ENTERS(a)   ((a).packed & 1u)  /* oil may run from arc.node to this node */
#define ELEMENTS_MAX    (1u << 26)

struct edge {          /* an element reduced to what a linear pass over all of them needs */
    uint32_t from, to; /* nodes */
    uint32_t mask;     /* as in an arc */
    uint32_t one_way;
};

struct network {
    const struct model *model; /* borrowed; must outlive the network */
    bool apart; /* lossless joints stand as elements of their own (to block one) instead of merging nodes */
    struct element *elements; /* [n_elements]; the same rows whether apart or not */
    uint32_t n_elements;
    uint32_t *node_of;   /* [n_passages] */
    uint32_t n_nodes;    /* node 0 holds sump */
    uint32_t *first_arc; /* [n_nodes + 1] */
    struct arc *arcs;
    struct edge *by_strength[5]; /* elements of each strength whose ends are two nodes, in file order; a hole under a
                                  * shuttle counts twice, once each way, for a ball between seats is first asked with
                                  * holes inward only */
    uint32_t n_by_strength[5];
    struct spool *spools;
    uint32_t n_spools;
    struct limit *limits;
    uint32_t n_limits;
    struct seat *seats;
    uint32_t n_seats;
    uint32_t *joint_element;    /* [n_joints] */
    uint32_t *hole_element;     /* [n_holes]; a bridge's second element follows it */
    uint32_t *valve_element;    /* [n_valves + 1] first element of each valve; elements of a valve stand together */
    uint32_t *solenoid_element; /* [n_solenoids + 1] likewise */
    uint32_t *mover_of;         /* [n_valves] row in spools or limits, NONE for the other kinds */
};

/** Builds the network of a model. @param apart see above.  Caller releases with network_release(). */
void network_build(const struct model *m, bool apart, struct network *out);
void network_release(struct network *n);

/* What a fault does to a network, in one scenario. */
enum edit_kind {
    EDIT_REMOVE,       /* element */
    EDIT_RESIZE,       /* element gets diameter and strength; it conducts when it did */
    EDIT_ADD,          /* a new element from -> to with strength, diameter, one_way */
    EDIT_FREE_BALL,    /* ball: its seats are no longer moved by oil (lost, or stuck on one) */
    EDIT_PIN,          /* valve stays at position: spool SPOOL_REST/_STROKED, manual a detent, others PIN_* */
    EDIT_BREAK_SPRING, /* valve */
    EDIT_SOLENOID,     /* solenoid keeps share 0 or 1 (in `value`) */
    EDIT_BOTH_DETENTS, /* manual valve: in states set to `position` or `position2` the windows of both are open */
    EDIT_WEAKEN,       /* source feed: capacity `value`, m3/s; nothing by structure */
    EDIT_BLOCK_END     /* spool or limiting valve: the end at port `position` pushes with 0 by pressure; nothing by
                        * structure */
};
enum { PIN_OPEN = 0, PIN_SHUT = 1 }; /* EDIT_PIN of limiting (open: wide), regulating and relief valves */

struct edit {
    enum edit_kind kind;
    element_ix element;
    passage_ix from, to;
    enum strength strength;
    bool one_way;
    double diameter; /* m, NAN: none */
    ball_ix ball;
    valve_ix valve;
    solenoid_ix solenoid;
    feed_ix feed;
    uint32_t position, position2;
    double value;
    struct part_ref part; /* the part that the fault names, for reports and drawings; PART_NONE for a plain leak */
};
struct edits {         /* one set of faults; empty: healthy */
    struct edit *rows; /* [n] */
    uint32_t n;
    bool splits_joint; /* some edit removes a lossless joint: needs a network built apart */
};

/** "plate hole H22", "valve shift_a (ports in and out)", "solenoid sol_a", "leak": an element in words, escaped for a
 * terminal. */
void element_words(const struct network *n, const struct element *e, struct text *t);

/** The ID by which a user would name the element: "H22", "shift_a", "sol_a", "leak". Borrowed. */
const char *element_id(const struct network *n, const struct element *e);
#endif
