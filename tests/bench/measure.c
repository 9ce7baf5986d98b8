/* Times, medians, and the rows of the table. */
#include "bench.h"
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#define SAMPLE 0.02 /* s that a sample lasts at least; short work is repeated */

double cpu_now(void)
{
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec + (double)t.tv_nsec * 1e-9;
}

double wall_now(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + (double)t.tv_nsec * 1e-9;
}

uint32_t pick(uint64_t *state, uint32_t n)
{
    *state ^= *state << 13; /* xorshift, G. Marsaglia 2003 */
    *state ^= *state >> 7;
    *state ^= *state << 17;
    return (uint32_t)((*state >> 16) % n);
}

void head_print(const char *title)
{
    printf("\n%s\n%-44s %11s %11s %9s  %s\n", title, "", "work", "baseline", "ratio", "goal");
}

void row_print(const char *what, double work, double baseline, const char *unit, bool more, double goal, double stretch)
{
    double ratio = more ? baseline / work : work / baseline;
    printf("%-44s %8.5g %-2s %8.5g %-2s %7.2f x", what, work, unit, baseline, unit, ratio);
    if (isnan(goal)) {
        printf("\n");
        return;
    }
    bool met = more ? ratio >= goal : ratio <= goal, far = more ? ratio >= stretch : ratio <= stretch;
    printf("  at %s %g: %s", more ? "least" : "most", goal, met ? "met" : "missed");
    if (!isnan(stretch))
        printf(", stretch %g: %s", stretch, far ? "met" : "missed");
    printf("\n");
}

static int double_compare(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

double median(double *rows, unsigned n)
{
    qsort(rows, n, sizeof *rows, double_compare);
    return n % 2 ? rows[n / 2] : (rows[n / 2 - 1] + rows[n / 2]) / 2;
}

static double sample(measured work, void *of)
{
    double sum = 0;
    unsigned times = 0;
    while (sum < SAMPLE) {
        sum += work(of);
        times++;
    }
    return sum / times;
}

void compare(unsigned rounds, measured work, void *of_work, measured baseline, void *of_baseline, double out[2])
{
    double rows[2][ROUNDS_MAX];
    for (unsigned i = 0; i < rounds; i++) {
        rows[0][i] = sample(work, of_work);
        rows[1][i] = sample(baseline, of_baseline);
    }
    out[0] = median(rows[0], rounds);
    out[1] = median(rows[1], rounds);
}
