/* The command table, the options that a user gave, and what every command does alike: read models, deliver answers,
 * keep the worst status. A verb has a file of its own; dispatch, help and "did you mean" read the tables. */
#ifndef COMMANDS_COMMAND_H
#define COMMANDS_COMMAND_H
#include "report/answer.h"

enum status {
    STATUS_FINE = 0,
    STATUS_FOUND = 1,  /* findings at --fail-on or above */
    STATUS_INPUT = 2,  /* wrong usage, an input that cannot be read, an output that cannot be written */
    STATUS_RESULT = 3, /* a result could not be computed */
    N_STATUSES
};
extern const char *const status_help[N_STATUSES];

enum format { FORMAT_TEXT, FORMAT_JSON, FORMAT_CSV, FORMAT_SARIF, FORMAT_JUNIT, N_FORMATS };
extern const char *const format_words[N_FORMATS + 1]; /* NULL at the end */
extern const char *const format_help[N_FORMATS];

struct words_list { /* of an option that may be given several times */
    const char **rows;
    size_t n, cap;
};
struct write_to { /* --write FORMAT=FILE */
    enum format format;
    const char *path;
};

struct options {
    enum format format;
    const char *fault;
    struct words_list in; /* states */
    bool other_units;
    struct units units;
    int color; /* 0 auto, 1 always, 2 never */
    enum level fail_on;
    const char *output; /* -o, or NULL */
    struct write_to *writes;
    size_t n_writes, cap_writes;
    bool structure, verbose, all, strict;
    size_t limit;                        /* KB of a text report, 0: all */
    const char *feed, *circuit, *around; /* or NULL */
    uint32_t hops;
    bool pairs;
    unsigned kinds;                     /* --only: bits of enum fault_kind, 0: all */
    const char *element;                /* or NULL */
    unsigned n_jobs;                    /* processes, 0: as many as cores */
    uint32_t part, n_parts;             /* --shard; 0: the whole */
    const char *baseline, *baseline_to; /* or NULL */
    const char *vary, *show;            /* or NULL */
    uint32_t points;                    /* 0: as the command likes */
    bool help;
    const char **args; /* [n_args] borrowed from main() */
    size_t n_args;
};

/* Options as bits of command.takes. */
enum option_id {
    OPTION_HELP,
    OPTION_FORMAT,
    OPTION_FAULT,
    OPTION_IN,
    OPTION_UNITS,
    OPTION_COLOR,
    OPTION_FAIL_ON,
    OPTION_OUTPUT,
    OPTION_WRITE,
    OPTION_STRUCTURE,
    OPTION_VERBOSE,
    OPTION_LIMIT,
    OPTION_FEED,
    OPTION_CIRCUIT,
    OPTION_AROUND,
    OPTION_HOPS,
    OPTION_ALL,
    OPTION_PAIRS,
    OPTION_ONLY,
    OPTION_ELEMENT,
    OPTION_JOBS,
    OPTION_SHARD,
    OPTION_BASELINE,
    OPTION_WRITE_BASELINE,
    OPTION_VARY,
    OPTION_SHOW,
    OPTION_POINTS,
    OPTION_STRICT,
    N_OPTIONS
};
#define TAKES(option) (UINT64_C(1) << (option))
#define HAS(format)   (UINT64_C(1) << (56 + (format))) /* a format besides text and json, in the same bits */

struct option_row {
    const char *name;     /* without -- */
    char letter;          /* or 0 */
    const char *argument; /* as help names it; NULL: none */
    const char *help;
    bool repeats; /* may be given several times */
};
extern const struct option_row option_rows[N_OPTIONS];

/* Where answers go: standard output or a file, each in one format. All of it is kept until the end, so that a file
 * appears whole. */
struct sink {
    enum format format;
    const char *path; /* NULL: standard output */
    struct view view;
    struct text text;
    size_t n_answers;
};

struct run {
    const struct command *command;
    struct options options;
    enum status status;     /* worst so far */
    struct view error_view; /* of standard error */
    struct sources inputs;  /* every file read, by name and inode only: no output may be one of them */
    struct sink *sinks;     /* [n_sinks] */
    size_t n_sinks;
    bool many; /* more than one model: JSON is a list, text has a heading for each */
};

struct command {
    const char *name;
    void (*run)(struct run *r);
    uint64_t takes;         /* TAKES() and HAS() bits; --help is taken by all */
    size_t n_least, n_most; /* arguments */
    const char *arguments;
    const char *summary; /* half a line */
    const char *more;    /* paragraphs */
    const char *example; /* lines */
};

/** True when the command's answer can be had in the format. */
bool command_has(const struct command *c, enum format format);

