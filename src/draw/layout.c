/* DOT to SVG by libgvc. Apart from the rest, because its header and model.h both have a `struct port`. */
#include "draw/ids.h"
#include "draw/render.h"
#include <graphviz/gvc.h>
#include <string.h>

/* Only these two: the others would put fonts of the machine into the SVG. */
extern gvplugin_library_t gvplugin_core_LTX_library;
extern gvplugin_library_t gvplugin_dot_layout_LTX_library;

static struct text complaints;

static int keep_complaint(char *message)
{
    text_add(&complaints, message);
    return 0;
}

struct reading {
    const char *at;
    size_t left;
};

/* Hands the parser its next piece; 0 at the end. */
static int read_text(void *channel, char *buffer, int room)
{
    struct reading *r = channel;
    size_t n = r->left < (size_t)room ? r->left : (size_t)room;
    memcpy(buffer, r->at, n);
    r->at += n;
    r->left -= n;
    return (int)n;
}

bool layout_svg(const struct text *in, struct text *out, struct text *why)
{
    static const lt_symlist_t plugins[] = {{"gvplugin_core_LTX_library", &gvplugin_core_LTX_library},
                                           {"gvplugin_dot_layout_LTX_library", &gvplugin_dot_layout_LTX_library},
                                           {NULL, NULL}};
    agseterrf(keep_complaint);
    GVC_t *context = gvContextPlugins(plugins, 0);
    Agiodisc_t from_text = {read_text, NULL, NULL};
    Agdisc_t disc = {&AgMemDisc, &counting_ids, &from_text};
    struct reading reading = {text_string(in), in->n};
    Agraph_t *graph = agread(&reading, &disc);
    char *bytes = NULL;
    unsigned n = 0;
    bool ok = context && graph && gvLayout(context, graph, "dot") == 0 &&
              gvRenderData(context, graph, "svg", &bytes, &n) == 0; /* on failure `bytes` is garbage */
    if (ok && !complaints.n) {
        text_add_bytes(out, bytes, n);
        return true;
    }
    first_line(why, complaints.n ? text_string(&complaints) : "the layout failed");
    return false;
}
