/* The one table of options, and reading them. */
#include "base/mem.h"
#include "commands/command.h"
#include "faults/kinds.h"
#include "report/sweep_table.h"
#include <getopt.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

const char *const format_words[N_FORMATS + 1] = {"text", "json", "csv", "sarif", "junit", NULL};
const char *const format_help[N_FORMATS] = {
    [FORMAT_TEXT] = "for a person, folded to the width of the terminal",
    [FORMAT_JSON] = "one document, a list of them for several models; each shape has a JSON Schema in the project",
    [FORMAT_CSV] = "a table, its first line names the columns",
    [FORMAT_SARIF] = "SARIF 2.1.0: the findings with their places, for code hosts and editors",
    [FORMAT_JUNIT] = "JUnit XML: a state of a model is a test case",
};
static const char *const color_words[] = {"auto", "always", "never", NULL};
static const char *const level_words[] = {"note", "warning", "error", NULL}; /* in the order of enum level */

const struct option_row option_rows[N_OPTIONS] = {
    [OPTION_HELP] = {"help", 'h', NULL, "show this help", false},
    [OPTION_FORMAT] = {"format", 'f', "FORMAT", "format of standard output (text)", false},
    [OPTION_FAULT] = {"fault", 0, "FAULTS", "with these faults, joined by \" + \"", false},
    [OPTION_IN] = {"in", 0, "STATE", "only in this state", true},
    [OPTION_UNITS] = {"units", 0, "UNIT,...", "print in these, such as bar,mm (the model's)", false},
    [OPTION_COLOR] = {"color", 0, "auto|always|never", "colour (auto: on a terminal, unless NO_COLOR)", false},
    [OPTION_FAIL_ON] = {"fail-on", 0, "error|warning|note", "lowest level for exit status 1 (warning)", false},
    [OPTION_OUTPUT] = {"output", 'o', "FILE", "write there instead of standard output", false},
    [OPTION_WRITE] = {"write", 0, "FORMAT=FILE", "write a file as well", true},
    [OPTION_STRUCTURE] = {"structure", 0, NULL, "by structure only, without pressures", false},
    [OPTION_VERBOSE] = {"verbose", 'v', NULL, "every passage by itself, and effort", false},
    [OPTION_LIMIT] = {"limit", 0, "KB", "cut a text report there (64); 0 prints all", false},
    [OPTION_FEED] = {"feed", 0, "FEED", "only what this feed reaches", false},
    [OPTION_CIRCUIT] = {"circuit", 0, "CIRCUIT", "only this circuit and what touches it", false},
    [OPTION_AROUND] = {"around", 0, "PART", "only what lies near this part", false},
    [OPTION_HOPS] = {"hops", 0, "N", "how near --around means (2)", false},
    [OPTION_ALL] = {"all", 0, NULL, "also what no oil reaches", false},
    [OPTION_PAIRS] = {"pairs", 0, NULL, "two faults at a time", false},
    [OPTION_ONLY] = {"only", 0, "KIND,...", "only these kinds of faults, such as block,stick", false},
    [OPTION_ELEMENT] = {"element", 0, "ID", "only faults of this part (pairs: at least one)", false},
    [OPTION_JOBS] = {"jobs", 'j', "N", "processes (as many as there are cores)", false},
    [OPTION_SHARD] = {"shard", 0, "I/N", "only the I-th of N parts, for `merge`", false},
    [OPTION_BASELINE] = {"baseline", 0, "FILE", "leave out the findings that FILE lists", false},
    [OPTION_WRITE_BASELINE] = {"write-baseline", 0, "FILE", "list all findings there for --baseline", false},
    [OPTION_VARY] = {"vary", 0, "WHAT", "what varies, and from where to where", false},
    [OPTION_SHOW] = {"show", 0, "THING,...", "whose pressures to show (all taps)", false},
    [OPTION_STRICT] = {"strict", 0, NULL, "exit status 1 where anything differs", false},
    [OPTION_POINTS] = {"points", 0, "N", "how many values to try (26)", false},
};

