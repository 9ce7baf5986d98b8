/* States: what the driver, the solenoids and the engine set; and symptoms. Claims are claim.c's. */
#include "base/mem.h"
#include "model/claim_words.h"
#include "model/valves.h"
#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#define STATES_FORM        "drive_2: {manual: D, sol_a: on, line: 90, gear: second}"
#define DEFAULTS_FORM      "defaults: {sol_d: 0 %}"
#define SOURCE_FORM        "line: 90, line: off, line: regulated or line: {pressure: 90, capacity: 12}"
#define EXPECT_FORM        "expect: {supply: 80 to 92, second: applied}"
#define STATE_SETTINGS_MAX 100000000u /* settings of all states together */

/* What `defaults` or one state sets. A table is the defaults' own until the state sets something in it. */
struct settings {
    uint32_t *detents;              /* [n_valves] */
    double *shares;                 /* [n_solenoids] */
    struct source_setting *sources; /* [n_feeds] */
};
struct states_reading {
    struct reader *r;
    struct settings defaults;
    double temperature;    /* K, where a state sets none */
    double *bases;         /* [n_feeds] what `regulated` means, NAN where nothing regulates the source */
    bool regulator_unread; /* a regulating valve could not be read, so nobody knows what it sets */
    uint32_t *valve_set;   /* [n_valves] what sets it: SET_BY_DEFAULT or a state's row + 1 */
    uint32_t *feed_set;    /* [n_feeds] */
    bool unknown_key;      /* in this entry: it may have been meant to set what is unset */
};
#define SET_BY_DEFAULT UINT32_MAX

bool define_states(struct reader *r, const struct node *section)
{
    return define_section(r, section, "states", STATES_FORM, NAME_STATE);
}

bool define_symptoms(struct reader *r, const struct node *section)
{
    return define_section(r, section, "symptoms",
                          "slip_second: {title: Slips in second, when: \"drive_2: second slipping\"}", NAME_SYMPTOM);
}

/* The text of a scalar with the place of its first character, which in quotes is one further. */
static struct claim_text text_of(const struct node *node)
{
    struct claim_text t = {node->text, node->n_text, node->where};
    size_t points = 0;
    for (size_t i = 0; i < t.n; i++)
        points += ((unsigned char)t.at[i] & 0xC0) != 0x80;
    if (node->where.length == points + 2 && t.where.column < UINT16_MAX) {
        t.where.column++;
        t.where.length = (uint8_t)(points ? points : 1);
    }
    return t;
}

/* ---- settings */

static bool starts_as_word(const struct node *node)
{
    return node->kind == NODE_SCALAR && isalpha((unsigned char)node->text[0]);
}

/* A table of this entry alone: what the defaults hold, to be changed. */
static void *own_table(struct states_reading *sr, void *table, const void *of_defaults, uint32_t n, size_t size)
{
    if (table != of_defaults)
        return table;
    void *own = arena_rows(sr->r->arena, n, size);
    if (n)
        memcpy(own, of_defaults, n * size);
    return own;
}

static bool set_detent(struct states_reading *sr, struct settings *s, uint32_t row, const struct node *value,
                       const char *entry)
{
    const struct valve *v = &sr->r->m->valves[row];
    if (v->kind != VALVE_MANUAL || !v->n_positions) /* its entry is bad */
        return false;
    const char *words[POSITIONS_MAX + 1] = {0};
    for (uint32_t i = 0; i < v->n_positions; i++) {
        if (!v->positions[i].name)
            return false;
        words[i] = v->positions[i].name;
    }
    unsigned word;
    if (!read_word(sr->r, value, entry, words, &word))
        return false;
    s->detents = own_table(sr, s->detents, sr->defaults.detents, sr->r->m->n_valves, sizeof *s->detents);
    s->detents[row] = word;
    return true;
}

static bool set_share(struct states_reading *sr, struct settings *s, uint32_t row, const struct node *value,
                      const char *entry)
{
    static const char *const words[] = {"off", "on", NULL};
    enum solenoid_kind kind = sr->r->m->solenoids[row].kind;
    if (kind == SOLENOID_UNREAD)
        return false;
    double share;
    if (kind != SOLENOID_DUTY || starts_as_word(value)) {
        unsigned word;
        if (!read_word(sr->r, value, entry, words, &word))
            return false;
        share = word;
    } else if (!read_quantity(sr->r, value, entry, DIM_SHARE, &share)) {
        return false;
    } else if (share > 1) {
        diag(sr->r->d, BAD_QUANTITY, value->where, "%s is a share from 0 %% to 100 %%, not %s", entry,
             shown(value).text);
        return false;
    }
    s->shares = own_table(sr, s->shares, sr->defaults.shares, sr->r->m->n_solenoids, sizeof *s->shares);
    s->shares[row] = share;
    return true;
}

