/* feedtrace(1), in the macros of man(7), which every formatter of manual pages knows. */
#include "faults/kinds.h"
#include "pages/pages.h"
#include <string.h>

/* A byte of ours as roff prints it and nothing else: a plain hyphen, quote or caret would become a typographic one.
 * Bytes above ASCII would need to be spelled; our tables have none, which the test of the pages holds them to. */
static void byte_add(struct text *t, char c)
{
    switch (c) {
    case '\\':
        text_add(t, "\\e");
        return;
    case '-':
        text_add(t, "\\-");
        return;
    case '\'':
        text_add(t, "\\(aq");
        return;
    case '`':
        text_add(t, "\\(ga");
        return;
    case '^':
        text_add(t, "\\(ha");
        return;
    case '~':
        text_add(t, "\\(ti");
        return;
    case '"':
        text_add(t, "\\(dq");
        return;
    default:
        text_add_char(t, c);
    }
}

/* Bytes within a line. What our texts have between backticks is set bold, without them. A full stop before a word would
 * be a request, should the word come to stand at a line's beginning. */
static void words_add(struct text *t, const char *s, size_t n)
{
    bool bold = false;
    for (size_t i = 0; i < n; i++) {
        if (s[i] == '.' && (i == 0 || s[i - 1] == ' '))
            text_add(t, "\\&");
        if (s[i] != '`') {
            byte_add(t, s[i]);
            continue;
        }
        bold = !bold;
        text_add(t, bold ? "\\fB" : "\\fR");
    }
    if (bold)
        text_add(t, "\\fR");
}

/* Words that the formatter fills; the page's own lines stay short, as checkers of such pages want them. */
static void filled_add(struct text *t, const char *s, size_t n)
{
    const struct view narrow = {.width = 78};
    struct text words = {0};
    words_add(&words, s, n);
    say_folded(t, &narrow, 0, 0, "", PAINT_NONE, text_string(&words));
    text_release(&words);
}

static void sentence_add(struct text *t, const char *s)
{
    filled_add(t, s, strlen(s));
}

/* Lines of a text that is folded already. A line that begins with white space is a row of a table and stands as it is;
 * the others are filled; an empty one parts paragraphs. */
static void paragraphs_add(struct text *t, const char *s)
{
    bool rows = false;
    while (*s) {
        size_t n = strcspn(s, "\n");
        if (rows != (*s == ' ')) {
            rows = !rows;
            text_add(t, rows ? ".PP\n.nf\n" : ".fi\n.PP\n");
        }
        if (n && rows) {
            words_add(t, s, n);
            text_add_char(t, '\n');
        } else if (n) {
            filled_add(t, s, n);
        } else {
            text_add(t, ".PP\n");
        }
        s += n + (s[n] == '\n');
    }
    if (rows)
        text_add(t, ".fi\n");
}

static void bold_add(struct text *t, const char *before, const char *s)
{
    text_addf(t, "\\fB");
    words_add(t, before, strlen(before));
    words_add(t, s, strlen(s));
    text_add(t, "\\fR");
}

static void italic_add(struct text *t, const char *s)
{
    text_add(t, "\\fI");
    words_add(t, s, strlen(s));
    text_add(t, "\\fR");
}

/* A caution of the reports, on one line. */
static void caution_add(struct text *t, void (*say)(struct text *t, const struct view *v))
{
    const struct view wide = {.width = 100000};
    struct text line = {0};
    say(&line, &wide);
    filled_add(t, text_string(&line), line.n - 1); /* without its line break */
    text_release(&line);
}

static void row_add(struct text *t, const char *name, const char *what)
{
    text_add(t, ".TP\n");
    bold_add(t, "", name);
    text_add_char(t, '\n');
    sentence_add(t, what);
}

static void command_add(struct text *t, const struct command *c)
{
    text_addf(t, ".SS %s\n", c->name);
    bold_add(t, "feedtrace ", c->name);
    if (*c->arguments) {
        text_add_char(t, ' ');
        italic_add(t, c->arguments);
    }
    text_add(t, "\n.PP\n");
    sentence_add(t, c->summary);
    text_add(t, ".PP\n");
    paragraphs_add(t, c->more);
    text_add(t, ".PP\nOptions:");
    size_t n = 0;
    for (enum option_id id = 0; id < N_OPTIONS; id++) {
        if (id == OPTION_HELP || !command_takes(c, id))
            continue;
        struct text argument = {0};
        option_argument_add(&argument, c, id);
        text_add(t, n++ ? ",\n" : "\n");
        bold_add(t, "--", command_option(c, id)->name);
        if (argument.n) {
            text_add_char(t, ' ');
            italic_add(t, text_string(&argument));
        }
        text_release(&argument);
    }
    text_add(t, n ? ",\n" : "\n");
    bold_add(t, "--", option_rows[OPTION_HELP].name);
    text_add(t, ".\n.PP\nExample:\n");
    paragraphs_add(t, c->example);
}

