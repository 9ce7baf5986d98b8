/* Routes against published graphs. Each graph names its source; "memory" says that the source was not at hand and the
 * answer was enumerated independently. Places are numbered from 0 (or 1) as the source names them, letters from A. */
#include "base/diag.h"
#include "routes/graph.h"
#include "unit.h"
#include <stdlib.h>
#include <string.h>

struct edge {
    uint32_t from, to;
};
#define EDGES_MAX 128
#define N(rows)   (uint32_t)(sizeof(rows) / sizeof *(rows))

static struct arena arena;
static struct diags diags;

static void begin(void)
{
    arena_init(&arena);
    diags_init(&diags);
}

static void end(void)
{
    CU_ASSERT_EQUAL(diags.n, 0);
    arena_release(&arena);
    diags_release(&diags);
}

static struct paths find(const struct way *ways, uint32_t n, uint32_t n_places, uint32_t from, uint32_t to)
{
    struct paths p;
    struct ways g = {ways, n, n_places};
    CU_ASSERT_TRUE_FATAL(paths_find(&g, from, to, 4, &arena, &p, &diags));
    return p;
}

static struct way one_way(uint32_t from, uint32_t to)
{
    return (struct way){.from = from, .to = to, .one_way = true, .strength = STRENGTH_OPEN};
}

static struct way two_way(uint32_t from, uint32_t to)
{
    return (struct way){.from = from, .to = to, .strength = STRENGTH_OPEN};
}

/* ---- dominators: node v becomes a way from place 2v to place 2v + 1, an edge v -> w a way from 2v + 1 to 2w; the ways
 * of nodes among the single points of w are then its proper dominators. */

struct dominators {
    const char *name;
    const struct edge *edges;
    uint32_t n_edges, n_nodes, root;
    const int *idom; /* [n_nodes] immediate dominator; -1: none (the root, or not reached) */
};

static void check_dominators(const struct dominators *g)
{
    struct way ways[EDGES_MAX];
    uint32_t n = 0;
    for (uint32_t v = 0; v < g->n_nodes; v++)
        ways[n++] = one_way(2 * v, 2 * v + 1);
    for (uint32_t e = 0; e < g->n_edges; e++)
        ways[n++] = one_way(2 * g->edges[e].from + 1, 2 * g->edges[e].to);
    for (uint32_t w = 0; w < g->n_nodes; w++) {
        if (g->idom[w] < 0)
            continue;
        struct paths p = find(ways, n, 2 * g->n_nodes, 2 * g->root + 1, 2 * w);
        CU_ASSERT_TRUE_FATAL(p.reached);
        int dominator = g->idom[w]; /* nearest first, so against the order of flow */
        for (uint32_t i = p.n_single; i-- > 0;) {
            if (p.single[i] >= g->n_nodes)
                continue; /* an edge */
            CU_ASSERT_EQUAL((int)p.single[i], dominator);
            dominator = dominator < 0 ? -1 : g->idom[dominator];
        }
        CU_ASSERT_EQUAL(dominator, (int)g->root);
    }
}

/* T. Lengauer, R. E. Tarjan, A fast algorithm for finding dominators in a flowgraph, ACM TOPLAS 1(1) 1979, figures 1
 * and 2. */
enum { A, B, C, D, E, F, G, H, I, J, K, L, R };
static const struct edge lengauer_tarjan[] = {{R, A}, {R, B}, {R, C}, {A, D}, {B, A}, {B, D}, {B, E},
                                              {C, F}, {C, G}, {D, L}, {E, H}, {F, I}, {G, I}, {G, J},
                                              {H, E}, {H, K}, {I, K}, {J, I}, {K, R}, {K, I}, {L, H}};
static const int lengauer_tarjan_idom[] = {R, R, R, R, R, C, C, R, R, G, R, D, -1};

/* igraph 0.10 example dominator_tree.c, first graph; answers computed apart. */
static const struct edge thirteen[] = {{0, 1},  {0, 7}, {0, 10}, {1, 2}, {1, 5},   {2, 3},   {3, 4},
                                       {4, 3},  {4, 0}, {5, 3},  {5, 6}, {6, 3},   {7, 8},   {7, 10},
                                       {7, 11}, {8, 9}, {9, 4},  {9, 8}, {10, 11}, {11, 12}, {12, 9}};
static const int thirteen_idom[] = {-1, 0, 1, 0, 0, 1, 5, 0, 0, 0, 0, 0, 11};

/* K. D. Cooper, T. J. Harvey, K. Kennedy, A simple, fast dominance algorithm, 2001, figures 2 and 4 (irreducible
 * graphs). */
