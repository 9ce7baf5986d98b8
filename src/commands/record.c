/* `feedtrace record MODEL... [-o FOLDER]` and `feedtrace verify MODEL... [-o FOLDER]` */
#include "report/record.h"
#include "base/mem.h"
#include "base/outfile.h"
#include "commands/command.h"
#include "draw/draw.h"
#include "report/ci.h"
#include <dirent.h>
#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#define FOLDER "out"

/* FOLDER/NAME.ending, NAME being the model file's without its own ending. */
static const char *file_of(struct arena *a, const struct run *r, const char *path, const char *ending)
{
    const char *slash = strrchr(path, '/'), *name = slash ? slash + 1 : path, *dot = strrchr(name, '.');
    const char *folder = r->options.output ? r->options.output : FOLDER;
    return arena_format(a, "%s/%.*s.%s", folder, (int)(dot ? (size_t)(dot - name) : strlen(name)), name, ending);
}

/* The record and the drawing of a unit. False: a drawing that could not be made. */
static bool texts_make(struct unit *u, struct text *record, struct text *drawing, struct diags *d)
{
    record_add(record, &u->answer);
    if (!u->n_states)
        return true;
    struct draw_options o = {.state = u->states[0],
                             .feed = {NONE},
                             .circuit = {NONE},
                             .around = {PART_NONE, 0},
                             .hops = 2,
                             .all = true,
                             .units = u->model->units};
    return draw_dot(&u->healthy, 0, NULL, &o, drawing, d);
}

/* One model opened with its two texts; false: it is told already and status is raised. */
static bool model_open(struct unit *u, struct run *r, const char *path, struct text *record, struct text *drawing)
{
    struct diags d;
    if (!unit_open(u, r, path, NULL, NULL, 0))
        return false;
    if (!u->model) {
        unit_release(u);
        return false;
    }
    unit_status(u, r, true);
    diags_init(&d);
    bool ok = texts_make(u, record, drawing, &d);
    if (!ok) {
        run_complain(r, &d, NULL);
        run_status(r, STATUS_RESULT);
        unit_release(u);
    }
    diags_release(&d);
    return ok;
}

/* Two models of one file name would share a record. */
static bool names_differ(struct run *r)
{
    struct arena a;
    bool ok = true;
    arena_init(&a);
    for (size_t i = 0; i < r->options.n_args; i++) {
        for (size_t k = 0; k < i; k++) {
            if (strcmp(file_of(&a, r, r->options.args[i], "txt"), file_of(&a, r, r->options.args[k], "txt")) != 0)
                continue;
            run_usage(r, "record them in folders of their own with -o", "%s and %s would have the same record",
                      r->options.args[k], r->options.args[i]);
            ok = false;
        }
    }
    arena_release(&a);
    return ok;
}

void command_record(struct run *r)
{
    const char *folder = r->options.output ? r->options.output : FOLDER;
    struct diags d;
    if (!names_differ(r))
        return;
    diags_init(&d);
    if (mkdir(folder, 0777) != 0 && errno != EEXIST)
        diag(&d, CANNOT_WRITE, NO_SPAN, "%s: the folder cannot be made: %s", folder, strerror(errno));
    for (size_t i = 0; i < r->options.n_args && !d.n; i++) {
        struct unit u;
        struct text record = {0}, drawing = {0};
        if (model_open(&u, r, r->options.args[i], &record, &drawing)) {
            if (outfile_write(file_of(&u.arena, r, u.path, "txt"), record.at, record.n, &r->inputs, &d))
                outfile_write(file_of(&u.arena, r, u.path, "dot"), text_string(&drawing), drawing.n, &r->inputs, &d);
            unit_release(&u);
        }
        text_release(&record);
        text_release(&drawing);
    }
    if (d.n) {
        run_complain(r, &d, NULL);
        run_status(r, STATUS_INPUT);
    }
    diags_release(&d);
}

/* ---- verify */

struct verifying {
    struct run *run;
    struct arena arena;
    struct text *out;   /* sentences */
    struct text *cases; /* JUnit, or NULL */
    struct text json_text;
    struct jsonout json; /* a list of models, then the orphans */
    const struct view *view;
    const char **known; /* [n_known] files of the models given */
    size_t n_known, cap_known;
    size_t n_same, n_differ, n_orphans; /* models; files without one */
};

/* A file whole, or NULL: it is not there (any other reason is told as missing too). */
static const struct source *file_read(struct sources *s, const char *path)
{
    struct diags quiet;
    diags_init(&quiet);
    int row = sources_read(s, path, NO_SPAN, &quiet);
    diags_release(&quiet);
    return row < 0 ? NULL : &s->files[row];
}