/** All commands, NULL name at the end. */
extern const struct command commands[];

/** What the program is, a sentence. */
extern const char program_summary[];

/** True when the command has the option. */
bool command_takes(const struct command *c, enum option_id id);

/** The option's row as the command means it: to `record` and `verify` --output is a folder. */
const struct option_row *command_option(const struct command *c, enum option_id id);

/** Appends what stands behind the option of the command: "text|json" for --format, nothing where it takes nothing. */
void option_argument_add(struct text *t, const struct command *c, enum option_id id);

/** The program. @return exit status. */
int commands_main(int argc, char **argv);

/** Raises the status to at least `status`. */
void run_status(struct run *r, enum status status);

/** Reads the options behind the command's word into r->options. @return false with the reasons in d. */
bool options_read(struct run *r, int argc, char **argv, struct diags *d);
void options_release(struct options *o);

/** Appends the help of one command, or (NULL) of the program. */
void help_add(struct text *t, const struct command *c);

/** Prints messages on standard error in the user's colours. `files` (may be NULL) is for excerpts. */
void run_complain(struct run *r, const struct diags *d, struct sources *files);

/** One usage error, status 2. */
void run_usage(struct run *r, const char *help, const char *format, ...) __attribute__((format(printf, 3, 4)));

/** Appends one answer to every sink, by the function of its format. `extra` is handed on. */
typedef void report_fn(struct text *t, const struct view *v, const struct answer *a, const void *extra);
void run_answer(struct run *r, report_fn *const reports[N_FORMATS], const struct answer *a, const void *extra);

/** Remembers what was read, so that no output of this run is written over it. */
void run_inputs(struct run *r, const struct sources *read);

/** Writes all sinks. */
void run_deliver(struct run *r);

/* A model with its traces, as most commands need it. */
struct unit {
    const char *path;
    struct sources files;
    struct diags diags; /* of reading, then findings */
    struct model *model;
    struct network network, apart; /* `apart` only where a fault needs it */
    bool has_network, has_apart;
    struct edits no_edits;
    struct trace healthy, faulty;
    bool has_healthy, has_faulty;
    struct pressures *healthy_pressures, *faulty_pressures; /* [n_states] of the model; NULL: not solved */
    struct pressed pressed;
    struct arena arena;
    struct fault_set fault;
    state_ix *states; /* [n_states] asked for */
    uint32_t n_states;
    struct answer answer;
};

/** Reads a model and traces it healthy; with `fault` (may be NULL) under the fault as well. Where the model is sized
 * and
 * --structure is not given, the pressures of the states asked for are solved too. Errors of the fault or of a
 * state's name are printed at once. A model with errors gives a unit whose answer has no model (complained already);
 * status is raised.
 *  @param states [n_states] names asked for, on top of --in; none at all: every state.
 *  @return false when there is nothing to answer (usage): the unit is released already. */
bool unit_open(struct unit *u, struct run *r, const char *path, const char *fault, const char *const *states,
               size_t n_states);
void unit_release(struct unit *u);

/** Raises the status where a state asked for has no answer: it did not settle, or its pressures were not found.
 *  @param healthy asks of the healthy unit where a fault is shown */
void unit_status(const struct unit *u, struct run *r, bool healthy);

/** Puts the findings of the states asked for into the unit's answer, and raises the status as unit_status() does. */
void unit_findings(struct unit *u, struct run *r);

/** How many of the leading arguments are models: the first, and those that follow it and look like a file's name. */
size_t run_models(const struct run *r);

/* Where a route begins or ends, by a word of the user. */
struct place {
    passage_ix passage;
    struct part_ref consumer; /* PART_NONE: a feed, or a valve's port */
};

/** Reads FROM (`start`: a feed, passage or tap) or TO (a device, DEVICE.release, passage, tap, switch or VALVE.PORT).
 *  @return false with the reason in d. */
bool place_read(const struct model *m, const char *word, bool start, struct place *out, struct diags *d);

void command_check(struct run *r);
void command_trace(struct run *r);
void command_route(struct run *r);
void command_whatif(struct run *r);
void command_sweep(struct run *r);
void command_merge(struct run *r);
void command_compare(struct run *r);
void command_record(struct run *r);
void command_verify(struct run *r);
void command_curve(struct run *r);
void command_limits(struct run *r);
void command_draw(struct run *r);
void command_explain(struct run *r);
void command_new(struct run *r);
void command_schema(struct run *r);

/* Files of the project that the program carries with it; made by the build. */
extern const char embedded_starter[], embedded_schema[];
extern const size_t embedded_starter_n, embedded_schema_n;
#endif
