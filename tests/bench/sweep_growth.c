/* How a sweep grows with the unit, and what a second process gains. */
#include "base/mem.h"
#include "bench.h"
#include "faults/kinds.h"
#include "faults/sweep.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

enum { JOBS_MOST = 8, RUNS_MOST = 5 };

struct growing {
    struct sweep *sweep;
    struct text answer;
    struct sweep_counts counts;
};

/* Some of the jobs, evenly over all of them: the faults stand by kind, then in file order. */
static double jobs_measure(void *of)
{
    struct growing *g = of;
    uint64_t jobs = sweep_jobs(g->sweep), n = jobs < JOBS_MOST ? jobs : JOBS_MOST;
    double start = cpu_now();
    g->counts = (struct sweep_counts){0};
    for (uint64_t k = 0; k < n; k++) {
        g->answer.n = 0;
        sweep_job(g->sweep, jobs * k / n, &g->answer);
        sweep_counts_read(g->answer.at, g->answer.n, &g->counts);
    }
    return cpu_now() - start;
}

/* Time of a fault in a state over that of one trace, all states and no fault. */
static double growth_row(const char *path, unsigned rounds)
{
    struct unit u;
    struct edits none = {0};
    struct trace healthy;
    struct growing g = {0};
    char what[80];
    double both[2];
    unit_open(&u, path);
    uint32_t n_states = u.model->n_states;
    state_ix *states = mem_alloc((n_states + 1) * sizeof *states);
    for (uint32_t i = 0; i < n_states; i++)
        states[i].i = i;
    struct sweep_wanted wanted = {
        .kinds = 1u << FAULT_LEAK | 1u << FAULT_BLOCK | 1u << FAULT_STICK, .states = states, .n_states = n_states};
    trace_run(&u.network, &none, 1, NULL, &healthy);
    double start = cpu_now();
    g.sweep = sweep_open(&u.network, &healthy, NULL, &wanted);
    double opening = cpu_now() - start;
    compare(rounds, jobs_measure, &g, trace_measure, &u, both);
    double a_case = both[0] / (double)g.counts.n_cases;
    snprintf(what, sizeof what, "%u passages: a fault in a state, a trace", u.model->n_passages - 1);
    row_print(what, a_case * 1e6, both[1] * 1e6, "us", false, NO_GOAL, NO_GOAL);
    printf("  %u faults, listed in %.3g s; %llu of them in %u states; %llu repacked, %llu expanded, %llu beyond 8 "
           "doubtful\n",
           sweep_faults(g.sweep), opening, (unsigned long long)g.counts.n_sets, n_states,
           (unsigned long long)g.counts.n_repacked, (unsigned long long)g.counts.n_expanded,
           (unsigned long long)g.counts.n_fallbacks);
    sweep_close(g.sweep);
    text_release(&g.answer);
    trace_release(&healthy);
    mem_free(states);
    unit_close(&u);
    return a_case / both[1];
}

void sweep_growth_report(char *paths[2], unsigned rounds)
{
    head_print("Growth of a sweep of single faults (leak, block, stick), against one trace of all states");
    double small = growth_row(paths[0], rounds), middle = growth_row(paths[1], rounds);
    printf("  growth of that ratio: %.2f from small to middle\n", middle / small);
}

/* ---- processes */

/* Runs the program with so many processes; what it prints goes to `out`. @return s by the clock. */
static double program_run(const char *program, const char *path, const char *jobs, FILE *out)
{
    double start = wall_now();
    int status;
    fflush(stdout);
    pid_t child = fork();
    if (child < 0) {
        perror("fork");
        exit(2);
    }
    if (child == 0) {
        if (dup2(fileno(out), STDOUT_FILENO) >= 0)
            execl(program, program, "sweep", "--pairs", "-j", jobs, path, (char *)NULL);
        perror(program);
        _exit(127);
    }
    if (waitpid(child, &status, 0) < 0 || !WIFEXITED(status) || WEXITSTATUS(status) > 1) {
        fprintf(stderr, "%s sweep --pairs -j %s: did not end well\n", program, jobs);
        exit(2);
    }
    return wall_now() - start;
}

static bool files_equal(FILE *a, FILE *b)
{
    int x, y;
    rewind(a);
    rewind(b);
    do {
        x = getc(a);
        y = getc(b);
    } while (x == y && x != EOF);
    return x == y && ftell(a) > 0;
}

uint32_t jobs_report(const char *program, const char *path, unsigned rounds)
{
    static const char *const jobs[2] = {"2", "1"};
    double rows[2][RUNS_MOST];
    uint32_t differ = 0;
    unsigned runs = rounds < RUNS_MOST ? rounds : RUNS_MOST;
    head_print("The command `sweep --pairs` with two processes, against one (time by the clock)");
    for (unsigned i = 0; i < runs; i++) {
        FILE *out[2];
        for (int k = 0; k < 2; k++) {
            out[k] = tmpfile();
            if (!out[k]) {
                perror("tmpfile");
                exit(2);
            }
            rows[k][i] = program_run(program, path, jobs[k], out[k]);
        }
        differ += !files_equal(out[0], out[1]);
        fclose(out[0]);
        fclose(out[1]);
    }
    row_print("-j 2 and -j 1", median(rows[0], runs), median(rows[1], runs), "s", true, 1.8, NO_GOAL);
    printf("  %u of %u runs print other bytes\n", differ, runs);
    return differ;
}
