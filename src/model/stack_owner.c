/* Which layer owns an entry: what goes along when a part of one model is put into another unit. */
#include "base/mem.h"
#include "model/stack.h"

/* The one casting that both passages lie in; the pan lies in none. */
static uint32_t owner_of_joint(const struct model *m, const struct joint *j)
{
    uint32_t a = m->passages[j->joins[0].i].layer.i, b = m->passages[j->joins[1].i].layer.i;
    return a == NONE ? b : b == NONE || a == b ? a : NONE;
}

/* The casting of most ports; of equal ones that of the port written first. */
static uint32_t owner_of_ports(const struct model *m, const struct port *ports, uint32_t n)
{
    uint32_t *votes = mem_zero(m->n_layers + 1, sizeof *votes), best = NONE;
    for (uint32_t i = 0; i < n; i++) {
        uint32_t layer = m->passages[ports[i].passage.i].layer.i;
        if (layer != NONE)
            votes[layer]++;
    }
    for (uint32_t i = 0; i < n; i++) {
        uint32_t layer = m->passages[ports[i].passage.i].layer.i;
        if (layer != NONE && (best == NONE || votes[layer] > votes[best]))
            best = layer;
    }
    mem_free(votes);
    return best;
}

uint32_t stack_owner(const struct model *m, enum name_kind kind, uint32_t row)
{
    switch (kind) {
    case NAME_PASSAGE:
        return m->passages[row].layer.i;
    case NAME_JOINT:
        return owner_of_joint(m, &m->joints[row]);
    case NAME_HOLE:
        return m->holes[row].plate.i;
    case NAME_BALL:
        return m->passages[m->balls[row].lies_in.i].layer.i;
    case NAME_VALVE:
        return owner_of_ports(m, m->valves[row].ports, m->valves[row].n_ports);
    case NAME_SOLENOID:
        return owner_of_ports(m, m->solenoids[row].ports, m->solenoids[row].n_ports);
    default:
        return NONE;
    }
}
