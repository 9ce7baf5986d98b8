/* Joints, screens, plate holes and check balls: what oil crosses between passages, valves aside. */
#include "base/mem.h"
#include "model/read.h"
#include <math.h>
#include <string.h>

static const char joints_form[] = "joints: {J1: [pump.out, case.line_a]}";
static const char screens_form[] = "screens: {S1: {joins: [case.line_a, case.line_b], diameter: 8}}";
static const char holes_form[] = "holes: {H01: {joins: [case.line_a, body.line_a], diameter: 7.0}}";
static const char balls_form[] = "check_balls: {B1: {seats_on: H22, lies_in: case.drive}}";
static const char joins_form[] = "joins: [case.line_a, body.line_a]";

/* A size of 0 would be no opening. `node` may be NULL. */
static bool not_zero(struct reader *r, const struct node *node, double size, const char *entry)
{
    if (!node || isnan(size) || size > 0)
        return true;
    diag(r->d, BAD_QUANTITY, node->where, "%s has a diameter of 0", entry);
    diag_help(r->d, "leave out what does not exist, or write a size of more than 0");
    return false;
}

/* ---- joints and screens */

static uint32_t n_entries(const struct node *section)
{
    return section && section->kind == NODE_MAP ? section->n_children / 2 : 0;
}

bool define_joints(struct reader *r)
{
    const struct node *both[] = {r->section[SECTION_JOINTS], r->section[SECTION_SCREENS]};
    const char *const forms[] = {joints_form, screens_form};
    bool fine = true;
    for (int i = 0; i < 2; i++)
        if (both[i])
            fine = read_section_map(r, both[i], section_key(i ? SECTION_SCREENS : SECTION_JOINTS), forms[i], false) &&
                   fine;
    rows_make(r->m, NAME_JOINT, n_entries(both[0]) + n_entries(both[1]));
    uint32_t row = 0;
    for (int i = 0; i < 2; i++) {
        if (n_entries(both[i]))
            fine = define_names(r, NAME_JOINT, row, both[i]->first, true) && fine;
        for (uint32_t end = row + n_entries(both[i]); row < end; row++)
            r->m->joints[row].screen = i;
    }
    return fine;
}

static bool read_joint(struct reader *r, const struct node *key, struct joint *j)
{
    enum { JOINS, DIAMETER, STRENGTH };
    static const struct key keys[] = {
        [JOINS] = {"joins", KEY_NODE, true, 0, 0, NULL},
        [DIAMETER] = {"diameter", KEY_QUANTITY, false, offsetof(struct joint, diameter), DIM_LENGTH, NULL},
        [STRENGTH] = {"strength", KEY_WORD, false, offsetof(struct joint, strength), 0, strength_words},
        PART_KEYS,
    };
    const char *form = j->screen ? screens_form : joints_form, *entry = j->screen ? "a screen" : "a joint";
    j->diameter = NAN;
    j->strength = STRENGTH_MAIN;
    j->joins[0] = j->joins[1] = (passage_ix){NONE};
    if (key->next->kind != NODE_MAP)
        return read_joins(r, key->next, entry, form, j->joins);
    const struct node *values[N_OF(keys)];
    entry = entry_name(r, j->screen ? "screen" : "joint", key);
    bool fine = read_keys(r, key->next, entry, form, keys, N_OF(keys), j, values);
    if (values[JOINS])
        fine = read_joins(r, values[JOINS], entry, joins_form, j->joins) && fine;
    fine = not_zero(r, values[DIAMETER], j->diameter, entry) && fine;
    j->strength_given = values[STRENGTH];
    if (!values[STRENGTH] || values[DIAMETER])
        return fine;
    diag(r->d, MISSING_KEY, values[STRENGTH]->where, "%s has a strength but no diameter", entry);
    diag_help(r->d, "without a diameter its two passages are one; give it a `diameter:`, or no strength");
    return false;
}

static bool read_joint_section(struct reader *r, const struct node *section, uint32_t row)
{
    bool fine = true;
    for (const struct node *key = section->first; key; key = key->next->next)
        fine = read_joint(r, key, &r->m->joints[row++]) && fine;
    return fine;
}

