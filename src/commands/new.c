/* `feedtrace new FILE` and `feedtrace schema`: texts that the program carries with it. */
#include "commands/command.h"
#include <string.h>
#include <sys/stat.h>

void command_new(struct run *r)
{
    const char *path = r->options.args[0];
    struct sink *s = &r->sinks[0];
    struct stat there;
    if (strcmp(path, "-") && !lstat(path, &there) && !S_ISCHR(there.st_mode) && !S_ISFIFO(there.st_mode)) {
        run_usage(r, "choose another name: a starter never replaces a file", "%s is there already", path);
        return;
    }
    s->path = strcmp(path, "-") ? path : NULL;
    s->n_answers = 1;
    r->options.limit = 0;
    text_add_bytes(&s->text, embedded_starter, embedded_starter_n);
    run_deliver(r);
}

void command_schema(struct run *r)
{
    struct sink *s = &r->sinks[0];
    s->n_answers = 1;
    r->options.limit = 0;
    text_add_bytes(&s->text, embedded_schema, embedded_schema_n);
    run_deliver(r);
}
