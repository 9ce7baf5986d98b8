/* Completions for fish. */
#include "pages/pages.h"

static const char head[] = "# Completions of feedtrace for fish, written by the build from the program's own tables.\n"
                           "\n"
                           "# The command of the line, or whether it has none yet. A state may be called as a command "
                           "is: only the place counts.\n"
                           "function __feedtrace_is\n"
                           "    set -l words (commandline -opc)\n"
                           "    test (count $words) -gt 1; and test $words[2] = $argv[1]\n"
                           "end\n"
                           "function __feedtrace_none\n"
                           "    test (count (commandline -opc)) -eq 1\n"
                           "end\n"
                           "\n"
                           "complete -c feedtrace -f\n"
                           "complete -c feedtrace -n __feedtrace_none -s h -l help -d 'show help'\n"
                           "complete -c feedtrace -n __feedtrace_none -l version -d 'tell the version'\n";

static void offer_add(struct text *t, enum offer offer, const char *words)
{
    switch (offer) {
    case OFFER_NOTHING:
        break;
    case OFFER_WORDS:
        text_addf(t, " -a '%s'", words);
        break;
    case OFFER_LIST:
        text_addf(t, " -a '(__fish_append , %s)'", words);
        break;
    case OFFER_FILES:
        text_add(t, " -F");
        break;
    case OFFER_MODELS: /* these first, then all other files */
        text_add(t, " -k -a '(__fish_complete_suffix .yaml)'");
        break;
    case OFFER_FOLDERS:
        text_add(t, " -a '(__fish_complete_directories)'");
        break;
    case OFFER_WRITE:
        text_add(t, " -F -a '");
        for (; *words; words++) {
            text_add(t, *words == ' ' ? "= " : "");
            if (*words != ' ')
                text_add_char(t, *words);
        }
        text_add(t, "='");
        break;
    }
}

static void command_add(struct text *t, const struct command *c)
{
    text_addf(t, "\ncomplete -c feedtrace -n __feedtrace_none -a %s -d ", c->name);
    quote_fish(t, c->summary);
    text_add_char(t, '\n');
    struct text words = {0};
    enum offer offer = argument_offer(c, &words);
    if (offer != OFFER_NOTHING) {
        text_addf(t, "complete -c feedtrace -n '__feedtrace_is %s'", c->name);
        offer_add(t, offer, text_string(&words));
        text_add_char(t, '\n');
    }
    text_release(&words);
    for (enum option_id id = 0; id < N_OPTIONS; id++) {
        const struct option_row *row = command_option(c, id);
        if (!command_takes(c, id))
            continue;
        struct text list = {0};
        text_addf(t, "complete -c feedtrace -n '__feedtrace_is %s'", c->name);
        if (row->letter)
            text_addf(t, " -s %c", row->letter);
        text_addf(t, " -l %s", row->name);
        offer = option_offer(c, id, &list);
        if (row->argument) {
            text_add(t, offer == OFFER_FILES || offer == OFFER_WRITE ? " -r" : " -x");
            offer_add(t, offer, text_string(&list));
        }
        text_add(t, " -d ");
        quote_fish(t, row->help);
        text_add_char(t, '\n');
        text_release(&list);
    }
}

void page_fish(struct text *t)
{
    text_add(t, head);
    for (const struct command *c = commands; c->name; c++)
        command_add(t, c);
}
