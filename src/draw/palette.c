#include "draw/palette.h"

/* Vermillion is kept for faults, black for text, yellow is too light for a line on white. */
static const char *const colours[] = {"#0072B2", "#009E73", "#CC79A7", "#56B4E9", "#E69F00"};
#define N_COLOURS (uint32_t)(sizeof colours / sizeof *colours)

static circuit_ix family_of(const struct model *m, circuit_ix c)
{
    while (m->circuits[c.i].under.i != NONE)
        c = m->circuits[c.i].under;
    return c;
}

struct circuit_look *palette_circuits(const struct model *m, struct arena *a)
{
    struct circuit_look *looks = arena_rows(a, m->n_circuits, sizeof *looks);
    uint32_t *next = arena_rows(a, m->n_circuits, sizeof *next); /* by family: its next pattern */
    uint32_t n_families = 0;
    for (uint32_t i = 0; i < m->n_circuits; i++)
        if (m->circuits[i].under.i == NONE) {
            looks[i] = (struct circuit_look){colours[n_families % N_COLOURS], (n_families / N_COLOURS) % N_PATTERNS};
            next[i] = looks[i].pattern + 1;
            n_families++;
        }
    for (uint32_t i = 0; i < m->n_circuits; i++) {
        if (m->circuits[i].under.i == NONE)
            continue;
        uint32_t family = family_of(m, (circuit_ix){i}).i;
        looks[i] = (struct circuit_look){looks[family].colour, next[family]++ % N_PATTERNS};
    }
    return looks;
}

const char *palette_fill(bool settled, enum condition c)
{
    static const char *const fills[] = {
        [TRAPPED] = "#DCDCDC", [EXHAUSTED] = "#FFFFFF", [FED] = "#DDEFFA", [PARTIAL] = "#FFF6B3", [UNSURE] = "#F6E0EC"};
    return settled ? fills[c] : "#FFFFFF";
}
