/* Each step of writing an output made to fail: what stands here under the names of system calls comes before the C
 * library's, and makes one call of one kind fail. The file must then be the old one or the new one, whole, nothing else
 * may be left, and an error must be told in words, but for those errors that are none. */
#include "base/outfile.h"
#include "unit.h"
#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <sys/wait.h>
#include <unistd.h>

/* ---- calls that fail */

enum call {
    CALL_NONE,
    CALL_OPEN,
    CALL_WRITE,
    CALL_FSYNC,
    CALL_CLOSE,
    CALL_RENAME,
    CALL_FSTAT,
    CALL_FCHOWN,
    CALL_FCHMOD,
    CALL_STAT,
    CALL_LSTAT,
    CALL_ACCESS,
    CALL_READLINK,
    CALL_DUP
};

static struct {
    enum call call;
    int number; /* the how-manieth call of this kind, from 1 */
    int times;  /* so many in a row */
    int error;
} failing;
static int n_failed;   /* that were made to fail */
static int poll_error; /* of the next poll(), or 0 */
static void (*while_writing)(void);

static bool fails(enum call call)
{
    if (failing.call != call || --failing.number > 0 || failing.times-- <= 0)
        return false;
    errno = failing.error;
    n_failed++;
    return true;
}

int open(const char *path, int flags, ...)
{
    va_list args;
    va_start(args, flags);
    int mode = flags & O_CREAT ? va_arg(args, int) : 0;
    va_end(args);
    return fails(CALL_OPEN) ? -1 : (int)syscall(SYS_openat, AT_FDCWD, path, flags, mode);
}
ssize_t write(int fd, const void *bytes, size_t n)
{
    if (while_writing) {
        void (*then)(void) = while_writing;
        while_writing = NULL;
        then();
    }
    return fails(CALL_WRITE) ? -1 : syscall(SYS_write, fd, bytes, n);
}
int poll(struct pollfd *rows, nfds_t n, int timeout)
{
    (void)timeout; /* nobody waits here: all are ready to be written to */
    if (poll_error) {
        errno = poll_error;
        poll_error = 0;
        return -1;
    }
    for (nfds_t i = 0; i < n; i++)
        rows[i].revents = POLLOUT;
    return (int)n;
}
int fsync(int fd)
{
    return fails(CALL_FSYNC) ? -1 : (int)syscall(SYS_fsync, fd);
}
int close(int fd)
{
    int result = (int)syscall(SYS_close, fd); /* the descriptor is gone, whatever is told */
    return fails(CALL_CLOSE) ? -1 : result;
}
int rename(const char *from, const char *to)
{
    return fails(CALL_RENAME) ? -1 : (int)syscall(SYS_renameat2, AT_FDCWD, from, AT_FDCWD, to, 0);
}
int fchown(int fd, uid_t owner, gid_t group)
{
    return fails(CALL_FCHOWN) ? -1 : (int)syscall(SYS_fchown, fd, owner, group);
}
int fchmod(int fd, mode_t mode)
{
    return fails(CALL_FCHMOD) ? -1 : (int)syscall(SYS_fchmod, fd, mode);
}
int fstat(int fd, struct stat *out)
{
    return fails(CALL_FSTAT) ? -1 : (int)syscall(SYS_fstat, fd, out);
}
int stat(const char *path, struct stat *out)
{
    return fails(CALL_STAT) ? -1 : fstatat(AT_FDCWD, path, out, 0);
}
int lstat(const char *path, struct stat *out)
{
    return fails(CALL_LSTAT) ? -1 : fstatat(AT_FDCWD, path, out, AT_SYMLINK_NOFOLLOW);
}
int access(const char *path, int mode)
{
    return fails(CALL_ACCESS) ? -1 : (int)syscall(SYS_faccessat, AT_FDCWD, path, mode);
}
ssize_t readlink(const char *path, char *target, size_t n)
{
    return fails(CALL_READLINK) ? -1 : syscall(SYS_readlinkat, AT_FDCWD, path, target, n);
}
int dup(int fd)
{
    return fails(CALL_DUP) ? -1 : (int)syscall(SYS_dup, fd);
}

static void let_fail(enum call call, int number, int times, int error)
{
    failing.call = call;
    failing.number = number;
    failing.times = times;
    failing.error = error;
    n_failed = 0;
}

/* ---- a file that is there */

static char folder[] = "/tmp/base_outfile_failing-XXXXXX";
static char path[64];

