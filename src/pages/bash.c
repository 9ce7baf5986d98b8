/* Completions for bash. */
#include "pages/pages.h"

static const char head[] =
    "# Completions of feedtrace for bash 4.3 or later, written by the build from the program's own tables.\n"
    "# shellcheck shell=bash\n"
    "\n"
    "# Replies with what begins with $cur: of the words given, or of the files that fit.\n"
    "_feedtrace_words()\n"
    "{\n"
    "    mapfile -t COMPREPLY < <(compgen -W \"$1\" -- \"$cur\")\n"
    "}\n"
    "\n"
    "_feedtrace_files()\n"
    "{\n"
    "    local name\n"
    "    compopt -o filenames 2>/dev/null\n"
    "    while IFS= read -r name; do\n"
    "        if [[ -d $name || $1 == files || $1 == models && ( $name == *.yaml || $name == *.yml ) ]]; then\n"
    "            COMPREPLY+=(\"$name\")\n"
    "        fi\n"
    "    done < <(compgen -f -- \"$cur\")\n"
    "}\n"
    "\n"
    "# Several words of a list, parted by commas: those before the last are kept.\n"
    "_feedtrace_list()\n"
    "{\n"
    "    local kept=\n"
    "    [[ $cur != *,* ]] || kept=${cur%,*},\n"
    "    cur=${cur##*,}\n"
    "    _feedtrace_words \"$1\"\n"
    "    COMPREPLY=(\"${COMPREPLY[@]/#/$kept}\")\n"
    "    compopt -o nospace 2>/dev/null\n"
    "}\n"
    "\n"
    "_feedtrace_write()\n"
    "{\n"
    "    local kept=\n"
    "    if [[ $cur == *=* ]]; then\n"
    "        kept=${cur%%=*}= cur=${cur#*=}\n"
    "        _feedtrace_files files\n"
    "    else\n"
    "        _feedtrace_words \"$1\"\n"
    "        COMPREPLY=(\"${COMPREPLY[@]/%/=}\")\n"
    "        compopt -o nospace 2>/dev/null\n"
    "    fi\n"
    "    COMPREPLY=(\"${COMPREPLY[@]/#/$kept}\")\n"
    "}\n"
    "\n"
    "_feedtrace()\n"
    "{\n"
    "    local -a words=()\n"
    "    local i word before cur kept=\n"
    "    COMPREPLY=()\n"
    "    # The shell parts words at `=`: put them together again.\n"
    "    for ((i = 1; i <= COMP_CWORD; i++)); do\n"
    "        word=${COMP_WORDS[i]}\n"
    "        if ((i > 1)) && [[ $word == = || ${COMP_WORDS[i - 1]} == = ]]; then\n"
    "            words[-1]+=$word\n"
    "        else\n"
    "            words+=(\"$word\")\n"
    "        fi\n"
    "    done\n"
    "    cur=${words[-1]}\n"
    "    if ((${#words[@]} == 1)); then\n";

/* Replies hold the whole of the word that the user sees, of which the shell wants only what stands behind the last `=`.
 */
static const char tail[] = "    esac\n"
                           "    COMPREPLY=(\"${COMPREPLY[@]/#/$kept}\")\n"
                           "    if [[ ${words[-1]} == *=* && $COMP_WORDBREAKS == *=* ]]; then\n"
                           "        kept=${words[-1]%=*}=\n"
                           "        COMPREPLY=(\"${COMPREPLY[@]#\"$kept\"}\")\n"
                           "    fi\n"
                           "}\n"
                           "\n"
                           "complete -F _feedtrace feedtrace\n";

static void reply_add(struct text *t, enum offer offer, const char *words)
{
    switch (offer) {
    case OFFER_NOTHING:
        text_add(t, ":");
        break;
    case OFFER_WORDS:
        text_addf(t, "_feedtrace_words '%s'", words);
        break;
    case OFFER_LIST:
        text_addf(t, "_feedtrace_list '%s'", words);
        break;
    case OFFER_FILES:
        text_add(t, "_feedtrace_files files");
        break;
    case OFFER_MODELS:
        text_add(t, "_feedtrace_files models");
        break;
    case OFFER_FOLDERS:
        text_add(t, "_feedtrace_files folders");
        break;
    case OFFER_WRITE:
        text_addf(t, "_feedtrace_write '%s'", words);
        break;
    }
    text_add(t, " ;;\n");
}

/* The rows of one command: behind an option that takes something, an option itself, an argument. */
static void command_add(struct text *t, const struct command *c)
{
    for (enum option_id id = 0; id < N_OPTIONS; id++) {
        const struct option_row *row = command_option(c, id);
        if (!command_takes(c, id) || !row->argument)
            continue;
        struct text words = {0};
        enum offer offer = option_offer(c, id, &words);
        text_addf(t, "    %s:--%s:*", c->name, row->name);
        if (row->letter)
            text_addf(t, " | %s:-%c:*", c->name, row->letter);
        text_add(t, ") ");
        reply_add(t, offer, text_string(&words));
        text_release(&words);
    }
    struct text words = {0};
    text_addf(t, "    %s:*:-*) _feedtrace_words '", c->name);
    for (enum option_id id = 0; id < N_OPTIONS; id++) {
        const struct option_row *row = command_option(c, id);
        if (!command_takes(c, id))
            continue;
        text_addf(t, "%s--%s", id ? " " : "", row->name);
        if (row->letter)
            text_addf(t, " -%c", row->letter);
    }
    text_addf(t, "' ;;\n    %s:*) ", c->name);
    enum offer offer = argument_offer(c, &words);
    reply_add(t, offer, text_string(&words));
    text_release(&words);
}

void page_bash(struct text *t)
{
    text_add(t, head);
    text_add(t, "        _feedtrace_words '");
    command_names_add(t);
    text_add(t, " --help --version'\n        return\n    fi\n"
                "    before=${words[-2]}\n"
                "    if [[ $cur == --*=* ]]; then\n"
                "        before=${cur%%=*} kept=${cur%%=*}= cur=${cur#*=}\n"
                "    fi\n"
                "    case ${words[0]}:$before:$cur in\n");
    for (const struct command *c = commands; c->name; c++)
        command_add(t, c);
    text_add(t, tail);
}