/* `off`, `regulated` or a pressure. */
static bool read_source_pressure(struct states_reading *sr, uint32_t feed, const struct node *value, const char *entry,
                                 struct source_setting *out)
{
    static const char *const words[] = {"off", "regulated", NULL};
    struct reader *r = sr->r;
    if (!starts_as_word(value))
        return read_quantity(r, value, entry, DIM_PRESSURE, &out->pressure);
    unsigned word;
    if (!read_word(r, value, entry, words, &word))
        return false;
    out->pressure = 0;
    if (!word)
        return true;
    out->regulated = true;
    out->pressure = sr->bases[feed];
    if (!isnan(out->pressure) || sr->regulator_unread)
        return true;
    diag(r->d, WRONG_VALUE, value->where, "no regulating valve `sets` the pressure of source %s",
         r->m->feeds[feed].part.id);
    diag_help(r->d, "write a pressure, or give its regulating valve `sets: {base: 55}`");
    return false;
}

static bool set_source(struct states_reading *sr, struct settings *s, uint32_t row, const struct node *value,
                       const char *entry)
{
    static const struct key keys[] = {
        {"pressure", KEY_NODE, true, 0, 0, NULL},
        {"capacity", KEY_QUANTITY, false, offsetof(struct source_setting, capacity), DIM_FLOW, NULL},
    };
    struct reader *r = sr->r;
    struct source_setting set = {.pressure = NAN, .capacity = r->m->feeds[row].capacity, .where = value->where};
    bool ok = true;
    if (value->kind == NODE_MAP) {
        const struct node *values[N_OF(keys)] = {0};
        ok = read_keys(r, value, entry, SOURCE_FORM, keys, N_OF(keys), &set, values);
        if (values[0])
            ok = read_source_pressure(sr, row, values[0], entry, &set) && ok;
    } else {
        ok = read_shape(r, value, NODE_SCALAR, entry, SOURCE_FORM) && read_source_pressure(sr, row, value, entry, &set);
    }
    s->sources = own_table(sr, s->sources, sr->defaults.sources, r->m->n_feeds, sizeof *s->sources);
    s->sources[row] = set;
    return ok;
}

#define NEAR_SETTINGS_MAX 5000 /* names looked at; it takes time */

/* The nearest of an entry's own keys and of what states set, or NULL. */
static const char *near_setting(const struct model *m, const char *word, const char *const *own)
{
    const char **ids = mem_zero(NEAR_SETTINGS_MAX, sizeof *ids);
    size_t n = 0;
    while (own[n]) {
        ids[n] = own[n];
        n++;
    }
    for (uint32_t i = 0; i < m->n_valves && n < NEAR_SETTINGS_MAX; i++)
        if (m->valves[i].kind == VALVE_MANUAL)
            ids[n++] = m->valves[i].part.id;
    for (uint32_t i = 0; i < m->n_solenoids && n < NEAR_SETTINGS_MAX; i++)
        ids[n++] = m->solenoids[i].part.id;
    for (uint32_t i = 0; i < m->n_feeds && n < NEAR_SETTINGS_MAX; i++)
        if (m->feeds[i].is_source)
            ids[n++] = m->feeds[i].part.id;
    const char *near = text_nearest(word, ids, n);
    mem_free(ids);
    return near;
}

/* A key that is none of the entry's own and sets nothing. */
static bool unknown_setting(struct states_reading *sr, const struct node *key, const char *entry,
                            const char *const *own)
{
    struct reader *r = sr->r;
    sr->unknown_key = true;
    struct name name = names_find(r->m, SPACE_PARTS, key->text, key->n_text);
    if (name.kind == NAME_NONE)
        name = names_find(r->m, SPACE_FEEDS, key->text, key->n_text);
    if (name.kind != NAME_NONE) {
        diag(r->d, WRONG_KIND, key->where, "%s cannot set `%s`: it is no setting but a part (%s)", entry,
             shown(key).text, name_kind_word(name.kind));
        diag_help(r->d, "states set manual valves, solenoids and sources");
        diag_second(r->d, part_of(r->m, name.kind, name.row)->where, "defined here");
        return false;
    }
    say_unknown(r, key, entry, "manual valve, solenoid or source");
    if (!near_wanted(r->d) || r->d->rows[r->d->n - 1].code == STILL_USED) /* which has its own help */
        return false;
    const char *near = near_setting(r->m, key->text, own);
    if (near)
        diag_help(r->d, "did you mean `%s`?", near);
    return false;
}

