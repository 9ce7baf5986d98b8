/* What moves in a case: spools, limiting and relief valves, shuttles, and what a regulator also feeds. */
#include "base/mem.h"
#include "pressure/build.h"
#include <math.h>

void term_add(struct problem *p, uint32_t unknown, double weight)
{
    MEM_GROW(p->terms, p->n_terms, p->cap_terms);
    p->terms[p->n_terms++] = (struct term){unknown, weight};
}

static uint32_t mover_add(struct problem *p, enum mover_kind kind, uint32_t row)
{
    MEM_GROW(p->movers, p->n_movers, p->cap_movers);
    p->movers[p->n_movers] =
        (struct mover){.kind = kind, .row = row, .first_term = p->n_terms, .kinks = {0, 1}, .n_kinks = 2};
    return p->n_movers++;
}

/* Ends the mover with the pressures that it feels; passages of sump push with nothing. */
static void mover_end(struct problem *p, uint32_t mover)
{
    p->movers[mover].n_terms = p->n_terms - p->movers[mover].first_term;
}

static void mover_fix(struct problem *p, uint32_t mover, double at)
{
    p->movers[mover].never = true;
    p->movers[mover].at = at;
}

uint32_t valve_pin(const struct problem *p, uint32_t valve)
{
    uint32_t position = NONE;
    for (uint32_t i = 0; i < p->scene->edits->n; i++)
        if (p->scene->edits->rows[i].kind == EDIT_PIN && p->scene->edits->rows[i].valve.i == valve)
            position = p->scene->edits->rows[i].position;
    return position;
}

/* ---- spools */

static void spool_add(struct problem *p, uint32_t row)
{
    const struct network *n = p->network;
    const struct spool *s = &n->spools[row];
    const struct valve *v = &n->model->valves[s->valve.i];
    uint8_t set = p->trace->cases[p->c].positions[row];
    bool broken = p->scene->broken[s->valve.i];
    uint32_t k = p->spool_mover[row] = mover_add(p, MOVER_SPOOL, row);
    double range = s->sized || broken ? spool_range(v, broken) : 1;
    for (uint32_t i = 0; i < v->n_ends; i++) {
        uint32_t unknown = p->unknown_of[v->ports[v->ends[i].port].passage.i];
        double area = isnan(v->ends[i].area) ? 0 : v->ends[i].area;
        if (unknown != NONE)
            term_add(p, unknown,
                     end_is_blocked(p->scene, s->valve, v->ends[i].port) ? 0 : v->ends[i].pushes * area / range);
    }
    mover_end(p, k);
    struct mover *m = &p->movers[k];
    m->offset = broken ? 0 : -v->preload / range;
    double kinks[] = {0, (1 - v->lap) / 2, (1 + v->lap) / 2, 1};
    m->n_kinks = 0;
    for (uint32_t i = 0; i < 4; i++)
        if (!m->n_kinks || kinks[i] > m->kinks[m->n_kinks - 1])
            m->kinks[m->n_kinks++] = kinks[i];
    m->at = set == MAY_STROKED ? 1 : 0;
    if (!s->sized || p->scene->fixed[row] || !v->n_ends)
        mover_fix(p, k, m->at);
}

/* ---- limiting valves */

static void limit_add(struct problem *p, uint32_t row)
{
    const struct network *n = p->network;
    const struct limit *l = &n->limits[row];
    const struct valve *v = &n->model->valves[l->valve.i];
    uint32_t reaction = p->unknown_of[v->ports[v->reaction].passage.i], pin = valve_pin(p, l->valve.i);
    bool blocked = end_is_blocked(p->scene, l->valve, v->reaction);
    double slope, at_rest = limiting_opening(v, 0, &slope);
    uint32_t k = p->limit_mover[row] = mover_add(p, MOVER_LIMIT, row);
    if (reaction != NONE)
        term_add(p, reaction, blocked ? 0 : slope);
    mover_end(p, k);
    p->movers[k].offset = p->movers[k].at = at_rest;
    uint8_t set = p->trace->cases[p->c].positions[n->n_spools + row];
    bool broken = p->scene->broken[l->valve.i];
    bool wide = pin != NONE ? pin == PIN_OPEN : set == MAY_WIDE || blocked; /* no oil at the reaction: wide */
    if (pin != NONE || broken)
        mover_fix(p, k, wide ? 1 : 0);

    at_rest = limiting_exhaust(v, 0, &slope);
    k = p->exhaust_mover[row] = mover_add(p, MOVER_EXHAUST, row);
    if (reaction != NONE)
        term_add(p, reaction, blocked ? 0 : slope);
    mover_end(p, k);
    p->movers[k].offset = p->movers[k].at = at_rest;
    if (pin != NONE || broken) /* a broken spring lets the spool go past its edge; a stuck one stays at it */
        mover_fix(p, k, broken && pin == NONE && !wide ? 1 : 0);
}