/* Row of a word in a list that ends with NULL, or -1 with a message that lists it. */
static int word_row(const char *option, const char *word, const char *const *words, struct diags *d)
{
    size_t n = 0;
    for (; words[n]; n++)
        if (!strcmp(words[n], word))
            return (int)n;
    struct text list = {0};
    for (size_t i = 0; i < n; i++) {
        text_add(&list, i == 0 ? "" : i + 1 == n ? " or " : ", ");
        text_add(&list, words[i]);
    }
    diag(d, BAD_USAGE, NO_SPAN, "--%s is %s, not '%s'", option, text_string(&list), word);
    const char *near = text_nearest(word, words, n);
    if (near)
        diag_help(d, "did you mean %s?", near);
    text_release(&list);
    return -1;
}

static void list_add(struct words_list *l, const char *word)
{
    MEM_GROW(l->rows, l->n, l->cap);
    l->rows[l->n++] = word;
}

/* A number without sign, at most `most`. */
static bool number_read(const char *option, const char *word, unsigned long most, unsigned long *value, struct diags *d)
{
    char *end = NULL;
    size_t digits = strspn(word, "0123456789");
    *value = digits && digits < 10 ? strtoul(word, &end, 10) : most + 1;
    if (digits && !word[digits] && *value <= most)
        return true;
    diag(d, BAD_USAGE, NO_SPAN, "--%s is a whole number up to %lu, not '%s'", option, most, word);
    return false;
}

/* Each unit sets the dimension that it measures. */
static bool units_read(struct options *o, const char *list, struct diags *d)
{
    bool ok = true;
    o->units = o->other_units ? o->units : units_default();
    o->other_units = true;
    while (*list) {
        size_t n = strcspn(list, ",");
        struct text word = {0};
        text_add_bytes(&word, list, n);
        bool known = false;
        for (int dim = 0; dim < N_DIMENSIONS && !known; dim++)
            known = units_set(&o->units, (enum dimension)dim, text_string(&word));
        if (!known) {
            diag(d, BAD_USAGE, NO_SPAN, "--units names '%s', which is no unit", text_string(&word));
            diag_help(d, "write units parted by commas, such as psi,mm or bar,mm,L/min");
            ok = false;
        }
        text_release(&word);
        list += n + (list[n] == ',');
    }
    return ok;
}

/* One of the command's formats, or N_FORMATS with a message. */
static enum format format_read(const struct command *c, const char *option, const char *word, struct diags *d)
{
    const char *has[N_FORMATS + 1];
    int n = 0;
    for (int f = 0; f < N_FORMATS; f++)
        if (command_has(c, (enum format)f))
            has[n++] = format_words[f];
    has[n] = NULL;
    int row = word_row(option, word, has, d), f = 0;
    while (f < N_FORMATS && (row < 0 || strcmp(format_words[f], has[row]) != 0))
        f++;
    return (enum format)f;
}

/* Kinds of faults by their words. */
static bool only_read(struct options *o, const char *list, struct diags *d)
{
    bool ok = true;
    while (*list) {
        size_t n = strcspn(list, ",");
        const char *words[N_FAULT_KINDS + 1] = {NULL};
        struct text word = {0};
        text_add_bytes(&word, list, n);
        for (int k = 0; k < N_FAULT_KINDS; k++)
            words[k] = fault_kind_row((enum fault_kind)k)->word;
        int row = word_row("only", text_string(&word), words, d);
        text_release(&word);
        if (row < 0)
            ok = false;
        else
            o->kinds |= 1u << row;
        list += n + (list[n] == ',');
    }
    return ok;
}

/* "2/3" */
static bool shard_read(struct options *o, const char *word, struct diags *d)
{
    size_t n = strspn(word, "0123456789"), m = word[n] == '/' ? strspn(word + n + 1, "0123456789") : 0;
    unsigned long part = n && n < 7 ? strtoul(word, NULL, 10) : 0;
    unsigned long parts = m && m < 7 && !word[n + 1 + m] ? strtoul(word + n + 1, NULL, 10) : 0;
    if (part < 1 || part > parts || parts > SWEEP_PARTS_MAX) {
        diag(d, BAD_USAGE, NO_SPAN, "--shard takes I/N, the I-th of N parts, not '%s'", word);
        diag_help(d, "such as --shard 1/3; N is at most %u", SWEEP_PARTS_MAX);
        return false;
    }
    o->part = (uint32_t)part;
    o->n_parts = (uint32_t)parts;
    return true;
}

