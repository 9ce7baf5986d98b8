/* Output files that appear whole or not at all. */
#include "base/outfile.h"
#include "unit.h"
#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

static char folder[] = "/tmp/base_outfile-XXXXXX";
static struct diags d;

static const char *in_folder(const char *name)
{
    static char paths[4][128];
    static int turn;
    char *path = paths[turn++ % 4];
    snprintf(path, sizeof paths[0], "%s/%s", folder, name);
    return path;
}

static bool write_text(const char *path, const char *text)
{
    return outfile_write(path, text, strlen(text), NULL, &d);
}

static void expect_content(const char *path, const char *wanted)
{
    char found[256] = {0};
    FILE *f = fopen(path, "rb");
    CU_ASSERT_PTR_NOT_NULL(f);
    if (!f)
        return;
    size_t n = fread(found, 1, sizeof found - 1, f);
    fclose(f);
    CU_ASSERT(n == strlen(wanted) && !memcmp(found, wanted, n));
}

/* Names in the folder, without . and .. */
static size_t n_names(const char *path)
{
    size_t n = 0;
    DIR *dir = opendir(path);
    for (struct dirent *entry; dir && (entry = readdir(dir));)
        n += strcmp(entry->d_name, ".") && strcmp(entry->d_name, "..");
    if (dir)
        closedir(dir);
    return n;
}

static void expect_refused(bool written, const char *why)
{
    CU_ASSERT_FALSE(written);
    CU_ASSERT_FATAL(d.n > 0);
    CU_ASSERT_EQUAL(d.rows[d.n - 1].code, CANNOT_WRITE);
    if (!strstr(d.rows[d.n - 1].message, why))
        printf("\n    %s\n", d.rows[d.n - 1].message);
    CU_ASSERT_PTR_NOT_NULL(strstr(d.rows[d.n - 1].message, why));
}

static void test_new_and_replaced(void)
{
    const char *path = in_folder("out");
    CU_ASSERT_TRUE(write_text(path, "first"));
    expect_content(path, "first");
    CU_ASSERT_EQUAL(chmod(path, 0640), 0);
    CU_ASSERT_TRUE(write_text(path, "second, longer"));
    expect_content(path, "second, longer");
    CU_ASSERT_TRUE(write_text(path, ""));
    expect_content(path, "");
    struct stat st;
    CU_ASSERT_EQUAL(stat(path, &st), 0);
    CU_ASSERT_EQUAL(st.st_mode & 0777, 0640); /* as the old file's */
    CU_ASSERT_EQUAL(n_names(folder), 1);
    unlink(path);
    CU_ASSERT_EQUAL(chdir(folder), 0);
    CU_ASSERT_TRUE(write_text("bare", "x")); /* no folder in the name */
    expect_content(in_folder("bare"), "x");
    unlink("bare");
}

static void test_symlink(void)
{
    CU_ASSERT_EQUAL(mkdir(in_folder("there"), 0700), 0);
    CU_ASSERT_EQUAL(symlink("there/real", in_folder("link")), 0);
    CU_ASSERT_EQUAL(symlink("link", in_folder("link_2")), 0);
    CU_ASSERT_TRUE(write_text(in_folder("link_2"), "new")); /* the real file is not there yet */
    expect_content(in_folder("there/real"), "new");
    CU_ASSERT_TRUE(write_text(in_folder("link"), "again"));
    expect_content(in_folder("there/real"), "again");
    struct stat st;
    CU_ASSERT(!lstat(in_folder("link"), &st) && S_ISLNK(st.st_mode));
    CU_ASSERT(!lstat(in_folder("link_2"), &st) && S_ISLNK(st.st_mode));
    CU_ASSERT_EQUAL(n_names(in_folder("there")), 1);
    unlink(in_folder("there/real"));
    rmdir(in_folder("there"));
    unlink(in_folder("link"));
    unlink(in_folder("link_2"));
    CU_ASSERT_EQUAL(symlink("circle", in_folder("circle")), 0);
    expect_refused(write_text(in_folder("circle"), "x"), strerror(ELOOP));
    unlink(in_folder("circle"));
}

static void test_refusals(void)
{
    expect_refused(write_text(folder, "x"), "it is a folder");
    expect_refused(write_text(in_folder("no/such"), "x"), strerror(ENOENT));
    expect_refused(write_text(in_folder("new/"), "x"), strerror(EISDIR));
    expect_refused(write_text("", "x"), strerror(ENOENT));
    expect_refused(write_text("/dev/full", "x"), strerror(ENOSPC));
    CU_ASSERT_TRUE(write_text("/dev/null", "x"));
    CU_ASSERT_EQUAL(n_names(folder), 0);
}

