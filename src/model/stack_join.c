/* The parts that a stack takes, gathered into one tree; what meets nothing there; what is left behind. */
#include "base/mem.h"
#include "base/text.h"
#include "model/stack.h"
#include <string.h>

struct pairs { /* a mapping that grows */
    struct node *map;
    struct node **end;
};
struct joining {
    struct stack *s;
    struct pairs root, section[N_SECTIONS];
    struct blank *blanks;
    size_t n_blanks, cap_blanks;
    uint32_t *n_by_name; /* [stack's layers] holes of the plate that are joined by their names only */
    uint8_t *seam;       /* [stack's layers x members] the plate meets a casting of this member, another than its own */
};

/* The kinds of entries that layers own; circuits come along where they are needed. */
static const enum name_kind owned_kinds[] = {NAME_PASSAGE, NAME_JOINT,    NAME_HOLE,   NAME_BALL,
                                             NAME_VALVE,   NAME_SOLENOID, NAME_CIRCUIT};

static uint32_t rows_of(const struct model *m, enum name_kind kind)
{
    switch (kind) {
    case NAME_PASSAGE:
        return m->n_passages;
    case NAME_JOINT:
        return m->n_joints;
    case NAME_HOLE:
        return m->n_holes;
    case NAME_BALL:
        return m->n_balls;
    case NAME_VALVE:
        return m->n_valves;
    case NAME_SOLENOID:
        return m->n_solenoids;
    case NAME_CIRCUIT:
        return m->n_circuits;
    default:
        return 0;
    }
}

/* ---- nodes */

static struct node *node_copy(struct joining *j, const struct node *n)
{
    struct node *copy = arena_alloc(&j->s->reader->scratch, sizeof *copy);
    *copy = *n;
    copy->next = NULL;
    return copy;
}

static struct node *node_new(struct joining *j, enum node_kind kind, struct span where)
{
    return node_copy(j, &(struct node){.kind = (uint8_t)kind, .where = where});
}

static struct node *node_text(struct joining *j, const char *text, struct span where)
{
    return node_copy(
        j, &(struct node){.kind = NODE_SCALAR, .n_text = (uint32_t)strlen(text), .text = text, .where = where});
}

static void pairs_begin(struct joining *j, struct pairs *p, struct span where)
{
    p->map = node_new(j, NODE_MAP, where);
    p->end = &p->map->first;
}

/* Adds copies of a key and its value; their children are shared. */
static void pairs_add(struct joining *j, struct pairs *p, const struct node *key, const struct node *value)
{
    struct node *k = node_copy(j, key);
    k->next = node_copy(j, value);
    *p->end = k;
    p->end = &k->next->next;
    p->map->n_children += 2;
}

/* A copy of a mapping with another value for one key; NULL: without the key. */
static struct node *map_with(struct joining *j, const struct node *map, const char *key, const struct node *value)
{
    struct pairs p;
    pairs_begin(j, &p, map->where);
    for (const struct node *k = map->first; k; k = k->next->next)
        if (strcmp(k->text, key) != 0)
            pairs_add(j, &p, k, k->next);
        else if (value)
            pairs_add(j, &p, k, value);
    return p.map;
}

static void entry_add(struct joining *j, enum section section, const struct node *key, const struct node *value)
{
    struct pairs *p = &j->section[section];
    if (!p->map)
        pairs_begin(j, p, j->s->key->where);
    pairs_add(j, p, key, value);
}

/* ---- what is there */

static struct model *model_of(const struct joining *j, uint32_t member)
{
    return j->s->members[member].reader->m;
}

static bool is_taken(const struct joining *j, uint32_t member, enum name_kind kind, uint32_t row)
{
    return j->s->members[member].taken[kind][row];
}

/* The row of an entry among those that the stack takes; false: none of this name and kind is taken. */
static bool find_taken(const struct joining *j, enum name_kind kind, const char *id, uint32_t *member, uint32_t *row)
{
    for (uint32_t i = 0; i < j->s->n_members; i++) {
        struct name name = names_find(model_of(j, i), SPACE_PARTS, id, strlen(id));
        if (name.kind != kind || !is_taken(j, i, kind, name.row))
            continue;
        *member = i;
        *row = name.row;
        return true;
    }
    return false;
}