bool read_joints(struct reader *r, const struct node *section)
{
    return read_joint_section(r, section, 0);
}

bool read_screens(struct reader *r, const struct node *section)
{
    return read_joint_section(r, section, n_entries(r->section[SECTION_JOINTS]));
}

/* ---- plate holes */

bool define_holes(struct reader *r, const struct node *section)
{
    return define_section(r, section, section_key(SECTION_HOLES), holes_form, NAME_HOLE);
}

/* True when the plate could hold the hole: each of its passages lies in a casting on the plate, and two of them on both
 * sides. */
static bool plate_fits(const struct model *m, uint32_t plate, const struct hole *h)
{
    uint32_t above = plate ? plate - 1 : NONE, below = plate + 1 < m->n_layers ? plate + 1 : NONE;
    uint32_t a = m->passages[h->joins[0].i].layer.i, b = m->passages[h->joins[1].i].layer.i;
    if (h->joins[0].i == SUMP.i || h->joins[1].i == SUMP.i) {
        uint32_t side = h->joins[0].i == SUMP.i ? b : a;
        return side == above || side == below;
    }
    return (a == above && b == below) || (a == below && b == above);
}

static bool sides_known(const struct model *m, const struct hole *h)
{
    for (int i = 0; i < 2; i++) {
        if (h->joins[i].i == NONE)
            return false;
        uint32_t layer = m->passages[h->joins[i].i].layer.i;
        if (h->joins[i].i != SUMP.i && (layer == NONE || m->layers[layer].kind != LAYER_CASTING))
            return false; /* reported where the passage stands */
    }
    return true;
}

/* Finds the plate of a hole whose entry is good so far. `given` may be NULL. */
static bool choose_plate(struct reader *r, const struct node *key, const struct node *joins, const struct node *given,
                         struct hole *h)
{
    const struct model *m = r->m;
    if (given) {
        h->plate.i = read_ref(r, given, NAME_LAYER, "`plate` of a hole");
        if (h->plate.i == NONE)
            return false;
        const struct layer *layer = &m->layers[h->plate.i];
        if (layer->kind != LAYER_PLATE) {
            diag(r->d, WRONG_KIND, given->where, "`plate` must be a plate, but `%s` is a casting", layer->part.id);
            diag_second(r->d, layer->part.where, "defined here");
            return false;
        }
    }
    if (!sides_known(m, h))
        return false;
    const char *a = m->passages[h->joins[0].i].part.id, *b = m->passages[h->joins[1].i].part.id;
    uint32_t found = NONE, n_found = 0;
    for (uint32_t i = 0; i < m->n_layers; i++)
        if (m->layers[i].kind == LAYER_PLATE && plate_fits(m, i, h) && (!given || i == h->plate.i)) {
            found = i;
            n_found++;
        }
    if (n_found == 1) {
        h->plate.i = found;
        return true;
    }
    if (n_found) {
        diag(r->d, MISSING_KEY, key->where, "hole `%s` could be in more than one plate", shown(key).text);
        diag_help(r->d, "name it: `plate: %s`", m->layers[found].part.id);
        return false;
    }
    diag(r->d, HOLE_SIDES, joins->where, "`%.60s` and `%.60s` are not on the two sides of %s%.60s", a, b,
         given ? "plate " : "one plate", given ? m->layers[h->plate.i].part.id : "");
    diag_help(r->d,
              "a hole joins a passage of the casting above its plate to one of the casting below it, or to `sump`");
    return false;
}