static void test_inputs(void)
{
    const char *input = in_folder("model.yaml"), *link_name = in_folder("hard");
    CU_ASSERT_TRUE(write_text(input, "feedtrace: 1\n"));
    struct sources in;
    sources_init(&in);
    CU_ASSERT_EQUAL(sources_read(&in, input, NO_SPAN, &d), 0);
    CU_ASSERT_EQUAL(link(input, link_name), 0); /* the same file under another name */
    expect_refused(outfile_write(input, "x", 1, &in, &d), "files that are read");
    expect_refused(outfile_write(link_name, "x", 1, &in, &d), "files that are read");
    expect_content(input, "feedtrace: 1\n");
    CU_ASSERT_TRUE(outfile_write(in_folder("other"), "x", 1, &in, &d));
    sources_release(&in);
    unlink(in_folder("model.yaml"));
    unlink(in_folder("hard"));
    unlink(in_folder("other"));
}

/* Runs in a child: uid, handlers and limits are changed there. */
static int in_child(int (*work)(void))
{
    fflush(NULL);
    pid_t child = fork();
    if (!child)
        _exit(work());
    int status = -1;
    waitpid(child, &status, 0);
    return status;
}

static bool become_nobody(void)
{
    return geteuid() != 0 || (!setgid(65534) && !setuid(65534));
}

static int write_into_closed_folder(void)
{
    struct diags own;
    diags_init(&own);
    bool refused = become_nobody() && !outfile_write(in_folder("closed/out"), "x", 1, NULL, &own) &&
                   own.n_errors == 1 && strstr(own.rows[0].message, strerror(EACCES));
    diags_release(&own);
    return !refused;
}

static int write_read_only_file(void)
{
    struct diags own;
    diags_init(&own);
    bool refused = become_nobody() && !outfile_write(in_folder("open/kept"), "x", 1, NULL, &own) && own.n_errors == 1 &&
                   strstr(own.rows[0].message, strerror(EACCES));
    diags_release(&own);
    return !refused;
}

static void test_permissions(void)
{
    CU_ASSERT_EQUAL(chmod(folder, 0755), 0);
    CU_ASSERT_EQUAL(mkdir(in_folder("closed"), 0555), 0);
    CU_ASSERT_EQUAL(mkdir(in_folder("open"), 0777), 0);
    CU_ASSERT_EQUAL(chmod(in_folder("open"), 0777), 0);
    CU_ASSERT_TRUE(write_text(in_folder("open/kept"), "old"));
    CU_ASSERT_EQUAL(chmod(in_folder("open/kept"), 0444), 0);
    CU_ASSERT_EQUAL(in_child(write_into_closed_folder), 0);
    CU_ASSERT_EQUAL(in_child(write_read_only_file), 0);
    expect_content(in_folder("open/kept"), "old");
    CU_ASSERT_EQUAL(n_names(in_folder("open")), 1);
    CU_ASSERT_EQUAL(n_names(in_folder("closed")), 0);
    unlink(in_folder("open/kept"));
    rmdir(in_folder("open"));
    rmdir(in_folder("closed"));
}

/* A limit on the size of files stands for a disk that fills up half way. */
static int write_beyond_limit(void)
{
    static char bytes[100000];
    struct diags own;
    struct rlimit limit = {50000, 50000};
    diags_init(&own);
    signal(SIGXFSZ, SIG_IGN);
    bool refused = !setrlimit(RLIMIT_FSIZE, &limit) &&
                   !outfile_write(in_folder("out"), bytes, sizeof bytes, NULL, &own) && own.n_errors == 1 &&
                   strstr(own.rows[0].message, strerror(EFBIG));
    diags_release(&own);
    return !refused;
}

static void test_full_disk(void)
{
    CU_ASSERT_TRUE(write_text(in_folder("out"), "old"));
    CU_ASSERT_EQUAL(in_child(write_beyond_limit), 0);
    expect_content(in_folder("out"), "old");
    CU_ASSERT_EQUAL(n_names(folder), 1);
    unlink(in_folder("out"));
}

/* The limit's signal comes in the middle of the writing; its handler sends the signal asked for. */
static volatile sig_atomic_t signal_to_send;

/* One that belongs to somebody else: the new one is ours, and that is no reason to refuse. */
static int write_over_another_ones(void)
{
    struct diags own;
    diags_init(&own);
    bool written = become_nobody() && outfile_write(in_folder("open/theirs"), "new", 3, NULL, &own) && !own.n;
    diags_release(&own);
    return !written;
}

static int write_closed_fifo(void)
{
    struct diags own;
    diags_init(&own);
    bool refused = become_nobody() && !outfile_write(in_folder("open/fifo"), "x", 1, NULL, &own) && own.n_errors == 1 &&
                   strstr(own.rows[0].message, strerror(EACCES));
    diags_release(&own);
    return !refused;
}

