/* One fault, read but not yet compiled. Inside faults/ only. */
#ifndef FAULTS_FAULT_H
#define FAULTS_FAULT_H
#include "faults/faults.h"
#include "faults/kinds.h"

#define FAULT_BYTES_MAX 65536u /* of one fault expression */
#define FAULT_WORDS_MAX 16u    /* of one fault; the longest form has seven */

struct fault {
    enum fault_kind kind;
    struct part_ref part; /* joint, hole, ball, valve, solenoid or actuator; PART_NONE: `leak A into B`, `weaken` */
    hole_ix hole;         /* seat and unseat: whose seat */
    uint32_t ports[2];    /* block and wear: rows in the valve's ports, or NONE */
    passage_ix from, to;  /* leak */
    uint32_t position;    /* stick: detent, SPOOL_* or PIN_*; a solenoid: 0 off, 1 on; misadjust: a detent */
    uint32_t position2;   /* misadjust: the other detent */
    feed_ix feed;         /* weaken */
    double size;          /* m (weaken: m3/s); NAN where none was given */
    const char *words;    /* canonical words; arena */
};

/* One fault as the user's words, and where to say what is wrong with it. */
struct fault_text {
    const char *whole;  /* the fault as written, cut to a length that a message can hold */
    const char **words; /* [n], NUL-terminated */
    uint32_t n, at;     /* words, and the next one to read */
    const struct model *model;
    const struct network *network;
    struct arena *arena;
    struct diags *d;
};

/** Reads one fault, canonical words included; false with the reason in t->d. */
bool fault_read(struct fault_text *t, struct fault *out);

/** Says each pair of faults that exclude each other; true when there is none. */
bool faults_agree(const struct fault *faults, uint32_t n, const struct model *m, struct diags *d);

/** Turns faults into edits; the rows lie in the arena. */
void faults_compile(const struct fault *faults, uint32_t n, const struct network *network, struct arena *a,
                    struct fault_set *out);

/** The pairs of neighbouring ports of a valve in bore order that lie on two passages; pairs must hold n_ports rows. */
uint32_t valve_neighbours(const struct valve *v, uint32_t (*pairs)[2]);

/** The passage on the far side of a ball's seat, where the hole comes from. */
passage_ix seat_inlet(const struct model *m, ball_ix ball, hole_ix hole);
#endif
