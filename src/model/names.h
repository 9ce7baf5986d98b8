/* Names of a model, by namespace. Inside model/ only. A slot is 8 bytes and holds no text: the ID is the one that the
 * named row carries, so that a million names cost no second copy. */
#ifndef MODEL_NAMES_H
#define MODEL_NAMES_H
#include "model/model.h"
#include "model/tree.h"

/* What a name can name: the kinds of model.h's first namespace, then those with a namespace of their own. Each kind has
 * a table in struct model whose rows begin with struct part. */
enum name_kind {
    NAME_NONE = PART_NONE,
    NAME_PASSAGE = PART_PASSAGE,
    NAME_JOINT = PART_JOINT,
    NAME_HOLE = PART_HOLE,
    NAME_BALL = PART_BALL,
    NAME_VALVE = PART_VALVE,
    NAME_SOLENOID = PART_SOLENOID,
    NAME_ACTUATOR = PART_ACTUATOR,
    NAME_TAP = PART_TAP,
    NAME_SWITCH = PART_SWITCH,
    NAME_CIRCUIT = PART_CIRCUIT,
    NAME_FEED,
    NAME_GEAR,
    NAME_STATE,
    NAME_SYMPTOM,
    NAME_LAYER,
    N_NAME_KINDS
};

enum space {
    SPACE_PARTS,    /* (a) passages, elements, devices, taps, switches, circuits */
    SPACE_SETTINGS, /* (b) what a state sets: manual valves, solenoids, sources; the keys of states are refused there */
    SPACE_FEEDS,
    SPACE_GEARS,
    SPACE_STATES,
    SPACE_SYMPTOMS,
    SPACE_LAYERS,
    N_SPACES
};

struct name_slot {
    uint32_t hash;
    uint32_t ref; /* kind and row; all bits set: empty */
};
struct name_table {
    struct name_slot *slots; /* [mask + 1] or NULL */
    uint32_t mask, n;
};
struct names {
    struct name_table table[N_SPACES];
    struct name_table removed; /* rows of removals by name */
    struct removal *removals;  /* what variants and stacks took out */
};

struct name {
    enum name_kind kind; /* NAME_NONE: no such name */
    uint32_t row;
};

/** Spreads bytes over 32 bits. */
uint32_t names_hash(const char *id, size_t n);

/** The name `id` in one namespace. */
struct name names_find(const struct model *m, enum space space, const char *id, size_t n);

/** Adds row `row` of `kind` (its part.id is set already) to a namespace, unless the name is there.
 *  @return the row that holds the name already, kind NAME_NONE when it was free. */
struct name names_add(struct model *m, enum space space, enum name_kind kind, uint32_t row);

/** Asks for the slot of a name that is about to be added or found: in a large model each is a miss of the cache. */
void names_ahead(const struct model *m, enum space space, const char *id, size_t n);

/** Takes over what was taken out, for names_removed(). */
void names_set_removals(struct names *names, struct removals *removals);

/** How a variant or a stack took this name out, NULL when none did. */
const struct removal *names_removed(const struct model *m, const char *id, size_t n);

/** Frees what the tables hold outside the arena. */
void names_release(struct names *names);

/** The part that begins row `row` of the table of `kind`. */
struct part *part_of(const struct model *m, enum name_kind kind, uint32_t row);

/** Makes the table of `kind` in m->arena with room for n rows, all zero but part.odds (1) and part.cd (NAN); sets the
 * count. */
void rows_make(struct model *m, enum name_kind kind, uint32_t n);

/** The namespace that a kind is defined in. */
enum space name_space(enum name_kind kind);

/** Words of the trade for a kind, with those that model.h's part_kind does not have: "feed", "gear", "state", ... */
const char *name_kind_word(enum name_kind kind);

/** The same with its article: "a feed", "an actuator". */
const char *name_kind_a(enum name_kind kind);

/** The ID nearest to `id` in a namespace, of one kind or (NAME_NONE) of any; NULL: none is near. Of very large tables
 * only the first rows are compared. */
const char *names_nearest(const struct model *m, enum space space, enum name_kind kind, const char *id);
#endif
