#include "draw/canvas.h"
#include "base/escape.h"
#include "draw/ids.h"
#include <string.h>

Agraph_t *canvas_open(const char *name)
{
    Agdisc_t disc = {&AgMemDisc, &counting_ids, &AgIoDisc};
    return agopen((char *)name, Agdirected, &disc);
}

void html_text(struct text *t, const char *s)
{
    escape_xml(t, s, strlen(s));
}

void html_bold(struct text *t, const char *s)
{
    size_t room = strlen(s) / 8;
    for (size_t i = 0; i < room; i++)
        text_add(t, "&#160;");
    text_add(t, "<B>");
    html_text(t, s);
    text_add(t, "</B>");
    for (size_t i = 0; i < room; i++)
        text_add(t, "&#160;");
}

void canvas_set(void *object, const char *name, const char *value)
{
    agsafeset(object, (char *)name, (char *)value, "");
}

void canvas_label(struct canvas *c, void *object)
{
    Agraph_t *root = agroot(object);
    char *label = agstrdup_html(root, (char *)text_string(&c->html));
    agsafeset(object, "label", label, "");
    agstrfree(root, label);
    text_clear(&c->html);
}

Agnode_t *canvas_node(Agraph_t *in, const char *prefix, const char *id)
{
    struct text name = {0};
    text_addf(&name, "%s%s", prefix, id);
    Agnode_t *node = agnode(in, (char *)text_string(&name), 1);
    text_release(&name);
    return node;
}

Agedge_t *canvas_edge(struct canvas *c, Agnode_t *from, const char *from_port, Agnode_t *to, const char *to_port)
{
    Agedge_t *edge = agedge(c->graph, from, to, NULL, 1);
    if (from_port)
        canvas_set(edge, "tailport", from_port);
    if (to_port)
        canvas_set(edge, "headport", to_port);
    return edge;
}

static int put_string(void *channel, const char *s)
{
    text_add(channel, s);
    return (int)strlen(s);
}

static int flush_nothing(void *channel)
{
    (void)channel;
    return 0;
}

bool canvas_write(struct canvas *c, struct text *out)
{
    Agiodisc_t *kept = c->graph->clos->disc.io;
    Agiodisc_t into_text = {NULL, put_string, flush_nothing};
    c->graph->clos->disc.io = &into_text;
    bool ok = agwrite(c->graph, out) != -1;
    c->graph->clos->disc.io = kept;
    return ok;
}
