/* What every command does alike. */
#include "base/mem.h"
#include "base/outfile.h"
#include "commands/command.h"
#include "draw/draw.h"
#include "report/ci.h"
#include "report/jsonout.h"
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>

enum { COLUMNS_USUAL = 80, COLUMNS_MOST = 110, COLUMNS_LEAST = 40 };

void run_status(struct run *r, enum status status)
{
    if (status > r->status)
        r->status = status;
}

static unsigned columns(int fd)
{
    struct winsize size;
    if (!isatty(fd) || ioctl(fd, TIOCGWINSZ, &size) || !size.ws_col)
        return COLUMNS_USUAL;
    return size.ws_col < COLUMNS_LEAST ? COLUMNS_LEAST : size.ws_col > COLUMNS_MOST ? COLUMNS_MOST : size.ws_col;
}

static bool colour_on(int color, int fd)
{
    const char *no_color = getenv("NO_COLOR"), *term = getenv("TERM");
    if (color)
        return color == 1;
    return isatty(fd) && !(no_color && *no_color) && !(term && !strcmp(term, "dumb"));
}

static struct view view_of(const struct options *o, int fd)
{
    return (struct view){.width = fd < 0 ? COLUMNS_USUAL : columns(fd),
                         .colour = fd >= 0 && colour_on(o->color, fd),
                         .verbose = o->verbose,
                         .other_units = o->other_units,
                         .units = o->units};
}

static void error_write(const struct text *t)
{
    fwrite(text_string(t), 1, t->n, stderr); /* nobody is left to be told when this fails */
    fflush(stderr);
}

void run_complain(struct run *r, const struct diags *d, struct sources *files)
{
    struct text t = {0};
    text_diags(&t, &r->error_view, d, files, false);
    text_cut(&t, r->options.limit);
    error_write(&t);
    text_release(&t);
}

void run_usage(struct run *r, const char *help, const char *format, ...)
{
    struct diags d;
    diags_init(&d);
    struct text t = {0};
    va_list args;
    va_start(args, format);
    text_vaddf(&t, format, args);
    va_end(args);
    diag(&d, BAD_USAGE, NO_SPAN, "%s", text_string(&t));
    if (help)
        diag_help(&d, "%s", help);
    run_complain(r, &d, NULL);
    text_release(&t);
    diags_release(&d);
    run_status(r, STATUS_INPUT);
}

void run_inputs(struct run *r, const struct sources *read)
{
    struct sources *all = &r->inputs;
    for (size_t i = 0; i < read->n_files; i++) {
        const struct source *f = &read->files[i];
        MEM_GROW(all->files, all->n_files, all->cap);
        all->files[all->n_files++] =
            (struct source){.name = mem_copy_text(f->name), .device = f->device, .inode = f->inode};
    }
}

/* Formats whose documents hold all models of a run: what stands before the first and behind the last. */
static const struct {
    void (*begin)(struct text *t), (*end)(struct text *t);
} frames[N_FORMATS] = {[FORMAT_SARIF] = {sarif_begin, sarif_end}, [FORMAT_JUNIT] = {junit_begin, junit_end}};

/* What stands before an answer in a list: the one before it ended its line, the comma belongs to its brace. */
static void list_next(struct text *t, bool first)
{
    if (!first)
        t->n--;
    text_add(t, first ? "[\n" : ",\n");
}

void run_answer(struct run *r, report_fn *const reports[N_FORMATS], const struct answer *a, const void *extra)
{
    for (size_t i = 0; i < r->n_sinks; i++) {
        struct sink *s = &r->sinks[i];
        bool framed = frames[s->format].begin != NULL;
        if (s->format == FORMAT_JSON && r->many)
            list_next(&s->text, !s->n_answers);
        else if (framed && !s->n_answers)
            frames[s->format].begin(&s->text);
        else if (!framed && s->format != FORMAT_JSON && s->n_answers && a->model)
            text_add_char(&s->text, '\n');
        reports[s->format](&s->text, &s->view, a, extra);
        s->n_answers += s->format == FORMAT_JSON || framed || a->model;
    }
}

static void sink_add(struct run *r, enum format format, const char *path)
{
    r->sinks = mem_resize(r->sinks, r->n_sinks + 1, sizeof *r->sinks);
    bool out = !path || !strcmp(path, "-");
    r->sinks[r->n_sinks++] = (struct sink){
        .format = format, .path = out ? NULL : path, .view = view_of(&r->options, out ? STDOUT_FILENO : -1)};
}

void run_deliver(struct run *r)
{
    struct diags d;
    diags_init(&d);
    for (size_t i = 0; i < r->n_sinks; i++) {
        struct sink *s = &r->sinks[i];
        if (s->format == FORMAT_JSON && r->many && s->n_answers)
            text_add(&s->text, "]\n");
        if (frames[s->format].end && s->n_answers)
            frames[s->format].end(&s->text);
        if (s->format == FORMAT_TEXT)
            text_cut(&s->text, r->options.limit);
        if (!s->path)
            run_status(r, outfile_stdout(text_string(&s->text), s->text.n, &d) == STDOUT_FAILED ? STATUS_INPUT
                                                                                                : STATUS_FINE);
        else if (s->n_answers && !outfile_write(s->path, text_string(&s->text), s->text.n, &r->inputs, &d))
            run_status(r, STATUS_INPUT);
    }
    if (d.n)
        run_complain(r, &d, NULL);
    diags_release(&d);
}

