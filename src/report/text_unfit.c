/* Kinds of faults that a sweep was asked for and that the model has no part for. */
#include "faults/kinds.h"
#include "report/sweep_table.h"
#include <string.h>

static bool has_kind(const struct sweep_table *table, const char *word)
{
    size_t n = strlen(word);
    for (uint32_t i = 0; i < table->n_faults; i++)
        if (!strncmp(table->faults[i], word, n) && table->faults[i][n] == ' ')
            return true;
    return false;
}

void text_sweep_unfit(struct text *t, const struct view *v, const struct sweep_report *r)
{
    const json_t *kinds = json_object_get(r->table->about, "kinds");
    if (json_array_size(kinds) == N_FAULT_KINDS || json_is_string(json_object_get(r->table->about, "element")))
        return;
    for (size_t i = 0; i < json_array_size(kinds); i++) {
        const char *word = json_string_value(json_array_get(kinds, i));
        enum fault_kind kind = word ? fault_kind_find(word) : N_FAULT_KINDS;
        if (kind == N_FAULT_KINDS || has_kind(r->table, word))
            continue;
        struct text body = {0};
        text_addf(&body, "No part of this model can have the fault `%s`: that takes %s.", word,
                  fault_kind_row(kind)->needs);
        say_folded(t, v, 0, 0, "", PAINT_WARN, text_string(&body));
        text_release(&body);
    }
}