static bool read_leaks_to(struct reader *r, const struct node *node, const char *entry, struct hole *h)
{
    h->leaks_where = node->where;
    bool fine = read_refs(r, node, NAME_PASSAGE, false, entry, "leaks_to: [case.c3]", (uint32_t **)&h->leaks_to,
                          &h->n_leaks_to);
    if (!fine || !sides_known(r->m, h))
        return false;
    const struct passage *passages = r->m->passages;
    const struct node *item = node->first;
    for (uint32_t i = 0; i < h->n_leaks_to; i++, item = item->next) {
        uint32_t to = h->leaks_to[i].i, layer = passages[to].layer.i;
        bool own = to == h->joins[0].i || to == h->joins[1].i;
        bool beside = layer == passages[h->joins[0].i].layer.i || layer == passages[h->joins[1].i].layer.i;
        if (layer == NONE || (beside && !own))
            continue;
        diag(r->d, own ? WRONG_VALUE : HOLE_SIDES, item->where, "%s %s `%.60s`", entry,
             own ? "joins the passage itself:" : "has no passage in the casting of", passages[to].part.id);
        diag_help(r->d, "`leaks_to` names other passages of the castings that the hole opens into");
        fine = false;
    }
    return fine;
}

static bool read_at(struct reader *r, const struct node *node, const char *entry, double at[2])
{
    if (!read_shape(r, node, NODE_LIST, entry, "at: [21.5, 46.0]"))
        return false;
    if (node->n_children != 2) {
        diag(r->d, WRONG_SHAPE, node->where, "`at` of %s must be [x, y]", entry);
        diag_help(r->d, "at: [21.5, 46.0]");
        return false;
    }
    bool fine = read_signed(r, node->first, entry, DIM_LENGTH, &at[0]);
    return read_signed(r, node->first->next, entry, DIM_LENGTH, &at[1]) && fine;
}

static bool read_hole(struct reader *r, const struct node *key, struct hole *h)
{
    enum { JOINS, PLATE, DIAMETER, EQUIVALENT, STRENGTH, AT, OUTLINE, LEAKS_TO };
    static const struct key keys[] = {
        [JOINS] = {"joins", KEY_NODE, false, 0, 0, NULL},
        [PLATE] = {"plate", KEY_NODE, false, 0, 0, NULL},
        [DIAMETER] = {"diameter", KEY_QUANTITY, false, offsetof(struct hole, diameter), DIM_LENGTH, NULL},
        [EQUIVALENT] = {"equivalent_diameter", KEY_QUANTITY, false, offsetof(struct hole, equivalent_diameter),
                        DIM_LENGTH, NULL},
        [STRENGTH] = {"strength", KEY_WORD, false, offsetof(struct hole, strength), 0, strength_words},
        [AT] = {"at", KEY_NODE, false, 0, 0, NULL},
        [OUTLINE] = {"outline", KEY_NODE, false, 0, 0, NULL},
        [LEAKS_TO] = {"leaks_to", KEY_NODE, false, 0, 0, NULL},
        {"orifice", KEY_FLAG, false, offsetof(struct hole, orifice), 0, NULL},
        PART_KEYS,
    };
    const struct node *values[N_OF(keys)];
    const char *entry = entry_name(r, "hole", key);
    bool fine = read_keys(r, key->next, entry, holes_form, keys, N_OF(keys), h, values);
    if (key->next->kind != NODE_MAP)
        return false;
    h->strength_given = values[STRENGTH];
    if (!h->strength_given)
        h->strength = h->orifice ? STRENGTH_ORIFICE : STRENGTH_OPEN;
    fine = not_zero(r, values[DIAMETER], h->diameter, entry) && fine;
    fine = not_zero(r, values[EQUIVALENT], h->equivalent_diameter, entry) && fine;
    if (!values[JOINS]) {
        diag(r->d, MISSING_KEY, key->where, "%s needs `joins`", entry);
        diag_help(r->d, "%s (what a hole opens into is not derived from outlines by this version)", joins_form);
        fine = false;
    } else {
        fine = read_joins(r, values[JOINS], entry, joins_form, h->joins) && fine;
        fine = choose_plate(r, key, values[JOINS], values[PLATE], h) && fine;
    }
    if (values[AT])
        fine = read_at(r, values[AT], entry, h->at) && fine;
    if (values[OUTLINE])
        fine = read_outline(r, values[OUTLINE], entry, &h->outline) && fine;
    if (values[LEAKS_TO])
        fine = read_leaks_to(r, values[LEAKS_TO], entry, h) && fine;
    return fine;
}

