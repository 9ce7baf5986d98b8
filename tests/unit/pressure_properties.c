/* What must hold in any network of holes, tried on random ones from a fixed seed: no outside number is needed. */
#include "pressure_case.h"

#define N_PASSAGES 12
#define N_JOINTS   26
#define N_ROUNDS   40

static uint64_t seed = 20240611;
static double chance(void) /* 0 to 1; Knuth's MMIX generator, from memory */
{
    seed = seed * 6364136223846793005u + 1442695040888963407u;
    return (double)(seed >> 11) / 9007199254740992.0;
}

struct net {
    struct {
        unsigned a, b; /* N_PASSAGES: sump; passage 0 has the source */
        double mm;
    } joints[N_JOINTS];
    unsigned n;
};

static void net_random(struct net *n, bool tree)
{
    n->n = tree ? 2 * (N_PASSAGES - 1) : N_JOINTS;
    for (unsigned i = 0; i < n->n; i++) {
        unsigned a = i + 1 < N_PASSAGES ? i + 1 : (unsigned)(chance() * N_PASSAGES), b = N_PASSAGES;
        if (i + 1 < N_PASSAGES) /* first a way from the source to every passage */
            b = (unsigned)(chance() * (i + 1));
        else if (tree)
            a = i + 2 - N_PASSAGES; /* then a drain for each */
        else if (chance() < 0.6)
            b = (a + 1 + (unsigned)(chance() * (N_PASSAGES - 1))) % N_PASSAGES;
        n->joints[i].a = a;
        n->joints[i].b = b;
        n->joints[i].mm = 0.4 + 4 * chance();
    }
}

enum look { AS_IS, ENDS_SWAPPED, BACKWARDS, OTHER_UNITS, TURNED };

/* Turned, the source stands where sump was. */
static void name_add(struct text *t, enum look look, unsigned passage)
{
    if (look == TURNED && passage % N_PASSAGES == 0)
        passage = N_PASSAGES - passage;
    if (passage == N_PASSAGES)
        text_add(t, "sump");
    else
        text_addf(t, "case.p%u", passage);
}

static void net_open(const struct net *n, enum look look, struct unit_case *c)
{
    bool other = look == OTHER_UNITS;
    struct text t = {0};
    text_addf(&t, "feedtrace: 1\nmodel: random\nleakdown: 0\nunits: {pressure: %s, length: %s}\n",
              other ? "bar" : "psi", other ? "in" : "mm");
    text_add(&t, "layers: [{id: case, kind: casting}]\ncircuits: {oil: {passages: [case.p0");
    for (unsigned i = 1; i < N_PASSAGES; i++)
        text_addf(&t, ", case.p%u", i);
    text_add(&t, "]}}\njoints:\n");
    for (unsigned k = 0; k < n->n; k++) {
        unsigned i = look == BACKWARDS ? n->n - 1 - k : k;
        text_addf(&t, "  J%u: {joins: [", i);
        name_add(&t, look, look == ENDS_SWAPPED ? n->joints[i].b : n->joints[i].a);
        text_add(&t, ", ");
        name_add(&t, look, look == ENDS_SWAPPED ? n->joints[i].a : n->joints[i].b);
        text_addf(&t, "], diameter: %.17g}\n", other ? n->joints[i].mm / 25.4 : n->joints[i].mm);
    }
    text_addf(&t, "feeds: {line: {into: case.p0}}\nstates: {s: {line: %.17g}}\n", other ? 100 * PSI / 1e5 : 100.0);
    unit_case_text(c, text_string(&t));
    text_release(&t);
}

static void net_psi(const struct unit_case *c, double *psi)
{
    for (unsigned i = 0; i < N_PASSAGES; i++) {
        char name[16];
        snprintf(name, sizeof name, "case.p%u", i);
        psi[i] = unit_psi(c, c->healthy, "s", name);
    }
}

static void net_solve(const struct net *n, enum look look, double *psi)
{
    struct unit_case c;
    net_open(n, look, &c);
    net_psi(&c, psi);
    unit_case_release(&c);
}

static void check_looks(enum look look)
{
    for (unsigned round = 0; round < N_ROUNDS; round++) {
        struct net n;
        double as_is[N_PASSAGES], is[N_PASSAGES];
        net_random(&n, false);
        net_solve(&n, AS_IS, as_is);
        net_solve(&n, look, is);
        for (unsigned i = 0; i < N_PASSAGES; i++)
            CU_ASSERT_TRUE(fabs(as_is[i] - is[i]) <= 1e-8 * fabs(as_is[i]) + 1e-10);
    }
}
static void test_ends(void)
{
    check_looks(ENDS_SWAPPED);
}
static void test_order(void)
{
    check_looks(BACKWARDS);
}
static void test_units(void)
{
    check_looks(OTHER_UNITS);
}

