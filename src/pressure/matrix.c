/* KLU. Its habits: memory comes through SuiteSparse_config's hooks, which are set here to the program's one door; a
 * refactorisation keeps the old pivots, so a solution is checked and the pivots are chosen anew where it is poor. */
#include "pressure/matrix.h"
#include "base/mem.h"
#include "model/model.h"
#include <klu.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#define POOR_SOLVE 1e-9 /* of the right-hand side: choose pivots anew */

struct factors {
    klu_numeric *numeric; /* NULL: none */
    int sign;             /* of its permutation of rows; 0: not known */
    bool chosen;          /* numeric was to be made, though it may have been singular */
    double *scale;        /* [n] of each row: one over its largest entry when the pivots were chosen */
};

struct row_check {
    double left; /* of the right side, without what x accounts for */
    double size; /* of all the row's terms */
};

struct matrix {
    uint32_t n;
    int *first;         /* [n + 1] of each column */
    int *row;           /* [entries] rising within a column */
    uint32_t *diagonal; /* [n] where they stand among the entries */
    double *values;
    double *scaled; /* [entries] what is factored */
    klu_symbolic *symbolic;
    struct factors *kept; /* [n_kept] */
    uint32_t n_kept;
    struct factors own;  /* pivots chosen since matrix_forget() */
    struct factors *now; /* what is solved with: one of the kept, or own */
    klu_common common;
    struct row_check *checks; /* [n] */
    int sign;                 /* of the permutation of columns; 0: not known */
};

static void *klu_resize(void *p, size_t n)
{
    return mem_resize(p, n ? n : 1, 1);
}
static void *klu_zero(size_t n, size_t size)
{
    return mem_zero(n, size);
}

static int entry_order(const void *a, const void *b)
{
    const struct entry *p = a, *q = b;
    if (p->column != q->column)
        return p->column < q->column ? -1 : 1;
    return p->row < q->row ? -1 : p->row > q->row;
}

static void columns_make(struct matrix *m, const struct entries *e)
{
    size_t n_all = e->n + m->n, n = 0;
    struct entry *all = mem_alloc((n_all + 1) * sizeof *all);
    if (e->n)
        memcpy(all, e->rows, e->n * sizeof *all);
    for (uint32_t i = 0; i < m->n; i++)
        all[e->n + i] = (struct entry){i, i};
    qsort(all, n_all, sizeof *all, entry_order);
    for (size_t i = 0; i < n_all; i++)
        if (!n || entry_order(&all[n - 1], &all[i]) != 0)
            all[n++] = all[i];
    m->first = mem_zero((size_t)m->n + 1, sizeof *m->first);
    m->row = mem_alloc((n + 1) * sizeof *m->row);
    m->values = mem_zero(n + 1, sizeof *m->values);
    m->scaled = mem_zero(n + 1, sizeof *m->scaled);
    m->diagonal = mem_zero((size_t)m->n + 1, sizeof *m->diagonal);
    for (size_t i = 0; i < n; i++) {
        if (all[i].row == all[i].column)
            m->diagonal[all[i].row] = (uint32_t)i;
        m->row[i] = (int)all[i].row;
        m->first[all[i].column + 1]++;
    }
    for (uint32_t i = 0; i < m->n; i++)
        m->first[i + 1] += m->first[i];
    mem_free(all);
}

struct matrix *matrix_new(uint32_t n, const struct entries *e, uint32_t n_pivots)
{
    SuiteSparse_config.malloc_func = mem_alloc;
    SuiteSparse_config.calloc_func = klu_zero;
    SuiteSparse_config.realloc_func = klu_resize;
    SuiteSparse_config.free_func = mem_free;
    struct matrix *m = mem_zero(1, sizeof *m);
    m->n = n;
    m->n_kept = n_pivots;
    m->kept = mem_zero((size_t)n_pivots + 1, sizeof *m->kept);
    m->now = &m->own;
    columns_make(m, e);
    m->checks = mem_zero((size_t)n + 1, sizeof *m->checks);
    klu_defaults(&m->common);
    m->common.scale = -1; /* rows are scaled here, for balances and sources' rows differ by orders, but only once for
                           * each choice of pivots: KLU would do it at every refactorisation, too */
    if (n)
        m->symbolic = klu_analyze((int)n, m->first, m->row, &m->common);
    return m;
}

static void factors_free(struct matrix *m, struct factors *f)
{
    klu_free_numeric(&f->numeric, &m->common);
    mem_free(f->scale);
}

void matrix_free(struct matrix *m)
{
    if (!m)
        return;
    for (uint32_t i = 0; i < m->n_kept; i++)
        factors_free(m, &m->kept[i]);
    factors_free(m, &m->own);
    klu_free_symbolic(&m->symbolic, &m->common);
    mem_free(m->kept);
    mem_free(m->first);
    mem_free(m->row);
    mem_free(m->diagonal);
    mem_free(m->values);
    mem_free(m->scaled);
    mem_free(m->checks);
    mem_free(m);
}

uint32_t matrix_slot(const struct matrix *m, uint32_t row, uint32_t column)
{
    if (row == column)
        return m->diagonal[row];
    int low = m->first[column], high = m->first[column + 1];
    while (low < high) {
        int mid = low + (high - low) / 2;
        if ((uint32_t)m->row[mid] == row)
            return (uint32_t)mid;
        if ((uint32_t)m->row[mid] < row)
            low = mid + 1;
        else
            high = mid;
    }
    return NONE;
}