/* Facts of states that the model has not, a line each: they fail the record as a whole. */
static void strangers_add(struct text *t, const struct model *m, const struct record_change *rows, uint32_t n)
{
    for (uint32_t i = 0; i < n; i++)
        if (model_state(m, rows[i].state, strlen(rows[i].state)).i == NONE)
            text_addf(t, "%s  %s  %s%s\n", rows[i].state, rows[i].subject, rows[i].now ? rows[i].now : "gone, was ",
                      rows[i].now ? "" : rows[i].was);
}

/* A case for the record as a whole, and one for each state. */
static void cases_add(struct verifying *v, const struct unit *u, const struct text *per_state,
                      const struct record_change *changes, uint32_t n, const char *problem)
{
    const struct model *m = u->model;
    struct junit_case *rows = mem_zero((size_t)m->n_states + 1, sizeof *rows);
    struct text strangers = {0};
    strangers_add(&strangers, m, changes, n);
    bool whole = problem || strangers.n;
    rows[0] = (struct junit_case){"record as a whole", whole ? JUNIT_FAILED : JUNIT_PASSED,
                                  problem       ? problem
                                  : strangers.n ? "it holds states that the model has not"
                                                : NULL,
                                  strangers.n ? text_string(&strangers) : NULL};
    for (uint32_t i = 0; i < m->n_states; i++) {
        bool fails = per_state[i].n > 0;
        rows[i + 1] = (struct junit_case){m->states[i].part.id, fails ? JUNIT_FAILED : JUNIT_PASSED,
                                          fails ? "the behaviour is not the recorded one" : NULL,
                                          fails ? text_string(&per_state[i]) : NULL};
    }
    junit_suite(v->cases, m->id, u->path, rows, (size_t)m->n_states + 1);
    text_release(&strangers);
    mem_free(rows);
}

/* A suite of one case that is no state of a model. */
static void case_add(struct verifying *v, const char *suite, const char *name, enum junit_result result,
                     const char *message)
{
    const struct junit_case row = {name, result, message, NULL};
    if (v->cases)
        junit_suite(v->cases, suite, suite, &row, 1);
}

/* @param problem why the record as a whole does not hold, or NULL */
static void json_add(struct verifying *v, const struct unit *u, const struct record_change *rows, uint32_t n,
                     const char *problem)
{
    json_begin(&v->json, NULL, '{');
    json_put(&v->json, "model", json_words(u->model->id));
    json_put(&v->json, "file", json_words(u->path));
    json_put(&v->json, "as_recorded", json_boolean(!problem && !n));
    json_put(&v->json, "problem", json_words(problem));
    json_record_changes(&v->json, rows, n);
    json_end(&v->json);
}

/* The files of a model that was given, whether it can be read or not. */
static void known_add(struct verifying *v, const char *path)
{
    static const char *const endings[] = {"txt", "dot"};
    for (int i = 0; i < 2; i++) {
        MEM_GROW(v->known, v->n_known, v->cap_known);
        v->known[v->n_known++] = file_of(&v->arena, v->run, path, endings[i]);
    }
}

static void unit_verify(struct verifying *v, struct unit *u, const struct text *record, const struct text *drawing)
{
    const char *files[2] = {file_of(&v->arena, v->run, u->path, "txt"), file_of(&v->arena, v->run, u->path, "dot")};
    struct text *per_state = mem_zero((size_t)u->model->n_states + 1, sizeof *per_state), told = {0};
    struct sources kept;
    const char *missing = NULL;
    uint32_t n = 0;
    sources_init(&kept);
    const struct source *was = file_read(&kept, files[0]);
    if (!was)
        missing = arena_format(&v->arena, "%s is missing or cannot be read (`feedtrace record` writes it)", files[0]);
    else
        n = record_compare(&told, v->view, u->model, was->bytes, was->n_bytes, record->at, record->n, per_state);
    bool stale = was && !n && (was->n_bytes != record->n || memcmp(was->bytes, record->at, record->n) != 0);
    const struct source *picture = file_read(&kept, files[1]);
    bool redrawn =
        !picture || picture->n_bytes != drawing->n || memcmp(picture->bytes, text_string(drawing), drawing->n) != 0;
    bool differs = missing || n || stale || redrawn;
    const char *problem = missing         ? missing
                          : stale         ? "the record holds the same facts, but not as they are written"
                          : n || !redrawn ? NULL
                          : picture       ? "the same facts, but the drawing is stale"
                                          : "the same facts, but the drawing is missing";
    v->n_same += !differs;
    v->n_differ += differs;
    if (differs) {
        say(v->out, "%s: ", u->path);
        if (n)
            text_add_bytes(v->out, text_string(&told), told.n);
        else
            say(v->out, "%s", problem);
        if (!n)
            text_add_char(v->out, '\n');
    }
    struct record_change *rows = NULL;
    uint32_t n_rows =
        was ? record_changes(&v->arena, was->bytes, was->n_bytes, text_string(record), record->n, &rows) : 0;
    if (v->cases)
        cases_add(v, u, per_state, rows, n_rows, problem);
    json_add(v, u, rows, n_rows, problem);
    for (uint32_t i = 0; i < u->model->n_states; i++)
        text_release(&per_state[i]);
    mem_free(per_state);
    text_release(&told);
    sources_release(&kept);
}