static bool passage_there(const struct joining *j, const char *id)
{
    uint32_t member, row;
    return find_taken(j, NAME_PASSAGE, id, &member, &row);
}

/* The stack's entry for a layer of a member's model, or NULL. */
static const struct stack_layer *stack_entry(const struct stack *s, uint32_t member, uint32_t layer_row)
{
    uint32_t entry = s->members[member].entry[layer_row];
    return entry == NONE ? NULL : &s->layers[entry];
}

static struct blank *blank_add(struct joining *j, enum part_kind kind, uint32_t member, const struct part *part,
                               const char *wanted, uint32_t layer_row)
{
    const struct stack *s = j->s;
    const struct stack_layer *layer = stack_entry(s, member, layer_row);
    const char *layer_id = s->members[member].reader->m->layers[layer_row].part.id;
    MEM_GROW(j->blanks, j->n_blanks, j->cap_blanks);
    struct blank *b = &j->blanks[j->n_blanks++];
    *b = (struct blank){.kind = kind,
                        .id = part->id,
                        .file = s->members[member].name,
                        .wanted = wanted,
                        .layer = arena_text(s->reader->arena, layer_id, strlen(layer_id)),
                        .layer_file = layer ? s->members[layer->member].name : NULL,
                        .where = part->where,
                        .layer_where = layer ? layer->key->where : s->key->where};
    return b;
}

/* Tells each side on which an opening meets blank metal. True when there is one. */
static bool lands_on_blank(struct joining *j, enum part_kind kind, uint32_t member, const struct part *part,
                           const passage_ix joins[2])
{
    const struct model *m = model_of(j, member);
    bool there[2];
    for (int i = 0; i < 2; i++)
        there[i] = joins[i].i == SUMP.i || passage_there(j, m->passages[joins[i].i].part.id);
    for (int i = 0; i < 2; i++)
        if (!there[i]) {
            const struct passage *p = &m->passages[joins[i].i];
            struct blank *b = blank_add(j, kind, member, part, p->part.id, p->layer.i);
            b->other = there[1 - i] ? m->passages[joins[1 - i].i].part.id : NULL;
        }
    return !there[0] || !there[1];
}

/* ---- the sections */

static void join_layers(struct joining *j)
{
    struct stack *s = j->s;
    struct node *list = node_new(j, NODE_LIST, s->key->where), **end = &list->first;
    const struct node **items = mem_zero(s->n_layers + 1, sizeof *items);
    for (size_t k = 0; k < s->n_members; k++) {
        const struct node *section = s->members[k].reader->section[SECTION_LAYERS];
        uint32_t row = 0;
        for (const struct node *item = section ? section->first : NULL; item; item = item->next, row++)
            if (s->members[k].owned[row])
                items[s->members[k].entry[row]] = item;
    }
    for (size_t i = 0; i < s->n_layers; i++) {
        *end = node_copy(j, items[i]);
        end = &(*end)->next;
        list->n_children++;
    }
    mem_free(items);
    pairs_add(j, &j->root, node_text(j, section_key(SECTION_LAYERS), s->key->where), list);
}

static const struct node *first_of(const struct node *section)
{
    return section && section->kind == NODE_MAP ? section->first : NULL;
}

/* A circuit, with those that it is `under`, unless the unit has it already: those of `rest` come first. */
static void take_circuit(struct joining *j, uint32_t member, uint32_t row)
{
    const struct model *m = model_of(j, member);
    for (; row != NONE && !is_taken(j, member, NAME_CIRCUIT, row); row = m->circuits[row].under.i) {
        uint32_t other, other_row;
        if (find_taken(j, NAME_CIRCUIT, m->circuits[row].part.id, &other, &other_row))
            return;
        j->s->members[member].taken[NAME_CIRCUIT][row] = true;
    }
}

