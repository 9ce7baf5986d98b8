/* `feedtrace sweep MODEL [--pairs]` */
#include "base/mem.h"
#include "base/pool.h"
#include "commands/command.h"
#include "faults/list.h"
#include "report/sweep_table.h"
#include <stdio.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

static void as_text(struct text *t, const struct view *v, const struct answer *a, const void *extra)
{
    if (!a->model)
        return;
    text_sweep_unfit(t, v, extra);
    text_sweep(t, v, extra);
}

static void as_json(struct text *t, const struct view *v, const struct answer *a, const void *extra)
{
    (void)v;
    if (a->model)
        json_sweep(t, extra);
    else
        json_sweep_unread(t, a);
}

static void as_csv(struct text *t, const struct view *v, const struct answer *a, const void *extra)
{
    if (a->model)
        csv_sweep(t, v, extra);
}

static report_fn *const reports[N_FORMATS] = {[FORMAT_TEXT] = as_text, [FORMAT_JSON] = as_json, [FORMAT_CSV] = as_csv};

struct sweeping {
    struct run *run;
    struct sweep *sweep;
    struct sweep_table *table;
    struct sweep_counts counts;
    uint64_t n_jobs, n_done;
    struct timespec start;
    bool terminal, shown;
};

/* Half a second is felt as waiting. */
static void progress(struct sweeping *s)
{
    struct timespec now;
    if (!s->terminal || clock_gettime(CLOCK_MONOTONIC, &now))
        return;
    double waited = (double)(now.tv_sec - s->start.tv_sec) + 1e-9 * (double)(now.tv_nsec - s->start.tv_nsec);
    if (waited < 0.5)
        return;
    fprintf(stderr, "\r%3.0f %% of the sweep", 100.0 * (double)s->n_done / (double)s->n_jobs);
    fflush(stderr);
    s->shown = true;
}

static void work(void *with, uint64_t job, struct text *answer)
{
    struct sweeping *s = with;
    sweep_job(s->sweep, job, answer);
}

static void done(void *with, uint64_t job, const char *answer, size_t n)
{
    struct sweeping *s = with;
    (void)job;
    sweep_table_add(s->table, sweep_network(s->sweep), answer, n, &s->counts);
    s->n_done++;
    progress(s);
}

static void lost(void *with, uint64_t job, const char *how)
{
    struct sweeping *s = with;
    struct text words = {0};
    sweep_job_words(s->sweep, job, &words);
    text_addf(&words, ": the process that worked on them %s", how);
    sweep_table_lost(s->table, text_string(&words));
    text_release(&words);
    s->n_done++;
}

static void element_unknown(struct run *r, const struct model *m, const char *id)
{
    const char *near = model_nearest(m, PART_NONE, id);
    struct text help = {0};
    if (near)
        text_addf(&help, "did you mean %s?", near);
    run_usage(r, near ? text_string(&help) : NULL, "model %s has no part '%s'", m->id, id);
    text_release(&help);
}

/* A few parts that open into a passage, or work by its oil. */
static void touching_add(struct text *t, const struct network *n, uint32_t passage)
{
    enum { TOLD_MOST = 8 };
    const struct model *m = n->model;
    uint32_t told = 0;
    struct part_ref last = {PART_NONE, 0};
    for (uint32_t i = 0; i < n->n_elements && told < TOLD_MOST; i++) {
        const struct element *e = &n->elements[i];
        if ((e->from.i != passage && e->to.i != passage) || (e->part.kind == last.kind && e->part.i == last.i))
            continue;
        last = e->part;
        text_addf(t, "%s%s", told++ ? ", " : "; on this passage: ", model_id(m, e->part));
    }
    for (uint32_t i = 0; i < m->n_actuators && told < TOLD_MOST; i++)
        if (m->actuators[i].apply.i == passage)
            text_addf(t, "%s%s", told++ ? ", " : "; on this passage: ", m->actuators[i].part.id);
}

static void element_faultless(struct run *r, const struct network *n, struct part_ref ref, const char *id)
{
    struct text help = {0};
    text_add(&help, "joints, screens, plate holes, check balls, valves, solenoids, devices and sources with a "
                    "`capacity` have faults");
    if (ref.kind == PART_PASSAGE)
        touching_add(&help, n, ref.i);
    run_usage(r, text_string(&help), "--element: %s %s has no faults of its own",
              ref.kind == PART_NONE ? "feed" : part_kind_word(ref.kind), id);
    text_release(&help);
}

static void kinds_unfit(struct run *r, unsigned has, const char *id)
{
    struct text help = {0};
    for (int k = 0; k < N_FAULT_KINDS; k++)
        if (has >> k & 1)
            text_addf(&help, "%s%s", help.n ? ", " : "its kinds are ", fault_kind_row((enum fault_kind)k)->word);
    run_usage(r, text_string(&help), "%s has no faults of the kinds that --only names", id);
    text_release(&help);
}