static void test_owners(void)
{
    CU_ASSERT_EQUAL(mkdir(in_folder("open"), 0777), 0);
    CU_ASSERT_EQUAL(chmod(in_folder("open"), 0777), 0);
    CU_ASSERT_TRUE(write_text(in_folder("open/theirs"), "old"));
    CU_ASSERT_EQUAL(chmod(in_folder("open/theirs"), 0666), 0);
    CU_ASSERT_EQUAL(mkfifo(in_folder("open/fifo"), 0600), 0);
    CU_ASSERT_EQUAL(in_child(write_over_another_ones), 0);
    expect_content(in_folder("open/theirs"), "new");
    if (geteuid() == 0) {
        CU_ASSERT_EQUAL(in_child(write_closed_fifo), 0);
        CU_ASSERT_TRUE(write_text(in_folder("open/theirs"), "by root")); /* it stays the other one's */
        struct stat st;
        CU_ASSERT(stat(in_folder("open/theirs"), &st) == 0 && st.st_uid == 65534);
    }
    unlink(in_folder("open/theirs"));
    unlink(in_folder("open/fifo"));
    rmdir(in_folder("open"));
}

/* A file that no name leads to any more, by the name of its descriptor. */
static void test_descriptor(void)
{
    char name[64], found[16] = {0};
    int fd = open(in_folder("gone"), O_RDWR | O_CREAT, 0600);
    unlink(in_folder("gone"));
    snprintf(name, sizeof name, "/proc/self/fd/%d", fd);
    CU_ASSERT_TRUE(write_text(name, "kept"));
    CU_ASSERT_EQUAL(pread(fd, found, sizeof found, 0), 4);
    CU_ASSERT_STRING_EQUAL(found, "kept");
    close(fd);
    CU_ASSERT_EQUAL(n_names(folder), 0);
}

/* A name under a name is resolved against the folder of the link, an absolute one is not. */
static void test_absolute_link(void)
{
    CU_ASSERT_EQUAL(symlink(in_folder("real"), in_folder("link")), 0);
    CU_ASSERT_TRUE(write_text(in_folder("link"), "x"));
    expect_content(in_folder("real"), "x");
    CU_ASSERT_EQUAL(chdir(folder), 0);
    CU_ASSERT_EQUAL(symlink("link", "link_2"), 0);
    CU_ASSERT_TRUE(write_text("link_2", "y"));
    expect_content(in_folder("real"), "y");
    unlink("link");
    unlink("link_2");
    unlink("real");
}

static void send_signal(int number)
{
    (void)number;
    if (n_names(folder) == 2) /* the old file and the half-written one */
        raise(signal_to_send);
}

static int write_and_be_ended(void)
{
    static char bytes[100000];
    struct rlimit limit = {50000, 50000};
    outfile_init();
    signal(SIGXFSZ, send_signal);
    setrlimit(RLIMIT_FSIZE, &limit);
    outfile_write(in_folder("out"), bytes, sizeof bytes, NULL, &d);
    return 0;
}

static void test_signals(void)
{
    static const int signals[] = {SIGINT, SIGTERM, SIGHUP};
    CU_ASSERT_TRUE(write_text(in_folder("out"), "old"));
    for (size_t i = 0; i < 3; i++) {
        signal_to_send = signals[i];
        int status = in_child(write_and_be_ended);
        CU_ASSERT(WIFSIGNALED(status) && WTERMSIG(status) == signals[i]);
        expect_content(in_folder("out"), "old");
        CU_ASSERT_EQUAL(n_names(folder), 1);
    }
    unlink(in_folder("out"));
}

static int write_after_a_kill(void)
{
    char name[64];
    struct diags own;
    diags_init(&own);
    snprintf(name, sizeof name, ".feedtrace-%ld-0.tmp", (long)getpid()); /* what a killed run with our number left */
    FILE *left = fopen(in_folder(name), "w");
    if (!left || fclose(left))
        return 1;
    bool written = outfile_write(in_folder("out"), "x", 1, NULL, &own) && n_names(folder) == 2;
    unlink(in_folder(name));
    diags_release(&own);
    return !written;
}

static void test_after_a_kill(void)
{
    CU_ASSERT_EQUAL(in_child(write_after_a_kill), 0);
    unlink(in_folder("out"));
}

