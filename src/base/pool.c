#define _GNU_SOURCE /* sched_getaffinity(), CPU_COUNT() */
/* Workers are forked; each has a pipe for the numbers of its jobs and one for their answers. */
#include "base/pool.h"
#include "base/mem.h"
#include <errno.h>
#include <poll.h>
#include <sched.h>
#include <signal.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

enum { WORKERS_MOST = 256, CHUNK = 65536 };

struct worker {
    pid_t pid; /* 0: none */
    int jobs, answers;
    uint64_t job;
    bool busy;
    struct text answer; /* what came of it: its length in eight bytes, then the bytes */
};

struct running {
    const struct pool *pool;
    struct worker *workers; /* [pool->n_workers] */
    uint64_t next;
};

static bool write_all(int fd, const void *from, size_t n)
{
    for (const char *at = from; n;) {
        ssize_t wrote = write(fd, at, n);
        if (wrote < 0 && errno == EINTR)
            continue;
        if (wrote <= 0)
            return false;
        at += wrote;
        n -= (size_t)wrote;
    }
    return true;
}

static bool read_all(int fd, void *to, size_t n)
{
    for (char *at = to; n;) {
        ssize_t got = read(fd, at, n);
        if (got < 0 && errno == EINTR)
            continue;
        if (got <= 0)
            return false;
        at += got;
        n -= (size_t)got;
    }
    return true;
}

/* A worker's life: it ends when nobody asks any more, or nobody listens. */
static _Noreturn void serve(const struct pool *p, int jobs, int answers)
{
    uint64_t job;
    while (read_all(jobs, &job, sizeof job)) {
        struct text answer = {0};
        p->work(p->with, job, &answer);
        uint64_t n = answer.n;
        if (!write_all(answers, &n, sizeof n) || !write_all(answers, text_string(&answer), answer.n))
            break;
        text_release(&answer);
    }
    _exit(0); /* what the parent has half written or buffered is not this process's to end */
}

static void worker_close(struct worker *w)
{
    close(w->jobs);
    close(w->answers);
    text_release(&w->answer);
    w->pid = 0;
    w->busy = false;
}

static bool worker_start(struct running *r, struct worker *w)
{
    int jobs[2], answers[2];
    if (pipe(jobs))
        return false;
    if (pipe(answers)) {
        close(jobs[0]);
        close(jobs[1]);
        return false;
    }
    pid_t pid = fork();
    if (pid == 0) {
        close(jobs[1]);
        close(answers[0]);
        for (unsigned i = 0; i < r->pool->n_workers; i++) /* else their pipes would stay open when the parent is gone */
            if (r->workers[i].pid) {
                close(r->workers[i].jobs);
                close(r->workers[i].answers);
            }
        serve(r->pool, jobs[0], answers[1]);
    }
    close(jobs[0]);
    close(answers[1]);
    *w = (struct worker){.pid = pid > 0 ? pid : 0, .jobs = jobs[1], .answers = answers[0]};
    if (pid < 0)
        worker_close(w);
    return pid > 0;
}

static bool jobs_left(const struct running *r)
{
    return r->next < r->pool->n_jobs;
}

static uint64_t job_take(struct running *r)
{
    uint64_t job = r->next;
    r->next = r->pool->n_jobs - job > r->pool->step ? job + r->pool->step : r->pool->n_jobs;
    return job;
}

/* Hands a worker its next job, or lets it go. A worker that died in between is found out when its answer is read. */
static void worker_feed(struct running *r, struct worker *w)
{
    if (!jobs_left(r)) {
        close(w->jobs);
        w->jobs = -1;
        w->busy = false;
        return;
    }
    w->job = job_take(r);
    w->busy = true;
    text_clear(&w->answer);
    write_all(w->jobs, &w->job, sizeof w->job);
}

static void worker_ended(struct running *r, struct worker *w)
{
    char how[64];
    int status = 0;
    while (waitpid(w->pid, &status, 0) < 0 && errno == EINTR)
        ;
    bool busy = w->busy;
    uint64_t job = w->job;
    worker_close(w);
    if (!busy)
        return;
    if (WIFSIGNALED(status))
        snprintf(how, sizeof how, "ended by signal %d", WTERMSIG(status));
    else
        snprintf(how, sizeof how, "ended with status %d", WEXITSTATUS(status));
    r->pool->lost(r->pool->with, job, how);
    if (jobs_left(r) && worker_start(r, w))
        worker_feed(r, w);
}

/* Reads what is there; a whole answer is handed on and the next job given out. */
static void worker_read(struct running *r, struct worker *w)
{
    char chunk[CHUNK];
    uint64_t n;
    ssize_t got = read(w->answers, chunk, sizeof chunk);
    if (got < 0 && errno == EINTR)
        return;
    if (got <= 0) {
        worker_ended(r, w);
        return;
    }
    text_add_bytes(&w->answer, chunk, (size_t)got);
    if (w->answer.n < sizeof n)
        return;
    memcpy(&n, w->answer.at, sizeof n);
    if (w->answer.n < sizeof n + n)
        return;
    r->pool->done(r->pool->with, w->job, w->answer.at + sizeof n, n);
    worker_feed(r, w);
}

static void work_here(struct running *r)
{
    while (jobs_left(r)) {
        uint64_t job = job_take(r);
        struct text answer = {0};
        r->pool->work(r->pool->with, job, &answer);
        r->pool->done(r->pool->with, job, text_string(&answer), answer.n);
        text_release(&answer);
    }
}

void pool_run(const struct pool *p)
{
    struct pool own = *p;
    own.n_workers = p->n_workers > WORKERS_MOST ? WORKERS_MOST : p->n_workers;
    struct running r = {.pool = &own, .next = p->first};
    uint64_t n_left = p->first < p->n_jobs ? (p->n_jobs - p->first + p->step - 1) / p->step : 0;
    if (own.n_workers > n_left)
        own.n_workers = (unsigned)n_left;
    if (own.n_workers < 2) {
        work_here(&r);
        return;
    }
    r.workers = mem_zero(own.n_workers, sizeof *r.workers);
    struct pollfd *polls = mem_zero(own.n_workers, sizeof *polls);
    for (unsigned i = 0; i < own.n_workers; i++)
        if (worker_start(&r, &r.workers[i]))
            worker_feed(&r, &r.workers[i]);
    for (;;) {
        unsigned n = 0;
        for (unsigned i = 0; i < own.n_workers; i++) {
            polls[i] = (struct pollfd){.fd = r.workers[i].pid ? r.workers[i].answers : -1, .events = POLLIN};
            n += r.workers[i].pid != 0;
        }
        if (!n)
            break;
        if (poll(polls, own.n_workers, -1) < 0)
            continue;
        for (unsigned i = 0; i < own.n_workers; i++)
            if (polls[i].revents)
                worker_read(&r, &r.workers[i]);
    }
    work_here(&r); /* what no worker could be started for */
    mem_free(polls);
    mem_free(r.workers);
}

unsigned pool_cores(void)
{
    cpu_set_t set;
    if (sched_getaffinity(0, sizeof set, &set) == 0)
        return (unsigned)CPU_COUNT(&set);
    long n = sysconf(_SC_NPROCESSORS_ONLN);
    return n > 0 ? (unsigned)n : 1;
}
