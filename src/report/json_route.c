/* JSON of route. */
#include "report/json_parts.h"

static json_t *element_value(const struct network *n, const struct element *e)
{
    const struct model *m = n->model;
    static const char *const kinds[] = {[ELEMENT_JOINT] = "joint",
                                        [ELEMENT_HOLE] = "hole",
                                        [ELEMENT_VALVE] = "valve",
                                        [ELEMENT_SOLENOID] = "solenoid",
                                        [ELEMENT_ADDED] = "leak"};
    json_t *row = json_object();
    bool screen = e->kind == ELEMENT_JOINT && e->part.kind == PART_JOINT && m->joints[e->part.i].screen;
    json_object_set_new(row, "element", json_words(element_id(n, e)));
    json_object_set_new(row, "kind", json_string(screen ? "screen" : kinds[e->kind]));
    const struct port *ports = e->kind == ELEMENT_VALVE      ? m->valves[e->part.i].ports
                               : e->kind == ELEMENT_SOLENOID ? m->solenoids[e->part.i].ports
                                                             : NULL;
    if (ports && e->ports[0] != NONE && e->ports[1] != NONE)
        json_object_set_new(
            row, "ports",
            json_pack("[o, o]", json_words(ports[e->ports[0]].name), json_words(ports[e->ports[1]].name)));
    json_object_set_new(row, "from", json_words(m->passages[e->from.i].part.id));
    json_object_set_new(row, "to", json_words(m->passages[e->to.i].part.id));
    json_object_set_new(row, "strength", json_string(strength_word(e->strength)));
    json_object_set_new(row, "diameter_m", json_number(e->diameter));
    return row;
}

static json_t *route_value(const struct network *n, const struct route *r)
{
    json_t *row = json_object(), *steps = json_array();
    for (uint32_t i = 0; i < r->n; i++) {
        json_t *step = element_value(n, &r->steps[i].element);
        json_object_set_new(step, "plate_hole", json_boolean(r->steps[i].plate_hole));
        json_object_set_new(step, "sure", json_boolean(!r->steps[i].doubtful));
        json_array_append_new(steps, step);
    }
    json_object_set_new(row, "steps", steps);
    json_object_set_new(row, "crossings", json_integer(r->n_crossings));
    json_object_set_new(row, "tightest", r->tightest == NONE ? json_null() : json_integer(r->tightest));
    return row;
}

static json_t *elements_value(const struct network *n, const struct element *rows, uint32_t n_rows)
{
    json_t *list = json_array();
    for (uint32_t i = 0; i < n_rows; i++)
        json_array_append_new(list, element_value(n, &rows[i]));
    return list;
}

static void put_state(struct jsonout *j, const struct answer *a, const struct route_answer *r, uint32_t i)
{
    const struct routes *rows = &r->by_state[i];
    bool settled = a->shown->cases[trace_case(a->shown, 0, a->states[i])].settled;
    json_begin(j, a->model->states[a->states[i].i].part.id, '{');
    json_put(j, "settled", json_boolean(settled));
    if (settled)
        json_put(j, "reached", json_boolean(rows->reached));
    if (settled && rows->reached) {
        json_put(j, "route", route_value(r->network, &rows->best));
        json_put(j, "single_points", elements_value(r->network, rows->single_points, rows->n_single));
        json_put(j, "cut", elements_value(r->network, rows->cut, rows->n_cut));
        json_begin(j, "alternatives", '[');
        for (uint32_t k = 0; k < rows->n_others; k++)
            json_put(j, NULL, route_value(r->network, &rows->others[k]));
        json_end(j);
    }
    json_end(j);
}

void json_route(struct text *t, const struct view *v, const struct answer *a, const struct route_answer *r)
{
    (void)v;
    struct jsonout j = {.t = t};
    json_put_head(&j, a, true);
    if (a->model) {
        const struct passage *passages = a->model->passages;
        json_put(&j, "from",
                 json_pack("{s:o, s:o}", "name", json_words(r->from), "passage",
                           json_words(passages[r->from_passage.i].part.id)));
        json_put(&j, "to",
                 json_pack("{s:o, s:o}", "name", json_words(r->to), "passage",
                           json_words(passages[r->to_passage.i].part.id)));
        json_begin(&j, "states", '{');
        for (uint32_t i = 0; i < a->n_states; i++)
            put_state(&j, a, r, i);
        json_end(&j);
    }
    json_put_end(&j);
}
