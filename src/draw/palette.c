#include "draw/palette.h"

/* Vermillion is kept for faults; yellow is too light for a line on white. */
static const char *const colours[] = {"#0072B2", "#009E73", "#CC79A7", "#E69F00", "#56B4E9", "#000000"};
#define N_COLOURS (uint32_t)(sizeof colours / sizeof *colours)

struct looks {
    struct circuit_look *rows; /* [n_circuits] */
    bool taken[N_COLOURS][N_PATTERNS];
};

/* The first free pattern of the wanted colour, else of the next ones; when all are taken, the wanted colour's own. */
static void look_choose(struct looks *l, uint32_t row, uint32_t colour)
{
    for (uint32_t i = 0; i < N_COLOURS; i++) {
        uint32_t c = (colour + i) % N_COLOURS;
        for (enum pattern pattern = 0; pattern < N_PATTERNS; pattern++)
            if (!l->taken[c][pattern]) {
                l->taken[c][pattern] = true;
                l->rows[row] = (struct circuit_look){colours[c], pattern};
                return;
            }
    }
    l->rows[row] = (struct circuit_look){colours[colour], row % N_PATTERNS};
}

struct circuit_look *palette_circuits(const struct sketch *s, struct arena *a)
{
    const struct model *m = s->model;
    struct looks l = {.rows = arena_rows(a, m->n_circuits, sizeof *l.rows)};
    uint32_t *colour = arena_rows(a, m->n_circuits, sizeof *colour); /* by family */
    bool *shown = arena_rows(a, m->n_circuits, sizeof *shown);
    uint32_t n_families = 0;
    for (uint32_t i = 0; i < m->n_circuits; i++)
        if (m->circuits[i].under.i == NONE)
            colour[i] = n_families++ % N_COLOURS;
    bool enough = m->n_circuits <= N_COLOURS * N_PATTERNS;
    for (uint32_t i = SUMP.i + 1; i < m->n_passages; i++)
        shown[m->passages[i].circuit.i] |= enough || s->shown[s->box[i]];
    for (int turn = 0; turn < 2; turn++) /* shown ones first */
        for (uint32_t i = 0; i < m->n_circuits; i++) {
            circuit_ix family = {i};
            while (m->circuits[family.i].under.i != NONE)
                family = m->circuits[family.i].under;
            if (shown[i] == (turn == 0))
                look_choose(&l, i, colour[family.i]);
        }
    return l.rows;
}

const char *palette_fill(bool settled, enum condition c)
{
    static const char *const fills[] = {
        [TRAPPED] = "#DCDCDC", [EXHAUSTED] = "#FFFFFF", [FED] = "#DDEFFA", [PARTIAL] = "#FFF6B3", [UNSURE] = "#F6E0EC"};
    return settled ? fills[c] : "#FFFFFF";
}
