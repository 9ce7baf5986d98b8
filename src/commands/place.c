/* Where a route begins or ends. */
#include "commands/command.h"
#include <string.h>

/* "VALVE.PORT", "SOLENOID.PORT", "DEVICE.apply", "DEVICE.release". */
static bool place_dotted(const struct model *m, const char *word, struct place *out)
{
    const char *dot = strrchr(word, '.');
    if (!dot)
        return false;
    struct part_ref ref = model_find(m, word, (size_t)(dot - word));
    if (ref.kind == PART_ACTUATOR) {
        const struct actuator *a = &m->actuators[ref.i];
        bool release = !strcmp(dot + 1, "release");
        if (!release && strcmp(dot + 1, "apply"))
            return false;
        *out = (struct place){release ? a->release : a->apply, ref};
        return out->passage.i != NONE;
    }
    const struct port *ports = ref.kind == PART_VALVE      ? m->valves[ref.i].ports
                               : ref.kind == PART_SOLENOID ? m->solenoids[ref.i].ports
                                                           : NULL;
    uint32_t n = ref.kind == PART_VALVE      ? m->valves[ref.i].n_ports
                 : ref.kind == PART_SOLENOID ? m->solenoids[ref.i].n_ports
                                             : 0;
    for (uint32_t i = 0; i < n; i++) {
        if (!strcmp(ports[i].name, dot + 1)) {
            *out = (struct place){ports[i].passage, {PART_NONE, 0}};
            return true;
        }
    }
    return false;
}

/* What to write instead of a part that is no place. */
static void place_wrong(const struct model *m, const char *word, struct part_ref ref, struct diags *d)
{
    struct text help = {0};
    if (ref.kind == PART_NONE) {
        diag(d, BAD_USAGE, NO_SPAN, "model %s has no part '%s'", m->id, word);
        const char *near = model_nearest(m, PART_NONE, word);
        if (near)
            diag_help(d, "did you mean %s?", near);
        return;
    }
    diag(d, BAD_USAGE, NO_SPAN, "%s is a %s, which is no single place", word, part_kind_word(ref.kind));
    const passage_ix *rows = ref.kind == PART_CIRCUIT ? m->circuits[ref.i].passages
                             : ref.kind == PART_HOLE  ? m->holes[ref.i].joins
                             : ref.kind == PART_JOINT ? m->joints[ref.i].joins
                                                      : NULL;
    uint32_t n = ref.kind == PART_CIRCUIT ? m->circuits[ref.i].n_passages : rows ? 2 : 0;
    for (uint32_t i = 0; i < n && i < 20; i++)
        text_addf(&help, "%s%s", i ? ", " : "name a passage: ", m->passages[rows[i].i].part.id);
    const struct port *ports = ref.kind == PART_VALVE      ? m->valves[ref.i].ports
                               : ref.kind == PART_SOLENOID ? m->solenoids[ref.i].ports
                                                           : NULL;
    n = ref.kind == PART_VALVE ? m->valves[ref.i].n_ports : ref.kind == PART_SOLENOID ? m->solenoids[ref.i].n_ports : 0;
    for (uint32_t i = 0; i < n; i++)
        text_addf(&help, "%s%s.%s", i ? ", " : "name a port: ", word, ports[i].name);
    if (ref.kind == PART_BALL)
        text_addf(&help, "name its pocket: %s", m->passages[m->balls[ref.i].lies_in.i].part.id);
    if (help.n)
        diag_help(d, "%s", text_string(&help));
    text_release(&help);
}

bool place_read(const struct model *m, const char *word, bool start, struct place *out, struct diags *d)
{
    feed_ix f = start ? model_feed(m, word, strlen(word)) : (feed_ix){NONE};
    if (f.i != NONE) {
        *out = (struct place){m->feeds[f.i].passage, {PART_NONE, 0}};
        return true;
    }
    struct part_ref ref = strcmp(word, "sump") ? model_find(m, word, strlen(word)) : (struct part_ref){PART_PASSAGE, 0};
    switch (ref.kind) {
    case PART_PASSAGE:
        *out = (struct place){{ref.i}, ref};
        return true;
    case PART_TAP:
        *out = (struct place){m->taps[ref.i].on, ref};
        return true;
    case PART_SWITCH:
        *out = (struct place){m->switches[ref.i].on, ref};
        return true;
    case PART_ACTUATOR:
        *out = (struct place){m->actuators[ref.i].apply, ref};
        return true;
    case PART_NONE:
        if (place_dotted(m, word, out))
            return true;
        break;
    default:
        break;
    }
    place_wrong(m, word, ref, d);
    return false;
}
