/* A unit stacked from the parts of several models: each layer from one of them. Inside model/ only.
 *
 * Each member is read whole, so that what is wrong in it is told as if it were read alone, and so that its tables tell
 * which layer each entry belongs to. Then the entries that the stack takes are gathered into one tree, which is read
 * like any other: the unit has one model, and a variant may extend it. */
#ifndef MODEL_STACK_H
#define MODEL_STACK_H
#include "model/read.h"

struct member {            /* a model that layers are taken from */
    const char *name;      /* as the stack writes it */
    int file;              /* row in the reader's files */
    struct reader *reader; /* keeps its model, its sections and the nodes that the stack's tree shares */
    bool *owned;           /* [n_layers of its model] the stack takes this layer from it */
    uint32_t *entry;       /* [same] row in the stack's layers of the layer with this ID, NONE: it has none */
    bool
        *taken[N_NAME_KINDS]; /* [rows of the kind] the stack takes this entry; NULL: of kinds that layers do not own */
};

struct stack_layer {        /* in stacking order */
    const struct node *key; /* the layer's ID in the stack */
    uint32_t member, row;   /* where it is taken from: row in that model's layers */
};

struct stack {
    struct reader *reader;  /* of the stack's own file */
    const struct node *key; /* `stack` */
    struct member *members; /* [n_members] in the order of their first use */
    size_t n_members, cap_members;
    struct stack_layer *layers; /* [n_layers] */
    size_t n_layers, cap_layers;
    uint32_t rest; /* the member that gives what no layer owns */
    bool too_many; /* models: told once */
};

/** Reads the members of the stack below `key` of the file `file`, and joins their parts to one tree. Sets the reader's
 * stack, and its model's blanks and seams.
 *  @param units out, those of `rest`.  @param removals what the stack leaves behind is added.  @param n_nodes in and
 * out.
 *  @return the tree, NULL with the reasons in d. */
struct node *stack_read(struct reader *r, int file, const struct node *key, struct units *units,
                        struct removals *removals, uint32_t *n_nodes);

/** Releases what stack_read() set; NULL is fine. */
void stack_release(struct stack *s);

/** Joins the parts (stack_join.c). Inside stack.c only. */
struct node *stack_join(struct stack *s, struct removals *removals);

/** The layer that owns row `row` of a kind in a member's model, NONE: none does (stack_owner.c). Kinds: passages,
 * joints, holes, balls, valves, solenoids. */
uint32_t stack_owner(const struct model *m, enum name_kind kind, uint32_t row);
#endif
