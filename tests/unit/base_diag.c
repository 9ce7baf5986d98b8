/* Diagnostics and sources. */
#include "base/diag.h"
#include "unit.h"
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static struct span at(uint8_t file, uint32_t line, uint16_t column)
{
    return (struct span){line, column, file, 1};
}

static void test_codes(void)
{
    CU_ASSERT_STRING_EQUAL(code_row(YAML_SYNTAX)->id, "yaml-syntax");
    CU_ASSERT_STRING_EQUAL(code_row(NO_LIMIT_ON_LINE)->id, "no-limit-on-line");
    CU_ASSERT_EQUAL(code_find("crossfeed"), CROSSFEED);
    CU_ASSERT_EQUAL(code_find("CROSSFEED"), N_CODES);
    CU_ASSERT_EQUAL(code_find(""), N_CODES);
    for (int i = 0; i < N_CODES; i++) {
        CU_ASSERT_EQUAL(code_find(code_row((enum code)i)->id), (enum code)i);
        CU_ASSERT(strlen(code_row((enum code)i)->what) > 0);
        CU_ASSERT(code_row((enum code)i)->kind == CODE_FINDING || code_row((enum code)i)->level == LEVEL_ERROR);
    }
    CU_ASSERT_STRING_EQUAL(level_word(LEVEL_NOTE), "note");
}

static void test_sort(void)
{
    struct diags d;
    diags_init(&d);
    CU_ASSERT_EQUAL(diags_worst(&d), -1);
    diags_sort(&d);
    diag(&d, BAD_ID, at(1, 1, 1), "g");
    diag(&d, BAD_ID, at(0, 9, 1), "f");
    diag(&d, BAD_ID, at(0, 2, 7), "d");
    diag(&d, BAD_ID, at(0, 2, 3), "c");
    diag_finding(&d, DEAD_END, at(0, 2, 7), "case.a", NULL, "e");
    diag(&d, BAD_ID, at(0, 2, 3), "c"); /* a repeat */
    diag(&d, BAD_USAGE, NO_SPAN, "a");
    diag(&d, BAD_USAGE, NO_SPAN, "b");
    diag_finding(&d, DEAD_END, at(0, 2, 7), "case.b", NULL, "e"); /* of another part: no repeat */
    diag(&d, BAD_ID, at(0, 2, 7), "d");                           /* a repeat that does not stand beside its like */
    CU_ASSERT_EQUAL(d.n_errors, 8);
    diags_sort(&d);
    CU_ASSERT_EQUAL(d.n, 8);
    CU_ASSERT_EQUAL(d.n_errors, 6);
    CU_ASSERT_EQUAL(d.n_warnings, 2);
    char order[9] = {0};
    for (size_t i = 0; i < d.n && i < 8; i++)
        order[i] = d.rows[i].message[0];
    CU_ASSERT_STRING_EQUAL(order, "abcdeefg");
    CU_ASSERT_STRING_EQUAL(d.rows[4].at, "case.a");
    CU_ASSERT_EQUAL(diags_worst(&d), LEVEL_ERROR);
    diags_release(&d);
}

static void test_texts_are_copied(void)
{
    struct diags d;
    char id[] = "H30", state[] = "drive_2";
    diags_init(&d);
    diag_help(&d, "nothing to add this to");
    diag_finding(&d, DEAD_END, at(0, 1, 1), id, state, "%s has %d ends", id, 1);
    diag_help(&d, "remove %s", id);
    diag_second(&d, at(0, 5, 2), "%s stands here", id);
    memset(id, 'x', 3);
    memset(state, 'x', 7);
    CU_ASSERT_EQUAL(d.n, 1);
    CU_ASSERT_STRING_EQUAL(d.rows[0].at, "H30");
    CU_ASSERT_STRING_EQUAL(d.rows[0].state, "drive_2");
    CU_ASSERT_STRING_EQUAL(d.rows[0].message, "H30 has 1 ends");
    CU_ASSERT_STRING_EQUAL(d.rows[0].help, "remove H30");
    CU_ASSERT_STRING_EQUAL(d.rows[0].second_text, "H30 stands here");
    CU_ASSERT_EQUAL(d.rows[0].second.line, 5);
    CU_ASSERT_EQUAL(diags_worst(&d), LEVEL_WARNING);
    diags_release(&d);
}

