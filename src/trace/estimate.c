/* Estimated pressures: over all routes from sources, the greatest of min(setting, limits of the limiting valves
 * crossed). A widest path, found as one reach for each threshold that a limit sets. */
#include "base/mem.h"
#include "trace/pack.h"
#include "trace/settle.h"
#include <math.h>
#include <string.h>

/* Rows of network.limits by rising limit; few, so an insertion sort. */
static void limits_sort(const struct network *n, uint32_t *order)
{
    for (uint32_t i = 0; i < n->n_limits; i++) {
        uint32_t k = i;
        double limit = n->model->valves[n->limits[i].valve.i].limit;
        for (; k > 0 && n->model->valves[n->limits[order[k - 1]].valve.i].limit > limit; k--)
            order[k] = order[k - 1];
        order[k] = i;
    }
}

/* Mask words of a limiting valve's window. */
static uint64_t *window_mask(struct pack *p, enum mask_set set, uint32_t limit)
{
    return p->masks[set] + (size_t)p->row_of[p->network->limits[limit].window.i] * p->width;
}

static bool any_word(const uint64_t *words, unsigned w)
{
    for (unsigned k = 0; k < w; k++) {
        if (words[k])
            return true;
    }
    return false;
}

/* Oil of one source does not pass through the passage of another that is on: that one holds its own setting there.
 * Returns what to give as `allowed`; only models with several sources need a plane of their own. */
static const uint64_t *sources_close(struct pack *p, const uint64_t *allowed, size_t *stride)
{
    const struct network *n = p->network;
    const unsigned w = p->width;
    uint32_t n_sources = 0;
    for (uint32_t f = 0; f < n->model->n_feeds; f++)
        n_sources += n->model->feeds[f].is_source;
    if (n_sources < 2)
        return allowed;
    roots_find(p);
    plane_make(p, &p->closed);
    for (uint32_t i = 0; i < n->n_nodes; i++)
        for (unsigned k = 0; k < w; k++)
            p->closed[(size_t)i * w + k] = allowed[(size_t)i * *stride + k] & ~p->root[(size_t)i * w + k];
    *stride = w;
    return p->closed;
}

/* One source followed from its passage, where that is live. */
static void estimate_reach(struct pack *p, uint32_t feed, const uint64_t *live, size_t live_stride,
                           const uint64_t *allowed, size_t stride, enum mask_set masks)
{
    const struct network *n = p->network;
    const unsigned w = p->width;
    uint32_t node = n->node_of[n->model->feeds[feed].passage.i];
    const uint64_t *may = live + (size_t)node * live_stride;
    memset(p->reach, 0, (size_t)n->n_nodes * w * sizeof(uint64_t));
    for (uint32_t k = 0; k < p->n_groups; k++) {
        const struct group *g = &p->groups[k];
        for (uint32_t l = g->lane; g->of->scene.settings[feed] > 0 && l < g->lane + g->n_lanes; l++)
            bit_set(plane(p->reach, w, node), l, bit(may, l));
    }
    if (n->apart && allowed != live) { /* what is joined to the source is the source */
        follow_push(p, node);
        follow(p, p->reach, p->root, w, masks, EITHER_WAY, STRENGTH_JOINED);
        for (uint32_t i = 0; i < n->n_nodes; i++) {
            if (any_word(plane(p->reach, w, i), w))
                follow_push(p, i);
        }
    }
    follow_push(p, node);
    follow(p, p->reach, allowed, stride, masks, ALONG_FLOW, STRENGTH_LEAK);
}

static void estimate_take(struct pack *p, uint32_t feed, double cap, const uint32_t *nodes, uint32_t n, double *out)
{
    for (uint32_t i = 0; i < n; i++) {
        const uint64_t *words = plane(p->reach, p->width, nodes[i]);
        for (uint32_t k = 0; k < p->n_groups; k++) {
            const struct group *g = &p->groups[k];
            if (!lanes_some(words, g->lane, g->n_lanes))
                continue;
            double setting = g->of->scene.settings[feed], v = setting < cap ? setting : cap;
            for (uint32_t l = g->lane; l < g->lane + g->n_lanes; l++) {
                double *at = &out[(size_t)i * 64 * p->width + l];
                if (bit(words, l) && v > *at)
                    *at = v;
            }
        }
    }
}

