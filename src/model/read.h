/* Reading a model: from a tree of nodes to the tables of model.h. Inside model/ only.
 *
 * Two passes over the sections, so that an entry may refer to one that follows: define_*() gives every entry a row and
 * its name, read_*() fills the rows. Every entry of a section gets a row, in written order, even one that is wrong: a
 * name whose entry is bad is still defined, so that nothing that uses it is an error too.
 *
 * Each helper says what is wrong by itself, once, at the node's place. `false` (or NONE) means only: nothing to use. Go
 * on with the next key or entry after it, and check what depends on several values (structure) only when all of them
 * were good. */
#ifndef MODEL_READ_H
#define MODEL_READ_H
#include "model/model.h"
#include "model/names.h"
#include "model/tree.h"

enum section { /* in the order in which they are read */
               SECTION_LAYERS,
               SECTION_CIRCUITS,
               SECTION_PASSAGES,
               SECTION_JOINTS,
               SECTION_SCREENS,
               SECTION_HOLES,
               SECTION_BALLS,
               SECTION_VALVES,
               SECTION_SOLENOIDS,
               SECTION_ACTUATORS,
               SECTION_FEEDS,
               SECTION_TAPS,
               SECTION_SWITCHES,
               SECTION_GEARS,
               SECTION_CLASH,
               SECTION_DEFAULTS,
               SECTION_FLUID,
               SECTION_LEAKDOWN,
               SECTION_LAYOUT,
               SECTION_STRENGTHS,
               SECTION_ACCEPT,
               SECTION_COSTS,
               SECTION_STATES,
               SECTION_SYMPTOMS,
               N_SECTIONS
};

struct reader {
    struct model *m;      /* being built */
    struct arena *arena;  /* &m->arena: whatever the model keeps */
    struct arena scratch; /* trees and working tables; gone when reading ends */
    struct sources *files;
    struct diags *d;
    struct units
        *units; /* [SOURCE_FILES_MAX] by span.file: a bare number is in the units of the file where it stands */
    const struct node *root;                /* merged over all `extends` */
    const struct node *section[N_SECTIONS]; /* its value; NULL: not there or empty */
    struct stack *stack;                    /* model/stack.h; NULL: one model, no stack */
};

/** A reader for one more model. @param shared whose arena, files, diagnostics and units it uses; its nodes and tables
 * are its own.  @return released by reader_release(), with the model. */
struct reader *reader_new(const struct reader *shared);
void reader_release(struct reader *r);

/** Reads the file `path` and all that it extends, and merges them into r->root; sets r->units, the model's id, title,
 * note, file and units (read_files.c).
 *  @param from the place that names the file, NO_SPAN: the command line.  @param in_stack the file is a member of a
 * stack and must not be a stack itself.  @param n_nodes in and out: nodes of all files so far.
 *  @return row of the file `path`, or -1 when there is nothing to read on with. */
int read_files(struct reader *r, const char *path, struct span from, bool in_stack, uint32_t *n_nodes);

/** Fills the tables of r->m from r->root (read.c). */
void read_tables(struct reader *r);

/** A path as a file names it, from that file's folder. Caller frees with mem_free(). */
char *joined_path(const char *from, const char *path);

/** False with the reason in d when a path that a file names is absolute. `entry`: "`extends`". */
bool path_is_relative(struct reader *r, const struct node *node, const char *entry, const char *path);

/** The units of a file: `units:` of its root over those that it begins with. */
void read_units(struct reader *r, const struct node *root, struct units *units);

/* ---- a mapping's keys, by table */

enum key_kind {
    KEY_NODE,     /* not read here: the caller takes the node from `values` */
    KEY_TEXT,     /* const char * */
    KEY_QUANTITY, /* double, SI, not negative */
    KEY_SIGNED,   /* double, SI */
    KEY_FLAG,     /* bool: true or false */
    KEY_WORD,     /* enum (unsigned int): the row in `words` */
    KEY_PASSAGE,  /* passage_ix: a passage or `sump` */
    KEY_INNER,    /* passage_ix: a passage, not `sump` */
    KEY_SPRING    /* struct spring */
};
struct spring { /* {preload: 41.4, rate: 0.73} */
    bool has;
    double preload, rate; /* N, N/m */
};
struct key {
    const char *name;
    enum key_kind kind;
    bool needed;              /* MISSING_KEY when it is not there */
    size_t at;                /* offset in the row that the value goes to; nothing is stored where the value is bad */
    enum dimension dim;       /* KEY_QUANTITY, KEY_SIGNED */
    const char *const *words; /* KEY_WORD: NULL at the end */
};
/* The keys that any entry may have, for a row type that begins with `struct part part`. */
#define PART_KEYS                                                                                                      \
    {"title", KEY_TEXT, false, offsetof(struct part, title), 0, NULL},                                                 \
        {"note", KEY_TEXT, false, offsetof(struct part, note), 0, NULL},                                               \
        {"odds", KEY_QUANTITY, false, offsetof(struct part, odds), DIM_NUMBER, NULL},                                  \
    {                                                                                                                  \
        "cd", KEY_QUANTITY, false, offsetof(struct part, cd), DIM_NUMBER, NULL                                         \
    }