/* A file whose name promises another format than it gets would be read wrong by whoever opens it. */
static bool ending_fits(struct run *r)
{
    const struct options *o = &r->options;
    const char *dot = o->output ? strrchr(o->output, '.') : NULL;
    enum draw_format picture;
    if (!dot || !(r->command->takes & TAKES(OPTION_FORMAT)))
        return true;
    for (int f = 0; f < N_FORMATS; f++)
        if (f != (int)o->format && !strcmp(dot + 1, format_words[f])) {
            struct text help = {0};
            text_addf(&help, "add --format %s, or give it another ending", format_words[f]);
            run_usage(r, text_string(&help), "%s ends as %s, but the format is %s", o->output, format_words[f],
                      format_words[o->format]);
            text_release(&help);
            return false;
        }
    if (draw_format_of(o->output, &picture) && r->command->run != command_curve) {
        run_usage(r, "`feedtrace draw` and `feedtrace curve` make pictures", "%s ends as a picture, but this is %s",
                  o->output, format_words[o->format]);
        return false;
    }
    return true;
}

static void run_command(struct run *r, int argc, char **argv)
{
    const struct command *c = r->command;
    struct diags d;
    diags_init(&d);
    bool ok = options_read(r, argc, argv, &d);
    const struct options *o = &r->options;
    r->error_view = view_of(o, STDERR_FILENO);
    if (o->help) {
        sink_add(r, FORMAT_TEXT, NULL);
        help_add(&r->sinks[0].text, c);
        r->options.limit = 0;
        run_deliver(r);
        diags_release(&d);
        return;
    }
    if (ok && (o->n_args < c->n_least || o->n_args > c->n_most)) {
        if (o->n_args < c->n_least)
            diag(&d, BAD_USAGE, NO_SPAN, "%s needs %s", c->name, c->arguments);
        else
            diag(&d, BAD_USAGE, NO_SPAN, "%s takes %s, and no '%s' behind that", c->name,
                 *c->arguments ? c->arguments : "no arguments", o->args[c->n_most]);
        diag_help(&d, "feedtrace %s --help shows an example", c->name);
        ok = false;
    }
    if (!ok) {
        run_complain(r, &d, NULL);
        run_status(r, STATUS_INPUT);
    }
    diags_release(&d);
    if (!ok || !ending_fits(r))
        return;
    sink_add(r, o->format, o->output);
    for (size_t i = 0; i < o->n_writes; i++)
        sink_add(r, o->writes[i].format, o->writes[i].path);
    c->run(r);
}

static const struct command *command_find(const char *word)
{
    for (const struct command *c = commands; c->name; c++)
        if (!strcmp(c->name, word))
            return c;
    return NULL;
}

static void unknown_command(struct run *r, const char *word)
{
    const char *candidates[64];
    size_t n = 0;
    if (word[0] == '-') {
        candidates[n++] = "--help";
        candidates[n++] = "--version";
    } else {
        for (const struct command *c = commands; c->name; c++)
            candidates[n++] = c->name;
    }
    const char *near = text_nearest(word, candidates, n);
    struct text help = {0};
    if (near)
        text_addf(&help, "did you mean %s? ", near);
    text_add(&help, word[0] == '-' ? "an option stands behind its command" : "the commands are ");
    for (size_t i = 0; i < n && word[0] != '-'; i++)
        text_addf(&help, "%s%s", i == 0 ? "" : i + 1 == n ? " and " : ", ", candidates[i]);
    run_usage(r, text_string(&help), word[0] == '-' ? "there is no option %s here" : "there is no command '%s'", word);
    text_release(&help);
}

int commands_main(int argc, char **argv)
{
    struct run r = {.options.limit = 64};
    json_memory();
    outfile_init();
    r.error_view = view_of(&r.options, STDERR_FILENO);
    const char *word = argc > 1 ? argv[1] : "";
    if (argc > 1 && (r.command = command_find(word))) {
        run_command(&r, argc - 1, argv + 1);
    } else if (argc > 1 && (!strcmp(word, "--help") || !strcmp(word, "-h") || !strcmp(word, "--version"))) {
        sink_add(&r, FORMAT_TEXT, NULL);
        if (!strcmp(word, "--version"))
            text_add(&r.sinks[0].text, "feedtrace " FEEDTRACE_VERSION "\n");
        else
            help_add(&r.sinks[0].text, NULL);
        run_deliver(&r);
    } else if (argc > 1) {
        unknown_command(&r, word);
    } else {
        struct text t = {0};
        help_add(&t, NULL);
        error_write(&t);
        text_release(&t);
        run_status(&r, STATUS_INPUT);
    }
    for (size_t i = 0; i < r.n_sinks; i++)
        text_release(&r.sinks[i].text);
    mem_free(r.sinks);
    sources_release(&r.inputs);
    options_release(&r.options);
    return (int)r.status;
}