static void join_circuits(struct joining *j)
{
    struct stack *s = j->s;
    struct model *m = model_of(j, s->rest);
    for (uint32_t i = 0; i < m->n_circuits; i++)
        s->members[s->rest].taken[NAME_CIRCUIT][i] = true;
    for (uint32_t k = 0; k < s->n_members; k++) {
        m = model_of(j, k);
        for (uint32_t i = 1; i < m->n_passages; i++)
            if (is_taken(j, k, NAME_PASSAGE, i))
                take_circuit(j, k, m->passages[i].circuit.i);
    }
    for (uint32_t n = 0; n < s->n_members; n++) { /* those of `rest` first */
        uint32_t k = n == 0 ? s->rest : n <= s->rest ? n - 1 : n, row = 0;
        const struct node *key = first_of(s->members[k].reader->section[SECTION_CIRCUITS]);
        for (; key; key = key->next->next, row++)
            if (is_taken(j, k, NAME_CIRCUIT, row))
                entry_add(j, SECTION_CIRCUITS, key,
                          key->next->kind == NODE_MAP ? map_with(j, key->next, "passages", NULL) : key->next);
    }
}

/* Passages out of the lists of circuits and out of their own section, all as entries of their own. */
static void join_passages(struct joining *j, uint32_t member)
{
    const struct reader *from = j->s->members[member].reader;
    uint32_t row = 1;
    for (const struct node *key = first_of(from->section[SECTION_CIRCUITS]); key; key = key->next->next) {
        const struct node *list = key->next->kind == NODE_MAP ? tree_get(key->next, "passages", NULL) : NULL;
        if (!list || list->kind != NODE_LIST)
            continue;
        for (const struct node *item = list->first; item; item = item->next, row++)
            if (is_taken(j, member, NAME_PASSAGE, row))
                entry_add(j, SECTION_PASSAGES, item, node_text(j, key->text, key->where));
    }
    for (const struct node *key = first_of(from->section[SECTION_PASSAGES]); key; key = key->next->next, row++)
        if (is_taken(j, member, NAME_PASSAGE, row))
            entry_add(j, SECTION_PASSAGES, key, key->next);
}

static void join_joints(struct joining *j, uint32_t member)
{
    const struct reader *from = j->s->members[member].reader;
    uint32_t row = 0;
    for (int section = SECTION_JOINTS; section <= SECTION_SCREENS; section++)
        for (const struct node *key = first_of(from->section[section]); key; key = key->next->next, row++) {
            const struct joint *joint = &from->m->joints[row];
            bool *taken = &j->s->members[member].taken[NAME_JOINT][row];
            if (*taken && lands_on_blank(j, PART_JOINT, member, &joint->part, joint->joins))
                *taken = false;
            else if (*taken)
                entry_add(j, (enum section)section, key, key->next);
        }
}

/* Counts a hole that meets a casting of another model: nothing but their names joins them. */
static void count_by_name(struct joining *j, uint32_t member, const struct hole *h)
{
    const struct stack *s = j->s;
    const struct model *m = model_of(j, member);
    bool foreign = false;
    size_t plate = s->members[member].entry[h->plate.i];
    for (int i = 0; i < 2; i++) {
        uint32_t other, row;
        if (h->joins[i].i == SUMP.i)
            continue;
        find_taken(j, NAME_PASSAGE, m->passages[h->joins[i].i].part.id, &other, &row);
        if (other == member)
            continue;
        foreign = true;
        j->seam[plate * s->n_members + other] = 1;
    }
    j->n_by_name[plate] += foreign;
}

/* The list without the passages that the unit does not have; NULL: none is left. */
static const struct node *leaks_there(struct joining *j, const struct node *list)
{
    struct node *left = node_new(j, NODE_LIST, list->where), **end = &left->first;
    for (const struct node *item = list->first; item; item = item->next)
        if (passage_there(j, item->text)) {
            *end = node_copy(j, item);
            end = &(*end)->next;
            left->n_children++;
        }
    return left->n_children ? left : NULL;
}

static void join_holes(struct joining *j, uint32_t member)
{
    const struct reader *from = j->s->members[member].reader;
    uint32_t row = 0;
    for (const struct node *key = first_of(from->section[SECTION_HOLES]); key; key = key->next->next, row++) {
        const struct hole *h = &from->m->holes[row];
        bool *taken = &j->s->members[member].taken[NAME_HOLE][row];
        if (*taken && lands_on_blank(j, PART_HOLE, member, &h->part, h->joins)) {
            *taken = false;
        } else if (*taken) {
            const struct node *leaks = tree_get(key->next, "leaks_to", NULL);
            count_by_name(j, member, h);
            entry_add(j, SECTION_HOLES, key,
                      leaks && leaks->kind == NODE_LIST ? map_with(j, key->next, "leaks_to", leaks_there(j, leaks))
                                                        : key->next);
        }
    }
}

