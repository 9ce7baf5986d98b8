/* Inner to pressure/: a sparse matrix whose pattern stays while its values change, and KLU behind it. */
#ifndef PRESSURE_MATRIX_H
#define PRESSURE_MATRIX_H
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct entry {
    uint32_t row, column;
};
struct entries {
    struct entry *rows; /* [n] mem_free() */
    size_t n, cap;
};

struct matrix; /* columns, symbolic analysis, numbers */

/** A matrix of n x n with these entries (repeats are fine; the diagonal is always there). Caller frees.
 * @param n_pivots choices of pivots that are kept */
struct matrix *matrix_new(uint32_t n, const struct entries *e, uint32_t n_pivots);
void matrix_free(struct matrix *m);

/** Position of an entry in matrix_values(), NONE where the pattern has none. */
uint32_t matrix_slot(const struct matrix *m, uint32_t row, uint32_t column);
uint32_t matrix_size(const struct matrix *m);

/** The values, [number of entries]; borrowed. */
double *matrix_values(struct matrix *m);
void matrix_clear(struct matrix *m);

/** Solves A x = b for the present values. @param b [n] @param x out [n], may not be b. @return false: singular */
bool matrix_solve(struct matrix *m, const double *b, double *x);

/** Forgets what was factored: solves begin with the pivots of this row, or, where that has none, choose theirs. So they
 * do not depend on what was solved before.  @param row below the n_pivots of matrix_new() */
void matrix_forget(struct matrix *m, uint32_t row);

/** Chooses a row's pivots by the present values; where these are singular it keeps none. */
void matrix_pivots(struct matrix *m, uint32_t row);
/** True once matrix_pivots() was called for the row. */
bool matrix_chose(const struct matrix *m, uint32_t row);

/** Sign of the determinant of what matrix_solve() factored last: 1, -1. */
int matrix_sign(struct matrix *m);
#endif
