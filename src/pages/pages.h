/* The manual page and the completions of three shells, made from the tables that the program itself reads: commands,
 * options, formats, statuses, codes and fault words. The build runs this once and installs what it writes; nothing here
 * is part of the program. */
#ifndef PAGES_PAGES_H
#define PAGES_PAGES_H
#include "commands/command.h"

/** Appends feedtrace(1) in man(7) macros. */
void page_man(struct text *t);

/** Appends the completions as a script for bash (4.3 or later), an autoloaded function of zsh, a script for fish. */
void page_bash(struct text *t);
void page_zsh(struct text *t);
void page_fish(struct text *t);

/* What a shell offers behind an option or as an argument. */
enum offer {
    OFFER_NOTHING, /* what only the user or the model knows */
    OFFER_WORDS,   /* one of a list */
    OFFER_LIST,    /* several of a list, parted by commas */
    OFFER_FILES,
    OFFER_MODELS, /* YAML files */
    OFFER_FOLDERS,
    OFFER_WRITE /* a format of a list, `=` and a file */
};

/** What to offer behind an option of a command.
 *  @param words the list, parted by spaces, is appended here */
enum offer option_offer(const struct command *c, enum option_id id, struct text *words);

/** What to offer as an argument of a command; `words` as above. */
enum offer argument_offer(const struct command *c, struct text *words);

/** Appends the names of all commands, parted by spaces. */
void command_names_add(struct text *t);

/** Appends s inside single quotes as the shell takes them: bash and zsh leave the quotes for a quote of its own, fish
 *  knows a backslash within. */
void quote_posix(struct text *t, const char *s);
void quote_fish(struct text *t, const char *s);
#endif
