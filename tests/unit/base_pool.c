/* Jobs by several processes: every job once, and a worker that dies costs its own job only. */
#include "base/outfile.h"
#include "base/pool.h"
#include "unit.h"
#include <errno.h>
#include <signal.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

enum { MOST = 64 };

struct seen {
    unsigned n_done[MOST], n_lost[MOST];
    uint64_t dies[2]; /* jobs that kill their worker, by a signal and by an exit */
    size_t bytes;     /* of an answer */
    pid_t parent;
    char how[2][64];
};

/* The answer of a job: its number, then as many bytes as wanted. */
static void work(void *with, uint64_t job, struct text *answer)
{
    const struct seen *s = with;
    if (getpid() != s->parent && job == s->dies[0])
        raise(SIGKILL);
    if (getpid() != s->parent && job == s->dies[1])
        _exit(7);
    text_addf(answer, "%llu:", (unsigned long long)job);
    for (size_t i = 0; i < s->bytes; i++)
        text_add_char(answer, (char)('a' + (i + job) % 26));
}

static void done(void *with, uint64_t job, const char *answer, size_t n)
{
    struct seen *s = with;
    struct text wanted = {0};
    work(with, job, &wanted);
    CU_ASSERT_TRUE(n == wanted.n && memcmp(answer, wanted.at, n) == 0);
    CU_ASSERT_EQUAL((uintptr_t)answer % 8, 0);
    s->n_done[job]++;
    text_release(&wanted);
}

static void lost(void *with, uint64_t job, const char *how)
{
    struct seen *s = with;
    s->n_lost[job]++;
    snprintf(s->how[job == s->dies[1]], sizeof s->how[0], "%s", how);
}

static struct seen run(unsigned n_workers, uint64_t first, uint64_t step, uint64_t n_jobs, size_t bytes,
                       const uint64_t dies[2])
{
    struct seen s = {.dies = {dies[0], dies[1]}, .bytes = bytes, .parent = getpid()};
    struct pool p = {&s, work, done, lost, first, step, n_jobs, n_workers};
    pool_run(&p);
    return s;
}

static const uint64_t nobody[2] = {MOST, MOST};

static void does_each_job_once(void)
{
    static const size_t sizes[] = {0, 1, 65528, 300000}; /* within a pipe, at its edge, beyond */
    for (unsigned n_workers = 1; n_workers < 6; n_workers++)
        for (size_t k = 0; k < sizeof sizes / sizeof *sizes; k++) {
            struct seen s = run(n_workers, 0, 1, 9, sizes[k], nobody);
            for (int i = 0; i < MOST; i++)
                CU_ASSERT_TRUE(s.n_done[i] == (i < 9) && !s.n_lost[i]);
        }
}

static void takes_a_part(void)
{
    for (uint64_t first = 0; first < 3; first++) {
        struct seen s = run(2, first, 3, 20, 5, nobody);
        for (uint64_t i = 0; i < MOST; i++)
            CU_ASSERT_EQUAL(s.n_done[i], i < 20 && i % 3 == first);
    }
    struct seen none = run(2, 5, 9, 3, 5, nobody);
    for (int i = 0; i < MOST; i++)
        CU_ASSERT_EQUAL(none.n_done[i], 0);
}

static void loses_only_the_job(void)
{
    for (unsigned n_workers = 2; n_workers < 5; n_workers++) {
        const uint64_t dies[2] = {3, 8};
        struct seen s = run(n_workers, 0, 1, 12, 1000, dies);
        for (uint64_t i = 0; i < MOST; i++) {
            bool died = i == 3 || i == 8;
            CU_ASSERT_EQUAL(s.n_done[i], i < 12 && !died);
            CU_ASSERT_EQUAL(s.n_lost[i], died);
        }
        CU_ASSERT_STRING_EQUAL(s.how[0], "ended by signal 9");
        CU_ASSERT_STRING_EQUAL(s.how[1], "ended with status 7");
    }
    const uint64_t last[2] = {11, 10}; /* nobody is left to take over, and nothing has to be */
    struct seen s = run(2, 0, 1, 12, 10, last);
    CU_ASSERT_TRUE(s.n_lost[11] == 1 && s.n_lost[10] == 1 && s.n_done[9] == 1);
}

static void leaves_no_child(void)
{
    run(3, 0, 1, 9, 10, nobody);
    CU_ASSERT_TRUE(waitpid(-1, NULL, WNOHANG) < 0 && errno == ECHILD);
    CU_ASSERT_TRUE(pool_cores() >= 1);
}

static const struct unit_test tests[] = {
    {"each job once", does_each_job_once},
    {"a part of the jobs", takes_a_part},
    {"a worker that dies", loses_only_the_job},
    {"no child is left", leaves_no_child},
};

int main(void)
{
    outfile_init(); /* as the program does: writing to a dead worker must not end this process */
    return unit_run("pool", tests, sizeof tests / sizeof *tests);
}