/* True when the unit has the seat: a hole of this name that opens into the pocket. Tells a hole that the plate lacks; a
 * hole that lands on blank metal was told already. */
static bool seat_there(struct joining *j, uint32_t member, const struct ball *b, uint32_t seat)
{
    const struct model *m = model_of(j, member);
    const struct hole *h = &m->holes[b->seats_on[seat].i];
    const char *pocket = m->passages[b->lies_in.i].part.id;
    uint32_t other, row;
    if (find_taken(j, NAME_HOLE, h->part.id, &other, &row)) {
        const struct model *o = model_of(j, other);
        for (int i = 0; i < 2; i++)
            if (!strcmp(o->passages[o->holes[row].joins[i].i].part.id, pocket))
                return true;
    }
    for (uint32_t i = 0; i < j->s->n_members; i++) { /* there, but on blank metal */
        const struct model *o = model_of(j, i);
        struct name name = names_find(o, SPACE_PARTS, h->part.id, strlen(h->part.id));
        if (name.kind == NAME_HOLE && j->s->members[i].owned[o->holes[name.row].plate.i] &&
            !is_taken(j, i, NAME_HOLE, name.row))
            return false;
    }
    blank_add(j, PART_BALL, member, &b->part, h->part.id, h->plate.i)->other = pocket;
    return false;
}

/* A shuttle that keeps one of its seats is a ball with one seat; a ball without a seat does nothing. */
static void join_balls(struct joining *j, uint32_t member)
{
    const struct reader *from = j->s->members[member].reader;
    uint32_t row = 0;
    for (const struct node *key = first_of(from->section[SECTION_BALLS]); key; key = key->next->next, row++) {
        const struct ball *b = &from->m->balls[row];
        bool *taken = &j->s->members[member].taken[NAME_BALL][row], there[2] = {false, false};
        if (!*taken)
            continue;
        uint32_t n = 0;
        for (uint32_t i = 0; i < b->n_seats; i++)
            n += there[i] = seat_there(j, member, b, i);
        *taken = n > 0;
        if (n == b->n_seats) {
            entry_add(j, SECTION_BALLS, key, key->next);
        } else if (n) {
            const struct node *seat = tree_get(key->next, "seats_on", NULL)->first;
            entry_add(j, SECTION_BALLS, key, map_with(j, key->next, "seats_on", there[0] ? seat : seat->next));
        }
    }
}

static void join_plain(struct joining *j, uint32_t member, enum section section, enum name_kind kind)
{
    uint32_t row = 0;
    const struct node *key = first_of(j->s->members[member].reader->section[section]);
    for (; key; key = key->next->next, row++)
        if (is_taken(j, member, kind, row))
            entry_add(j, section, key, key->next);
}

/* The entries of `strengths` for the parts that are there. */
static void join_strengths(struct joining *j, uint32_t member)
{
    const struct reader *from = j->s->members[member].reader;
    for (const struct node *key = first_of(from->section[SECTION_STRENGTHS]); key; key = key->next->next) {
        struct name name = names_find(from->m, SPACE_PARTS, key->text, key->n_text);
        if (j->s->members[member].taken[name.kind] && is_taken(j, member, name.kind, name.row))
            entry_add(j, SECTION_STRENGTHS, key, key->next);
    }
}

/* ---- the whole */

static bool is_joined(enum section section)
{
    return section <= SECTION_SOLENOIDS || section == SECTION_STRENGTHS;
}

/* Marks what the layers of each member bring along. */
static void mark_taken(struct stack *s)
{
    for (uint32_t k = 0; k < s->n_members; k++) {
        struct member *member = &s->members[k];
        const struct model *m = member->reader->m;
        for (size_t i = 0; i < N_OF(owned_kinds); i++) {
            enum name_kind kind = owned_kinds[i];
            bool *taken = member->taken[kind] = mem_zero(rows_of(m, kind) + 1, sizeof *taken);
            for (uint32_t row = 0; kind != NAME_CIRCUIT && row < rows_of(m, kind); row++) {
                uint32_t owner = stack_owner(m, kind, row);
                taken[row] = owner == NONE ? k == s->rest && kind != NAME_PASSAGE : member->owned[owner];
            }
        }
    }
}