static void mark_set(uint32_t *set_by, uint32_t by)
{
    if (*set_by != SET_BY_DEFAULT)
        *set_by = by;
}

/* One setting of the entry that is `by` in valve_set and feed_set. */
static bool read_setting(struct states_reading *sr, struct settings *s, const struct node *key, uint32_t by,
                         const char *entry, const char *const *own)
{
    struct name name = names_find(sr->r->m, SPACE_SETTINGS, key->text, key->n_text);
    char what[160];
    snprintf(what, sizeof what, "`%s` of %s", shown(key).text, entry);
    switch (name.kind) {
    case NAME_VALVE:
        mark_set(&sr->valve_set[name.row], by);
        return set_detent(sr, s, name.row, key->next, what);
    case NAME_SOLENOID:
        return set_share(sr, s, name.row, key->next, what);
    case NAME_FEED:
        mark_set(&sr->feed_set[name.row], by);
        return set_source(sr, s, name.row, key->next, what);
    default:
        return unknown_setting(sr, key, entry, own);
    }
}

static bool read_temperature(struct states_reading *sr, const struct node *node, double *out)
{
    return read_signed(sr->r, node, "`temperature`", DIM_TEMPERATURE, out); /* above absolute zero in any case */
}

static bool read_defaults(struct states_reading *sr, const struct node *section)
{
    static const char *const own[] = {"temperature", NULL};
    struct settings s = sr->defaults;
    bool ok = read_shape(sr->r, section, NODE_MAP, "`defaults`", DEFAULTS_FORM);
    if (!ok)
        return false;
    for (const struct node *key = section->first; key; key = key->next->next)
        ok = (!strcmp(key->text, own[0]) ? read_temperature(sr, key->next, &sr->temperature)
                                         : read_setting(sr, &s, key, SET_BY_DEFAULT, "`defaults`", own)) &&
             ok;
    sr->defaults = s;
    return ok;
}

/* ---- one state */

static bool read_expect(struct states_reading *sr, const struct node *map, uint32_t row)
{
    struct reader *r = sr->r;
    struct state *state = &r->m->states[row];
    if (!read_shape(r, map, NODE_MAP, "`expect`", EXPECT_FORM))
        return false;
    size_t n = 0;
    for (const struct node *key = map->first; key; key = key->next->next)
        n += key->next->kind == NODE_LIST ? key->next->n_children : 1;
    state->expect = arena_rows(r->arena, n, sizeof *state->expect);
    bool ok = true;
    for (const struct node *key = map->first; key; key = key->next->next) {
        bool list = key->next->kind == NODE_LIST;
        for (const struct node *text = list ? key->next->first : key->next; text; text = list ? text->next : NULL)
            ok = read_shape(r, text, NODE_SCALAR, "an expectation", EXPECT_FORM) &&
                 claims_read_expect(r, text_of(key), text_of(text), (state_ix){row},
                                    &state->expect[state->n_expect++]) &&
                 ok;
    }
    return ok;
}

/* Says what the state leaves unset of manual valves and sources. */
static bool check_set(struct states_reading *sr, uint32_t row, const char *entry)
{
    const struct model *m = sr->r->m;
    struct text list = {0};
    size_t n = 0;
    for (uint32_t i = 0; i < m->n_valves; i++)
        if (m->valves[i].kind == VALVE_MANUAL && sr->valve_set[i] != SET_BY_DEFAULT && sr->valve_set[i] != row + 1 &&
            n++ < 4)
            text_addf(&list, "%smanual valve `%s`", list.n ? ", " : "", m->valves[i].part.id);
    for (uint32_t i = 0; i < m->n_feeds; i++)
        if (m->feeds[i].is_source && sr->feed_set[i] != SET_BY_DEFAULT && sr->feed_set[i] != row + 1 && n++ < 4)
            text_addf(&list, "%ssource `%s`", list.n ? ", " : "", m->feeds[i].part.id);
    if (n > 4)
        text_addf(&list, " and %zu more", n - 4);
    if (n) {
        diag(sr->r->d, UNSET, m->states[row].part.where, "%s leaves unset: %s", entry, text_string(&list));
        diag_help(sr->r->d, "set each in the state or in `defaults`");
    }
    text_release(&list);
    return !n;
}