static void test_fifo(void)
{
    const char *fifo = in_folder("fifo");
    CU_ASSERT_EQUAL(mkfifo(fifo, 0600), 0);
    int reader = open(fifo, O_RDONLY | O_NONBLOCK);
    CU_ASSERT_TRUE(write_text(fifo, "through"));
    char found[16] = {0};
    CU_ASSERT_EQUAL(read(reader, found, sizeof found - 1), 7);
    CU_ASSERT_STRING_EQUAL(found, "through");
    close(reader);
    struct stat st;
    CU_ASSERT(!lstat(fifo, &st) && S_ISFIFO(st.st_mode)); /* not replaced */
    unlink(fifo);
}

static enum stdout_end end_wanted;
static const char *stdout_path;

static int write_to_stdout(void)
{
    struct diags own;
    diags_init(&own);
    outfile_init();
    if (stdout_path) {
        int fd = open(stdout_path, O_WRONLY);
        dup2(fd, STDOUT_FILENO);
        close(fd);
    } else {
        int ends[2];
        if (pipe(ends))
            return 1;
        close(ends[0]);
        dup2(ends[1], STDOUT_FILENO);
        close(ends[1]);
    }
    enum stdout_end end = outfile_stdout("x", 1, &own);
    bool right = end == end_wanted && own.n_errors == (end == STDOUT_FAILED);
    diags_release(&own);
    return !right;
}

static void test_stdout(void)
{
    stdout_path = "/dev/full";
    end_wanted = STDOUT_FAILED;
    CU_ASSERT_EQUAL(in_child(write_to_stdout), 0);
    stdout_path = "/dev/null";
    end_wanted = STDOUT_OK;
    CU_ASSERT_EQUAL(in_child(write_to_stdout), 0);
    stdout_path = NULL;
    end_wanted = STDOUT_CLOSED;
    CU_ASSERT_EQUAL(in_child(write_to_stdout), 0);
}

/* A pipe that takes nothing for a while, and does not wait. */
static int write_to_slow_pipe(void)
{
    static char bytes[300000];
    int ends[2];
    if (pipe(ends) || fcntl(ends[1], F_SETFL, O_NONBLOCK))
        return 1;
    pid_t reader = fork();
    if (!reader) {
        size_t n = 0;
        char buffer[4096];
        close(ends[1]);
        usleep(50000);
        for (ssize_t got; (got = read(ends[0], buffer, sizeof buffer)) > 0;)
            n += (size_t)got;
        _exit(n != sizeof bytes + 1);
    }
    close(ends[0]);
    dup2(ends[1], STDOUT_FILENO);
    close(ends[1]);
    struct diags own;
    diags_init(&own);
    bool written = outfile_stdout(bytes, sizeof bytes, &own) == STDOUT_OK && outfile_write("-", "x", 1, NULL, &own);
    close(STDOUT_FILENO);
    int status = -1;
    waitpid(reader, &status, 0);
    diags_release(&own);
    return !written || status;
}

static int write_to_nothing(void)
{
    struct diags own;
    diags_init(&own);
    close(STDOUT_FILENO);
    bool refused =
        outfile_stdout("x", 1, &own) == STDOUT_FAILED && own.n_errors == 1 && !outfile_write("-", "x", 1, NULL, &own);
    diags_release(&own);
    return !refused;
}

static void test_slow_and_closed(void)
{
    CU_ASSERT_EQUAL(in_child(write_to_slow_pipe), 0);
    CU_ASSERT_EQUAL(in_child(write_to_nothing), 0);
}

/* What is ignored stays so, or a command under nohup would end with its terminal. */
static int keep_ignored(void)
{
    struct sigaction now;
    signal(SIGHUP, SIG_IGN);
    outfile_init();
    return sigaction(SIGHUP, NULL, &now) || now.sa_handler != SIG_IGN;
}

static void test_ignored(void)
{
    CU_ASSERT_EQUAL(in_child(keep_ignored), 0);
}

static const struct unit_test tests[] = {
    {"new and replaced", test_new_and_replaced},
    {"symlink", test_symlink},
    {"refusals", test_refusals},
    {"inputs", test_inputs},
    {"permissions", test_permissions},
    {"full disk", test_full_disk},
    {"signals", test_signals},
    {"after a kill", test_after_a_kill},
    {"FIFO", test_fifo},
    {"standard output", test_stdout},
    {"a slow pipe, no output", test_slow_and_closed},
    {"signals that are ignored", test_ignored},
    {"owners", test_owners},
    {"a descriptor's name", test_descriptor},
    {"absolute links", test_absolute_link},
};

int main(void)
{
    if (!mkdtemp(folder))
        return 1;
    diags_init(&d);
    int status = unit_run("base/outfile", tests, sizeof tests / sizeof *tests);
    diags_release(&d);
    if (chdir("/") || rmdir(folder)) {
        printf("%s is not empty\n", folder);
        status = 1;
    }
    return status;
}