/* ---- relief valves, and what a regulator also feeds */

static void relief_add(struct problem *p, uint32_t valve)
{
    const struct valve *v = &p->network->model->valves[valve];
    uint32_t inlet = p->unknown_of[v->ports[0].passage.i], pin = valve_pin(p, valve);
    double slope, at_rest = relief_opening(v, 0, &slope);
    uint32_t k = p->valve_mover[valve] = mover_add(p, MOVER_RELIEF, valve);
    if (inlet != NONE)
        term_add(p, inlet, slope);
    mover_end(p, k);
    p->movers[k].offset = p->movers[k].at = at_rest;
    if (pin != NONE || p->scene->broken[valve])
        mover_fix(p, k, pin == PIN_SHUT ? 0 : 1);
}

static void also_feeds_add(struct problem *p, uint32_t valve)
{
    const struct valve *v = &p->network->model->valves[valve];
    if (!v->also_feeds)
        return;
    uint32_t k = p->valve_mover[valve] = mover_add(p, MOVER_ALSO_FEEDS, NONE), pin = valve_pin(p, valve);
    struct source_row *s = NULL;
    for (uint32_t i = 0; i < p->n_sources; i++)
        s = p->sources[i].feed.i == v->source.i ? &p->sources[i] : s;
    if (s && s->node != NONE)
        term_add(p, s->node, 0);
    for (uint32_t i = 0; s && s->node != NONE && i < s->n_terms; i++)
        term_add(p, p->terms[s->first_term + i].unknown, 0);
    mover_end(p, k);
    p->movers[k].row = s ? (uint32_t)(s - p->sources) : NONE;
    if (pin == PIN_OPEN)
        mover_fix(p, k, 1);
    else if (!s || !s->on || !isfinite(s->setting))
        mover_fix(p, k, 0);
}

/* ---- shuttles */

static void seat_add(struct problem *p, uint32_t row)
{
    const struct network *n = p->network;
    const struct seat *s = &n->seats[row];
    uint32_t at = n->n_spools + n->n_limits + row;
    p->seat_mover[row] = NONE;
    if (p->scene->fixed[at]) /* lost, or stuck on the other seat: both ways */
        return;
    uint32_t own = p->unknown_of[s->inlet.i], other = p->unknown_of[n->seats[s->other].inlet.i];
    uint32_t k = p->seat_mover[row] = mover_add(p, MOVER_SEAT, row);
    if (own != NONE)
        term_add(p, own, 1 / SEAT_WIDTH);
    if (other != NONE)
        term_add(p, other, -1 / SEAT_WIDTH);
    mover_end(p, k);
    p->movers[k].offset = seat_opening(0, 0);
    p->movers[k].at = p->trace->cases[p->c].positions[at] == SEAT_SHUT ? 0 : 1;
}

void movers_add(struct problem *p)
{
    const struct network *n = p->network;
    p->spool_mover = arena_rows(&p->arena, n->n_spools, sizeof *p->spool_mover);
    p->limit_mover = arena_rows(&p->arena, n->n_limits, sizeof *p->limit_mover);
    p->exhaust_mover = arena_rows(&p->arena, n->n_limits, sizeof *p->exhaust_mover);
    p->seat_mover = arena_rows(&p->arena, n->n_seats, sizeof *p->seat_mover);
    p->valve_mover = arena_rows(&p->arena, n->model->n_valves, sizeof *p->valve_mover);
    for (uint32_t i = 0; i < n->n_spools; i++)
        spool_add(p, i);
    for (uint32_t i = 0; i < n->n_limits; i++)
        limit_add(p, i);
    for (uint32_t i = 0; i < n->model->n_valves; i++) {
        p->valve_mover[i] = NONE;
        if (n->model->valves[i].kind == VALVE_RELIEF)
            relief_add(p, i);
        if (n->model->valves[i].kind == VALVE_REGULATING)
            also_feeds_add(p, i);
    }
    for (uint32_t i = 0; i < n->n_seats; i++)
        seat_add(p, i);
}
