#include "routes/graph.h"
#include "base/mem.h"
#include "routes/library.h"
#include <stdlib.h>
#include <string.h>

/* Other paths are looked for by leaving the best one at each of its steps, one search each: steps x ways is their work.
 */
#define PATHS_WORK_MAX 300000000.0

/* Times the wanted number of paths is asked for, so that of equally long ones the first in row order are among them. */
#define SPARE 4

/* A part of a graph with rows of its own. Vertices: places, then ways. */
struct between {
    struct way *rows;
    uint32_t *was; /* [n] row in the whole graph */
    uint32_t n, n_places;
    uint32_t from, to;
};

static void part_release(struct between *p)
{
    mem_free(p->rows);
    mem_free(p->was);
    *p = (struct between){0};
}

/* A library graph of the ways that pass the filter. `split`: a way has an entry and an exit, joined by one arc whose
 * number is arcs_of_ways + row, so that it can be cut. */
struct filter {
    enum strength least;
    bool sure;
};

static bool passes(const struct filter *f, const struct way *w)
{
    return w->strength >= f->least && !(f->sure && w->doubtful);
}

static bool graph_build(const struct between *p, const struct filter *f, bool split, igraph_t *out, struct diags *d)
{
    size_t n = 0;
    uint32_t exit = split ? p->n : 0;
    igraph_integer_t *arcs = mem_alloc(sizeof *arcs * 2 * ((size_t)p->n * 5 + 1));
    for (uint32_t i = 0; split && i < p->n; i++) {
        arcs[n++] = p->n_places + i;
        arcs[n++] = p->n_places + exit + i;
    }
    for (uint32_t i = 0; i < p->n; i++) {
        const struct way *w = &p->rows[i];
        if (!passes(f, w))
            continue;
        uint32_t in = p->n_places + i, leave = in + exit;
        arcs[n++] = w->from, arcs[n++] = in;
        arcs[n++] = leave, arcs[n++] = w->to;
        if (w->one_way)
            continue;
        arcs[n++] = w->to, arcs[n++] = in;
        arcs[n++] = leave, arcs[n++] = w->from;
    }
    igraph_vector_int_t view;
    igraph_vector_int_view(&view, arcs, (igraph_integer_t)n);
    bool ok = library_ok(igraph_create(out, &view, (igraph_integer_t)p->n_places + p->n + exit, IGRAPH_DIRECTED), d);
    mem_free(arcs);
    return ok;
}

/* Marks the vertices that can be reached from one (mode OUT) or that can reach it (mode IN). */
static bool mark_reachable(const igraph_t *g, uint32_t from, igraph_neimode_t mode, unsigned char *marks,
                           unsigned char bit, struct diags *d)
{
    igraph_vector_int_t found;
    if (!library_ok(igraph_vector_int_init(&found, 0), d))
        return false;
    bool ok = library_ok(igraph_subcomponent(g, &found, from, mode), d);
    for (igraph_integer_t i = 0; ok && i < igraph_vector_int_size(&found); i++)
        marks[VECTOR(found)[i]] |= bit;
    igraph_vector_int_destroy(&found);
    return ok;
}

static const struct filter everything = {STRENGTH_LEAK, false};

/* Keeps what lies on some walk between the two places: all that a route or a cut can be made of. */
static bool part_between(const struct ways *g, uint32_t from, uint32_t to, struct between *out, bool *reached,
                         struct diags *d)
{
    struct between whole = {.rows = (struct way *)g->rows, .n = g->n, .n_places = g->n_places, .from = from, .to = to};
    igraph_t graph;
    if (!graph_build(&whole, &everything, false, &graph, d))
        return false;
    unsigned char *marks = mem_zero((size_t)g->n_places + g->n + 1, 1);
    bool ok =
        mark_reachable(&graph, from, IGRAPH_OUT, marks, 1, d) && mark_reachable(&graph, to, IGRAPH_IN, marks, 2, d);
    igraph_destroy(&graph);

    uint32_t *place = mem_alloc(((size_t)g->n_places + 1) * sizeof *place);
    *out = (struct between){.rows = mem_alloc(((size_t)g->n + 1) * sizeof *out->rows),
                            .was = mem_alloc(((size_t)g->n + 1) * sizeof *out->was)};
    for (uint32_t i = 0; i < g->n_places; i++)
        place[i] = marks[i] == 3 ? out->n_places++ : NONE;
    for (uint32_t i = 0; i < g->n; i++) {
        if (marks[g->n_places + i] != 3 || place[g->rows[i].from] == NONE || place[g->rows[i].to] == NONE)
            continue;
        out->was[out->n] = i;
        out->rows[out->n] = g->rows[i];
        out->rows[out->n].from = place[g->rows[i].from];
        out->rows[out->n++].to = place[g->rows[i].to];
    }
    *reached = ok && marks[to] == 3;
    out->from = place[from];
    out->to = place[to];
    mem_free(place);
    mem_free(marks);
    return ok;
}

/* ---- paths */

struct found {
    struct path *rows;      /* ways as rows of the part, on the heap */
    uint32_t n, most, room; /* rows used, wanted, held */
};

