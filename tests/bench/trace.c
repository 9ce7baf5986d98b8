/* One trace of all states, beside one search by a graph library. */
#include "bench.h"
#include <stdio.h>

static void graph_make(struct unit *u)
{
    const struct network *n = &u->network;
    igraph_vector_int_t ends;
    igraph_vector_int_init(&ends, 0);
    igraph_vector_int_reserve(&ends, 2 * (igraph_integer_t)n->n_elements);
    for (uint32_t i = 0; i < n->n_elements; i++) {
        uint32_t a = n->node_of[n->elements[i].from.i], b = n->node_of[n->elements[i].to.i];
        if (a == b)
            continue;
        igraph_vector_int_push_back(&ends, a);
        igraph_vector_int_push_back(&ends, b);
    }
    igraph_create(&u->graph, &ends, n->n_nodes, IGRAPH_UNDIRECTED);
    igraph_vector_int_destroy(&ends);
    igraph_vector_int_init(&u->order, 0);
    igraph_vector_int_init(&u->layers, 0);
    igraph_vector_int_init(&u->parents, 0);
}

void unit_open(struct unit *u, const char *path)
{
    double seconds;
    *u = (struct unit){.path = path};
    u->model = model_load(path, &u->files, &seconds);
    network_build(u->model, false, &u->network);
    u->root = u->network.node_of[u->model->feeds[0].passage.i];
    graph_make(u);
}

void unit_close(struct unit *u)
{
    igraph_vector_int_destroy(&u->order);
    igraph_vector_int_destroy(&u->layers);
    igraph_vector_int_destroy(&u->parents);
    igraph_destroy(&u->graph);
    network_release(&u->network);
    model_free(u->model);
    sources_release(&u->files);
}

static double search_measure(void *of)
{
    struct unit *u = of;
    double start = cpu_now();
    igraph_bfs_simple(&u->graph, u->root, IGRAPH_ALL, &u->order, &u->layers, &u->parents);
    return cpu_now() - start;
}

static double network_measure(void *of)
{
    struct unit *u = of;
    struct network n;
    double start = cpu_now();
    network_build(u->model, false, &n);
    double seconds = cpu_now() - start;
    network_release(&n);
    return seconds;
}

double trace_measure(void *of)
{
    struct unit *u = of;
    struct edits healthy = {0};
    struct trace t;
    double start = cpu_now();
    trace_run(&u->network, &healthy, 1, NULL, &t);
    double seconds = cpu_now() - start;
    trace_release(&t);
    return seconds;
}

/* What kind of work it was: a unit in which nothing moves or nothing is fed would be no measure. */
static void trace_describe(struct unit *u)
{
    const struct model *m = u->model;
    const struct network *n = &u->network;
    struct edits healthy = {0};
    struct trace t;
    uint64_t fed = 0, stroked = 0;
    uint32_t settled = 0;
    trace_run(n, &healthy, 1, NULL, &t);
    for (uint32_t s = 0; s < m->n_states; s++) {
        settled += t.cases[s].settled;
        for (uint32_t p = 1; p < m->n_passages; p++)
            fed += trace_condition(&t, s, (passage_ix){p}) == FED;
        for (uint32_t i = 0; i < n->n_spools; i++)
            stroked += t.cases[s].positions[i] == MAY_STROKED;
    }
    printf(
        "  %u passages, %u nodes, %u elements, %u spools; %u of %u states settled in %u rounds; fed %.0f %%, stroked "
        "%.0f %%; the search reaches %.0f %%\n",
        m->n_passages - 1, n->n_nodes, n->n_elements, n->n_spools, settled, m->n_states, (unsigned)t.n_rounds,
        100.0 * (double)fed / m->n_states / (m->n_passages - 1), 100.0 * (double)stroked / m->n_states / n->n_spools,
        100.0 * (double)igraph_vector_int_size(&u->order) / n->n_nodes);
    trace_release(&t);
}

/* States in a chain, four and four: each four start where the four before ended, and have to wait for them. */
static void states_chain(struct model *m, bool chained)
{
    for (uint32_t s = 0; s < m->n_states; s++)
        m->states[s].after.i = chained && s >= 4 ? s - 4 : NONE;
}

void trace_report(char *paths[3], unsigned rounds)
{
    double ratio[3], both[2], building[2];
    char what[80];
    head_print("One trace of all states, against one breadth-first search by igraph on the same graph");
    for (int k = 0; k < 3; k++) {
        struct unit u;
        unit_open(&u, paths[k]);
        compare(rounds, trace_measure, &u, search_measure, &u, both);
        ratio[k] = both[0] / both[1];
        snprintf(what, sizeof what, "%u passages, %u states", u.model->n_passages - 1, u.model->n_states);
        row_print(what, both[0] * 1e3, both[1] * 1e3, "ms", false, 40, 20);
        compare(rounds, network_measure, &u, search_measure, &u, building);
        row_print("  building its network, not counted above", building[0] * 1e3, building[1] * 1e3, "ms", false,
                  NO_GOAL, NO_GOAL);
        if (k == 1) {
            states_chain(u.model, true);
            compare(rounds, trace_measure, &u, search_measure, &u, both);
            row_print("  the same, states `after` each other by four", both[0] * 1e3, both[1] * 1e3, "ms", false,
                      NO_GOAL, NO_GOAL);
            states_chain(u.model, false);
        }
        if (k == 2) {
            compare(rounds, trace_measure, &u, scan_measure, paths[k], both);
            row_print("  the same, against libyaml's bare events", both[0] * 1e3, both[1] * 1e3, "ms", false, 3, 1.5);
        }
        trace_describe(&u);
        unit_close(&u);
    }
    printf("  growth of that ratio: %.2f from small to middle, %.2f from middle to large\n", ratio[1] / ratio[0],
           ratio[2] / ratio[1]);
}
