/* Draws a line of text as the page program does, and forgets something on purpose:
 * planted_leak nothing|memory|layout. */
#include <pango/pangocairo.h>
#include <stdlib.h>
#include <string.h>

static PangoLayout *draw(void)
{
    cairo_surface_t *surface = cairo_image_surface_create(CAIRO_FORMAT_RGB24, 200, 50);
    cairo_t *cairo = cairo_create(surface);
    PangoLayout *layout = pango_cairo_create_layout(cairo);
    pango_layout_set_text(layout, "a line", -1);
    pango_cairo_show_layout(cairo, layout);
    cairo_destroy(cairo);
    cairo_surface_destroy(surface);
    return layout;
}

int main(int argc, char **argv)
{
    const char *forgotten = argc == 2 ? argv[1] : "";
    PangoLayout *layout = draw();
    if (strcmp(forgotten, "layout") != 0) {
        g_object_unref(layout);
    }
    layout = NULL;
    void *volatile memory = malloc(77);
    if (strcmp(forgotten, "memory") != 0) {
        free(memory);
    }
    memory = NULL;
    pango_cairo_font_map_set_default(NULL);
    return 0;
}