static const char *const state_keys[] = {"title", "note", "gear", "after", "temperature", "expect", NULL};
enum { STATE_TITLE, STATE_NOTE, STATE_GEAR, STATE_AFTER, STATE_TEMPERATURE, STATE_EXPECT };

static bool read_state_key(struct states_reading *sr, unsigned which, const struct node *value, uint32_t row)
{
    struct reader *r = sr->r;
    struct state *state = &r->m->states[row];
    switch (which) {
    case STATE_TITLE:
        return read_text(r, value, "`title`", &state->part.title);
    case STATE_NOTE:
        return read_text(r, value, "`note`", &state->part.note);
    case STATE_GEAR:
        state->gear.i = read_ref(r, value, NAME_GEAR, "`gear`");
        state->gear_where = value->where;
        return state->gear.i != NONE;
    case STATE_AFTER:
        state->after.i = read_ref(r, value, NAME_STATE, "`after`");
        return state->after.i != NONE;
    case STATE_TEMPERATURE:
        return read_temperature(sr, value, &state->temperature);
    default:
        return read_expect(sr, value, row);
    }
}

static bool read_state(struct states_reading *sr, const struct node *key, uint32_t row)
{
    struct reader *r = sr->r;
    struct state *state = &r->m->states[row];
    const char *entry = entry_name(r, "state", key);
    struct settings s = sr->defaults;
    state->gear.i = state->after.i = NONE;
    state->temperature = sr->temperature;
    sr->unknown_key = false;
    bool ok = read_shape(r, key->next, NODE_MAP, entry, STATES_FORM), whole = ok;
    for (const struct node *k = whole ? key->next->first : NULL; k; k = k->next->next) {
        unsigned which = 0;
        while (state_keys[which] && strcmp(state_keys[which], k->text))
            which++;
        ok = (state_keys[which] ? read_state_key(sr, which, k->next, row)
                                : read_setting(sr, &s, k, row + 1, entry, state_keys)) &&
             ok;
    }
    state->detents = s.detents;
    state->shares = s.shares;
    state->sources = s.sources;
    return (!whole || sr->unknown_key || check_set(sr, row, entry)) && ok;
}

/* ---- all states */

/* The place of `after` in the entry of a state. */
static struct span after_where(const struct node *key)
{
    struct node *value = key->next->kind == NODE_MAP ? tree_get(key->next, "after", NULL) : NULL;
    return value ? value->where : key->where;
}

static bool check_after(struct reader *r, const struct node *section)
{
    struct model *m = r->m;
    bool ok = true;
    uint32_t *walk =
        arena_rows(&r->scratch, m->n_states, sizeof *walk); /* the walk that came by: its start's row + 1 */
    const struct node **keys = arena_rows(&r->scratch, m->n_states, sizeof *keys);
    uint32_t row = 0;
    for (const struct node *key = section->first; key; key = key->next->next)
        keys[row++] = key;
    for (uint32_t start = 0; start < m->n_states; start++) {
        uint32_t i = start;
        while (i != NONE && !walk[i]) {
            walk[i] = start + 1;
            i = m->states[i].after.i;
        }
        if (i == NONE || walk[i] != start + 1)
            continue;
        struct text way = {0};
        uint32_t n = 0, at = i;
        do {
            if (n++ < 6)
                text_addf(&way, "%s after ", m->states[at].part.id);
            at = m->states[at].after.i;
        } while (at != i);
        text_addf(&way, "%s%s", n > 6 ? "... after " : "", m->states[i].part.id);
        diag(r->d, CYCLE, after_where(keys[i]), "states follow each other in a circle: %s", text_string(&way));
        if (n > 1)
            diag_second(r->d, after_where(keys[m->states[i].after.i]), "and back from here");
        text_release(&way);
        ok = false;
    }
    return ok;
}