/* One meaning of an option, with the commands that give it that meaning. */
static void option_add(struct text *t, enum option_id id, const struct option_row *row)
{
    size_t n = 0, n_all = 0, at = 0;
    for (const struct command *c = commands; c->name; c++) {
        n_all++;
        n += command_takes(c, id) && command_option(c, id) == row;
    }
    text_add(t, ".TP\n");
    if (row->letter) {
        char letter[2] = {row->letter, '\0'};
        bold_add(t, "-", letter);
        text_add(t, ", ");
    }
    bold_add(t, "--", row->name);
    if (row->argument) {
        text_add_char(t, ' ');
        italic_add(t, row->argument);
    }
    text_add_char(t, '\n');
    words_add(t, row->help, strlen(row->help));
    text_addf(t, "%s.\n", row->repeats ? "; may be repeated" : "");
    if (n == n_all) {
        text_add(t, "All commands.\n");
        return;
    }
    struct text of = {0};
    text_add(&of, "Of ");
    for (const struct command *c = commands; c->name; c++)
        if (command_takes(c, id) && command_option(c, id) == row) {
            say_comma(&of, at++, n);
            text_add(&of, c->name);
        }
    text_add_char(&of, '.');
    sentence_add(t, text_string(&of));
    text_release(&of);
}

/* Each option once, and once more where some commands mean something else by it. */
static void options_add(struct text *t)
{
    for (enum option_id id = 0; id < N_OPTIONS; id++)
        for (const struct command *c = commands; c->name; c++) {
            const struct command *first = commands;
            while (!command_takes(first, id) || command_option(first, id) != command_option(c, id))
                if (first++ == c)
                    break;
            if (first == c)
                option_add(t, id, command_option(c, id));
        }
}

static void formats_add(struct text *t)
{
    sentence_add(t, "Every command with --format and --write has text and json, some have more; --help names them. "
                    "The same input gives the same bytes, with any number of processes and in any locale.");
    for (int f = 0; f < N_FORMATS; f++)
        row_add(t, format_words[f], format_help[f]);
    text_add(t, ".PP\n");
    sentence_add(t, "An output file appears whole or not at all, and never over a file that was read.");
}

/* `.nh`: no name of an option may be hyphenated. */
void page_man(struct text *t)
{
    text_add(t,
             ".\\\" Written by the build from the program's own tables.\n"
             ".TH FEEDTRACE 1 " FEEDTRACE_DATE " \"feedtrace " FEEDTRACE_VERSION "\" \"User commands\"\n.nh\n.SH NAME\n"
             "feedtrace \\- answers for the oil circuits of an automatic transmission\n.SH SYNOPSIS\n");
    for (const struct command *c = commands; c->name; c++) {
        bold_add(t, "feedtrace ", c->name);
        text_add(t, *c->arguments ? " " : "");
        italic_add(t, c->arguments);
        text_add(t, " [\\fIoptions\\fR]\n.br\n");
    }
    text_add(t, "\\fBfeedtrace\\fR \\fB\\-\\-help\\fR | \\fB\\-\\-version\\fR\n.SH DESCRIPTION\n");
    sentence_add(t, program_summary);
    sentence_add(t, "A model is a YAML file, which the program reads and never changes: `feedtrace new` writes one to "
                    "start from, `feedtrace schema` the schema for editors.");
    sentence_add(t, "Answers are written to standard output, messages to standard error.");
    text_add(t, ".SH CAUTIONS\n");
    caution_add(t, say_caution_taps);
    text_add(t, ".PP\n");
    caution_add(t, say_caution_gear);
    text_add(t, ".PP\n");
    caution_add(t, say_caution_model);
    text_add(t, ".SH COMMANDS\n");
    for (const struct command *c = commands; c->name; c++)
        command_add(t, c);
    text_add(t, ".SH OPTIONS\n");
    options_add(t);
    row_add(t, "--version", "tell the version. In the place of a command.");
    text_add(t, ".SH FORMATS\n");
    formats_add(t);
    text_add(t, ".SH FAULTS\n");
    for (int kind = 0; kind < N_FAULT_KINDS; kind++) {
        const struct fault_kind_row *row = fault_kind_row((enum fault_kind)kind);
        for (const char *form = row->form; *form;) {
            size_t n = strcspn(form, "\n");
            text_add(t, form == row->form ? ".TP\n\\fB" : ".TQ\n\\fB");
            words_add(t, form, n);
            text_add(t, "\\fR\n");
            form += n + (form[n] == '\n');
        }
        sentence_add(t, row->what);
    }
    text_add(t, ".SH EXIT STATUS\n");
    for (int s = 0; s < N_STATUSES; s++) {
        char digit[2] = {(char)('0' + s), '\0'};
        row_add(t, digit, status_help[s]);
    }
    text_add(t, ".SH ENVIRONMENT\n");
    row_add(t, "NO_COLOR", "when it is set and not empty, nothing is coloured unless --color asks for it");
    row_add(t, "TERM", "on a terminal that is \"dumb\" nothing is coloured either");
}
