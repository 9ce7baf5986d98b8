/* The table of commands. */
#include "commands/command.h"

#define READS                                                                                                          \
    (TAKES(OPTION_FORMAT) | TAKES(OPTION_COLOR) | TAKES(OPTION_OUTPUT) | TAKES(OPTION_WRITE) | TAKES(OPTION_LIMIT))
#define TRACES     (READS | TAKES(OPTION_IN) | TAKES(OPTION_UNITS) | TAKES(OPTION_STRUCTURE) | TAKES(OPTION_VERBOSE))
#define ANY_NUMBER ((size_t)-1)

static const char fault_words[] = "Fault words; several are joined by \" + \":\n"
                                  "  block ID                  joint, screen, hole, solenoid or VALVE.PORT is shut\n"
                                  "  leak HOLE [at 0.5 mm]     a hole's seal leaks into its neighbour (`leaks_to`)\n"
                                  "  leak A into B [at 2 mm]   between two passages, or a passage and sump\n"
                                  "  leak ACTUATOR [at 1 mm]   the seal of a clutch or servo leaks to sump\n"
                                  "  resize HOLE to 1.4 mm     a hole of another size\n"
                                  "  lose BALL                 a check ball is missing\n"
                                  "  seat BALL [on HOLE]       a ball stays on its seat\n"
                                  "  unseat BALL [on HOLE] [at 1 mm]   a worn seat leaks back\n"
                                  "  stick VALVE at POSITION   rest, stroked, a detent; wide, shut; open, shut\n"
                                  "  stick SOLENOID at on|off\n"
                                  "  wear VALVE [between P and Q] [at 0.06 mm]   a worn bore leaks between ports\n"
                                  "  break VALVE               its spring\n"
                                  "  unplug VALVE              its bore plug or retainer is gone\n"
                                  "  weaken FEED to 8 L/min    the pump delivers less\n"
                                  "  misadjust MANUAL between D and R   the lever's linkage\n";