static void put(const char *bytes)
{
    FILE *f = fopen(path, "wb");
    CU_ASSERT_PTR_NOT_NULL_FATAL(f);
    fputs(bytes, f);
    fclose(f);
}

static bool holds(const char *wanted)
{
    char found[64] = {0};
    FILE *f = fopen(path, "rb");
    if (!f)
        return false;
    size_t n = fread(found, 1, sizeof found - 1, f);
    fclose(f);
    return n == strlen(wanted) && !memcmp(found, wanted, n);
}

static size_t n_names(void)
{
    size_t n = 0;
    DIR *dir = opendir(folder);
    for (struct dirent *entry; dir && (entry = readdir(dir));)
        n += strcmp(entry->d_name, ".") && strcmp(entry->d_name, "..");
    if (dir)
        closedir(dir);
    return n;
}

/* What must come of it. */
enum end {
    REFUSED_OLD, /* an error, the old file */
    REFUSED_NEW, /* an error, but the new file stands already, whole */
    WRITTEN      /* no error */
};

struct step {
    const char *what;
    enum call call;
    int number, times, error;
    enum end end;
};

static void step_check(const struct step *s)
{
    struct diags d;
    diags_init(&d);
    put("old");
    let_fail(s->call, s->number, s->times, s->error);
    bool written = outfile_write(path, "new", 3, NULL, &d);
    int failed = n_failed;
    let_fail(CALL_NONE, 0, 0, 0);
    bool told = d.n == 1 && d.rows[0].code == CANNOT_WRITE && strstr(d.rows[0].message, path) &&
                strstr(d.rows[0].message, strerror(s->error));
    bool right = failed == s->times && written == (s->end == WRITTEN) && (written ? d.n == 0 : told) &&
                 holds(s->end == REFUSED_OLD ? "old" : "new") && n_names() == 1;
    if (!right)
        printf("\n%s, %s: %s, %d failed, %s, %zu names\n", s->what, strerror(s->error), written ? "written" : "refused",
               failed, d.n ? d.rows[0].message : "nothing said", n_names());
    CU_ASSERT_TRUE(right);
    diags_release(&d);
}

static void steps_check(const struct step *steps, size_t n)
{
    for (size_t i = 0; i < n; i++)
        step_check(&steps[i]);
}
#define CHECK(STEPS) steps_check(STEPS, sizeof(STEPS) / sizeof *(STEPS))

static void test_new_file_is_made(void)
{
    static const struct step steps[] = {
        {"looking at the old file", CALL_STAT, 1, 1, EACCES, REFUSED_OLD},
        {"asking whether it may be written", CALL_ACCESS, 1, 1, EACCES, REFUSED_OLD},
        {"asking whether it may be written", CALL_ACCESS, 1, 1, EROFS, REFUSED_OLD},
        {"a name behind links that cannot be looked at", CALL_LSTAT, 1, 1, EACCES, WRITTEN}, /* directly, then */
        {"following its name", CALL_READLINK, 1, 1, EACCES, REFUSED_OLD},
        {"making a file beside it", CALL_OPEN, 1, 1, EACCES, REFUSED_OLD},
        {"making a file beside it", CALL_OPEN, 1, 1, ENOSPC, REFUSED_OLD},
        {"making a file beside it", CALL_OPEN, 1, 1, EROFS, REFUSED_OLD},
        {"making a file, again", CALL_OPEN, 1, 3, EINTR, WRITTEN},
        {"a name that is taken", CALL_OPEN, 1, 3, EEXIST, WRITTEN},
        {"names that are all taken", CALL_OPEN, 1, 100, EEXIST, REFUSED_OLD},
        {"asking for its owner", CALL_FSTAT, 1, 1, EIO, REFUSED_OLD},
        {"giving it the old one's permissions", CALL_FCHMOD, 1, 1, EIO, REFUSED_OLD},
        {"giving it permissions that we may not", CALL_FCHMOD, 1, 1, EPERM, WRITTEN},
    };
    CHECK(steps);
}