static bool same_path(const struct path *a, const struct path *b)
{
    return a->n == b->n && memcmp(a->ways, b->ways, a->n * sizeof *a->ways) == 0;
}

/* Takes over p.ways. */
static void path_add(struct found *f, struct path p)
{
    bool known = f->n == f->room;
    for (uint32_t i = 0; i < f->n && !known; i++)
        known = same_path(&f->rows[i], &p);
    if (known)
        mem_free(p.ways);
    else
        f->rows[f->n++] = p;
}

static int by_length(const void *a, const void *b)
{
    const struct path *x = a, *y = b;
    if (x->n != y->n)
        return x->n < y->n ? -1 : 1;
    for (uint32_t i = 0; i < x->n; i++)
        if (x->ways[i] != y->ways[i])
            return x->ways[i] < y->ways[i] ? -1 : 1;
    return 0;
}

/* Puts the paths of one level, from row `first` on, in their order and drops what is beyond `most`: the library's own
 * order among equally long ones is no promise. */
static void level_end(struct found *f, uint32_t first)
{
    qsort(f->rows + first, f->n - first, sizeof *f->rows, by_length);
    while (f->n > f->most)
        mem_free(f->rows[--f->n].ways);
}

/* Of the shortest paths the first in row order: from each place the first way that is one step nearer to the end. */
static bool path_first(const struct between *p, const igraph_t *g, struct path *out, struct diags *d)
{
    *out = (struct path){0};
    igraph_matrix_t m;
    if (!library_ok(igraph_matrix_init(&m, 0, 0), d))
        return false;
    bool ok = library_ok(igraph_distances(g, &m, igraph_vss_1(p->to), igraph_vss_all(), IGRAPH_IN), d);
    double left = ok ? MATRIX(m, 0, p->from) : IGRAPH_INFINITY;
    if (left < IGRAPH_INFINITY) {
        igraph_vector_int_t next;
        ok = library_ok(igraph_vector_int_init(&next, 0), d);
        out->ways = mem_alloc(((size_t)left / 2 + 1) * sizeof *out->ways);
        for (igraph_integer_t at = p->from; ok && left > 0; left--) {
            igraph_integer_t best = -1;
            ok = library_ok(igraph_neighbors(g, &next, at, IGRAPH_OUT), d);
            for (igraph_integer_t i = 0; ok && i < igraph_vector_int_size(&next); i++) {
                igraph_integer_t v = VECTOR(next)[i];
                if (MATRIX(m, 0, v) == left - 1 && (best < 0 || v < best))
                    best = v;
            }
            at = best;
            if (at >= p->n_places)
                out->ways[out->n++] = (uint32_t)at - p->n_places;
        }
        igraph_vector_int_destroy(&next);
    }
    igraph_matrix_destroy(&m);
    if (!ok) {
        mem_free(out->ways);
        *out = (struct path){0};
    }
    return ok;
}

/* Some shortest paths, the shortest first. Weights: a way costs 1 and, so that equally short ones come in row order, a
 * little more the later its row. */
static bool paths_next(const struct between *p, const igraph_t *g, uint32_t most, struct found *f, struct diags *d)
{
    igraph_vector_t weights;
    igraph_vector_int_list_t lists;
    if (!library_ok(igraph_vector_init(&weights, igraph_ecount(g)), d))
        return false;
    bool ok = library_ok(igraph_vector_int_list_init(&lists, 0), d);
    if (!ok) {
        igraph_vector_destroy(&weights);
        return false;
    }
    double little = 1.0 / ((double)p->n * p->n + 1);
    for (igraph_integer_t i = 0; i < igraph_ecount(g); i++) {
        igraph_integer_t way = IGRAPH_FROM(g, i) < p->n_places ? IGRAPH_TO(g, i) : IGRAPH_FROM(g, i);
        VECTOR(weights)[i] = 0.5 + 0.5 * little * (double)(way - p->n_places);
    }
    ok = library_ok(
        igraph_get_k_shortest_paths(g, &weights, &lists, NULL, (igraph_integer_t)most, p->from, p->to, IGRAPH_OUT), d);
    for (igraph_integer_t k = 0; ok && k < igraph_vector_int_list_size(&lists); k++) {
        const igraph_vector_int_t *list = igraph_vector_int_list_get_ptr(&lists, k);
        struct path path = {.ways = mem_alloc(((size_t)igraph_vector_int_size(list) + 1) * sizeof *path.ways)};
        for (igraph_integer_t i = 0; i < igraph_vector_int_size(list); i++)
            if (VECTOR(*list)[i] >= p->n_places)
                path.ways[path.n++] = (uint32_t)VECTOR(*list)[i] - p->n_places;
        path_add(f, path);
    }
    igraph_vector_int_list_destroy(&lists);
    igraph_vector_destroy(&weights);
    return ok;
}

/* Sure ways first, from the strongest level down; then with the doubtful ones. Each level adds the paths that need it.
 */