/* What `regulated` means for each source. */
static bool find_regulators(struct states_reading *sr)
{
    const struct model *m = sr->r->m;
    bool ok = true;
    for (uint32_t i = 0; i < m->n_feeds; i++)
        sr->bases[i] = NAN;
    for (uint32_t i = 0; i < m->n_valves; i++) {
        const struct valve *v = &m->valves[i];
        if (v->kind == VALVE_UNREAD ||
            (v->kind == VALVE_REGULATING && (v->source.i == NONE || (v->sets && isnan(v->base)))))
            sr->regulator_unread = true;
        else if (v->kind == VALVE_REGULATING && v->sets && isnan(sr->bases[v->source.i]))
            sr->bases[v->source.i] = v->base;
        else if (v->kind == VALVE_REGULATING && v->sets) {
            diag(sr->r->d, WRONG_VALUE, v->part.where, "a second valve `sets` the pressure of source %s",
                 m->feeds[v->source.i].part.id);
            diag_help(sr->r->d, "one regulating valve sets a source's pressure; leave `sets` out of the others");
            ok = false;
        }
    }
    return ok;
}

bool read_states(struct reader *r, const struct node *section)
{
    struct model *m = r->m;
    if (!read_section_map(r, section, "states", STATES_FORM, true))
        return false;
    uint64_t n_settings = (uint64_t)m->n_states * ((uint64_t)m->n_valves + m->n_solenoids + m->n_feeds);
    if (n_settings > STATE_SETTINGS_MAX) {
        diag(r->d, TOO_LARGE, section->where, "more than %u settings: states times valves, solenoids and feeds",
             STATE_SETTINGS_MAX);
        return false;
    }
    struct states_reading sr = {.r = r, .temperature = m->fluid.temperature};
    sr.bases = arena_rows(&r->scratch, m->n_feeds, sizeof *sr.bases);
    sr.valve_set = arena_rows(&r->scratch, m->n_valves, sizeof *sr.valve_set);
    sr.feed_set = arena_rows(&r->scratch, m->n_feeds, sizeof *sr.feed_set);
    bool ok = find_regulators(&sr);
    struct settings none = {arena_rows(r->arena, m->n_valves, sizeof *none.detents),
                            arena_rows(r->arena, m->n_solenoids, sizeof *none.shares),
                            arena_rows(r->arena, m->n_feeds, sizeof *none.sources)};
    for (uint32_t i = 0; i < m->n_valves; i++)
        none.detents[i] = NONE;
    for (uint32_t i = 0; i < m->n_feeds; i++)
        none.sources[i] = (struct source_setting){.pressure = NAN, .capacity = NAN};
    sr.defaults = none;
    ok = (!r->section[SECTION_DEFAULTS] || read_defaults(&sr, r->section[SECTION_DEFAULTS])) && ok;
    uint32_t row = 0;
    for (const struct node *key = section->first; key; key = key->next->next)
        ok = read_state(&sr, key, row++) && ok;
    return check_after(r, section) && ok;
}

/* ---- symptoms */

static bool read_symptom(struct reader *r, const struct node *key, struct symptom *s)
{
    static const struct key keys[] = {
        {"title", KEY_TEXT, false, offsetof(struct part, title), 0, NULL},
        {"note", KEY_TEXT, false, offsetof(struct part, note), 0, NULL},
        {"when", KEY_NODE, true, 0, 0, NULL},
    };
    static const char form[] = "slip_second: {title: Slips in second, when: \"drive_2: second applied below 60 psi\"}";
    const struct node *values[N_OF(keys)] = {0};
    bool ok = read_keys(r, key->next, entry_name(r, "symptom", key), form, keys, N_OF(keys), s, values);
    const struct node *when = values[2];
    if (!when)
        return false;
    bool list = when->kind == NODE_LIST;
    s->when = arena_rows(r->arena, list ? when->n_children : 1, sizeof *s->when);
    for (const struct node *text = list ? when->first : when; text; text = list ? text->next : NULL)
        ok = read_shape(r, text, NODE_SCALAR, "`when`", form) &&
             claims_read_line(r, text_of(text), &s->when[s->n_when++]) && ok;
    return ok;
}

bool read_symptoms(struct reader *r, const struct node *section)
{
    if (section->kind != NODE_MAP)
        return false;
    bool ok = true;
    uint32_t row = 0;
    for (const struct node *key = section->first; key; key = key->next->next, row++)
        ok = read_symptom(r, key, &r->m->symptoms[row]) && ok;
    return ok;
}