uint32_t matrix_size(const struct matrix *m)
{
    return m->n;
}

double *matrix_values(struct matrix *m)
{
    return m->values;
}

void matrix_clear(struct matrix *m)
{
    memset(m->values, 0, (size_t)m->first[m->n] * sizeof *m->values);
}

/* True when A x = b holds well in every row, against the terms of that row. */
static bool solution_is_good(struct matrix *m, const double *b, const double *x)
{
    struct row_check *rows = m->checks;
    const double *values = m->values;
    const int *row = m->row;
    for (uint32_t i = 0; i < m->n; i++)
        rows[i] = (struct row_check){b[i], fabs(b[i])};
    for (uint32_t k = 0; k < m->n; k++) {
        double by = x[k];
        for (int i = m->first[k], end = m->first[k + 1]; i < end; i++) {
            double part = values[i] * by;
            rows[row[i]].left -= part;
            rows[row[i]].size += fabs(part);
        }
    }
    bool good = true;
    for (uint32_t i = 0; i < m->n; i++) /* what is not finite in x makes rows so */
        good &= fabs(rows[i].left) <= POOR_SOLVE * rows[i].size && rows[i].size < INFINITY;
    return good;
}

static bool solve_factored(struct matrix *m, const double *b, double *x)
{
    const double *scale = m->now->scale;
    for (uint32_t i = 0; i < m->n; i++)
        x[i] = scale[i] * b[i];
    return klu_solve(m->symbolic, m->now->numeric, (int)m->n, 1, x, &m->common) != 0;
}

static void rows_scale(struct matrix *m, const double *scale)
{
    for (int i = 0, n = m->first[m->n]; i < n; i++)
        m->scaled[i] = scale[m->row[i]] * m->values[i];
}

static bool factor_again(struct matrix *m, struct factors *f)
{
    rows_scale(m, f->scale);
    return klu_refactor(m->first, m->row, m->scaled, m->symbolic, f->numeric, &m->common) != 0 &&
           m->common.status == KLU_OK;
}

static bool factor_anew(struct matrix *m, struct factors *f)
{
    if (!f->scale)
        f->scale = mem_alloc(((size_t)m->n + 1) * sizeof *f->scale);
    memset(f->scale, 0, m->n * sizeof *f->scale);
    for (int i = 0, n = m->first[m->n]; i < n; i++)
        f->scale[m->row[i]] = fmax(f->scale[m->row[i]], fabs(m->values[i]));
    for (uint32_t i = 0; i < m->n; i++)
        f->scale[i] = f->scale[i] > 0 && isfinite(f->scale[i]) ? 1 / f->scale[i] : 1;
    rows_scale(m, f->scale);
    klu_free_numeric(&f->numeric, &m->common);
    f->sign = 0;
    f->numeric = klu_factor(m->first, m->row, m->scaled, m->symbolic, &m->common);
    return f->numeric && m->common.status == KLU_OK;
}

bool matrix_solve(struct matrix *m, const double *b, double *x)
{
    if (!m->n)
        return true;
    if (!m->symbolic)
        return false;
    bool good = m->now->numeric && factor_again(m, m->now) && solve_factored(m, b, x) && solution_is_good(m, b, x);
    if (!good) {
        m->now = &m->own;
        good = factor_anew(m, &m->own) && solve_factored(m, b, x);
        for (uint32_t i = 0; good && i < m->n; i++)
            good = isfinite(x[i]);
    }
    return good;
}

void matrix_forget(struct matrix *m, uint32_t row)
{
    m->now = m->kept[row].numeric ? &m->kept[row] : &m->own;
    klu_free_numeric(&m->own.numeric, &m->common);
}

void matrix_pivots(struct matrix *m, uint32_t row)
{
    m->kept[row].chosen = true;
    if (m->symbolic && !factor_anew(m, &m->kept[row]))
        klu_free_numeric(&m->kept[row].numeric, &m->common);
}

bool matrix_chose(const struct matrix *m, uint32_t row)
{
    return m->kept[row].chosen;
}

/* Sign of a permutation. */
static int permutation_sign(const int *p, uint32_t n)
{
    uint8_t *seen = mem_zero((size_t)n + 1, 1);
    int sign = 1;
    for (uint32_t i = 0; i < n; i++) {
        uint32_t length = 0;
        for (uint32_t k = i; !seen[k]; k = (uint32_t)p[k]) {
            seen[k] = 1;
            length++;
        }
        if (length && length % 2 == 0)
            sign = -sign;
    }
    mem_free(seen);
    return sign;
}

int matrix_sign(struct matrix *m)
{
    struct factors *f = m->now;
    if (!m->n || !f->numeric)
        return 1;
    if (!m->sign)
        m->sign = permutation_sign(m->symbolic->Q, m->n);
    if (!f->sign)
        f->sign = permutation_sign(f->numeric->Pnum, m->n);
    int sign = m->sign * f->sign;
    const double *u = f->numeric->Udiag;
    for (uint32_t i = 0; i < m->n; i++)
        if (u[i] < 0)
            sign = -sign;
    return sign;
}