static bool write_read(const struct command *c, struct options *o, const char *word, struct diags *d)
{
    const char *equals = strchr(word, '=');
    if (!equals || !equals[1]) {
        diag(d, BAD_USAGE, NO_SPAN, "--write takes FORMAT=FILE, not '%s'", word);
        diag_help(d, "such as --write json=answer.json");
        return false;
    }
    struct text format = {0};
    text_add_bytes(&format, word, (size_t)(equals - word));
    enum format row = format_read(c, "write", text_string(&format), d);
    text_release(&format);
    if (row == N_FORMATS)
        return false;
    MEM_GROW(o->writes, o->n_writes, o->cap_writes);
    o->writes[o->n_writes++] = (struct write_to){row, equals + 1};
    return true;
}

/* An option that stands for one thing. */
static bool single_take(const char *option, const char **value, const char *word, struct diags *d)
{
    if (*value)
        diag(d, BAD_USAGE, NO_SPAN, "--%s is given twice: '%s' and '%s'", option, *value, word);
    else
        *value = word;
    return *value == word;
}

static bool option_take(const struct command *c, struct options *o, enum option_id id, const char *word,
                        struct diags *d)
{
    int row;
    unsigned long number;
    switch (id) {
    case OPTION_HELP:
        o->help = true;
        return true;
    case OPTION_FORMAT:
        o->format = format_read(c, "format", word, d);
        return o->format != N_FORMATS;
    case OPTION_COLOR:
        o->color = row = word_row("color", word, color_words, d);
        return row >= 0;
    case OPTION_FAIL_ON:
        row = word_row("fail-on", word, level_words, d);
        o->fail_on = row < 0 ? LEVEL_WARNING : (enum level)row;
        return row >= 0;
    case OPTION_FAULT:
        if (o->fault) {
            diag(d, BAD_USAGE, NO_SPAN, "--fault is given twice");
            diag_help(d, "join faults in one text: --fault \"%s + %s\"", o->fault, word);
            return false;
        }
        o->fault = word;
        return true;
    case OPTION_UNITS:
        return units_read(o, word, d);
    case OPTION_WRITE:
        return write_read(c, o, word, d);
    case OPTION_LIMIT:
        if (!number_read("limit", word, 1000000, &number, d))
            return false;
        o->limit = number;
        return true;
    case OPTION_HOPS:
        if (!number_read("hops", word, 1000, &number, d))
            return false;
        o->hops = (uint32_t)number;
        return true;
    case OPTION_OUTPUT:
        return single_take("output", &o->output, word, d);
    case OPTION_IN:
        list_add(&o->in, word);
        return true;
    case OPTION_FEED:
        return single_take("feed", &o->feed, word, d);
    case OPTION_CIRCUIT:
        return single_take("circuit", &o->circuit, word, d);
    case OPTION_AROUND:
        return single_take("around", &o->around, word, d);
    case OPTION_STRUCTURE:
        o->structure = true;
        return true;
    case OPTION_VERBOSE:
        o->verbose = true;
        return true;
    case OPTION_ALL:
        o->all = true;
        return true;
    case OPTION_PAIRS:
        o->pairs = true;
        return true;
    case OPTION_ONLY:
        return only_read(o, word, d);
    case OPTION_ELEMENT:
        return single_take("element", &o->element, word, d);
    case OPTION_JOBS:
        if (!number_read("jobs", word, 256, &number, d))
            return false;
        o->n_jobs = (unsigned)number;
        return true;
    case OPTION_SHARD:
        return shard_read(o, word, d);
    case OPTION_BASELINE:
        return single_take("baseline", &o->baseline, word, d);
    case OPTION_WRITE_BASELINE:
        return single_take("write-baseline", &o->baseline_to, word, d);
    case OPTION_VARY:
        return single_take("vary", &o->vary, word, d);
    case OPTION_SHOW:
        return single_take("show", &o->show, word, d);
    case OPTION_POINTS:
        if (!number_read("points", word, 10000, &number, d))
            return false;
        if (number < 2) {
            diag(d, BAD_USAGE, NO_SPAN, "--points is at least 2: both ends of the range");
            return false;
        }
        o->points = (uint32_t)number;
        return true;
    case OPTION_STRICT:
        o->strict = true;
        return true;
    case N_OPTIONS:
        break;
    }
    return false;
}