static const struct edge cooper_2[] = {{1, 2}, {2, 1}, {3, 2}, {4, 1}, {5, 3}, {5, 4}};
static const int cooper_2_idom[] = {-1, 5, 5, 5, 5, -1};
static const struct edge cooper_4[] = {{1, 2}, {2, 1}, {2, 3}, {3, 2}, {4, 2}, {4, 3}, {5, 1}, {6, 4}, {6, 5}};
static const int cooper_4_idom[] = {-1, 6, 6, 6, 6, 6, -1};

/* Wikimedia Commons figure Domrel, as a networkx test. */
static const struct edge domrel[] = {{1, 2}, {2, 3}, {2, 4}, {2, 6}, {3, 5}, {4, 5}, {5, 2}};
static const int domrel_idom[] = {-1, -1, 1, 2, 2, 2, 2};

/* Boost Graph Library documentation, lengauer_tarjan_dominator, figure 1, as a networkx test; then the same graph
 * turned round from its exit 7: postdominators. */
static const struct edge boost[] = {{0, 1}, {1, 2}, {1, 3}, {2, 7}, {3, 4}, {4, 5}, {4, 6}, {5, 7}, {6, 4}};
static const int boost_idom[] = {-1, 0, 1, 1, 3, 4, 4, 1};
static const struct edge boost_back[] = {{1, 0}, {2, 1}, {3, 1}, {7, 2}, {4, 3}, {5, 4}, {6, 4}, {7, 5}, {4, 6}};
static const int boost_back_idom[] = {1, 7, 7, 4, 5, 7, 4, -1};

static void test_dominators(void)
{
    static const struct dominators graphs[] = {
        {"lengauer_tarjan", lengauer_tarjan, N(lengauer_tarjan), 13, R, lengauer_tarjan_idom},
        {"thirteen", thirteen, N(thirteen), 13, 0, thirteen_idom},
        {"cooper_2", cooper_2, N(cooper_2), 6, 5, cooper_2_idom},
        {"cooper_4", cooper_4, N(cooper_4), 7, 6, cooper_4_idom},
        {"domrel", domrel, N(domrel), 7, 1, domrel_idom},
        {"boost", boost, N(boost), 8, 0, boost_idom},
        {"boost_back", boost_back, N(boost_back), 8, 7, boost_back_idom},
    };
    begin();
    for (size_t i = 0; i < sizeof graphs / sizeof *graphs; i++)
        check_dominators(&graphs[i]);
    end();
}

/* ---- cuts */

struct wide { /* an edge of some capacity: as many parallel ways */
    uint32_t from, to, capacity;
};

static uint32_t widen(const struct wide *edges, uint32_t n_edges, struct way *ways, uint32_t *edge_of)
{
    uint32_t n = 0;
    for (uint32_t e = 0; e < n_edges; e++)
        for (uint32_t i = 0; i < edges[e].capacity; i++) {
            edge_of[n] = e;
            ways[n++] = one_way(edges[e].from, edges[e].to);
        }
    return n;
}

/* T. H. Cormen et al., Introduction to Algorithms, the running example of the maximum-flow chapter (first edition's
 * capacities): flow 23, and the only smallest cut is v1-v3, v4-v3, v4-t. */
static void test_cut_cormen(void)
{
    enum { S, V1, V2, V3, V4, T };
    static const struct wide edges[] = {{S, V1, 16}, {S, V2, 13},  {V1, V2, 10}, {V2, V1, 4}, {V1, V3, 12},
                                        {V3, V2, 9}, {V2, V4, 14}, {V4, V3, 7},  {V3, T, 20}, {V4, T, 4}};
    struct way ways[EDGES_MAX];
    uint32_t edge_of[EDGES_MAX], n = widen(edges, N(edges), ways, edge_of), cut[N(edges)] = {0};
    begin();
    struct paths p = find(ways, n, 6, S, T);
    CU_ASSERT_EQUAL(p.n_cut, 23);
    for (uint32_t i = 0; i < p.n_cut; i++)
        cut[edge_of[p.cut[i]]]++;
    for (uint32_t e = 0; e < N(edges); e++)
        CU_ASSERT_EQUAL(cut[e], e == 4 || e == 7 || e == 9 ? edges[e].capacity : 0);
    end();
}

/* Wikipedia, Dinic's algorithm, worked example, as a networkx test: flow 19. */
static void test_cut_dinitz(void)
{
    static const struct wide edges[] = {{0, 1, 10}, {0, 2, 10}, {1, 3, 4}, {1, 4, 8}, {1, 2, 2},
                                        {2, 4, 9},  {3, 5, 10}, {4, 3, 6}, {4, 5, 10}};
    struct way ways[EDGES_MAX];
    uint32_t edge_of[EDGES_MAX], n = widen(edges, N(edges), ways, edge_of);
    begin();
    CU_ASSERT_EQUAL(find(ways, n, 6, 0, 5).n_cut, 19);
    end();
}