static void test_disk_is_full(void)
{
    static const struct step steps[] = {
        {"writing", CALL_WRITE, 1, 1, ENOSPC, REFUSED_OLD},
        {"writing", CALL_WRITE, 1, 1, EDQUOT, REFUSED_OLD},
        {"writing", CALL_WRITE, 1, 1, EIO, REFUSED_OLD},
        {"writing, again", CALL_WRITE, 1, 5, EINTR, WRITTEN},
        {"writing, later", CALL_WRITE, 1, 5, EAGAIN, WRITTEN},
        {"bringing it to the disk", CALL_FSYNC, 1, 1, ENOSPC, REFUSED_OLD},
        {"bringing it to the disk", CALL_FSYNC, 1, 1, EIO, REFUSED_OLD},
        {"a disk that cannot be told to", CALL_FSYNC, 1, 1, EINVAL, WRITTEN},
        {"a disk that cannot be told to", CALL_FSYNC, 1, 1, ENOSYS, WRITTEN},
        {"closing", CALL_CLOSE, 1, 1, ENOSPC, REFUSED_OLD},
        {"closing", CALL_CLOSE, 1, 1, EIO, REFUSED_OLD},
        {"closing, interrupted", CALL_CLOSE, 1, 1, EINTR, WRITTEN},
    };
    CHECK(steps);
}

static void test_name_is_given(void)
{
    static const struct step steps[] = {
        {"renaming", CALL_RENAME, 1, 1, EACCES, REFUSED_OLD},
        {"renaming", CALL_RENAME, 1, 1, ENOSPC, REFUSED_OLD},
        {"renaming", CALL_RENAME, 1, 1, EXDEV, REFUSED_OLD},
        {"a folder that may not be read", CALL_OPEN, 2, 1, EACCES, WRITTEN},
        {"bringing the name to the disk", CALL_FSYNC, 2, 1, EIO, REFUSED_NEW},
        {"a folder that cannot be told to", CALL_FSYNC, 2, 1, EINVAL, WRITTEN},
        {"a folder that cannot be told to", CALL_FSYNC, 2, 1, ENOSYS, WRITTEN},
    };
    CHECK(steps);
}

/* Where no file was there is none afterwards. */
static void test_nothing_was_there(void)
{
    static const struct {
        enum call call;
        int error;
    } rows[] = {{CALL_OPEN, EACCES}, {CALL_WRITE, ENOSPC}, {CALL_FSYNC, EIO}, {CALL_CLOSE, EIO}, {CALL_RENAME, EACCES}};
    unlink(path);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct diags d;
        diags_init(&d);
        let_fail(rows[i].call, 1, 1, rows[i].error);
        CU_ASSERT_FALSE(outfile_write(path, "new", 3, NULL, &d));
        CU_ASSERT_EQUAL(n_failed, 1);
        let_fail(CALL_NONE, 0, 0, 0);
        CU_ASSERT_EQUAL(n_names(), 0);
        CU_ASSERT_TRUE(d.n == 1 && strstr(d.rows[0].message, strerror(rows[i].error)));
        diags_release(&d);
    }
}

/* A descriptor that takes nothing for now is waited for; the wait may be interrupted, or fail as well. */
static void test_waiting(void)
{
    static const struct {
        int error;
        bool written;
    } rows[] = {{EINTR, true}, {ENOMEM, false}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct diags d;
        diags_init(&d);
        put("old");
        let_fail(CALL_WRITE, 1, 1, EAGAIN);
        poll_error = rows[i].error;
        CU_ASSERT_EQUAL(outfile_write(path, "new", 3, NULL, &d), rows[i].written);
        CU_ASSERT_EQUAL(poll_error, 0); /* it came to that */
        let_fail(CALL_NONE, 0, 0, 0);
        CU_ASSERT_TRUE(holds(rows[i].written ? "new" : "old"));
        CU_ASSERT_EQUAL(n_names(), 1);
        CU_ASSERT_EQUAL(d.n, !rows[i].written);
        CU_ASSERT_TRUE(!d.n || strstr(d.rows[0].message, strerror(rows[i].error)));
        diags_release(&d);
    }
}

/* ---- a file of somebody else */

static void test_owner(void)
{
    static const struct step steps[] = {
        {"leaving it to its owner", CALL_FCHOWN, 1, 2, EIO, REFUSED_OLD},
        {"leaving it to an owner that we may not", CALL_FCHOWN, 1, 1, EPERM, WRITTEN}, /* at least to the group */
        {"leaving it to an owner that we may not", CALL_FCHOWN, 1, 2, EPERM, WRITTEN},
    };
    if (geteuid() != 0) { /* only root can make such a file */
        printf("\nnot root: not tried\n");
        return;
    }
    for (size_t i = 0; i < sizeof steps / sizeof *steps; i++) {
        put("old");
        CU_ASSERT_EQUAL(chown(path, 65534, 65534), 0);
        step_check(&steps[i]);
        unlink(path);
    }
}

/* ---- signals */

static int ended_by; /* the signal that ended the child, or 0 */