static int by_name(const void *a, const void *b)
{
    return strcmp(*(const char *const *)a, *(const char *const *)b);
}

/* Records in the folder that belong to no model given. */
static void orphans_find(struct verifying *v)
{
    const char *folder = v->run->options.output ? v->run->options.output : FOLDER;
    const char **found = NULL;
    size_t n = 0, cap = 0;
    DIR *dir = opendir(folder);
    for (struct dirent *e; dir && (e = readdir(dir)) != NULL;) {
        size_t length = strlen(e->d_name);
        bool ours = length > 4 && (!strcmp(e->d_name + length - 4, ".txt") || !strcmp(e->d_name + length - 4, ".dot"));
        const char *path = arena_format(&v->arena, "%s/%s", folder, e->d_name);
        for (size_t i = 0; ours && i < v->n_known; i++)
            ours = strcmp(v->known[i], path) != 0;
        if (ours) {
            MEM_GROW(found, n, cap);
            found[n++] = path;
        }
    }
    if (dir)
        closedir(dir);
    if (n)
        qsort(found, n, sizeof *found, by_name);
    json_begin(&v->json, "orphans", '[');
    for (size_t i = 0; i < n; i++) {
        case_add(v, found[i], "has a model", JUNIT_FAILED, "no model was given that this is the record of");
        say(v->out, "%s: no model was given that this is the record of", found[i]);
        text_add_char(v->out, '\n');
        json_put(&v->json, NULL, json_words(found[i]));
    }
    json_end(&v->json);
    v->n_orphans = n;
    mem_free(found);
}

void command_verify(struct run *r)
{
    struct verifying v = {.run = r};
    struct text sentences = {0}, cases = {0};
    if (!names_differ(r))
        return;
    arena_init(&v.arena);
    v.out = &sentences;
    v.json.t = &v.json_text;
    json_begin(&v.json, NULL, '{');
    json_put(&v.json, "feedtrace", json_integer(1));
    json_begin(&v.json, "models", '[');
    v.view = &r->sinks[0].view;
    for (size_t i = 0; i < r->n_sinks; i++)
        v.cases = r->sinks[i].format == FORMAT_JUNIT ? &cases : v.cases;
    for (size_t i = 0; i < r->options.n_args; i++) {
        struct unit u;
        struct text record = {0}, drawing = {0};
        known_add(&v, r->options.args[i]);
        if (model_open(&u, r, r->options.args[i], &record, &drawing)) {
            unit_verify(&v, &u, &record, &drawing);
            unit_release(&u);
        } else {
            case_add(&v, r->options.args[i], "model can be read", JUNIT_ERROR, "it was not verified: see its messages");
            v.n_differ++;
        }
        text_release(&record);
        text_release(&drawing);
    }
    json_end(&v.json);
    orphans_find(&v);
    json_put(&v.json, "as_recorded", json_integer((json_int_t)v.n_same));
    json_put(&v.json, "not", json_integer((json_int_t)v.n_differ));
    json_end(&v.json);
    text_add_char(&v.json_text, '\n');
    if (v.n_differ || v.n_orphans)
        run_status(r, STATUS_FOUND);
    for (size_t i = 0; i < r->n_sinks; i++) {
        struct sink *s = &r->sinks[i];
        if (s->format == FORMAT_JUNIT) {
            junit_begin(&s->text); /* run_deliver() ends it */
            text_add_bytes(&s->text, text_string(&cases), cases.n);
        } else if (s->format == FORMAT_JSON) {
            text_add_bytes(&s->text, text_string(&v.json_text), v.json_text.n);
        } else {
            text_add_bytes(&s->text, text_string(&sentences), sentences.n);
            text_addf(&s->text, "%zu %s as recorded, %zu not", v.n_same, v.n_same == 1 ? "model" : "models",
                      v.n_differ);
            if (v.n_orphans)
                text_addf(&s->text, "; %zu %s without a model", v.n_orphans, v.n_orphans == 1 ? "file" : "files");
            text_add_char(&s->text, '\n');
        }
        s->n_answers = 1;
    }
    mem_free(v.known);
    text_release(&sentences);
    text_release(&cases);
    text_release(&v.json_text);
    arena_release(&v.arena);
    if (r->options.output) /* it names the folder, so the answer goes to standard output */
        r->sinks[0].path = NULL;
    run_deliver(r);
}
