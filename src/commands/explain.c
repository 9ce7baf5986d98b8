/* `feedtrace explain [CODE...]` */
#include "commands/command.h"
#include <ctype.h>

/* "a thing." as a sentence. */
static void sentence(struct text *t, const struct view *v, const char *label, const char *words)
{
    struct text body = {0};
    text_addf(&body, "%c%s.", toupper((unsigned char)words[0]), words + 1);
    say_folded(t, v, 2, 16, label, PAINT_NONE, text_string(&body));
    text_release(&body);
}

static void one(struct text *t, const struct view *v, const struct code_row *row)
{
    enum paint paint = row->level == LEVEL_ERROR ? PAINT_BAD : row->level == LEVEL_WARNING ? PAINT_WARN : PAINT_NOTE;
    say_painted(t, v, paint, "%s", row->id);
    text_addf(t, " (%s, %s)\n", level_word(row->level),
              row->kind == CODE_FINDING ? "a finding about a model that can be used" : "the input cannot be used");
    sentence(t, v, "What it is", row->what);
    sentence(t, v, row->kind == CODE_FINDING ? "On the road" : "Why it matters", row->road);
    sentence(t, v, "To mend it", row->mend);
}

static void list(struct text *t, const struct view *v)
{
    for (int kind = CODE_FINDING; kind >= CODE_READING; kind--) {
        if (t->n)
            text_add_char(t, '\n');
        say_painted(t, v, PAINT_HEAD, "%s", kind == CODE_FINDING ? "Findings" : "Errors of input");
        text_add_char(t, '\n');
        for (int i = 0; i < N_CODES; i++) {
            const struct code_row *row = code_row((enum code)i);
            if (row->kind == (enum code_kind)kind)
                say_folded(t, v, 2, 22, row->id, PAINT_NONE, row->what);
        }
    }
}

void command_explain(struct run *r)
{
    const struct options *o = &r->options;
    struct sink *s = &r->sinks[0];
    if (!o->n_args)
        list(&s->text, &s->view);
    for (size_t i = 0; i < o->n_args; i++) {
        enum code code = code_find(o->args[i]);
        if (code == N_CODES) {
            const char *ids[N_CODES];
            for (int j = 0; j < N_CODES; j++)
                ids[j] = code_row((enum code)j)->id;
            const char *near = text_nearest(o->args[i], ids, N_CODES);
            struct text help = {0};
            if (near)
                text_addf(&help, "did you mean %s? ", near);
            text_add(&help, "`feedtrace explain` lists all codes");
            run_usage(r, text_string(&help), "there is no code '%s'", o->args[i]);
            text_release(&help);
            continue;
        }
        if (s->text.n)
            text_add_char(&s->text, '\n');
        one(&s->text, &s->view, code_row(code));
    }
    s->n_answers = s->text.n > 0;
    run_deliver(r);
}
