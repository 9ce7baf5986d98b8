/* How fast, as ratios: each piece of work is measured beside a baseline of the same run, in turn, and the medians are
 * compared, so that a slow or busy machine changes both. Times are processor time of this process. Nothing here fails
 * for being slow; the exit status is 1 only when results that must be equal differ, 2 when a model cannot be read.
 *
 *     bench ROUNDS SMALL MIDDLE LARGE UNIT PROGRAM
 *
 * SMALL, MIDDLE and LARGE are models by make_model.py, UNIT a shipped model for the scenarios and sweeps, PROGRAM the
 * program itself, for what it does with several processes. */
#include "bench.h"
#include <stdio.h>
#include <stdlib.h>

int main(int argc, char **argv)
{
    unsigned rounds = argc == 7 ? (unsigned)strtoul(argv[1], NULL, 10) : 0;
    if (rounds < 1 || rounds > ROUNDS_MAX) {
        fprintf(stderr, "usage: bench ROUNDS SMALL MIDDLE LARGE UNIT PROGRAM   (rounds: 1 to %d)\n", ROUNDS_MAX);
        return 2;
    }
    char **sizes = argv + 2, *unit = argv[5];
    double peaks[2] = {peak_find(load_measure, sizes[2]), peak_find(scan_measure, sizes[2])};
    setvbuf(stdout, NULL, _IOLBF, 0);
    printf("Medians of %u rounds, processor time. Only the ratios count.\n", rounds);
    load_report(sizes[2], rounds, peaks);
    trace_report(sizes, rounds);
    head_print(
        "256 scenarios side by side, against the same one at a time (goal: what a sweep must gain on a plain settle)");
    uint32_t differ = scenarios_report(unit, rounds, true);
    differ += scenarios_report(unit, rounds, false);
    differ += scenarios_report(sizes[0], rounds, true);
    differ += sweeps_report(unit, rounds);
    sweep_growth_report(sizes, rounds);
    differ += jobs_report(argv[6], unit, rounds);
    printf("\n%s\n", differ ? "RESULTS DIFFER" : "All results that must be equal are equal.");
    return differ != 0;
}