const struct command commands[] = {
    {"check", command_check,
     READS | TAKES(OPTION_STRUCTURE) | TAKES(OPTION_FAIL_ON) | TAKES(OPTION_BASELINE) | TAKES(OPTION_WRITE_BASELINE) |
         HAS(FORMAT_SARIF) | HAS(FORMAT_JUNIT),
     1, ANY_NUMBER, "MODEL...", "what is wrong with this model, in any state?",
     "Reads each model, traces every state and reports errors, findings and\n"
     "expectations that are not met. Exit status 1: findings at --fail-on or above.\n"
     "A baseline lists findings by model, code, part and state, so that only new ones\n"
     "count. `feedtrace explain CODE` tells more about a finding.\n",
     "  feedtrace check models/tern-l2.yaml\n"
     "  feedtrace check --write sarif=all.sarif --write junit=all.xml models/*.yaml\n"},
    {"trace", command_trace, TRACES | TAKES(OPTION_FAULT), 1, ANY_NUMBER, "MODEL... [STATE...]",
     "what each feed reaches, state by state; devices, valves, the gear",
     "Without a STATE every state is traced. Words behind the first model that look\n"
     "like a file (a `/` or .yaml) are models, the others are states. With --fault the\n"
     "faulty unit is traced; `whatif` shows the difference.\n",
     "  feedtrace trace models/tern-l2.yaml line_90\n"
     "  feedtrace trace --fault \"block H11\" --format json models/tern-l2.yaml\n"},
    {"route", command_route, TRACES | TAKES(OPTION_FAULT), 3, 3, "MODEL FROM TO",
     "the way oil takes from a feed to a consumer, casting to casting",
     "FROM is a feed, passage or tap. TO is a device (DEVICE.release for that side), a\n"
     "passage, tap, switch or a valve's port (VALVE.PORT). Tells each element crossed\n"
     "with its size, the plate crossings, the tightest point, the single points of\n"
     "failure, the smallest cut and alternatives. Without --in every state is looked\n"
     "at, equal ones told once.\n",
     "  feedtrace route models/tern-l2.yaml line clutch --in line_90\n"},
    {"whatif", command_whatif, TRACES, 2, ANY_NUMBER, "MODEL... \"FAULT [+ FAULT]\" [STATE...]",
     "what changes with this fault, against healthy", fault_words,
     "  feedtrace whatif models/tern-l2.yaml \"block H11\"\n"
     "  feedtrace whatif models/tern-l2.yaml \"block H11 + lose B1\" line_150\n"},
    {"sweep", command_sweep,
     READS | TAKES(OPTION_IN) | TAKES(OPTION_VERBOSE) | TAKES(OPTION_PAIRS) | TAKES(OPTION_ONLY) |
         TAKES(OPTION_ELEMENT) | TAKES(OPTION_JOBS) | TAKES(OPTION_SHARD) | TAKES(OPTION_STRUCTURE) |
         TAKES(OPTION_UNITS) | HAS(FORMAT_CSV),
     1, 1, "MODEL", "every single fault or pair: what it does, ranked; what nothing shows",
     "Applies each kind of fault to every part that it fits (leaks and sizes graded:\n"
     "0.5 mm, 1 mm, 3 mm; sources with a capacity at a half and a quarter of it) in\n"
     "every state and tells what each does, the worst first; faults with equal effect\n"
     "in all states stand together. A model with sizes is swept by pressure: what\n"
     "slips or drags, what gauges read, what fills or drains otherwise. With --pairs:\n"
     "all pairs of faults that can be there at once, by structure; told are those that\n"
     "do something else than both faults alone, one beside the other. Any number of\n"
     "processes and parts gives the same bytes. Kinds for --only: block leak resize\n"
     "lose seat unseat stick wear break unplug weaken misadjust.\n",
     "  feedtrace sweep models/tern-l2.yaml\n"
     "  feedtrace sweep models/tern-l2.yaml --pairs --only block,stick --in line_90\n"
     "  feedtrace sweep models/tern-l2.yaml --shard 1/3 --write json=part1.json\n"},
    {"merge", command_merge, READS | TAKES(OPTION_UNITS) | HAS(FORMAT_CSV), 1, ANY_NUMBER, "FILE...",
     "join the JSON of a sweep's parts",
     "Each FILE is the JSON of `sweep --shard I/N`; all N parts must be there, in any\n"
     "order. The answer is, byte for byte, that of one sweep.\n",
     "  feedtrace merge part1.json part2.json part3.json\n"},
    {"compare", command_compare, READS | TAKES(OPTION_UNITS) | TAKES(OPTION_STRICT), 2, 2, "OLD NEW",
     "what differs between two models, and what that does",
     "Parts added, gone and changed, with sizes and what they join; then the behaviour\n"
     "that differs, the gear and devices first, equal changes of several states in one\n"
     "sentence. Holes are known by their place where both models tell it, else by ID.\n"
     "Titles, notes, expectations, symptoms, accepted findings, odds and costs are not\n"
     "compared.\n",
     "  feedtrace compare models/heron-4.yaml models/heron-4-late.yaml\n"
     "  feedtrace compare --strict old.yaml new.yaml\n"},
    {"record", command_record, TAKES(OPTION_COLOR) | TAKES(OPTION_OUTPUT), 1, ANY_NUMBER, "MODEL...",
     "write the behaviour down as text files to commit",
     "One text file and one drawing (DOT) a model, in the folder of -o (out): sorted,\n"
     "one fact a line, so that a difference reads as a sentence. Pressures at taps and\n"
     "devices are in steps of 1 psi or 0.1 bar, how fast devices fill and drain to two\n"
     "digits, the travel of a spool part-way to 10 %.\n",
     "  feedtrace record models/tern-l2.yaml models/heron-4.yaml -o out\n"},
    {"verify", command_verify,
     TAKES(OPTION_COLOR) | TAKES(OPTION_OUTPUT) | TAKES(OPTION_FORMAT) | TAKES(OPTION_WRITE) | HAS(FORMAT_JUNIT), 1,
     ANY_NUMBER, "MODEL...", "does every model still behave as recorded?",
     "Compares each model with its record in the folder of -o (out) and tells what\n"
     "changed as sentences, counts first. Writes nothing there. Exit status 1: a\n"
     "difference, a missing record, or a record whose model was not given.\n",
     "  feedtrace verify models/tern-l2.yaml models/heron-4.yaml -o out\n"
     "  feedtrace verify --write junit=verify.xml models/*.yaml\n"},
    {"curve", command_curve,
     READS | TAKES(OPTION_IN) | TAKES(OPTION_UNITS) | TAKES(OPTION_FAULT) | TAKES(OPTION_VARY) | TAKES(OPTION_SHOW) |
         TAKES(OPTION_POINTS) | HAS(FORMAT_CSV),
     1, ANY_NUMBER, "MODEL", "what arrives as a setting, size, leak or temperature varies",
     "--vary takes a source (`line 55 to 300`), a hole's size (`H11 0.5 mm to 2 mm`), a\n"
     "fault's size (`leak H30 0.3 mm to 3 mm`, `wear feed_limit 0.02 mm to 0.1 mm`,\n"
     "`weaken line 5 to 20 L/min`), a duty solenoid (`sol_line 0 % to 100 %`) or\n"
     "`temperature 0 degC to 120 degC`; a unit that one end has counts for both. --show\n"
     "takes passages, taps, switches, devices, circuits (their lowest) and feeds. Tells\n"
     "the pressures, the gear, and at which value (to 0.05 %) a gear, device, valve or\n"
     "source changes; what comes and goes between two values asked for is not seen.\n"
     "With -o FILE.svg, .pdf or .png: a picture.\n",
     "  feedtrace curve models/tern-l2.yaml --in line_90 --vary line 55 to 300 --show supply\n"
     "  feedtrace curve models/heron-4.yaml --in drive_2 --vary \"leak H130 0.3 to 3 mm\" -o leak.svg\n"},
    {"limits", command_limits, READS | TAKES(OPTION_IN) | TAKES(OPTION_UNITS) | TAKES(OPTION_ELEMENT) | HAS(FORMAT_CSV),
     1, 1, "MODEL", "how far orifices and leaks may grow before something is lost",
     "For each orifice the sizes between which every gear, device and expectation still\n"
     "holds in all states (or those of --in), and what is lost first beyond; for each\n"
     "leak (`leaks_to` of holes, seals of devices) the size up to which nothing is\n"
     "lost: orifices from a quarter of their size to four times it, leaks from 0.1 mm\n"
     "to 6 mm, in steps of a fifth and then to 1 %. --element looks at one hole, orifice\n"
     "or not, or one device.\n",
     "  feedtrace limits models/tern-l2.yaml\n"
     "  feedtrace limits models/heron-4.yaml --element H130 --in drive_2\n"},
    {"draw", command_draw,
     TAKES(OPTION_COLOR) | TAKES(OPTION_IN) | TAKES(OPTION_FAULT) | TAKES(OPTION_OUTPUT) | TAKES(OPTION_UNITS) |
         TAKES(OPTION_FEED) | TAKES(OPTION_CIRCUIT) | TAKES(OPTION_AROUND) | TAKES(OPTION_HOPS) | TAKES(OPTION_ALL) |
         TAKES(OPTION_STRUCTURE),
     1, 3, "MODEL [FROM TO]", "the circuit as DOT, SVG, PDF or PNG, by the file's ending",
     "Castings are boxes; holes, valves and balls stand between them. Only what is\n"
     "live in the state is drawn unless --all. FROM and TO (as for `route`) make the\n"
     "way between them heavy. Without -o: DOT on standard output. Without --in the\n"
     "first state is drawn.\n",
     "  feedtrace draw models/tern-l2.yaml --in line_90 -o tern.svg\n"
     "  feedtrace draw models/tern-l2.yaml line clutch --in line_90 -o clutch.pdf\n"},
    {"explain", command_explain, TAKES(OPTION_COLOR) | TAKES(OPTION_OUTPUT), 0, ANY_NUMBER, "[CODE...]",
     "what an error or finding means, on the road too, and how to mend it", "Without a CODE all codes are listed.\n",
     "  feedtrace explain cannot-drain\n"},
    {"new", command_new, 0, 1, 1, "FILE", "write a commented starter model",
     "The file must not be there yet. \"-\" writes to standard output.\n", "  feedtrace new my-unit.yaml\n"},
    {"schema", command_schema, TAKES(OPTION_OUTPUT), 0, 0, "", "print the JSON Schema (draft 7) of models, for editors",
     "An editor that knows the schema completes keys and underlines mistakes while a\n"
     "model is written.\n",
     "  feedtrace schema -o feedtrace-model.schema.json\n"},
    {NULL, NULL, 0, 0, 0, NULL, NULL, NULL, NULL},
};

