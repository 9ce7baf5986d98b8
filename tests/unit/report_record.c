/* The difference between two records in sentences. What is wanted follows from the two texts; no outside source. */
#include "report/record.h"
#include "unit_model.h"

static const struct view wide = {.width = 200};

/* A model with the names that the facts are about. */
static struct read_text unit_names(void)
{
    return unit_good_model("feedtrace: 1\nmodel: m\nlayers: [{id: case, kind: casting}]\n"
                           "circuits: {c1: {passages: [case.c1]}}\nactuators: {band: {kind: clutch, apply: case.c1}}\n"
                           "feeds: {line: {into: case.c1}}\ngears: {first: [band]}\nstates: {d: {line: 90}}\n");
}

static const char *difference(struct text *t, const char *was, const char *now)
{
    struct read_text model = unit_names();
    text_clear(t);
    record_compare(t, &wide, model.m, was, strlen(was), now, strlen(now), NULL);
    unit_model_release(&model);
    return text_string(t);
}

struct pair {
    const char *was, *now, *told;
};

static void check(const struct pair *rows, size_t n)
{
    struct text t = {0}, wanted = {0};
    for (size_t i = 0; i < n; i++) {
        text_clear(&wanted);
        text_addf(&wanted, "1 fact changed in 1 state\n  - d: %s\n", rows[i].told);
        CU_ASSERT_STRING_EQUAL(difference(&t, rows[i].was, rows[i].now), text_string(&wanted));
    }
    text_release(&t);
    text_release(&wanted);
}

/* Where structure and pressures differ in one of the two records, each is told against what it was; a figure behind a
 * device's pressure answer belongs to that answer alone. */
static void two_answers(void)
{
    static const struct pair rows[] = {
        {"d  gear  second\n", "d  gear  first, by pressure second\n",
         "gear: by structure first (was second); by pressure second, as before"},
        {"d  gear  first, by pressure second\n", "d  gear  first, by pressure third\n",
         "gear: by structure first, as before; by pressure third (was second)"},
        {"d  gear  first, by pressure second\n", "d  gear  second\n",
         "gear: by structure second (was first); by pressure second, as before"},
        {"d  gear  first\n", "d  gear  second\n", "gear is second, was first"},
        {"d  shift  stroked\n", "d  shift  stroked, by pressure part-way at 40 % of its travel\n",
         "shift: by structure stroked, as before; by pressure part-way at 40 % of its travel (was stroked)"},
        {"d  band  released at 0 psi\n", "d  band  released, by pressure applied at 60 psi\n",
         "band: by structure released, as before; by pressure applied at 60 psi (was released at 0 psi)"},
        {"d  band  applied at 60 psi\n", "d  band  released, by pressure applied at 60 psi\n",
         "band: by structure released (was applied); by pressure applied at 60 psi, as before"},
        {"d  band  applied at 60 psi\n", "d  band  applied at 90 psi\n",
         "band is applied at 90 psi, was applied at 60 psi"},
    };
    check(rows, sizeof rows / sizeof *rows);
}

static void rates(void)
{
    static const struct pair rows[] = {
        {"d  band  fills at 1.6 L/min\n", "d  band  fills at 3.2 L/min\n", "band fills at 3.2 L/min, was 1.6 L/min"},
        {"d  band  fills at 1.6 L/min\n", "d  band  drains at 2 L/min\n",
         "band drains at 2 L/min, filled at 1.6 L/min"},
        {"d  band  drains at 2 L/min\n", "d  band  does not drain\n", "band does not drain, drained at 2 L/min"},
        {"d  band  does not fill\n", "d  band  fills at 2 L/min\n", "band fills at 2 L/min, did not fill"},
        {"", "d  band  fills at 2 L/min\n", "band fills at 2 L/min, which is new"},
        {"d  band  drains at 2 L/min\n", "", "band drained at 2 L/min, now no rate is known"},
    };
    check(rows, sizeof rows / sizeof *rows);
}

/* A rate pairs with a rate and an answer with an answer, whatever their order by bytes. */
static void kinds_pair(void)
{
    struct text t = {0};
    CU_ASSERT_STRING_EQUAL(difference(&t, "d  band  drains at 2 L/min\nd  band  released at 0 psi\n",
                                      "d  band  applied at 90 psi\nd  band  fills at 3 L/min\n"),
                           "2 facts changed in 1 state\n"
                           "  - d: band is applied at 90 psi, was released at 0 psi\n"
                           "  - d: band fills at 3 L/min, drained at 2 L/min\n");
    text_release(&t);
}

static const struct unit_test tests[] = {
    {"by structure and by pressure", two_answers},
    {"rates of fill and drain", rates},
    {"facts of one kind pair", kinds_pair},
};

UNIT_MAIN("report_record", tests)