#define N_OF(array) (sizeof(array) / sizeof *(array))

/** Reads the mapping `map` by `keys` [n]: unknown keys, missing ones, wrong shapes and values are reported. Values of
 * the kinds above are stored into `row` (may be NULL when all are KEY_NODE); set the row's defaults before.
 *  @param entry what the mapping is, for messages: "hole H11", "the spring of shift_a".
 *  @param form the right form, for the help line: "H01: {joins: [case.a, body.a], diameter: 7.0}".
 *  @param values out [n], may be NULL: the node of each key, NULL where it is not there.
 *  @return true when all was good. */
bool read_keys(struct reader *r, const struct node *map, const char *entry, const char *form, const struct key *keys,
               size_t n, void *row, const struct node **values);

/** "hole H11": for `entry` above; in the scratch arena. */
const char *entry_name(struct reader *r, const char *kind, const struct node *key);

/* ---- shapes and scalars */

/** True when the node is of this kind; else WRONG_SHAPE at the node with `form` as help. `entry` says what it should
 * be:
 *  "`joins` of hole H11". */
bool read_shape(struct reader *r, const struct node *node, enum node_kind kind, const char *entry, const char *form);

/** A section that is a mapping (WRONG_SHAPE once, in its define pass; quiet afterwards with `quiet`). */
bool read_section_map(struct reader *r, const struct node *section, const char *name, const char *form, bool quiet);

/** A text, not empty. The result lives as long as the model (texts of nodes do). */
bool read_text(struct reader *r, const struct node *node, const char *entry, const char **out);

/** `true` or `false`. */
bool read_flag(struct reader *r, const struct node *node, const char *entry, bool *out);

/** The row of the node's word in `words` (NULL at the end), or WRONG_VALUE with "did you mean" or the list of words. */
bool read_word(struct reader *r, const struct node *node, const char *entry, const char *const *words, unsigned *out);

/** A quantity of dimension `dim` in the units of the node's file; BAD_QUANTITY, WRONG_DIMENSION. Negative ones are
 * refused by read_quantity(). A bare DIM_SHARE is per cent. */
bool read_quantity(struct reader *r, const struct node *node, const char *entry, enum dimension dim, double *out);
bool read_signed(struct reader *r, const struct node *node, const char *entry, enum dimension dim, double *out);

/** {preload: 41.4, rate: 0.73}; `area`, `travel` and the like are not its business. Both keys are needed. */
bool read_spring(struct reader *r, const struct node *node, const char *entry, struct spring *out);

/** One ring [[x, y], ...] or a list of rings; BAD_OUTLINE. */
bool read_outline(struct reader *r, const struct node *node, const char *entry, struct outline *out);

/** At most 60 bytes of a scalar for a message; "a list", "a mapping", "nothing". Use: diag(..., "`%s`...",
 * shown(node).text). */
struct shown {
    char text[72];
};
struct shown shown(const struct node *node);

/** Gives the last message the help line "did you mean `x`?", or, when no word is near, "one of: ...". */
void help_words(struct reader *r, const char *word, const char *const *words);

#define SUGGESTIONS_MAX 500 /* errors up to which a near word or name is looked for: it takes time */

/* ---- names */

/** Defines the key `key` as row `row` of `kind` in the namespace of its kind: BAD_ID (empty, other characters, reserved
 * words), REPEATED_ID with the second place. Sets part.id and part.where in any case. rows_make() before. */
bool define_name(struct reader *r, enum name_kind kind, uint32_t row, const struct node *key);

/** define_name() for each item of a list from `first` on, or (`pairs`) for each key of a mapping, from row `row` on. */
bool define_names(struct reader *r, enum name_kind kind, uint32_t row, const struct node *first, bool pairs);

/** The same row in the namespace of what states set (manual valves, solenoids, sources). */
bool define_setting(struct reader *r, enum name_kind kind, uint32_t row, const struct node *key);