/* Remembers what is left behind, so that what still names it can be told where it went. */
static void note_left(struct joining *j, struct removals *removals)
{
    struct stack *s = j->s;
    struct arena *a = s->reader->arena;
    for (uint32_t k = 0; k < s->n_members; k++) {
        const struct model *m = model_of(j, k);
        const char **why = mem_zero(m->n_layers + 1, sizeof *why);
        for (size_t i = 0; i < N_OF(owned_kinds); i++)
            for (uint32_t row = 0; row < rows_of(m, owned_kinds[i]); row++) {
                enum name_kind kind = owned_kinds[i];
                uint32_t owner = stack_owner(m, kind, row);
                if (is_taken(j, k, kind, row) || owner == NONE)
                    continue;
                const char *id = m->layers[owner].part.id;
                const struct stack_layer *layer = stack_entry(s, k, owner);
                if (!why[owner] && s->members[k].owned[owner])
                    why[owner] = arena_format(a, "in this stack it meets nothing");
                else if (!why[owner])
                    why[owner] = arena_format(a, "%s has it in its layer `%.60s`, which is not in this stack",
                                              s->members[k].name, id);
                MEM_GROW(removals->rows, removals->n, removals->cap);
                const char *name = part_of(m, kind, row)->id;
                removals->rows[removals->n++] = (struct removal){name, (uint32_t)strlen(name),
                                                                 layer ? layer->key->where : s->key->where, why[owner]};
            }
        mem_free(why);
    }
}

/* Hands blanks and seams over to the model. */
static void tell_model(struct joining *j)
{
    struct stack *s = j->s;
    struct model *m = s->reader->m;
    m->blanks = arena_rows(&m->arena, j->n_blanks, sizeof *m->blanks);
    m->seams = arena_rows(&m->arena, s->n_layers, sizeof *m->seams);
    for (size_t i = 0; i < j->n_blanks; i++) {
        struct blank *b = &m->blanks[m->n_blanks++];
        *b = j->blanks[i];
        if (b->other) /* `sump` is a text of the member's */
            b->other = arena_text(&m->arena, b->other, strlen(b->other));
    }
    for (size_t i = 0; i < s->n_layers; i++) {
        if (!j->n_by_name[i])
            continue;
        struct text others = {0};
        for (size_t k = 0; k < s->n_members; k++)
            if (j->seam[i * s->n_members + k])
                text_addf(&others, "%s%s", others.n ? " and " : "", s->members[k].name);
        m->seams[m->n_seams++] = (struct seam){.plate = s->layers[i].key->text,
                                               .file = s->members[s->layers[i].member].name,
                                               .others = arena_text(&m->arena, text_string(&others), others.n),
                                               .n_holes = j->n_by_name[i],
                                               .where = s->layers[i].key->where};
        text_release(&others);
    }
}

struct node *stack_join(struct stack *s, struct removals *removals)
{
    struct joining j = {.s = s};
    j.n_by_name = mem_zero(s->n_layers + 1, sizeof *j.n_by_name);
    j.seam = mem_zero(s->n_layers * s->n_members + 1, sizeof *j.seam);
    pairs_begin(&j, &j.root, s->key->where);
    mark_taken(s);
    join_layers(&j);
    join_circuits(&j);
    for (uint32_t k = 0; k < s->n_members; k++) {
        join_passages(&j, k);
        join_joints(&j, k);
        join_holes(&j, k);
        join_plain(&j, k, SECTION_VALVES, NAME_VALVE);
        join_plain(&j, k, SECTION_SOLENOIDS, NAME_SOLENOID);
        join_strengths(&j, k);
    }
    for (uint32_t k = 0; k < s->n_members; k++) /* they need to know which holes there are */
        join_balls(&j, k);
    const struct node *const *rest = s->members[s->rest].reader->section;
    for (int i = 0; i < N_SECTIONS; i++) {
        const struct node *value = is_joined((enum section)i) ? j.section[i].map : rest[i];
        if (value)
            pairs_add(&j, &j.root, node_text(&j, section_key((enum section)i), s->key->where), value);
    }
    note_left(&j, removals);
    tell_model(&j);
    mem_free(j.blanks);
    mem_free(j.n_by_name);
    mem_free(j.seam);
    return j.root.map;
}
