#include "draw/child.h"
#include "base/sanitized.h"
#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#define CHILD_SECONDS    60
#define CHILD_BYTES      ((rlim_t)2 << 30) /* of memory */
#define CHILD_OUTPUT_MAX (256u << 20)      /* bytes that it may hand back */

/* The first byte that comes back: what follows is the result, or the reason why there is none. */
#define GOOD '+'
#define BAD  '-'

static void write_all(int fd, const char *bytes, size_t n)
{
    while (n) {
        ssize_t done = write(fd, bytes, n);
        if (done < 0 && errno == EINTR)
            continue;
        if (done <= 0)
            _exit(1); /* the parent has gone, or stopped listening */
        bytes += done;
        n -= (size_t)done;
    }
}

static void limits_set(void)
{
    static const int back_to_default[] = {SIGINT, SIGTERM, SIGHUP, SIGPIPE};
    for (size_t i = 0; i < sizeof back_to_default / sizeof *back_to_default; i++)
        signal(back_to_default[i], SIG_DFL); /* the parent's handlers remove the parent's files */
    struct rlimit cpu = {CHILD_SECONDS, CHILD_SECONDS}, memory = {CHILD_BYTES, CHILD_BYTES}, core = {0, 0};
    setrlimit(RLIMIT_CPU, &cpu);
    setrlimit(RLIMIT_CORE, &core);
    if (SANITIZED) /* a sanitizer reserves terabytes of addresses and reports on standard error */
        return;
    setrlimit(RLIMIT_AS, &memory);
    int nowhere = open("/dev/null", O_WRONLY); /* libraries print what they die of; the parent says it in words */
    if (nowhere >= 0)
        dup2(nowhere, STDERR_FILENO);
}

static void child_main(child_work *work, const struct text *in, int fd)
{
    struct text out = {0}, why = {0};
    limits_set();
    bool ok = work(in, &out, &why);
    char first = ok ? GOOD : BAD;
    write_all(fd, &first, 1);
    const struct text *t = ok ? &out : &why;
    write_all(fd, text_string(t), t->n);
    _exit(0);
}

static long milliseconds_left(const struct timespec *until)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    long left = (long)(until->tv_sec - now.tv_sec) * 1000 + (until->tv_nsec - now.tv_nsec) / 1000000;
    return left > 0 ? left : 0;
}

/* Reads until the child closes its end. False: too slow or too much. */
static bool read_all(int fd, struct text *back)
{
    struct timespec until;
    char buffer[65536];
    clock_gettime(CLOCK_MONOTONIC, &until);
    until.tv_sec += CHILD_SECONDS;
    for (;;) {
        struct pollfd p = {fd, POLLIN, 0};
        int ready = poll(&p, 1, (int)milliseconds_left(&until));
        if (ready < 0 && errno == EINTR)
            continue;
        if (ready <= 0 || back->n > CHILD_OUTPUT_MAX)
            return false;
        ssize_t n = read(fd, buffer, sizeof buffer);
        if (n < 0 && errno == EINTR)
            continue;
        if (n <= 0)
            return n == 0;
        text_add_bytes(back, buffer, (size_t)n);
    }
}

static int wait_for(pid_t pid)
{
    int status = 0;
    while (waitpid(pid, &status, 0) < 0)
        if (errno != EINTR)
            return -1;
    return status;
}

/* What came back, as result or reason. */
static bool child_ended(bool whole, int status, const struct text *back, struct text *out, struct text *why)
{
    bool fine = whole && WIFEXITED(status) && WEXITSTATUS(status) == 0 && back->n > 0;
    if (fine && back->at[0] == GOOD) {
        text_add_bytes(out, back->at + 1, back->n - 1);
        return true;
    }
    if (fine)
        text_add_bytes(why, back->at + 1, back->n - 1);
    else if (!whole || (WIFSIGNALED(status) && WTERMSIG(status) == SIGXCPU))
        text_addf(why, "the helper process took more than %d seconds or gave too much", CHILD_SECONDS);
    else if (WIFSIGNALED(status))
        text_addf(why, "the helper process ended by signal %d, perhaps because there is too much to draw",
                  WTERMSIG(status));
    else
        text_add(why, "the helper process ended early, perhaps for want of memory");
    return false;
}

bool child_run(child_work *work, const struct text *in, struct text *out, struct text *why)
{
    int ends[2];
    if (pipe(ends) != 0) {
        text_addf(why, "no pipe to a helper process: %s", strerror(errno));
        return false;
    }
    pid_t pid = fork();
    if (pid < 0) {
        text_addf(why, "no helper process: %s", strerror(errno));
        close(ends[0]);
        close(ends[1]);
        return false;
    }
    if (pid == 0) {
        close(ends[0]);
        child_main(work, in, ends[1]);
    }
    close(ends[1]);
    struct text back = {0};
    bool whole = read_all(ends[0], &back);
    close(ends[0]);
    if (!whole)
        kill(pid, SIGKILL);
    int status = wait_for(pid);
    bool ok = child_ended(whole, status, &back, out, why);
    text_release(&back);
    return ok;
}