/* A network of holes does not know which of its ends the pump is at: with source and sump exchanged each loss is what
 * it was, the other way, and as much flows. */
static void test_turned(void)
{
    for (unsigned round = 0; round < N_ROUNDS; round++) {
        struct net n;
        double psi[N_PASSAGES], turned[N_PASSAGES];
        struct unit_case c, t;
        net_random(&n, false);
        net_open(&n, AS_IS, &c);
        net_open(&n, TURNED, &t);
        net_psi(&c, psi);
        net_psi(&t, turned);
        for (unsigned i = 1; i < N_PASSAGES; i++)
            CU_ASSERT_DOUBLE_EQUAL(psi[i] + turned[i], 100, 1e-6);
        double flow = c.healthy[0].sources[0].flow;
        CU_ASSERT_TRUE(flow > 0);
        CU_ASSERT_DOUBLE_EQUAL(t.healthy[0].sources[0].flow, flow, 1e-8 * flow);
        unit_case_release(&t);
        unit_case_release(&c);
    }
}

/* What the reported flows bring into each passage sums to zero, and what the source gives is what reaches sump. */
static void test_mass_balance(void)
{
    for (unsigned round = 0; round < N_ROUNDS; round++) {
        struct net n;
        struct unit_case c;
        net_random(&n, round % 2);
        net_open(&n, AS_IS, &c);
        const struct pressures *p = &c.healthy[0];
        CU_ASSERT_TRUE_FATAL(p->end.converged);
        double into[N_PASSAGES + 1] = {0};
        CU_ASSERT_TRUE_FATAL(c.network.n_nodes == N_PASSAGES + 1);
        for (uint32_t i = 0; i < c.network.n_elements; i++) {
            into[c.network.node_of[c.network.elements[i].from.i]] -= p->flow[i];
            into[c.network.node_of[c.network.elements[i].to.i]] += p->flow[i];
        }
        double flow = p->sources[0].flow;
        into[c.network.node_of[c.m->feeds[0].passage.i]] += flow;
        into[c.network.node_of[SUMP.i]] -= flow;
        for (uint32_t i = 0; i <= N_PASSAGES; i++)
            CU_ASSERT_TRUE(fabs(into[i]) <= N_PASSAGES * 1e-9 * fmax(flow, 1e-4)); /* what is converged, once a node */
        unit_case_release(&c);
    }
}

/* Nothing lies above the source nor below sump. */
static void test_bounds(void)
{
    for (unsigned round = 0; round < N_ROUNDS; round++) {
        struct net n;
        double psi[N_PASSAGES];
        net_random(&n, false);
        net_solve(&n, AS_IS, psi);
        for (unsigned i = 0; i < N_PASSAGES; i++)
            CU_ASSERT_TRUE(psi[i] >= 0 && psi[i] <= 100 * (1 + 1e-9));
    }
}

/* In a tree a larger hole never lowers the pressure behind it. */
static void test_monotony(void)
{
    for (unsigned round = 0; round < N_ROUNDS; round++) {
        struct net n;
        double before[N_PASSAGES], after[N_PASSAGES];
        net_random(&n, true);
        net_solve(&n, AS_IS, before);
        unsigned opened = (unsigned)(chance() * (N_PASSAGES - 1));
        n.joints[opened].mm *= 1.1 + chance();
        net_solve(&n, AS_IS, after);
        bool behind[N_PASSAGES] = {false};
        behind[n.joints[opened].a] = true;
        for (unsigned i = 0; i + 1 < N_PASSAGES; i++) /* ways are listed from the source on */
            behind[n.joints[i].a] |= behind[n.joints[i].b];
        for (unsigned i = 0; i < N_PASSAGES; i++)
            CU_ASSERT_TRUE(!behind[i] || after[i] >= before[i] - 1e-9);
    }
}

static const struct unit_test tests[] = {
    {"the ends of a hole may be swapped", test_ends},
    {"the order of the file does not matter", test_order},
    {"nor do its units", test_units},
    {"a network may be turned end to end", test_turned},
    {"flows balance", test_mass_balance},
    {"pressures lie between sump and source", test_bounds},
    {"a larger hole never lowers what is behind it", test_monotony},
};
UNIT_MAIN("pressure_properties", tests)
