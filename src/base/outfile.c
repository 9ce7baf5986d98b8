/* Output files that appear whole or not at all. A new file is written beside the old one and renamed over it; whatever
 * ends the program before that leaves the old one untouched, and the half-written one is removed if there is any way
 * to. */
#include "base/outfile.h"
#include "base/mem.h"
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

/* The half-written file, for the signal handlers. */
static char *volatile half_written;
static volatile pid_t half_written_by; /* a child must not remove what its parent writes */

static void remove_half_written(void)
{
    char *path = half_written;
    if (path && half_written_by == getpid())
        unlink(path);
}

static void on_signal(int number)
{
    remove_half_written();
    signal(number, SIG_DFL);
    raise(number); /* delivered when the handler returns: the caller sees which signal ended us */
}

static const int ending_signals[] = {SIGINT, SIGTERM, SIGHUP};
#define N_ENDING_SIGNALS (sizeof ending_signals / sizeof *ending_signals)

void outfile_init(void)
{
    struct sigaction action = {.sa_handler = on_signal}, before;
    sigemptyset(&action.sa_mask);
    for (size_t i = 0; i < N_ENDING_SIGNALS; i++)
        sigaddset(&action.sa_mask, ending_signals[i]);
    for (size_t i = 0; i < N_ENDING_SIGNALS; i++)
        if (!sigaction(ending_signals[i], NULL, &before) && before.sa_handler != SIG_IGN) /* as nohup wants it */
            sigaction(ending_signals[i], &action, NULL);
    signal(SIGPIPE, SIG_IGN);
    mem_on_end(remove_half_written);
}

static void hold_signals(sigset_t *before)
{
    sigset_t set;
    sigemptyset(&set);
    for (size_t i = 0; i < N_ENDING_SIGNALS; i++)
        sigaddset(&set, ending_signals[i]);
    sigprocmask(SIG_BLOCK, &set, before);
}

static bool refuse(struct diags *d, const char *path, const char *why)
{
    diag(d, CANNOT_WRITE, NO_SPAN, "cannot write %s: %s", path, why);
    return false;
}

/* All bytes, whatever the descriptor is. Returns 0 or an error number. */
static int write_all(int fd, const char *bytes, size_t n)
{
    while (n) {
        ssize_t done = write(fd, bytes, n < SSIZE_MAX ? n : SSIZE_MAX);
        if (done >= 0) {
            bytes += done;
            n -= (size_t)done;
        } else if (errno == EAGAIN || errno == EWOULDBLOCK) {
            struct pollfd wait = {.fd = fd, .events = POLLOUT};
            if (poll(&wait, 1, -1) < 0 && errno != EINTR)
                return errno;
        } else if (errno != EINTR) {
            return errno;
        }
    }
    return 0;
}

enum stdout_end outfile_stdout(const char *bytes, size_t n, struct diags *d)
{
    int error = write_all(STDOUT_FILENO, bytes, n);
    if (!error && n) {
        /* Some file systems tell of a full disk only when a file is closed. */
        int copy = dup(STDOUT_FILENO);
        if (copy < 0 || close(copy))
            error = errno;
    }
    if (!error)
        return STDOUT_OK;
    if (error == EPIPE)
        return STDOUT_CLOSED;
    refuse(d, "standard output", strerror(error));
    return STDOUT_FAILED;
}

/* A device or a FIFO: opened as it is, nothing to rename. */
static bool write_directly(const char *path, const char *bytes, size_t n, struct diags *d)
{
    int fd;
    do
        fd = open(path, O_WRONLY | O_NOCTTY | O_CLOEXEC);
    while (fd < 0 && errno == EINTR);
    if (fd < 0)
        return refuse(d, path, strerror(errno));
    int error = write_all(fd, bytes, n);
    if (close(fd) && !error && errno != EINTR)
        error = errno;
    return error ? refuse(d, path, strerror(error)) : true;
}

#define LINKS_MAX 40 /* as the kernel has it */

/* The name behind symbolic links, of a file that need not be there yet. Caller frees; NULL with errno set. */
static char *follow_links(const char *path)
{
    char *name = mem_copy_text(path);
    for (int i = 0; i < LINKS_MAX; i++) {
        char target[PATH_MAX];
        ssize_t n = readlink(name, target, sizeof target);
        if (n < 0 && (errno == EINVAL || errno == ENOENT))
            return name; /* no link, or nothing there: this is the name */
        if (n < 0 || (size_t)n == sizeof target) {
            errno = n < 0 ? errno : ENAMETOOLONG;
            break;
        }
        struct text next = {0};
        const char *slash = strrchr(name, '/');
        if (slash && target[0] != '/')
            text_add_bytes(&next, name, (size_t)(slash - name) + 1);
        text_add_bytes(&next, target, (size_t)n);
        mem_free(name);
        name = next.at;
        errno = ELOOP;
    }
    int error = errno;
    mem_free(name);
    errno = error;
    return NULL;
}