bool command_has(const struct command *c, enum format format)
{
    return format == FORMAT_TEXT || format == FORMAT_JSON || (c->takes & HAS(format)) != 0;
}

/* An option that the command does not have: does another one, or is one near? */
static void unknown_option(const struct command *c, const char *word, struct diags *d)
{
    struct text name = {0};
    text_add_bytes(&name, word, strcspn(word, "="));
    diag(d, BAD_USAGE, NO_SPAN, "%s has no option %s", c->name, text_string(&name));
    const char *candidates[N_OPTIONS];
    size_t n = 0;
    for (enum option_id id = 0; id < N_OPTIONS; id++)
        if (command_takes(c, id))
            candidates[n++] = option_rows[id].name;
    const char *bare = text_string(&name) + strspn(text_string(&name), "-");
    const char *near = text_nearest(bare, candidates, n);
    if (near)
        diag_help(d, "did you mean --%s?", near);
    else
        diag_help(d, "feedtrace %s --help lists its options", c->name);
    text_release(&name);
}

bool options_read(struct run *r, int argc, char **argv, struct diags *d)
{
    struct options *o = &r->options;
    struct option longs[N_OPTIONS + 1] = {0};
    char shorts[3 * N_OPTIONS + 2] = ":";
    size_t n_longs = 0, n_shorts = 1;
    o->fail_on = LEVEL_WARNING;
    o->limit = 64;
    o->hops = 2;
    for (enum option_id id = 0; id < N_OPTIONS; id++) {
        const struct option_row *row = &option_rows[id];
        if (!command_takes(r->command, id))
            continue;
        longs[n_longs++] =
            (struct option){row->name, row->argument ? required_argument : no_argument, NULL, 256 + (int)id};
        if (row->letter) {
            shorts[n_shorts++] = row->letter;
            if (row->argument)
                shorts[n_shorts++] = ':';
        }
    }
    shorts[n_shorts] = '\0';
    bool ok = true;
    int got;
    opterr = 0;
    optind = 1;
    while ((got = getopt_long(argc, argv, shorts, longs, NULL)) != -1) {
        if (got == ':') {
            if (optopt >= 256)
                diag(d, BAD_USAGE, NO_SPAN, "--%s needs %s behind it", option_rows[optopt - 256].name,
                     option_rows[optopt - 256].argument);
            else
                diag(d, BAD_USAGE, NO_SPAN, "-%c needs a word behind it", optopt);
            ok = false;
        } else if (got == '?') {
            /* getopt leaves the word only by its place; a letter inside a group such as -vx stands in optopt. */
            char letter[3] = {'-', (char)optopt, '\0'};
            if (optopt >= 256)
                diag(d, BAD_USAGE, NO_SPAN, "--%s takes nothing behind it", option_rows[optopt - 256].name);
            else
                unknown_option(r->command, optopt ? letter : argv[optind - 1], d);
            ok = false;
        } else {
            int id = got - 256;
            for (int i = 0; got < 256 && i < N_OPTIONS; i++)
                if (option_rows[i].letter == got)
                    id = i;
            ok = option_take(r->command, o, (enum option_id)id, optarg, d) && ok;
        }
    }
    o->args = (const char **)argv + optind;
    o->n_args = (size_t)(argc - optind);
    return ok;
}

void options_release(struct options *o)
{
    mem_free(o->in.rows);
    mem_free(o->writes);
}
