/* The small readers: the first byte says which, the rest is the text. Each gets it in memory of exactly
 * its length, so that a look beyond the end is seen. */
#include "base/escape.h"
#include "base/mem.h"
#include "faults/faults.h"
#include "fuzz.h"
#include "model/claim.h"
#include <math.h>
#include <string.h>

static struct sources files;
static struct diags reading;
static struct model *model;
static struct network network;

int LLVMFuzzerInitialize(int *argc, char ***argv)
{
    (void)argc;
    (void)argv;
    model = fuzz_model(FEEDTRACE_SOURCE_DIR "/models/tern-l2.yaml", &files, &reading);
    fuzz_must(model != NULL, "the shipped model can be read");
    network_build(model, false, &network);
    return 0;
}

static void read_quantity(enum dimension dim, bool other_units, const char *text, size_t n)
{
    struct units u = units_default();
    if (other_units)
        units_set(&u, DIM_PRESSURE, "bar");
    double value = -12345.5;
    size_t unit_at = 0;
    enum quantity_problem problem = quantity_read(text, n, dim, &u, &value, &unit_at);
    if (problem == QUANTITY_OK)
        fuzz_must(isfinite(value) && (dim != DIM_TEMPERATURE || value >= 0),
                  "a quantity is finite, and not below zero K");
    else
        fuzz_must(value == -12345.5, "a bad quantity leaves the value alone");
    fuzz_must(problem != QUANTITY_UNKNOWN_UNIT || unit_at < n, "the unit stands in the text");
    struct text t = {0};
    quantity_add(&t, value, dim, &u);
    fuzz_must(t.n > 0, "a quantity can be printed");
    text_release(&t);
}

static void read_faults(const char *text, size_t n)
{
    struct arena a;
    struct diags d;
    arena_init(&a);
    diags_init(&d);
    struct fault_set set = {0}, again = {0};
    if (!memchr(text, 0, n)) { /* an argument ends at its NUL */
        char *line = arena_text(&a, text, n);
        if (faults_read(line, &network, &a, &set, &d)) {
            fuzz_must(!d.n_errors, "faults that were read have no error");
            fuzz_must(faults_read(set.words, &network, &a, &again, &d), "the canonical words can be read");
            fuzz_must(!strcmp(set.words, again.words) && set.n == again.n, "the canonical words mean themselves");
        } else {
            fuzz_must(d.n_errors > 0, "refused faults have a reason");
        }
    }
    diags_release(&d);
    arena_release(&a);
}

static void read_claims(const char *text, size_t n)
{
    struct arena a;
    struct diags d;
    arena_init(&a);
    diags_init(&d);
    struct claims c = {0};
    bool good = claims_read(text, n, (struct span){1, 1, 0, 1}, model, &a, &c, &d);
    fuzz_must(good == !d.n_errors, "either claims or a reason");
    for (uint32_t i = 0; good && i < c.n_rows; i++) {
        const struct claim *r = &c.rows[i];
        fuzz_must(!isnan(r->low) && !isnan(r->high) && !isnan(r->times), "the numbers of a claim are numbers");
        fuzz_must(r->pressure != PRESSURE_BETWEEN || r->low <= r->high, "between low and high");
    }
    diags_release(&d);
    arena_release(&a);
}

static void print_words(const char *text, size_t n)
{
    static void (*const printers[])(struct text *, const char *, size_t) = {escape_plain, escape_xml, escape_dot,
                                                                            escape_csv};
    for (size_t i = 0; i < sizeof printers / sizeof *printers; i++) {
        struct text t = {0};
        printers[i](&t, text, n);
        fuzz_must(escape_valid_utf8(text_string(&t), t.n), "what is printed is UTF-8");
        for (size_t k = 0; k < t.n; k++)
            fuzz_must((unsigned char)t.at[k] >= 0x20 && t.at[k] != 0x7F, "no control character is printed");
        fuzz_must(i != 0 || escape_width(text, n) == escape_width(text_string(&t), t.n),
                  "the width is that of what is printed");
        text_release(&t);
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n)
{
    if (!n)
        return 0;
    char *text = mem_alloc(n - 1);
    if (n > 1)
        memcpy(text, data + 1, n - 1);
    switch (data[0]) {
    case 'f':
        read_faults(text, n - 1);
        break;
    case 'c':
        read_claims(text, n - 1);
        break;
    case 't':
        print_words(text, n - 1);
        break;
    default: /* A pressure, B length, ... in the order of enum dimension; with other units from 128 on */
        read_quantity((unsigned)(data[0] + 256 - 'A') % 128 % N_DIMENSIONS, data[0] >= 128, text, n - 1);
    }
    mem_free(text);
    return 0;
}