void estimate_find(struct pack *p, const uint64_t *allowed, size_t stride, enum mask_set masks, const uint64_t *capped,
                   const uint32_t *nodes, uint32_t n, double *out)
{
    const struct network *net = p->network;
    const unsigned w = p->width;
    if (!p->doubt)
        masks = MASKS_NOW;
    uint32_t *order = mem_alloc((net->n_limits + 1) * sizeof *order);
    uint64_t *kept = mem_alloc(((size_t)net->n_limits + 1) * w * sizeof *kept);
    limits_sort(net, order);
    memset(out, 0, (size_t)n * 64 * w * sizeof *out);
    plane_make(p, &p->reach);
    size_t closed_stride = stride;
    const uint64_t *closed = sources_close(p, allowed, &closed_stride);
    for (uint32_t i = 0; i < net->n_limits; i++)
        memcpy(kept + (size_t)i * w, window_mask(p, masks, i), w * sizeof *kept);
    for (uint32_t f = 0; f < net->model->n_feeds; f++) {
        if (!net->model->feeds[f].is_source)
            continue;
        for (uint32_t i = 0; i < net->n_limits; i++) { /* begin with every capping window shut */
            for (unsigned k = 0; k < w; k++)
                window_mask(p, masks, i)[k] = kept[(size_t)i * w + k] & ~capped[(size_t)i * w + k];
        }
        estimate_reach(p, f, allowed, stride, closed, closed_stride, masks);
        estimate_take(p, f, INFINITY, nodes, n, out);
        for (uint32_t open = net->n_limits; open-- > 0;) { /* then open them again, the highest limit first */
            uint32_t i = order[open];
            if (!any_word(capped + (size_t)i * w, w))
                continue;
            const struct element *window = &net->elements[net->limits[i].window.i];
            memcpy(window_mask(p, masks, i), kept + (size_t)i * w, w * sizeof *kept);
            follow_push(p, net->node_of[window->from.i]);
            follow_push(p, net->node_of[window->to.i]);
            follow(p, p->reach, closed, closed_stride, masks, ALONG_FLOW, STRENGTH_LEAK);
            estimate_take(p, f, net->model->valves[net->limits[i].valve.i].limit, nodes, n, out);
        }
    }
    for (uint32_t i = 0; i < net->n_limits; i++)
        memcpy(window_mask(p, masks, i), kept + (size_t)i * w, w * sizeof *kept);
    mem_free(kept);
    mem_free(order);
}

const uint64_t *live_find(struct pack *p, size_t *stride)
{
    const struct network *n = p->network;
    const unsigned w = p->width;
    if (!p->doubt) {
        *stride = 3 * w;
        return p->cond; /* the words of feed */
    }
    plane_make(p, &p->live);
    for (uint32_t i = 0; i < n->n_nodes; i++) {
        const uint64_t *c = cond_of(p->cond, w, i);
        uint64_t *live = plane(p->live, w, i);
        uint64_t some = p->fallback;
        memcpy(live, c, w * sizeof *live);
        for (unsigned q = 0; q < w; q++)
            some |= c[q] | c[w + q];
        for (uint32_t k = 0; some && k < p->n_groups; k++) {
            const struct group *g = &p->groups[k];
            if (g->n_lanes == 1 && !g->fallback)
                continue;
            /* fed or in a fight in some lane, or drained in some only: what group_condition() calls unsure */
            bool drained = lanes_some(c + w, g->lane, g->n_lanes) && !lanes_all(c + w, g->lane, g->n_lanes);
            bool doubt = g->fallback && bit(plane(p->unsure, w, i), g->lane);
            lanes_set(live, g->lane, g->n_lanes, drained || doubt || lanes_some(c, g->lane, g->n_lanes));
        }
    }
    *stride = w;
    return p->live;
}

void capped_find(struct pack *p, uint64_t *capped)
{
    const struct network *n = p->network;
    const uint64_t *all = p->masks[MASKS_NOW];
    for (uint32_t i = 0; i < n->n_limits; i++) {
        const uint64_t *wide = position_lanes(p, p->doubt ? p->sets : p->now, n->n_spools + i, MAY_WIDE);
        for (unsigned k = 0; k < p->width; k++)
            capped[(size_t)i * p->width + k] = all[k] & ~wide[k];
    }
}
