/* A model from a text in the test itself. */
#ifndef UNIT_MODEL_H
#define UNIT_MODEL_H
#include "base/text.h"
#include "model/model.h"
#include "unit.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

struct read_text {
    struct model *m; /* NULL: d holds the errors */
    struct sources files;
    struct diags d;
};

/** Reads `text` as a model file. unit_model_release() afterwards. */
static inline struct read_text unit_model(const char *text)
{
    struct read_text t;
    char path[] = "/tmp/unit-model-XXXXXX";
    int fd = mkstemp(path);
    FILE *file = fd < 0 ? NULL : fdopen(fd, "w");
    bool written = file && fputs(text, file) >= 0 && fclose(file) == 0;
    CU_ASSERT_TRUE_FATAL(written);
    sources_init(&t.files);
    diags_init(&t.d);
    t.m = model_read(path, &t.files, &t.d);
    unlink(path);
    return t;
}

static inline void unit_model_release(struct read_text *t)
{
    model_free(t->m);
    diags_release(&t->d);
    sources_release(&t->files);
}

/** The same, and it must be good: otherwise its errors are printed and the test ends. */
static inline struct read_text unit_good_model(const char *text)
{
    struct read_text t = unit_model(text);
    for (size_t i = 0; i < t.d.n; i++)
        fprintf(stderr, "%u:%u: %s: %s\n", t.d.rows[i].where.line, t.d.rows[i].where.column,
                code_row(t.d.rows[i].code)->id, t.d.rows[i].message);
    CU_ASSERT_PTR_NOT_NULL_FATAL(t.m);
    return t;
}
#endif