/* Creates a file of our own in `folder` (its name ends in a slash or is empty) and makes it known to the signal
 * handlers. Returns its descriptor, or -1 with errno set. */
static int create_half_written(const char *folder)
{
    int fd = -1;
    for (int i = 0; i < 100 && fd < 0; i++) { /* one that a killed run with our number left behind is passed over */
        struct text name = {0};
        text_addf(&name, "%s.feedtrace-%ld-%d.tmp", folder, (long)getpid(), i);
        sigset_t before;
        hold_signals(&before);
        fd = open(name.at, O_WRONLY | O_CREAT | O_EXCL | O_NOFOLLOW | O_CLOEXEC, 0666);
        int error = errno;
        if (fd >= 0) {
            half_written = name.at;
            half_written_by = getpid();
        } else {
            text_release(&name);
        }
        sigprocmask(SIG_SETMASK, &before, NULL);
        errno = error;
        if (fd < 0 && error != EEXIST && error != EINTR)
            break;
    }
    return fd;
}

/* Renames the half-written file to `to`, or removes it when `to` is NULL. Returns 0 or an error number. */
static int settle_half_written(const char *to)
{
    sigset_t before;
    hold_signals(&before);
    char *path = half_written;
    int error = to && rename(path, to) ? errno : 0;
    if (!to || error)
        unlink(path);
    half_written = NULL;
    sigprocmask(SIG_SETMASK, &before, NULL);
    mem_free(path);
    return error;
}

/* The new file takes over owner and permissions of the old one, as far as we may set them. */
static int take_over(int fd, const struct stat *old)
{
    struct stat now;
    if (fstat(fd, &now))
        return errno;
    if ((now.st_uid != old->st_uid || now.st_gid != old->st_gid) && fchown(fd, old->st_uid, old->st_gid) &&
        fchown(fd, (uid_t)-1, old->st_gid) && errno != EPERM)
        return errno;
    return fchmod(fd, old->st_mode & 0777) && errno != EPERM ? errno : 0;
}

static int sync_folder(const char *folder)
{
    int fd = open(*folder ? folder : ".", O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (fd < 0)
        return 0; /* a folder that may be written but not read cannot be synced */
    int error = fsync(fd) && errno != EINVAL && errno != ENOSYS ? errno : 0;
    close(fd);
    return error;
}

/* Writes beside `name`, which is no link, and renames. `old` is the file that stands there, or NULL. */
static int write_beside(const char *name, const char *bytes, size_t n, const struct stat *old)
{
    const char *slash = strrchr(name, '/');
    if (slash && !slash[1])
        return EISDIR;
    struct text folder = {0};
    if (slash)
        text_add_bytes(&folder, name, (size_t)(slash - name) + 1);
    int error = 0, fd = create_half_written(text_string(&folder));
    if (fd < 0) {
        error = errno;
        text_release(&folder);
        return error;
    }
    error = old ? take_over(fd, old) : 0;
    if (!error)
        error = write_all(fd, bytes, n);
    if (!error && fsync(fd) && errno != EINVAL && errno != ENOSYS)
        error = errno;
    if (close(fd) && !error && errno != EINTR)
        error = errno;
    int settled = settle_half_written(error ? NULL : name);
    if (!error)
        error = settled;
    if (!error)
        error = sync_folder(text_string(&folder));
    text_release(&folder);
    return error;
}

static bool is_input(const struct sources *in, const struct stat *st)
{
    for (size_t i = 0; in && i < in->n_files; i++)
        if (in->files[i].device == (uint64_t)st->st_dev && in->files[i].inode == (uint64_t)st->st_ino)
            return true;
    return false;
}

bool outfile_write(const char *path, const char *bytes, size_t n, const struct sources *in, struct diags *d)
{
    if (!strcmp(path, "-"))
        return outfile_stdout(bytes, n, d) != STDOUT_FAILED;
    struct stat st;
    bool there = !stat(path, &st);
    if (!there && errno != ENOENT)
        return refuse(d, path, strerror(errno));
    if (there && S_ISDIR(st.st_mode))
        return refuse(d, path, "it is a folder");
    if (there && is_input(in, &st))
        return refuse(d, path, "it is one of the files that are read");
    if (there && !S_ISREG(st.st_mode))
        return write_directly(path, bytes, n, d);
    if (there && access(path, W_OK))
        return refuse(d, path, strerror(errno)); /* a rename would pass over the permission */
    char *name = follow_links(path);
    if (!name)
        return refuse(d, path, strerror(errno));
    /* A name under /proc or /dev/fd may lead to an open file that no other name leads to. */
    struct stat real;
    bool ok;
    if (there && (lstat(name, &real) || real.st_dev != st.st_dev || real.st_ino != st.st_ino)) {
        ok = write_directly(path, bytes, n, d);
    } else {
        int error = write_beside(name, bytes, n, there ? &st : NULL);
        ok = error ? refuse(d, path, strerror(error)) : true;
    }
    mem_free(name);
    return ok;
}
