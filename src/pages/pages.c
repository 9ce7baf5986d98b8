/* Writes the pages into a folder: feedtrace_pages FOLDER. */
#include "pages/pages.h"
#include "base/diag.h"
#include "base/outfile.h"
#include "faults/kinds.h"
#include <stdio.h>
#include <string.h>

static const struct {
    const char *name;
    void (*add)(struct text *t);
} pages[] = {
    {"feedtrace.1", page_man},
    {"feedtrace.bash", page_bash},
    {"_feedtrace", page_zsh},
    {"feedtrace.fish", page_fish},
};

/* What the words of usage lines stand for. A word that is not here is known to the user or the model alone. */
static const struct {
    const char *word;
    enum offer offer;
} offers[] = {
    {"MODEL", OFFER_MODELS},  {"OLD", OFFER_MODELS}, {"FILE", OFFER_FILES}, {"FOLDER", OFFER_FOLDERS},
    {"FORMAT=", OFFER_WRITE}, {"CODE", OFFER_WORDS}, {"KIND,", OFFER_LIST},
};

static enum offer word_offer(const char *argument)
{
    argument += *argument == '[';
    for (size_t i = 0; i < sizeof offers / sizeof *offers; i++)
        if (!strncmp(argument, offers[i].word, strlen(offers[i].word)))
            return offers[i].offer;
    return OFFER_NOTHING;
}

static void word_add(struct text *words, const char *word)
{
    text_addf(words, "%s%s", words->n ? " " : "", word);
}

enum offer option_offer(const struct command *c, enum option_id id, struct text *words)
{
    struct text argument = {0};
    option_argument_add(&argument, c, id);
    enum offer offer = word_offer(text_string(&argument));
    if (offer == OFFER_WRITE) {
        for (int f = 0; f < N_FORMATS; f++)
            if (command_has(c, (enum format)f))
                word_add(words, format_words[f]);
    } else if (offer == OFFER_LIST) {
        for (int kind = 0; kind < N_FAULT_KINDS; kind++)
            word_add(words, fault_kind_row((enum fault_kind)kind)->word);
    } else if (strchr(text_string(&argument), '|')) {
        offer = OFFER_WORDS;
        for (char *at = argument.at; (at = strchr(at, '|'));)
            *at = ' ';
        word_add(words, argument.at);
    }
    text_release(&argument);
    return offer;
}

enum offer argument_offer(const struct command *c, struct text *words)
{
    enum offer offer = word_offer(c->arguments);
    for (int code = 0; offer == OFFER_WORDS && code < N_CODES; code++)
        word_add(words, code_row((enum code)code)->id);
    return offer;
}

void command_names_add(struct text *t)
{
    for (const struct command *c = commands; c->name; c++)
        text_addf(t, "%s%s", c == commands ? "" : " ", c->name);
}

static void quote(struct text *t, const char *s, const char *for_quote, const char *for_backslash)
{
    text_add_char(t, '\'');
    for (; *s; s++) {
        if (*s == '\'')
            text_add(t, for_quote);
        else if (*s == '\\')
            text_add(t, for_backslash);
        else
            text_add_char(t, *s);
    }
    text_add_char(t, '\'');
}

void quote_posix(struct text *t, const char *s)
{
    quote(t, s, "'\\''", "\\");
}

void quote_fish(struct text *t, const char *s)
{
    quote(t, s, "\\'", "\\\\");
}

int main(int argc, char **argv)
{
    struct diags d;
    diags_init(&d);
    outfile_init();
    if (argc != 2) {
        fprintf(stderr, "usage: %s FOLDER\n", argv[0]);
        return STATUS_INPUT;
    }
    for (size_t i = 0; i < sizeof pages / sizeof *pages; i++) {
        struct text page = {0}, path = {0};
        pages[i].add(&page);
        text_addf(&path, "%s/%s", argv[1], pages[i].name);
        outfile_write(text_string(&path), text_string(&page), page.n, NULL, &d);
        text_release(&page);
        text_release(&path);
    }
    int status = d.n ? STATUS_INPUT : STATUS_FINE;
    for (size_t i = 0; i < d.n; i++)
        fprintf(stderr, "%s: %s\n", argv[0], d.rows[i].message);
    diags_release(&d);
    return status;
}
