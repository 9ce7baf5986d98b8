#define _GNU_SOURCE /* memfd_create() */
/* A library to be preloaded: runs the program once for each allocation, which then fails. The runs are forked just
 * before main(), so that hundreds of them take a second.
 *
 * ALLOC_FIRST, ALLOC_LAST, ALLOC_STEP  which allocations fail, counted from 1 over the program and its children; 0:
 * none. ALLOC_LASTING=1                      the ones after it fail as well: memory is at its end and stays so.
 * ALLOC_FILE                           an output file; it and the folder in which it lies are looked at after each run.
 *
 * One line a run on standard output, fields by tabs: number, allocations asked for, "exit N" or "signal N", hash of
 * standard output, hash of the file (or "none"), names left in its folder, standard error with \n for line ends. */
#include <dirent.h>
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/wait.h>
#include <unistd.h>

#define SECONDS 20 /* then a run hangs */

struct shared { /* by a run and the children that it forks */
    atomic_ulong n_calls;
};
static struct shared *shared; /* NULL: not in a run */
static unsigned long fails_at;
static bool lasting;

static bool fails(void)
{
    if (!shared)
        return false;
    unsigned long n = atomic_fetch_add(&shared->n_calls, 1) + 1;
    if (!fails_at || n < fails_at || (n > fails_at && !lasting))
        return false;
    errno = ENOMEM;
    return true;
}

/* The program replaces malloc() and asks the C library by these names, which are taken here. */
static void *next(const char *name)
{
    void *found = dlsym(RTLD_NEXT, name);
    if (!found)
        _exit(99);
    return found;
}

void *__libc_malloc(size_t n)
{
    static void *(*real)(size_t);
    if (!real)
        *(void **)&real = next("__libc_malloc");
    return fails() ? NULL : real(n);
}

void *__libc_calloc(size_t count, size_t n)
{
    static void *(*real)(size_t, size_t);
    if (!real)
        *(void **)&real = next("__libc_calloc");
    return fails() ? NULL : real(count, n);
}

void *__libc_realloc(void *p, size_t n)
{
    static void *(*real)(void *, size_t);
    if (!real)
        *(void **)&real = next("__libc_realloc");
    return fails() ? NULL : real(p, n);
}

void *__libc_memalign(size_t alignment, size_t n)
{
    static void *(*real)(size_t, size_t);
    if (!real)
        *(void **)&real = next("__libc_memalign");
    return fails() ? NULL : real(alignment, n);
}

static unsigned long number(const char *name, unsigned long otherwise)
{
    const char *text = getenv(name);
    return text ? strtoul(text, NULL, 10) : otherwise;
}

/* FNV-1a, public domain, by G. Fowler, L. C. Noll and K.-P. Vo. */
static uint64_t hash_of(int fd)
{
    uint64_t h = 14695981039346656037u;
    char buffer[65536];
    ssize_t n;
    lseek(fd, 0, SEEK_SET);
    while ((n = read(fd, buffer, sizeof buffer)) > 0)
        for (ssize_t i = 0; i < n; i++)
            h = (h ^ (unsigned char)buffer[i]) * 1099511628211u;
    return h;
}

static void tell_file(const char *path)
{
    int fd = path ? open(path, O_RDONLY) : -1;
    if (fd < 0) {
        printf("none\t");
    } else {
        printf("%016lx\t", (unsigned long)hash_of(fd));
        close(fd);
        unlink(path);
    }
    unsigned n_names = 0;
    char folder[4096];
    snprintf(folder, sizeof folder, "%s", path ? path : "");
    char *slash = strrchr(folder, '/');
    if (slash) {
        *slash = '\0';
        DIR *dir = opendir(folder);
        while (dir && readdir(dir))
            n_names++;
        if (dir)
            closedir(dir);
    }
    printf("%d\t", slash ? (int)n_names - 2 : 0); /* . and .. */
}

static void tell_text(int fd)
{
    char buffer[4096];
    lseek(fd, 0, SEEK_SET);
    ssize_t n = read(fd, buffer, sizeof buffer);
    for (ssize_t i = 0; i < n; i++)
        if (buffer[i] == '\n')
            printf("\\n");
        else
            putchar(buffer[i] == '\t' ? ' ' : buffer[i]);
    putchar('\n');
}

/* True in the run itself, which goes on to main(). */
static bool run(unsigned long at, struct shared *counts)
{
    int out = memfd_create("out", 0), err = memfd_create("err", 0), status = 0;
    atomic_store(&counts->n_calls, 0);
    fflush(stdout);
    pid_t pid = fork();
    if (pid == 0) {
        dup2(out, STDOUT_FILENO);
        dup2(err, STDERR_FILENO);
        close(out);
        close(err);
        alarm(SECONDS);
        fails_at = at;
        shared = counts;
        return true;
    }
    if (pid < 0 || waitpid(pid, &status, 0) != pid)
        _exit(99);
    printf("%lu\t%lu\t%s %d\t%016lx\t", at, atomic_load(&counts->n_calls), WIFSIGNALED(status) ? "signal" : "exit",
           WIFSIGNALED(status) ? WTERMSIG(status) : WEXITSTATUS(status), (unsigned long)hash_of(out));
    tell_file(getenv("ALLOC_FILE"));
    tell_text(err);
    close(out);
    close(err);
    return false;
}

__attribute__((constructor)) static void run_all(void)
{
    unsigned long first = number("ALLOC_FIRST", 0), last = number("ALLOC_LAST", 0), step = number("ALLOC_STEP", 1);
    lasting = number("ALLOC_LASTING", 0);
    struct shared *counts = mmap(NULL, sizeof *counts, PROT_READ | PROT_WRITE, MAP_SHARED | MAP_ANONYMOUS, -1, 0);
    if (counts == MAP_FAILED)
        _exit(99);
    for (unsigned long at = first; at <= last; at += step)
        if (run(at, counts))
            return;
    fflush(stdout);
    _exit(0);
}