static void child_is_ended(void)
{
    fflush(NULL);
    pid_t child = fork();
    if (!child) {
        raise(SIGTERM);
        _exit(0);
    }
    int status = 0;
    waitpid(child, &status, 0);
    ended_by = WIFSIGNALED(status) ? WTERMSIG(status) : 0;
}

/* A child that is ended, such as one that draws, leaves alone what its parent is writing; and where nothing is being
 * written there is nothing to remove. */
static void test_child_is_ended(void)
{
    struct diags d;
    diags_init(&d);
    outfile_init();
    put("old");
    while_writing = child_is_ended;
    CU_ASSERT_TRUE(outfile_write(path, "new", 3, NULL, &d));
    CU_ASSERT_EQUAL(ended_by, SIGTERM);
    CU_ASSERT_TRUE(holds("new"));
    CU_ASSERT_EQUAL(n_names(), 1);
    ended_by = 0;
    child_is_ended();
    CU_ASSERT_EQUAL(ended_by, SIGTERM);
    CU_ASSERT_TRUE(holds("new"));
    diags_release(&d);
}

/* ---- standard output, devices */

static void stdout_check(enum call call, int times, int error, enum stdout_end wanted)
{
    struct diags d;
    diags_init(&d);
    fflush(stdout);
    int was = dup(STDOUT_FILENO), null = open("/dev/null", O_WRONLY);
    dup2(null, STDOUT_FILENO);
    let_fail(call, 1, times, error);
    enum stdout_end end = outfile_stdout("x", 1, &d);
    int failed = n_failed;
    let_fail(CALL_NONE, 0, 0, 0);
    dup2(was, STDOUT_FILENO);
    close(was);
    close(null);
    CU_ASSERT_EQUAL(end, wanted);
    CU_ASSERT_EQUAL(failed, times);
    CU_ASSERT_EQUAL(d.n, wanted == STDOUT_FAILED);
    CU_ASSERT_TRUE(!d.n ||
                   (strstr(d.rows[0].message, "standard output") && strstr(d.rows[0].message, strerror(error))));
    diags_release(&d);
}

static void test_stdout(void)
{
    stdout_check(CALL_WRITE, 1, ENOSPC, STDOUT_FAILED);
    stdout_check(CALL_WRITE, 1, EIO, STDOUT_FAILED);
    stdout_check(CALL_WRITE, 1, EPIPE, STDOUT_CLOSED);
    stdout_check(CALL_WRITE, 3, EINTR, STDOUT_OK);
    stdout_check(CALL_WRITE, 3, EAGAIN, STDOUT_OK);
    stdout_check(CALL_DUP, 1, EMFILE, STDOUT_FAILED);
    stdout_check(CALL_CLOSE, 1, ENOSPC, STDOUT_FAILED); /* where a full disk is told of late */
}

static void test_device(void)
{
    static const struct {
        enum call call;
        int times, error;
        bool written;
    } rows[] = {
        {CALL_OPEN, 1, EACCES, false}, {CALL_OPEN, 3, EINTR, true},  {CALL_WRITE, 1, ENOSPC, false},
        {CALL_CLOSE, 1, EIO, false},   {CALL_CLOSE, 1, EINTR, true},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct diags d;
        diags_init(&d);
        let_fail(rows[i].call, 1, rows[i].times, rows[i].error);
        CU_ASSERT_EQUAL(outfile_write("/dev/null", "x", 1, NULL, &d), rows[i].written);
        CU_ASSERT_EQUAL(n_failed, rows[i].times);
        let_fail(CALL_NONE, 0, 0, 0);
        CU_ASSERT_EQUAL(d.n, !rows[i].written);
        CU_ASSERT_TRUE(!d.n || strstr(d.rows[0].message, strerror(rows[i].error)));
        diags_release(&d);
    }
}

static const struct unit_test tests[] = {
    {"the new file is made", test_new_file_is_made},
    {"the disk is full", test_disk_is_full},
    {"nothing was there", test_nothing_was_there},
    {"waiting for a descriptor", test_waiting},
    {"the name is given", test_name_is_given},
    {"a file of somebody else", test_owner},
    {"a child is ended", test_child_is_ended},
    {"standard output", test_stdout},
    {"a device", test_device},
};

int main(void)
{
    if (!mkdtemp(folder))
        return 1;
    snprintf(path, sizeof path, "%s/out", folder);
    int status = unit_run("base/outfile_failing", tests, sizeof tests / sizeof *tests);
    unlink(path);
    if (rmdir(folder)) {
        printf("%s is not empty\n", folder);
        status = 1;
    }
    return status;
}
