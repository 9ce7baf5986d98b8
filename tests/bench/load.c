/* How fast a model is read, beside a scan of its bare events. */
#include "bench.h"
#include <stdio.h>
#include <stdlib.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>
#include <yaml.h>

double scan_measure(void *of)
{
    double start = cpu_now();
    const char *path = of;
    FILE *file = fopen(path, "rb");
    yaml_parser_t parser;
    if (!file || !yaml_parser_initialize(&parser)) {
        perror(path);
        exit(2);
    }
    yaml_parser_set_input_file(&parser, file);
    for (bool more = true; more;) {
        yaml_event_t event;
        if (!yaml_parser_parse(&parser, &event)) {
            fprintf(stderr, "%s: not YAML\n", path);
            exit(2);
        }
        more = event.type != YAML_STREAM_END_EVENT;
        yaml_event_delete(&event);
    }
    yaml_parser_delete(&parser);
    fclose(file);
    return cpu_now() - start;
}

struct model *model_load(const char *path, struct sources *files, double *seconds)
{
    struct diags d;
    sources_init(files);
    diags_init(&d);
    double start = cpu_now();
    struct model *m = model_read(path, files, &d);
    *seconds = cpu_now() - start;
    for (size_t i = 0; !m && i < d.n && i < 10; i++)
        fprintf(stderr, "%s:%u: %s\n", path, d.rows[i].where.line, d.rows[i].message);
    if (!m)
        exit(2);
    diags_release(&d);
    return m;
}

double load_measure(void *of)
{
    struct sources files;
    double seconds;
    model_free(model_load(of, &files, &seconds));
    sources_release(&files);
    return seconds;
}

double peak_find(measured work, void *of)
{
    pid_t child = fork();
    if (child < 0) {
        perror("fork");
        exit(2);
    }
    if (child == 0) {
        work(of);
        _exit(0);
    }
    int status;
    struct rusage usage;
    if (wait4(child, &status, 0, &usage) < 0 || status != 0) {
        fprintf(stderr, "the child that measures memory failed\n");
        exit(2);
    }
    return (double)usage.ru_maxrss * 1024;
}

void load_report(char *path, unsigned rounds, double peaks[2])
{
    double both[2];
    struct stat file;
    if (stat(path, &file) != 0) {
        perror(path);
        exit(2);
    }
    head_print("Reading the large model (names, places, references, all checks), against libyaml's bare events");
    compare(rounds, load_measure, path, scan_measure, path, both);
    row_print("time", both[0], both[1], "s", false, 3, 2);
    row_print("peak memory, against the file's size", peaks[0] / 1e6, (double)file.st_size / 1e6, "MB", false, 10,
              NO_GOAL);
    row_print("  of the bare scan, for comparison", peaks[1] / 1e6, (double)file.st_size / 1e6, "MB", false, NO_GOAL,
              NO_GOAL);
}
