#include "page/trend.h"

#include <stdio.h>

/* enum rp_mode of wire/record.h as rows.h gives it: the marks and their words. */
static const struct {
    const char *word;
    bool filled, square;
} modes[] = {{"mode not said", false, true},
             {"on air", false, false},
             {"on oxygen", true, false},
             {"in chamber", false, true},
             {"chamber + oxygen", true, true}};
#define MODE_COUNT (sizeof modes / sizeof modes[0])

static const struct {
    const char *key, *name;
    double low, high;
} lines[] = {{"spo2_pct", "SpO2 %", 40, 100},
             {"pulse_bpm", "Pulse /min", 40, 180},
             {"resp_rpm", "Resp /min", 0, 50}};
#define LINE_COUNT (sizeof lines / sizeof lines[0])

struct frame {
    cairo_t *cairo;
    double x, y, width, height; /* of one line's box */
    double from_s, to_s;
};

static void say(cairo_t *cairo, double x, double y, const char *text)
{
    PangoLayout *layout = pango_cairo_create_layout(cairo);
    PangoFontDescription *font = pango_font_description_from_string("Sans 6.5");
    pango_layout_set_font_description(layout, font);
    pango_layout_set_text(layout, text, -1);
    cairo_move_to(cairo, x, y);
    pango_cairo_show_layout(cairo, layout);
    pango_font_description_free(font);
    g_object_unref(layout);
}

static double across(const struct frame *frame, double time_s)
{
    return frame->x + (time_s - frame->from_s) / (frame->to_s - frame->from_s) * frame->width;
}

static void draw_mark(cairo_t *cairo, double x, double y, size_t mode)
{
    if (modes[mode].square) {
        cairo_rectangle(cairo, x - 2, y - 2, 4, 4);
    } else {
        cairo_new_sub_path(cairo);
        cairo_arc(cairo, x, y, 2.2, 0, 6.2832);
    }
    if (modes[mode].filled) {
        cairo_fill(cairo);
    } else {
        cairo_stroke(cairo);
    }
}

static void draw_line(const struct frame *frame, const json_t *trend, size_t line)
{
    for (size_t mode = 0; mode < MODE_COUNT; mode++) {
        double last_x = 0, last_y = 0;
        bool has_last = false;
        size_t index;
        json_t *set;
        json_array_foreach(trend, index, set)
        {
            const json_t *value = json_object_get(set, lines[line].key);
            if (!json_is_integer(value) ||
                (size_t)json_integer_value(json_object_get(set, "mode")) != mode) {
                continue;
            }
            double part = ((double)json_integer_value(value) - lines[line].low) /
                          (lines[line].high - lines[line].low);
            part = part < 0 ? 0 : part > 1 ? 1 : part;
            double y = frame->y + frame->height * (1 - part);
            double x = across(frame, (double)json_integer_value(json_object_get(set, "taken_s")));
            if (has_last) {
                cairo_move_to(frame->cairo, last_x, last_y);
                cairo_line_to(frame->cairo, x, y);
                cairo_stroke(frame->cairo);
            }
            draw_mark(frame->cairo, x, y, mode);
            last_x = x;
            last_y = y;
            has_last = true;
        }
    }
}

static void draw_sessions(const struct frame *frame, const json_t *sessions)
{
    size_t index;
    json_t *session;
    json_array_foreach(sessions, index, session)
    {
        double from = across(frame, (double)json_integer_value(json_object_get(session, "from_s")));
        double to = across(frame, (double)json_integer_value(json_object_get(session, "to_s")));
        from = from < frame->x ? frame->x : from;
        cairo_set_source_rgb(frame->cairo, 0.88, 0.88, 0.88);
        cairo_rectangle(frame->cairo, from, frame->y, to > from ? to - from : 0.5, frame->height);
        cairo_fill(frame->cairo);
    }
    cairo_set_source_rgb(frame->cairo, 0, 0, 0);
}

static void draw_doses(const struct frame *frame, const json_t *doses, bool named)
{
    size_t index;
    json_t *dose;
    json_array_foreach(doses, index, dose)
    {
        double at = (double)json_integer_value(json_object_get(dose, "at_s"));
        if (at < frame->from_s || at > frame->to_s) {
            continue;
        }
        double x = across(frame, at);
        cairo_move_to(frame->cairo, x, frame->y);
        cairo_line_to(frame->cairo, x, frame->y + frame->height);
        cairo_stroke(frame->cairo);
        if (named) {
            /* Beside the line, on the side that has room. */
            bool left = x > frame->x + frame->width * 0.85;
            say(frame->cairo, left ? x - 52 : x + 1, frame->y, page_row_text(dose, "name"));
        }
    }
}

static bool find_times(const json_t *trend, double *out_from_s, double *out_to_s)
{
    size_t index, count = 0;
    json_t *set;
    json_array_foreach(trend, index, set)
    {
        double at = (double)json_integer_value(json_object_get(set, "taken_s"));
        *out_from_s = count == 0 || at < *out_from_s ? at : *out_from_s;
        *out_to_s = count == 0 || at > *out_to_s ? at : *out_to_s;
        count++;
    }
    return count >= 2 && *out_to_s > *out_from_s;
}

static void draw_legend(cairo_t *cairo, double x, double y)
{
    for (size_t mode = 1; mode < MODE_COUNT; mode++) {
        draw_mark(cairo, x + 3, y + 4, mode);
        say(cairo, x + 8, y, modes[mode].word);
        x += mode == MODE_COUNT - 1 ? 95 : 70;
    }
    say(cairo, x, y, "grey: chamber session; upright line: drug");
}

bool page_trend_draw(cairo_t *cairo, const struct page_sheet *sheet, double x, double y,
                     double width, double height)
{
    const json_t *trend = json_object_get(sheet->root, "trend");
    double from_s = 0, to_s = 0;
    char bounds[24];
    if (!find_times(trend, &from_s, &to_s)) {
        return false;
    }
    double margin = (to_s - from_s) * 0.02, box = (height - 12) / LINE_COUNT;
    cairo_set_line_width(cairo, 0.7);
    for (size_t line = 0; line < LINE_COUNT; line++) {
        struct frame frame = {cairo,   x + 62,          y + box * (double)line, width - 62,
                              box - 4, from_s - margin, to_s + margin};
        draw_sessions(&frame, json_object_get(sheet->root, "sessions"));
        cairo_rectangle(cairo, frame.x, frame.y, frame.width, frame.height);
        cairo_stroke(cairo);
        draw_doses(&frame, json_object_get(sheet->root, "doses"), line == 0);
        say(cairo, x, frame.y, lines[line].name);
        snprintf(bounds, sizeof bounds, "%.0f", lines[line].high);
        say(cairo, frame.x - 16, frame.y - 2, bounds);
        snprintf(bounds, sizeof bounds, "%.0f", lines[line].low);
        say(cairo, frame.x - 16, frame.y + frame.height - 8, bounds);
        draw_line(&frame, trend, line);
    }
    draw_legend(cairo, x + 62, y + height - 11);
    return true;
}