/* Is the part there, and has it faults of the kinds asked for? */
static bool element_fits(struct run *r, const struct network *n)
{
    const struct model *m = n->model;
    const char *id = r->options.element;
    if (!id)
        return true;
    struct part_ref ref = model_find(m, id, strlen(id));
    if (ref.kind == PART_NONE && model_feed(m, id, strlen(id)).i == NONE) {
        element_unknown(r, m, id);
        return false;
    }
    struct fault_list list;
    unsigned has = 0;
    fault_list_make(n, 0, id, &list);
    for (uint32_t i = 0; i < list.n; i++)
        has |= 1u << list.rows[i].kind;
    fault_list_release(&list);
    bool fits = r->options.kinds ? r->options.kinds & has : has;
    if (!has)
        element_faultless(r, n, ref, id);
    else if (!fits)
        kinds_unfit(r, has, id);
    return fits;
}

static void sweep_model(struct run *r, struct unit *u)
{
    const struct options *o = &r->options;
    struct sweep_wanted wanted = {
        .pairs = o->pairs, .kinds = o->kinds, .part = o->element, .states = u->states, .n_states = u->n_states};
    struct sweeping s = {.run = r, .terminal = isatty(STDERR_FILENO)};
    struct sweep_table table;
    clock_gettime(CLOCK_MONOTONIC, &s.start);
    s.sweep = sweep_open(&u->network, &u->healthy, u->answer.pressed ? u->healthy_pressures : NULL, &wanted);
    s.table = &table;
    s.n_jobs = sweep_jobs(s.sweep);
    sweep_table_begin(&table, &u->answer, s.sweep, &wanted, o->part, o->n_parts);
    struct pool pool = {.with = &s,
                        .work = work,
                        .done = done,
                        .lost = lost,
                        .first = o->n_parts ? o->part - 1 : 0,
                        .step = o->n_parts ? o->n_parts : 1,
                        .n_jobs = s.n_jobs,
                        .n_workers = o->n_jobs ? o->n_jobs : pool_cores()};
    pool_run(&pool);
    if (s.shown)
        fputs("\r                   \r", stderr);
    if (json_array_size(table.lost) || s.counts.n_not_settled || s.counts.n_not_solved)
        run_status(r, STATUS_RESULT);
    sweep_table_sort(&table);
    struct sweep_report report = {&table, o->limit, &s.counts};
    run_answer(r, reports, &u->answer, &report);
    sweep_table_release(&table);
    sweep_close(s.sweep);
}

void command_sweep(struct run *r)
{
    struct unit u;
    r->options.structure |= r->options.pairs; /* pairs go by structure, their findings too */
    if (!unit_open(&u, r, r->options.args[0], NULL, NULL, 0))
        return;
    unit_findings(&u, r);
    if (!u.model)
        run_answer(r, reports, &u.answer, NULL);
    else if (element_fits(r, &u.network))
        sweep_model(r, &u);
    run_deliver(r);
    unit_release(&u);
}

/* `feedtrace merge FILE...` */

static bool parts_are_all(struct run *r, const struct sweep_parts *parts)
{
    struct text missing = {0};
    uint32_t n = 0;
    for (uint32_t i = 0; i < parts->n_parts; i++) {
        if (parts->names[i])
            continue;
        if (n++ < 20)
            text_addf(&missing, "%s%u", missing.n ? ", " : "", i + 1);
    }
    if (n)
        run_usage(r, "name the files of all parts", "of %u parts %s %s missing%s", parts->n_parts,
                  text_string(&missing), n == 1 ? "is" : "are", n > 20 ? " (and more)" : "");
    text_release(&missing);
    return !n;
}

void command_merge(struct run *r)
{
    const struct options *o = &r->options;
    struct sweep_table table = {0};
    struct sweep_parts parts = {0};
    struct diags d;
    bool ok = true;
    diags_init(&d);
    for (size_t i = 0; i < o->n_args && ok; i++) {
        struct sources files;
        sources_init(&files);
        int row = sources_read(&files, o->args[i], NO_SPAN, &d);
        run_inputs(r, &files);
        ok = row >= 0 && sweep_table_read(&table, &parts, &files.files[row], o->args[i], &d);
        sources_release(&files);
    }
    if (d.n) {
        run_complain(r, &d, NULL);
        run_status(r, STATUS_INPUT);
    }
    diags_release(&d);
    if (ok && parts_are_all(r, &parts)) {
        if (json_array_size(table.lost) || table.totals.n_not_settled || table.totals.n_not_solved)
            run_status(r, STATUS_RESULT);
        sweep_table_sort(&table);
        struct sweep_report report = {&table, o->limit, NULL};
        static const struct model some; /* the answer is of a model that was read, by the run that made the parts */
        struct answer answer = {.model = &some};
        run_answer(r, reports, &answer, &report);
        run_deliver(r);
    }
    sweep_table_release(&table);
    sweep_parts_release(&parts);
}