static bool paths_all(const struct between *p, struct found *f, bool *only_best, struct diags *d)
{
    bool ok = true;
    for (int sure = 1; ok && sure >= 0 && f->n < f->most; sure--)
        for (int s = STRENGTH_JOINED; ok && s >= STRENGTH_LEAK && f->n < f->most; s--) {
            struct filter filter = {(enum strength)s, sure == 1};
            igraph_t g;
            struct path first;
            uint32_t before = f->n;
            ok = graph_build(p, &filter, false, &g, d);
            if (!ok)
                break;
            ok = path_first(p, &g, &first, d);
            if (ok && first.ways) {
                double work = (double)first.n * p->n;
                path_add(f, first);
                if (work > PATHS_WORK_MAX) {
                    *only_best = true;
                    f->most = f->n;
                } else
                    ok = paths_next(p, &g, f->room, f, d);
                level_end(f, before);
            }
            igraph_destroy(&g);
        }
    return ok;
}

/* ---- what they depend on */

static bool singles(const struct between *p, struct arena *a, struct paths *out, struct diags *d)
{
    igraph_t g;
    if (!graph_build(p, &everything, false, &g, d))
        return false;
    igraph_vector_int_t dom;
    bool ok = library_ok(igraph_vector_int_init(&dom, 0), d);
    if (ok) {
        ok = library_ok(igraph_dominator_tree(&g, p->from, &dom, NULL, NULL, IGRAPH_OUT), d);
        for (int filling = 0; ok && filling < 2; filling++) {
            uint32_t n = 0;
            for (igraph_integer_t v = p->to; v >= 0 && v != p->from; v = VECTOR(dom)[v])
                if (v >= p->n_places) {
                    n++;
                    if (filling)
                        out->single[out->n_single - n] = p->was[v - p->n_places]; /* the walk is against the flow */
                }
            if (!filling) {
                out->n_single = n;
                out->single = arena_rows(a, n, sizeof *out->single);
            }
        }
        igraph_vector_int_destroy(&dom);
    }
    igraph_destroy(&g);
    return ok;
}

static int by_row(const void *a, const void *b)
{
    uint32_t x = *(const uint32_t *)a, y = *(const uint32_t *)b;
    return x < y ? -1 : x > y;
}

static bool smallest_cut(const struct between *p, struct arena *a, struct paths *out, struct diags *d)
{
    igraph_t g;
    if (!graph_build(p, &everything, true, &g, d))
        return false;
    igraph_vector_t capacity;
    igraph_vector_int_t cut;
    igraph_real_t value = 0;
    bool ok = library_ok(igraph_vector_init(&capacity, igraph_ecount(&g)), d);
    if (ok && !(ok = library_ok(igraph_vector_int_init(&cut, 0), d)))
        igraph_vector_destroy(&capacity);
    if (ok) {
        for (igraph_integer_t i = 0; i < igraph_ecount(&g); i++) /* the arcs inside ways come first */
            VECTOR(capacity)[i] = i < p->n ? 1 : (double)p->n + 1;
        ok = library_ok(igraph_st_mincut(&g, &value, &cut, NULL, NULL, p->from, p->to, &capacity), d);
        out->n_cut = ok ? (uint32_t)igraph_vector_int_size(&cut) : 0;
        out->cut = arena_rows(a, out->n_cut, sizeof *out->cut);
        for (uint32_t i = 0; i < out->n_cut; i++)
            out->cut[i] = p->was[VECTOR(cut)[i]];
        if (out->n_cut)
            qsort(out->cut, out->n_cut, sizeof *out->cut, by_row);
        igraph_vector_int_destroy(&cut);
        igraph_vector_destroy(&capacity);
    }
    igraph_destroy(&g);
    return ok;
}

static void paths_keep(const struct between *p, struct found *f, struct arena *a, struct paths *out)
{
    out->n = f->n;
    out->rows = arena_rows(a, f->n, sizeof *out->rows);
    for (uint32_t i = 0; i < f->n; i++) {
        struct path *row = &out->rows[i];
        row->n = f->rows[i].n;
        row->ways = arena_rows(a, row->n, sizeof *row->ways);
        for (uint32_t k = 0; k < row->n; k++)
            row->ways[k] = p->was[f->rows[i].ways[k]];
    }
}

bool paths_find(const struct ways *g, uint32_t from, uint32_t to, uint32_t most, struct arena *a, struct paths *out,
                struct diags *d)
{
    *out = (struct paths){0};
    if (from == to) { /* the library would invent a cut of one */
        out->reached = true;
        out->n = 1;
        out->rows = arena_rows(a, 1, sizeof *out->rows);
        return true;
    }
    library_begin();
    struct between part = {0};
    bool ok = part_between(g, from, to, &part, &out->reached, d);
    if (ok && out->reached) {
        struct found f = {.most = most, .room = SPARE * most};
        f.rows = mem_zero(f.room, sizeof *f.rows);
        ok = paths_all(&part, &f, &out->only_best, d) && singles(&part, a, out, d) && smallest_cut(&part, a, out, d);
        if (ok)
            paths_keep(&part, &f, a, out);
        for (uint32_t i = 0; i < f.n; i++)
            mem_free(f.rows[i].ways);
        mem_free(f.rows);
    }
    part_release(&part);
    return ok;
}