static void test_limit(void)
{
    struct diags d;
    diags_init(&d);
    for (uint32_t i = 1; i <= DIAGS_MAX; i++)
        diag(&d, BAD_ID, at(0, i, 1), "x");
    diag_help(&d, "last one kept");
    diag(&d, BAD_ID, at(0, 1, 1), "y");
    diag_help(&d, "for one that is only counted");
    CU_ASSERT_EQUAL(d.n, DIAGS_MAX);
    CU_ASSERT_EQUAL(d.n_errors, DIAGS_MAX + 1);
    CU_ASSERT_STRING_EQUAL(d.rows[DIAGS_MAX - 1].help, "last one kept");
    diags_release(&d);
}

static char folder[] = "/tmp/base_diag-XXXXXX";

static const char *file_with(const char *name, const char *bytes, size_t n)
{
    static char path[256];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    FILE *f = fopen(path, "wb");
    CU_ASSERT_PTR_NOT_NULL_FATAL(f);
    CU_ASSERT_EQUAL(fwrite(bytes, 1, n, f), n);
    fclose(f);
    return path;
}

static void expect_line(struct source *f, uint32_t line, const char *wanted)
{
    size_t n;
    const char *found = source_line(f, line, &n);
    CU_ASSERT(n == strlen(wanted) && !memcmp(found, wanted, n));
}

static void test_lines(void)
{
    /* The breaks of YAML 1.1, section 5.4: LF, CR, CR LF, NEL, LS, PS. */
    static const char bytes[] = "\xEF\xBB\xBF"
                                "feedtrace: 1\nb\rc\r\nd\xC2\x85"
                                "e\xE2\x80\xA8"
                                "f\xE2\x80\xA9\n\xC2\xA9 h";
    struct sources s;
    struct diags d;
    sources_init(&s);
    diags_init(&d);
    int ix = sources_read(&s, file_with("lines", bytes, sizeof bytes - 1), NO_SPAN, &d);
    CU_ASSERT_EQUAL_FATAL(ix, 0);
    static const char *const lines[] = {"", "feedtrace: 1", "b", "c", "d", "e", "f", "", "\xC2\xA9 h", ""};
    for (uint32_t i = 0; i < sizeof lines / sizeof *lines; i++)
        expect_line(&s.files[0], i, lines[i]);
    CU_ASSERT_TRUE(s.files[0].is_model);
    CU_ASSERT_EQUAL(s.files[0].n_bytes, sizeof bytes - 1);
    /* What looks like the beginning of a break, and bytes of one that the file's end cuts off. */
    static const char *const ends[] = {"a\r",       "a\xC2",         "a\xE2",        "a\xE2\x80",
                                       "a\xC2\xA9", "a\xE2\x81\xA8", "a\xE2\x80\xA7"};
    for (size_t i = 0; i < sizeof ends / sizeof *ends; i++) {
        ix = sources_read(&s, file_with("lines", ends[i], strlen(ends[i])), NO_SPAN, &d);
        expect_line(&s.files[ix], 1, i ? ends[i] : "a");
        expect_line(&s.files[ix], 2, "");
    }
    char many[100];
    memset(many, '\n', sizeof many);
    ix = sources_read(&s, file_with("lines", many, sizeof many), NO_SPAN, &d);
    size_t n;
    source_line(&s.files[ix], 101, &n);
    CU_ASSERT_EQUAL(s.files[ix].n_lines, 101);
    sources_release(&s);
    diags_release(&d);
}