/* The Lengauer-Tarjan graph with every edge of capacity 1; values computed apart. */
static void test_cut_units(void)
{
    static const struct {
        uint32_t to, value;
    } wanted[] = {{L, 1}, {J, 1}, {H, 2}, {I, 2}, {K, 2}, {D, 2}, {E, 2}};
    struct way ways[EDGES_MAX];
    for (uint32_t e = 0; e < N(lengauer_tarjan); e++)
        ways[e] = one_way(lengauer_tarjan[e].from, lengauer_tarjan[e].to);
    begin();
    for (size_t i = 0; i < sizeof wanted / sizeof *wanted; i++)
        CU_ASSERT_EQUAL(find(ways, N(lengauer_tarjan), 13, R, wanted[i].to).n_cut, wanted[i].value);
    end();
}

static bool is_path(const struct path *p, const uint32_t *wanted, uint32_t n)
{
    return p->n == n && memcmp(p->ways, wanted, n * sizeof *wanted) == 0;
}

/* The five-element bridge of reliability texts (R. E. Barlow, F. Proschan, Statistical Theory of Reliability, 1975;
 * from memory, enumerated apart). Two-way: smallest cuts {1,2} or {3,4}; paths {1,3} {2,4} {1,4,5} {2,3,5}. Element 5 a
 * check valve from a to b: the path {2,3,5} is gone and {1,4} cuts as well. Rows here count from 0. */
static void test_bridge_network(void)
{
    enum { S, P, Q, T };
    struct way ways[] = {two_way(S, P), two_way(S, Q), two_way(P, T), two_way(Q, T), two_way(P, Q)};
    begin();
    struct paths p = find(ways, 5, 4, S, T);
    CU_ASSERT_EQUAL(p.n_single, 0);
    CU_ASSERT_EQUAL(p.n_cut, 2);
    CU_ASSERT_TRUE((p.cut[0] == 0 && p.cut[1] == 1) || (p.cut[0] == 2 && p.cut[1] == 3));
    CU_ASSERT_EQUAL_FATAL(p.n, 4);
    CU_ASSERT_TRUE(is_path(&p.rows[0], (uint32_t[]){0, 2}, 2));
    CU_ASSERT_TRUE(is_path(&p.rows[1], (uint32_t[]){1, 3}, 2));
    CU_ASSERT_TRUE(is_path(&p.rows[2], (uint32_t[]){0, 4, 3}, 3));
    CU_ASSERT_TRUE(is_path(&p.rows[3], (uint32_t[]){1, 4, 2}, 3));

    ways[4].one_way = true;
    p = find(ways, 5, 4, S, T);
    CU_ASSERT_EQUAL(p.n_cut, 2);
    CU_ASSERT_EQUAL_FATAL(p.n, 3);
    CU_ASSERT_TRUE(is_path(&p.rows[2], (uint32_t[]){0, 4, 3}, 3));
    end();
}

/* ---- bridges: an undirected edge is a bridge exactly if it is a single point between its own two ends */

static void check_bridges(const struct edge *edges, uint32_t n, uint32_t n_nodes, const struct edge *bridges,
                          uint32_t n_bridges)
{
    struct way ways[EDGES_MAX];
    for (uint32_t e = 0; e < n; e++)
        ways[e] = two_way(edges[e].from, edges[e].to);
    for (uint32_t e = 0; e < n; e++) {
        bool wanted = false;
        for (uint32_t b = 0; b < n_bridges; b++)
            wanted |= edges[e].from == bridges[b].from && edges[e].to == bridges[b].to;
        struct paths p = find(ways, n, n_nodes, edges[e].from, edges[e].to);
        CU_ASSERT_EQUAL(p.n_single, wanted);
        CU_ASSERT_EQUAL(p.n_cut == 1, wanted);
        if (wanted)
            CU_ASSERT_EQUAL(p.single[0], e);
    }
}

