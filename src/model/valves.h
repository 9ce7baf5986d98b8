/* What the files that read valves, solenoids and the states that set them share. Inside model/ only. */
#ifndef MODEL_VALVES_H
#define MODEL_VALVES_H
#include "model/read.h"

/* The kind of a valve or solenoid whose `kind` is missing or wrong, while a model is read: whatever uses it is
 * no error too.
 */
#define VALVE_UNREAD    ((enum valve_kind)(VALVE_RELIEF + 1))
#define SOLENOID_UNREAD ((enum solenoid_kind)(SOLENOID_DUTY + 1))

#define POSITIONS_MAX 64 /* of a manual valve: what opens in each is kept as a bit (network.h: element.when) */

/* One valve while it is read. */
struct valve_reading {
    struct reader *r;
    const struct node *key, *map;
    const char *entry; /* "valve shift_a" */
    struct valve *v;
    uint32_t *by_name; /* [v->n_ports] rows of ports in the order of their names */
    bool ports_good;   /* every port has its name and passage */
    bool name_unread;  /* the name of a port could not be read */
};

/** Adds a port; the passage is read from `passage`. */
bool valve_add_port(struct valve_reading *b, const struct node *name, const struct node *passage, bool sump_allowed);

/** To be called when all ports are there: sorts their names, refuses a port whose "VALVE.PORT" is an ID. */
bool valve_end_ports(struct valve_reading *b);

/** Row of the port that the node names, or NONE: UNKNOWN_NAME, unless a port could not be read. */
uint32_t valve_read_port(struct valve_reading *b, const struct node *node, const char *what);

/** `plug`, `along`, `clearance`; NULL where they are not there. `spring_end`: `plug: spring` may be said. */
bool valve_read_plug(struct valve_reading *b, const struct node *plug, bool spring_end);
bool valve_read_along(struct valve_reading *b, const struct node *along);
bool valve_read_clearance(struct valve_reading *b, const struct node *clearance);

/** A share as a bare number (0.1) or in per cent (10 %), not above `most`. */
bool valve_read_share(struct reader *r, const struct node *node, const char *entry, double most, double *out);

/** The node of a key among what read_keys() gave. */
const struct node *valve_node(const struct key *keys, size_t n, const struct node *const *values, const char *name);

/** read_limits.c: the kinds with named ports. */
bool read_limiting(struct valve_reading *b);
bool read_regulating(struct valve_reading *b);
bool read_relief(struct valve_reading *b);
#endif