bool read_holes(struct reader *r, const struct node *section)
{
    bool fine = true;
    struct hole *h = r->m->holes;
    for (const struct node *key = section->first; key; key = key->next->next, h++) {
        h->plate.i = h->joins[0].i = h->joins[1].i = h->bridges.i = h->ball.i = NONE;
        h->diameter = h->equivalent_diameter = h->at[0] = h->at[1] = NAN;
        fine = read_hole(r, key, h) && fine;
    }
    return fine;
}

/* ---- check balls */

bool define_balls(struct reader *r, const struct node *section)
{
    return define_section(r, section, section_key(SECTION_BALLS), balls_form, NAME_BALL);
}

/* One seat of a ball whose entry is good so far. */
static bool take_seat(struct reader *r, const struct node *item, uint32_t row, uint32_t seat)
{
    struct model *m = r->m;
    struct ball *b = &m->balls[row];
    struct hole *h = &m->holes[b->seats_on[seat].i];
    if (h->ball.i != NONE && h->ball.i != row) {
        diag(r->d, BALL_SHARED, item->where, "hole `%.60s` has a ball on it already", h->part.id);
        diag_second(r->d, m->balls[h->ball.i].part.where, "the ball `%.60s`", m->balls[h->ball.i].part.id);
        diag_help(r->d, "give each ball a hole of its own");
        return false;
    }
    h->ball.i = row;
    bool hole_good = h->joins[0].i != NONE && h->joins[1].i != NONE;
    if (b->lies_in.i == NONE || !hole_good || h->joins[0].i == b->lies_in.i || h->joins[1].i == b->lies_in.i)
        return true;
    diag(r->d, BALL_POCKET, item->where, "hole `%.60s` does not open into the pocket `%.60s`", h->part.id,
         m->passages[b->lies_in.i].part.id);
    diag_second(r->d, h->part.where, "it joins `%.60s` and `%.60s`", m->passages[h->joins[0].i].part.id,
                m->passages[h->joins[1].i].part.id);
    diag_help(r->d, "a ball lies in a passage that its hole joins");
    return false;
}

static bool read_ball(struct reader *r, const struct node *key, uint32_t row)
{
    enum { SEATS_ON };
    static const struct key keys[] = {
        [SEATS_ON] = {"seats_on", KEY_NODE, true, 0, 0, NULL},
        {"lies_in", KEY_INNER, true, offsetof(struct ball, lies_in), 0, NULL},
        PART_KEYS,
    };
    struct ball *b = &r->m->balls[row];
    b->lies_in.i = b->seats_on[0].i = b->seats_on[1].i = NONE;
    const struct node *values[N_OF(keys)];
    const char *entry = entry_name(r, "check ball", key);
    bool fine = read_keys(r, key->next, entry, balls_form, keys, N_OF(keys), b, values);
    const struct node *seats = values[SEATS_ON];
    if (!seats)
        return false;
    uint32_t *refs, n;
    if (!read_refs(r, seats, NAME_HOLE, true, entry, "seats_on: H22, or seats_on: [H42, H43]", &refs, &n))
        return false;
    if (n < 1 || n > 2) {
        diag(r->d, WRONG_SHAPE, seats->where, "%s must have one seat or two, not %u", entry, n);
        diag_help(r->d, "seats_on: H22, or seats_on: [H42, H43]");
        return false;
    }
    b->n_seats = n;
    const struct node *item = seats->kind == NODE_LIST ? seats->first : seats;
    for (uint32_t i = 0; i < n; i++, item = item->next) {
        b->seats_on[i].i = refs[i];
        fine = take_seat(r, item, row, i) && fine;
    }
    return fine;
}

bool read_balls(struct reader *r, const struct node *section)
{
    bool fine = true;
    uint32_t row = 0;
    for (const struct node *key = section->first; key; key = key->next->next)
        fine = read_ball(r, key, row++) && fine;
    return fine;
}
