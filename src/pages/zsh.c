/* Completions for zsh. */
#include "pages/pages.h"

static const char head[] = "#compdef feedtrace\n"
                           "# Completions of feedtrace for zsh, written by the build from the program's own tables.\n"
                           "\n"
                           "_feedtrace_write() {\n"
                           "    if compset -P 1 '*='; then\n"
                           "        _files\n"
                           "    else\n"
                           "        compadd -S = -- \"$@\"\n"
                           "    fi\n"
                           "}\n"
                           "\n"
                           "_feedtrace() {\n"
                           "    local curcontext=\"$curcontext\" state line\n"
                           "    typeset -A opt_args\n"
                           "    local -a commands=(\n";

/* A text within a specification of _arguments: in brackets, or between colons. */
static void inner_add(struct text *t, const char *s)
{
    for (; *s; s++) {
        if (*s == '[' || *s == ']' || *s == ':' || *s == '\\')
            text_add_char(t, '\\');
        text_add_char(t, *s);
    }
}

/* ":what is wanted:how to find it" */
static void action_add(struct text *t, const char *wanted, enum offer offer, const char *words)
{
    text_add_char(t, ':');
    inner_add(t, wanted);
    text_add_char(t, ':');
    switch (offer) {
    case OFFER_NOTHING:
        text_add_char(t, ' ');
        break;
    case OFFER_WORDS:
        text_addf(t, "(%s)", words);
        break;
    case OFFER_LIST:
        text_addf(t, "_values -s , kind %s", words);
        break;
    case OFFER_FILES:
        text_add(t, "_files");
        break;
    case OFFER_MODELS:
        text_add(t, "_files -g \"*.(yaml|yml)(-.)\"");
        break;
    case OFFER_FOLDERS:
        text_add(t, "_files -/");
        break;
    case OFFER_WRITE:
        text_addf(t, "{_feedtrace_write %s}", words);
        break;
    }
}

static void option_add(struct text *t, const struct command *c, enum option_id id)
{
    const struct option_row *row = command_option(c, id);
    struct text words = {0}, argument = {0}, rest = {0};
    option_argument_add(&argument, c, id);
    enum offer offer = option_offer(c, id, &words);
    text_add_char(&rest, '[');
    inner_add(&rest, row->help);
    text_add_char(&rest, ']');
    if (argument.n)
        action_add(&rest, text_string(&argument), offer, text_string(&words));
    text_add(t, "            ");
    if (row->letter && row->argument)
        text_addf(t, "'(-%c --%s)'{-%c+,--%s=}", row->letter, row->name, row->letter, row->name);
    else if (row->letter)
        text_addf(t, "'(-%c --%s)'{-%c,--%s}", row->letter, row->name, row->letter, row->name);
    else
        text_addf(t, "%s--%s%s", row->repeats ? "\\*" : "", row->name, row->argument ? "=" : "");
    quote_posix(t, text_string(&rest));
    text_add(t, " \\\n");
    text_release(&words);
    text_release(&argument);
    text_release(&rest);
}

static void command_add(struct text *t, const struct command *c)
{
    text_addf(t, "    %s)\n        _arguments -s : \\\n", c->name);
    for (enum option_id id = 0; id < N_OPTIONS; id++)
        if (command_takes(c, id))
            option_add(t, c, id);
    struct text words = {0}, rest = {0};
    enum offer offer = argument_offer(c, &words);
    if (*c->arguments) {
        text_add_char(&rest, '*');
        action_add(&rest, c->arguments, offer, text_string(&words));
    }
    text_add(t, "            ");
    if (rest.n)
        quote_posix(t, text_string(&rest));
    else
        text_add(t, "&& return");
    text_add(t, " ;;\n");
    text_release(&words);
    text_release(&rest);
}

void page_zsh(struct text *t)
{
    text_add(t, head);
    for (const struct command *c = commands; c->name; c++) {
        struct text row = {0};
        inner_add(&row, c->name);
        text_add_char(&row, ':');
        text_add(&row, c->summary);
        text_add(t, "        ");
        quote_posix(t, text_string(&row));
        text_add_char(t, '\n');
        text_release(&row);
    }
    text_add(t, "    )\n    _arguments -C '(- *)'{-h,--help}'[show help]' '(- *)--version[tell the version]' \\\n"
                "        '1:command:->command' '*::argument:->argument' && return\n"
                "    if [[ $state == command ]]; then\n"
                "        _describe -t commands command commands\n"
                "        return\n"
                "    fi\n"
                "    case $words[1] in\n");
    for (const struct command *c = commands; c->name; c++)
        command_add(t, c);
    text_add(t, "    esac\n}\n\n_feedtrace \"$@\"\n");
}