const char program_summary[] =
    "feedtrace traces the oil of an automatic transmission's valve body through a model of it.";

const char *const status_help[N_STATUSES] = {
    [STATUS_FINE] = "nothing found",
    [STATUS_FOUND] = "findings (check), a difference (verify, compare --strict)",
    [STATUS_INPUT] = "wrong usage or a file that cannot be used",
    [STATUS_RESULT] = "a result could not be computed",
};

bool command_takes(const struct command *c, enum option_id id)
{
    return id == OPTION_HELP || (c->takes & TAKES(id)) != 0;
}

const struct option_row *command_option(const struct command *c, enum option_id id)
{
    static const struct option_row folder = {"output", 'o', "FOLDER", "where the records are (out)", false};
    bool of_records = id == OPTION_OUTPUT && (c->run == command_record || c->run == command_verify);
    return of_records ? &folder : &option_rows[id];
}

void option_argument_add(struct text *t, const struct command *c, enum option_id id)
{
    const struct option_row *row = command_option(c, id);
    for (int f = 0; id == OPTION_FORMAT && f < N_FORMATS; f++)
        if (command_has(c, (enum format)f))
            text_addf(t, "%s%s", f ? "|" : "", format_words[f]);
    if (id != OPTION_FORMAT && row->argument)
        text_add(t, row->argument);
}