/** rows_make() and define_name() for each key of a mapping: the whole define pass of a plain section. */
bool define_section(struct reader *r, const struct node *section, const char *name, const char *form,
                    enum name_kind kind);

/** Row of the part or other thing that the node names. UNKNOWN_NAME with the nearest name (STILL_USED where a variant
 * removed it), WRONG_KIND with the place of the definition as second place. `entry`: "`fed_by` of circuit line".
 *  @return the row, or NONE. */
uint32_t read_ref(struct reader *r, const struct node *node, enum name_kind kind, const char *entry);

/** A passage; `sump` is row 0 and allowed or not. passage_ix{NONE} when bad. */
passage_ix read_passage(struct reader *r, const struct node *node, bool sump_allowed, const char *entry);

/** Rows of all that a list names (passages: without `sump`; a single name counts as a list of one when `one_is_list`);
 * uint32_t [*n] in m->arena, fits any
 *  *_ix array. Bad names are left out and make it false. A repeat in the list is WRONG_VALUE. */
bool read_refs(struct reader *r, const struct node *node, enum name_kind kind, bool one_is_list, const char *entry,
               const char *form, uint32_t **out, uint32_t *n);

/** A list of exactly two passages. */
bool read_joins(struct reader *r, const struct node *node, const char *entry, const char *form, passage_ix joins[2]);

/** Says UNKNOWN_NAME, or STILL_USED where a variant removed the name, without help: for names that read_ref() does not
 * know. */
void say_unknown(struct reader *r, const struct node *node, const char *entry, const char *wanted);

/** "leak", "orifice", "open", "main": rows of enum strength; NULL at the end. */
extern const char *const strength_words[];

/** The key of a section in the file: "layers". */
const char *section_key(enum section section);

/* ---- the sections. Called with r->section[...], only when the section is there, in this order: all define_*(), then
 * all read_*(). read_files.c, read.c, read_parts.c, read_feeds.c: reader one. */
bool define_layers(struct reader *r, const struct node *section);
bool define_circuits(struct reader *r, const struct node *section);
bool define_passages(struct reader *r); /* those of `passages` and those of circuits' lists; always called */
bool define_joints(struct reader *r);   /* joints, then screens; always called */
bool define_holes(struct reader *r, const struct node *section);
bool define_balls(struct reader *r, const struct node *section);
bool define_feeds(struct reader *r, const struct node *section);
bool read_layers(struct reader *r, const struct node *section);
bool read_circuits(struct reader *r, const struct node *section);
bool read_passages(struct reader *r); /* always called */
bool read_joints(struct reader *r, const struct node *section);
bool read_screens(struct reader *r, const struct node *section);
bool read_holes(struct reader *r, const struct node *section);
bool read_balls(struct reader *r, const struct node *section);
bool read_feeds(struct reader *r, const struct node *section);
void check_sources(struct reader *r); /* SOURCES_JOINED */

/* Reader two: read_valves.c, read_solenoids.c. define_valves() sets `kind` already (quietly: a bad kind is reported by
 * read_valves()), since circuits need to know which valves are limiting, and puts manual valves into the settings. */
bool define_valves(struct reader *r, const struct node *section);
bool define_solenoids(struct reader *r, const struct node *section);
bool read_valves(struct reader *r, const struct node *section);
bool read_solenoids(struct reader *r, const struct node *section);
/* Reader two: read_devices.c (actuators, taps, switches, gears, clash), read_states.c (defaults and states, symptoms).
 * read_states() is called when there are states; it takes `defaults` from r->section[SECTION_DEFAULTS] itself. Claims
 * are read by claim.c once all else is read; read_states() and read_symptoms() call it, they come last. claims_read()
 * takes a finished model (names included), so it finds names with model_find() and says UNKNOWN_NAME itself. */
bool define_actuators(struct reader *r, const struct node *section);
bool define_taps(struct reader *r, const struct node *section);
bool define_switches(struct reader *r, const struct node *section);
bool define_gears(struct reader *r, const struct node *section);
bool define_states(struct reader *r, const struct node *section);
bool define_symptoms(struct reader *r, const struct node *section);
bool read_actuators(struct reader *r, const struct node *section);
bool read_taps(struct reader *r, const struct node *section);
bool read_switches(struct reader *r, const struct node *section);
bool read_gears(struct reader *r, const struct node *section);
bool read_clash(struct reader *r, const struct node *section);
bool read_states(struct reader *r, const struct node *section);
bool read_symptoms(struct reader *r, const struct node *section);
#endif
