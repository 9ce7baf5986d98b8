/* Any bytes as a model's file. */
#include "fuzz.h"
#include "report/answer.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n)
{
    struct sources files;
    struct diags d;
    struct model *m = fuzz_model(fuzz_file(data, n), &files, &d);
    diags_sort(&d);
    struct view v = {.width = 80};
    struct text t = {0};
    text_diags(&t, &v, &d, &files, true); /* excerpts look into the file */
    for (size_t i = 0; i < t.n; i++)
        fuzz_must(t.at[i] == '\n' || ((unsigned char)t.at[i] >= 0x20 && t.at[i] != 0x7F),
                  "no control character leaves");
    text_release(&t);
    if (m)
        model_free(m);
    diags_release(&d);
    sources_release(&files);
    return 0;
}