static void test_is_model(void)
{
    static const struct {
        const char *text;
        bool is_model;
    } rows[] = {
        {"feedtrace: 1", true},
        {"# x\n\n%YAML 1.2\n---\nfeedtrace : 1", true},
        {"\"feedtrace\": 1", true},
        {"--- feedtrace: 1", true},
        {"feedtrace", false},
        {"feedtraces: 1", false},
        {"'feedtrace: 1", false},
        {"model: x\nfeedtrace: 1", false},
        {"", false},
        {"# feedtrace: 1", false},
        {"root:x:0:0", false},
        {"\"feedtrace", false},
        {"feedtrace\t: 1", true},
    };
    struct sources s;
    struct diags d;
    sources_init(&s);
    diags_init(&d);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        int ix = sources_read(&s, file_with("model", rows[i].text, strlen(rows[i].text)), NO_SPAN, &d);
        CU_ASSERT_EQUAL_FATAL(ix, (int)i);
        CU_ASSERT_EQUAL(s.files[ix].is_model, rows[i].is_model);
    }
    sources_release(&s);
    diags_release(&d);
}

static void test_refused_files(void)
{
    struct sources s;
    struct diags d;
    char fifo[64], missing[64], large[64];
    snprintf(fifo, sizeof fifo, "%s/fifo", folder);
    snprintf(missing, sizeof missing, "%s/missing", folder);
    snprintf(large, sizeof large, "%s/large", folder);
    CU_ASSERT_EQUAL(mkfifo(fifo, 0600), 0);
    sources_init(&s);
    diags_init(&d);
    static const char *wanted[] = {"a folder", "not a regular file", "not a regular file", "No such file"};
    const char *const names[] = {folder, fifo /* nobody writes: must not hang */, "/dev/zero", missing};
    for (size_t i = 0; i < 4; i++) {
        CU_ASSERT_EQUAL(sources_read(&s, names[i], at(0, 3, 1), &d), -1);
        CU_ASSERT_EQUAL_FATAL(d.n, i + 1);
        CU_ASSERT_EQUAL(d.rows[i].code, FILE_UNREADABLE);
        CU_ASSERT_EQUAL(d.rows[i].where.line, 3);
        CU_ASSERT_PTR_NOT_NULL(strstr(d.rows[i].message, wanted[i]));
    }
    CU_ASSERT_EQUAL(sources_read(&s, file_with("nul", "\0feedtrace: 1", 13), NO_SPAN, &d), 0);
    CU_ASSERT_FALSE(s.files[0].is_model);
    sources_release(&s);
    /* The kernel says that this one is empty, so it is a file that grows while it is read. */
    CU_ASSERT_EQUAL(sources_read(&s, "/proc/self/status", NO_SPAN, &d), 0);
    CU_ASSERT(s.files[0].n_bytes > 100 && strlen(s.files[0].bytes) == s.files[0].n_bytes);
    sources_release(&s);
    int fd = open(large, O_CREAT | O_WRONLY, 0600); /* a hole, no disk is used */
    CU_ASSERT_EQUAL(ftruncate(fd, (off_t)SOURCE_BYTES_MAX + 1), 0);
    close(fd);
    CU_ASSERT_EQUAL(sources_read(&s, large, NO_SPAN, &d), -1);
    CU_ASSERT_EQUAL(d.rows[4].code, TOO_LARGE);
    for (int i = 0; i < SOURCE_FILES_MAX; i++)
        CU_ASSERT_EQUAL(sources_read(&s, file_with("many", "", 0), NO_SPAN, &d), i);
    CU_ASSERT_EQUAL(sources_read(&s, file_with("many", "", 0), NO_SPAN, &d), -1);
    CU_ASSERT_EQUAL(d.rows[5].code, TOO_LARGE);
    sources_release(&s);
    diags_release(&d);
}

static const struct unit_test tests[] = {
    {"codes", test_codes},
    {"sort", test_sort},
    {"texts are copied", test_texts_are_copied},
    {"limit", test_limit},
    {"lines", test_lines},
    {"is a model", test_is_model},
    {"refused files", test_refused_files},
};

int main(void)
{
    if (!mkdtemp(folder))
        return 1;
    int status = unit_run("base/diag", tests, sizeof tests / sizeof *tests);
    static const char *const left[] = {"lines", "model", "fifo", "large", "many", "nul"};
    for (size_t i = 0; i < sizeof left / sizeof *left; i++) {
        char path[64];
        snprintf(path, sizeof path, "%s/%s", folder, left[i]);
        unlink(path);
    }
    return rmdir(folder) || status;
}