static void test_bridges(void)
{
    /* networkx test of bridges, drawn as in Hopcroft and Tarjan's depth-first search */
    static const struct edge dfs[] = {{1, 2}, {2, 3},  {3, 4}, {3, 5}, {5, 6}, {6, 7},  {7, 8},
                                      {5, 9}, {9, 10}, {1, 3}, {1, 4}, {2, 5}, {5, 10}, {6, 8}};
    /* networkx test: two parallel edges are no bridge */
    static const struct edge parallel[] = {{0, 1}, {0, 2}, {1, 2}, {1, 2}, {2, 3}, {3, 4}, {3, 4}};
    /* networkx test of articulation points */
    static const struct edge sixteen[] = {{0, 1},  {0, 5}, {0, 6},  {0, 14}, {1, 5},   {1, 6},   {1, 14},  {2, 4},
                                          {2, 10}, {3, 4}, {3, 15}, {4, 6},  {4, 7},   {4, 10},  {5, 14},  {6, 14},
                                          {7, 9},  {8, 9}, {8, 12}, {8, 13}, {10, 15}, {11, 12}, {11, 13}, {12, 13}};
    /* two triangles joined by an edge, as a networkx test */
    static const struct edge barbell[] = {{0, 1}, {0, 2}, {1, 2}, {2, 3}, {3, 4}, {3, 5}, {4, 5}};
    begin();
    check_bridges(dfs, N(dfs), 11, (struct edge[]){{5, 6}}, 1);
    check_bridges(parallel, N(parallel), 5, (struct edge[]){{2, 3}}, 1);
    check_bridges(sixteen, N(sixteen), 16, (struct edge[]){{4, 6}, {4, 7}, {7, 9}, {8, 9}}, 4);
    check_bridges(barbell, N(barbell), 6, (struct edge[]){{2, 3}}, 1);
    end();
}

/* ---- our own order: sure, strongest, fewest, row order; by hand */

static void test_order(void)
{
    struct way ways[] = {
        {0, 1, false, false, STRENGTH_LEAK},    /* 0 short and weak */
        {0, 2, false, false, STRENGTH_OPEN},    /* 1 */
        {2, 1, false, false, STRENGTH_OPEN},    /* 2 longer and stronger: best */
        {0, 3, false, true, STRENGTH_MAIN},     /* 3 */
        {3, 1, false, false, STRENGTH_MAIN},    /* 4 strongest, but doubtful: last */
        {0, 1, false, false, STRENGTH_ORIFICE}, /* 5 second */
        {4, 0, true, false, STRENGTH_MAIN},     /* 6 out of nowhere */
    };
    begin();
    struct paths p = find(ways, N(ways), 5, 0, 1);
    CU_ASSERT_EQUAL_FATAL(p.n, 4);
    CU_ASSERT_TRUE(is_path(&p.rows[0], (uint32_t[]){1, 2}, 2));
    CU_ASSERT_TRUE(is_path(&p.rows[1], (uint32_t[]){5}, 1));
    CU_ASSERT_TRUE(is_path(&p.rows[2], (uint32_t[]){0}, 1));
    CU_ASSERT_TRUE(is_path(&p.rows[3], (uint32_t[]){3, 4}, 2));
    CU_ASSERT_EQUAL(p.n_cut, 4);
    CU_ASSERT_FALSE(find(ways, N(ways), 5, 0, 4).reached);
    p = find(ways, N(ways), 5, 2, 2);
    CU_ASSERT_TRUE(p.reached);
    CU_ASSERT_EQUAL(p.n, 1);
    CU_ASSERT_EQUAL(p.rows[0].n + p.n_single + p.n_cut, 0);
    end();
}

/* Equally short paths come in row order, and a chain of a million needs no deep stack. */
static void test_chain(void)
{
    enum { LONG = 300000 };
    struct way *ways = malloc((LONG + 1) * sizeof *ways);
    begin();
    CU_ASSERT_PTR_NOT_NULL_FATAL(ways);
    for (uint32_t i = 0; i < LONG; i++)
        ways[i] = two_way(i, i + 1);
    ways[LONG] = two_way(10, 11); /* beside way 10 */
    struct paths p = find(ways, LONG + 1, LONG + 1, 0, LONG);
    CU_ASSERT_TRUE(p.only_best);
    CU_ASSERT_EQUAL(p.n, 1);
    CU_ASSERT_EQUAL(p.rows[0].n, LONG);
    CU_ASSERT_EQUAL(p.rows[0].ways[10], 10);
    CU_ASSERT_EQUAL(p.n_single, LONG - 1);
    CU_ASSERT_EQUAL(p.n_cut, 1);
    free(ways);
    end();
}

static const struct unit_test tests[] = {
    {"dominators of published graphs", test_dominators},
    {"smallest cut: Cormen", test_cut_cormen},
    {"smallest cut: Dinic", test_cut_dinitz},
    {"smallest cut: unit capacities", test_cut_units},
    {"the five-element bridge", test_bridge_network},
    {"bridges of published graphs", test_bridges},
    {"order of routes", test_order},
    {"a long chain", test_chain},
};
UNIT_MAIN("routes", tests)
