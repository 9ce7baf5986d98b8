/* Findings that are known: a text file, a finding a line by model, code, part and state, and no line numbers, so that
 * an edit elsewhere in the model does not make them new. */
#include "commands/baseline.h"
#include "base/mem.h"
#include "base/outfile.h"
#include "report/ci.h"
#include <stdlib.h>
#include <string.h>

static const char head[] =
    "# feedtrace baseline 1\n"
    "# Findings that `check --baseline` leaves out: model, code, part (or what it says), state.\n";

static int key_order(const void *left, const void *right)
{
    const struct baseline_key *a = left, *b = right;
    return strcmp(a->words, b->words);
}

static void keys_add(struct baseline *b, const char *words)
{
    MEM_GROW(b->keys, b->n, b->cap);
    b->keys[b->n++] = (struct baseline_key){mem_copy_text(words), false};
}

static size_t fields(const char *line)
{
    size_t n = 0;
    for (const char *at = line; *at; at += strcspn(at, " "), at += *at == ' ')
        n++;
    return n;
}

bool baseline_read(struct baseline *b, struct run *r, const char *path, struct diags *d)
{
    struct sources files;
    struct text line = {0};
    bool ok = true;
    sources_init(&files);
    int row = sources_read(&files, path, NO_SPAN, d);
    run_inputs(r, &files);
    const char *at = row < 0 ? "" : files.files[row].bytes;
    if (row >= 0 && strncmp(at, head, strcspn(head, "\n") + 1) != 0) {
        diag(d, BAD_USAGE, NO_SPAN, "%s is no baseline: it does not begin with `# feedtrace baseline 1`", path);
        ok = false;
    }
    for (unsigned number = 1; ok && *at; number++) {
        size_t n = strcspn(at, "\n");
        text_clear(&line);
        text_add_bytes(&line, at, n && at[n - 1] == '\r' ? n - 1 : n);
        at += n + (at[n] == '\n');
        if (!line.n || line.at[0] == '#')
            continue;
        ok = fields(line.at) == 4;
        if (ok)
            keys_add(b, line.at);
        else
            diag(d, BAD_USAGE, NO_SPAN, "line %u of %s is not: model, code, part, state", number, path);
    }
    text_release(&line);
    sources_release(&files);
    if (b->n)
        qsort(b->keys, b->n, sizeof *b->keys, key_order);
    return ok && row >= 0;
}

static struct baseline_key *key_find(const struct baseline *b, const char *words)
{
    struct baseline_key wanted = {(char *)words, false};
    return b->n ? bsearch(&wanted, b->keys, b->n, sizeof *b->keys, key_order) : NULL;
}

void baseline_apply(struct baseline *b, struct answer *a)
{
    struct diags kept, *d = a->diags;
    struct text key = {0};
    size_t n_id = strlen(a->model->id);
    diags_init(&kept);
    a->has_baseline = true;
    for (size_t i = 0; i < d->n; i++) {
        const struct diag *f = &d->rows[i];
        text_clear(&key);
        finding_key(&key, a->model, f);
        struct baseline_key *known = key_find(b, text_string(&key));
        if (known) {
            known->found = true;
            a->n_known++;
            continue;
        }
        diag_finding(&kept, f->code, f->where, f->at, f->state, "%s", f->message);
        if (f->help)
            diag_help(&kept, "%s", f->help);
        if (f->second_text)
            diag_second(&kept, f->second, "%s", f->second_text);
    }
    size_t n[] = {0, 0, 0}; /* of each level, of those that are counted and not kept: they stay */
    for (size_t i = 0; i < d->n; i++)
        n[d->rows[i].level]++;
    kept.n_notes += d->n_notes - n[LEVEL_NOTE];
    kept.n_warnings += d->n_warnings - n[LEVEL_WARNING];
    kept.n_errors += d->n_errors - n[LEVEL_ERROR];
    for (size_t i = 0; i < b->n; i++)
        a->n_gone +=
            !b->keys[i].found && !strncmp(b->keys[i].words, a->model->id, n_id) && b->keys[i].words[n_id] == ' ';
    diags_release(d);
    *d = kept;
    text_release(&key);
}

void baseline_note(struct baseline *b, const struct answer *a)
{
    struct text key = {0};
    for (size_t i = 0; i < a->diags->n; i++) {
        text_clear(&key);
        finding_key(&key, a->model, &a->diags->rows[i]);
        keys_add(b, text_string(&key));
    }
    text_release(&key);
}

bool baseline_write(struct baseline *b, const struct run *r, const char *path, struct diags *d)
{
    struct text t = {0};
    text_add(&t, head);
    if (b->n)
        qsort(b->keys, b->n, sizeof *b->keys, key_order);
    for (size_t i = 0; i < b->n; i++)
        if (!i || strcmp(b->keys[i].words, b->keys[i - 1].words) != 0)
            text_addf(&t, "%s\n", b->keys[i].words);
    bool ok = outfile_write(path, text_string(&t), t.n, &r->inputs, d);
    text_release(&t);
    return ok;
}

void baseline_release(struct baseline *b)
{
    for (size_t i = 0; i < b->n; i++)
        mem_free(b->keys[i].words);
    mem_free(b->keys);
    *b = (struct baseline){0};
}