static void option_help(struct text *t, const struct command *c, enum option_id id)
{
    const struct option_row *row = command_option(c, id);
    struct text head = {0};
    if (row->letter)
        text_addf(&head, "-%c, ", row->letter);
    else
        text_add(&head, "    ");
    text_addf(&head, "--%s%s", row->name, row->argument ? " " : "");
    option_argument_add(&head, c, id);
    const char *again = row->repeats ? "; may be repeated" : "";
    if (head.n < 30)
        text_addf(t, "  %-30s%s%s\n", text_string(&head), row->help, again);
    else
        text_addf(t, "  %s\n  %-30s%s%s\n", text_string(&head), "", row->help, again);
    text_release(&head);
}

static void program_help(struct text *t)
{
    const struct view narrow = {.width = 79};
    say_folded(t, &narrow, 0, 0, "", PAINT_NONE, program_summary);
    text_add(t, "\nUsage: feedtrace COMMAND ...\n\nCommands:\n");
    for (const struct command *c = commands; c->name; c++)
        text_addf(t, "  %-9s%s\n", c->name, c->summary);
    text_add(t, "\n`feedtrace COMMAND --help` tells more. `feedtrace --version` tells the version.\n\nExample:\n"
                "  feedtrace check models/tern-l2.yaml\n  feedtrace trace models/tern-l2.yaml line_90\n\n");
    struct text statuses = {0};
    for (int s = 0; s < N_STATUSES; s++)
        text_addf(&statuses, "%s%d %s", s ? ", " : "", s, status_help[s]);
    text_add_char(&statuses, '.');
    say_folded(t, &narrow, 0, 0, "Exit status:", PAINT_NONE, text_string(&statuses));
    text_release(&statuses);
}

void help_add(struct text *t, const struct command *c)
{
    if (!c) {
        program_help(t);
        return;
    }
    text_addf(t, "Usage: feedtrace %s %s%s[options]\n\n%s\n\n%s\nOptions:\n", c->name, c->arguments,
              *c->arguments ? " " : "", c->summary, c->more);
    for (enum option_id id = 0; id < N_OPTIONS; id++)
        if (id != OPTION_HELP && command_takes(c, id))
            option_help(t, c, id);
    option_help(t, c, OPTION_HELP);
    text_addf(t, "\nExample:\n%s", c->example);
}
