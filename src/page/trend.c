#include "page/trend.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define BOX_HEIGHT   30.0 /* of one line's box */
#define BOX_SPACE    4.0
#define LEFT         58.0 /* names and bounds of the boxes */
#define LANE_HEIGHT  9.0
#define LANES_MAX    4   /* of names of drugs above the boxes; the rest are in the list of drugs */
#define SPAN_MIN_S   600 /* what happened within minutes is not drawn out over the page */
#define TAGS_MAX     64
#define SMALL        6.8
#define FIGURE_WIDTH 24.0 /* with its mark */
#define FIGURE       7.5

/* How a mark looks, by mode. */
static const struct {
    bool filled, square;
} marks[PAGE_MODE_COUNT] = {
    {false, true}, {false, false}, {true, false}, {false, true}, {true, true}};

static const struct {
    const char *key;
    double low, high;
} lines[] = {{"spo2_pct", 40, 100}, {"pulse_bpm", 40, 180}, {"resp_rpm", 0, 50}};
#define LINE_COUNT (sizeof lines / sizeof lines[0])

/* One line's box, and the times at its edges. */
struct frame {
    struct pen *pen;
    double x, y, width, height;
    double from_s, to_s;
};

static double number_of(const json_t *object, const char *key)
{
    return (double)json_integer_value(json_object_get(object, key));
}

/* What is no mode of this version counts as "not said". */
static size_t mode_of(const json_t *set)
{
    json_int_t mode = json_integer_value(json_object_get(set, "mode"));
    return mode >= 0 && mode < PAGE_MODE_COUNT ? (size_t)mode : 0;
}

static double across(const struct frame *frame, double time_s)
{
    double part = (time_s - frame->from_s) / (frame->to_s - frame->from_s);
    return frame->x + (part < 0 ? 0 : part > 1 ? 1 : part) * frame->width;
}

static double say(const struct frame *frame, const char *text, double size, bool bold, double x,
                  double y)
{
    pen_text(frame->pen, text, (struct pen_type){.size = size, .bold = bold}, x, y, 0);
    return pen_width(frame->pen, text, (struct pen_type){.size = size, .bold = bold});
}

/* A figure on white, whatever lies behind it. */
static double say_clear(const struct frame *frame, const char *text, bool bold, double x, double y)
{
    struct pen_type type = {.size = FIGURE, .bold = bold};
    double width = pen_width(frame->pen, text, type);
    if (frame->pen->draws) {
        cairo_set_source_rgb(frame->pen->cairo, 1, 1, 1);
        cairo_rectangle(frame->pen->cairo, x - 0.5, y + 1.8, width + 1, FIGURE - 0.6);
        cairo_fill(frame->pen->cairo);
        cairo_set_source_rgb(frame->pen->cairo, 0, 0, 0);
    }
    pen_text(frame->pen, text, type, x, y, 0);
    return width;
}

static void draw_mark(struct pen *pen, double x, double y, size_t mode)
{
    if (!pen->draws) {
        return;
    }
    cairo_set_line_width(pen->cairo, 0.9);
    if (marks[mode].square) {
        cairo_rectangle(pen->cairo, x - 2.2, y - 2.2, 4.4, 4.4);
    } else {
        cairo_new_sub_path(pen->cairo);
        cairo_arc(pen->cairo, x, y, 2.5, 0, 6.2832);
    }
    if (marks[mode].filled) {
        cairo_fill(pen->cairo);
    } else {
        cairo_set_source_rgb(pen->cairo, 1, 1, 1);
        cairo_fill_preserve(pen->cairo);
        cairo_set_source_rgb(pen->cairo, 0, 0, 0);
        cairo_stroke(pen->cairo);
    }
}

static void draw_stretch(const struct frame *frame, double x1, double y1, double x2, double y2,
                         double weight)
{
    if (frame->pen->draws) {
        cairo_set_line_width(frame->pen->cairo, weight);
        cairo_move_to(frame->pen->cairo, x1, y1);
        cairo_line_to(frame->pen->cairo, x2, y2);
        cairo_stroke(frame->pen->cairo);
    }
}

/* A set as a point of this line; false when it has no such value. */
static bool find_point(const struct frame *frame, const json_t *set, size_t line, double *out_x,
                       double *out_y)
{
    const json_t *value = json_object_get(set, lines[line].key);
    if (!json_is_integer(value)) {
        return false;
    }
    double span = lines[line].high - lines[line].low;
    double part = ((double)json_integer_value(value) - lines[line].low) / span;
    *out_y = frame->y + frame->height * (1 - (part < 0 ? 0 : part > 1 ? 1 : part));
    *out_x = across(frame, number_of(set, "taken_s"));
    return true;
}

static void join_points(const struct frame *frame, const json_t *trend, size_t line, size_t mode)
{
    double x, y, last_x = 0, last_y = 0;
    bool has_last = false;
    size_t index;
    json_t *set;
    json_array_foreach(trend, index, set)
    {
        if (mode_of(set) != mode || !find_point(frame, set, line, &x, &y)) {
            continue;
        }
        if (has_last) {
            draw_stretch(frame, last_x, last_y, x, y, 0.7);
        }
        last_x = x;
        last_y = y;
        has_last = true;
    }
}

/* Marks, and the figure beside each that has room; the last always has. */
static void draw_points(const struct frame *frame, const json_t *trend, size_t line)
{
    double x, y, free_from = -1, last_x = frame->x + frame->width;
    size_t index, last = 0;
    json_t *set;
    char figure[16];
    json_array_foreach(trend, index, set)
    {
        if (find_point(frame, set, line, &x, &y)) {
            last = index;
            last_x = x;
        }
    }
    json_array_foreach(trend, index, set)
    {
        if (!find_point(frame, set, line, &x, &y)) {
            continue;
        }
        draw_mark(frame->pen, x, y, mode_of(set));
        if (index != last && (x < free_from || x + 18 > last_x)) {
            continue;
        }
        snprintf(figure, sizeof figure, "%.0f", number_of(set, lines[line].key));
        double width =
            say_clear(frame, figure, index == last, x + 3.5, y < frame->y + 11 ? y + 0.5 : y - 10);
        free_from = x + width + 8;
    }
}

static void draw_line(const struct frame *frame, const json_t *trend, size_t line)
{
    for (size_t mode = 0; mode < PAGE_MODE_COUNT; mode++) {
        join_points(frame, trend, line, mode);
    }
    draw_points(frame, trend, line);
}

static void draw_spans(const struct frame *frame, const json_t *spans, bool hatched)
{
    cairo_t *cairo = frame->pen->cairo;
    size_t index;
    json_t *span;
    json_array_foreach(spans, index, span)
    {
        double from = across(frame, number_of(span, "from_s"));
        double to = across(frame, number_of(span, "to_s"));
        if (!frame->pen->draws || to <= from) {
            continue;
        }
        cairo_save(cairo);
        cairo_rectangle(cairo, from, frame->y, to - from, frame->height);
        if (hatched) {
            cairo_clip(cairo);
            for (double x = from - frame->height; x < to; x += 5) {
                draw_stretch(frame, x, frame->y + frame->height, x + frame->height, frame->y, 0.3);
            }
        } else {
            cairo_set_source_rgb(cairo, 0.86, 0.86, 0.86);
            cairo_fill(cairo);
        }
        cairo_restore(cairo);
    }
}

static void draw_doses(const struct frame *frame, const json_t *doses)
{
    size_t index;
    json_t *dose;
    json_array_foreach(doses, index, dose)
    {
        double at = number_of(dose, "at_s");
        if (at >= frame->from_s && at <= frame->to_s) {
            double x = across(frame, at);
            draw_stretch(frame, x, frame->y, x, frame->y + frame->height, 1.1);
        }
    }
}

/* A drug's name beside its line. */
struct tag {
    double x, begin, width; /* of the line, of the name */
    char name[64];
    int lane;
};

static int by_time_back(const void *left, const void *right)
{
    double a = ((const struct tag *)left)->x, b = ((const struct tag *)right)->x;
    return a < b ? 1 : a > b ? -1 : 0;
}

static const struct pen_type name_type = {.size = FIGURE, .bold = true};

static size_t make_tags(const struct frame *frame, const json_t *doses, struct tag *tags)
{
    size_t index, count = 0;
    json_t *dose;
    json_array_foreach(doses, index, dose)
    {
        if (count == TAGS_MAX) {
            break;
        }
        struct tag *tag = &tags[count++];
        snprintf(tag->name, sizeof tag->name, "%.60s", page_row_text(dose, "name"));
        tag->x = across(frame, number_of(dose, "at_s"));
        tag->width = pen_width(frame->pen, tag->name, name_type);
        bool fits = tag->x + 3 + tag->width <= frame->x + frame->width;
        tag->begin = fits ? tag->x + 3 : tag->x - 3 - tag->width;
    }
    qsort(tags, count, sizeof *tags, by_time_back);
    return count;
}

/* The later lies lower, so that a line led down from a higher lane crosses no name. Returns how
 * many lanes it takes. */
static int place_tags(struct tag *tags, size_t count)
{
    double begins[LANES_MAX];
    int used = 0;
    for (int lane = 0; lane < LANES_MAX; lane++) {
        begins[lane] = 1e9;
    }
    for (size_t i = 0; i < count; i++) {
        double end = tags[i].begin + tags[i].width + 4;
        int lane = 0;
        while (lane < LANES_MAX && begins[lane] < (end > tags[i].x + 4 ? end : tags[i].x + 4)) {
            lane++;
        }
        tags[i].lane = lane;
        if (lane < LANES_MAX) {
            begins[lane] = tags[i].begin < tags[i].x ? tags[i].begin : tags[i].x;
            used = lane >= used ? lane + 1 : used;
        }
    }
    return used;
}

static void draw_tags(const struct frame *frame, const struct tag *tags, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        if (tags[i].lane < LANES_MAX) {
            double y = frame->y - LANE_HEIGHT * (tags[i].lane + 1) - 1;
            pen_text(frame->pen, tags[i].name, name_type, tags[i].begin, y, 0);
            draw_stretch(frame, tags[i].x, y + 2, tags[i].x, frame->y, 1.1);
        }
    }
}

static void widen(double at, bool *has, double *from_s, double *to_s)
{
    *from_s = !*has || at < *from_s ? at : *from_s;
    *to_s = !*has || at > *to_s ? at : *to_s;
    *has = true;
}

/* From the first to the last of sets and drugs. */
static bool find_times(const struct page_sheet *sheet, double *out_from_s, double *out_to_s)
{
    const json_t *trend = json_object_get(sheet->root, "trend");
    size_t index, count = 0;
    json_t *set, *dose;
    bool has = false;
    json_array_foreach(trend, index, set)
    {
        bool valued = false;
        for (size_t line = 0; line < LINE_COUNT; line++) {
            valued = valued || json_is_integer(json_object_get(set, lines[line].key));
        }
        count += valued;
        if (valued) {
            widen(number_of(set, "taken_s"), &has, out_from_s, out_to_s);
        }
    }
    json_array_foreach(json_object_get(sheet->root, "doses"), index, dose)
    {
        widen(number_of(dose, "at_s"), &has, out_from_s, out_to_s);
    }
    if (count >= 2 && *out_to_s - *out_from_s < SPAN_MIN_S) {
        *out_from_s = *out_to_s - SPAN_MIN_S;
    }
    return count >= 2;
}

bool page_trend_has(const struct page_sheet *sheet)
{
    double from_s, to_s;
    return find_times(sheet, &from_s, &to_s);
}

/* UTC under the boxes, at round times, five or six of them. */
static void draw_times(const struct frame *frame)
{
    static const double steps_s[] = {300,   600,   900,   1800,  3600,  7200,
                                     10800, 21600, 43200, 86400, 172800};
    const size_t count = sizeof steps_s / sizeof steps_s[0];
    double step = steps_s[0];
    for (size_t i = 1; (frame->to_s - frame->from_s) / step > 7; i++) {
        step = i < count ? steps_s[i] : 2 * step; /* so far only with a wrong clock */
    }
    for (double at = ceil(frame->from_s / step) * step; at <= frame->to_s; at += step) {
        char text[16];
        double x = across(frame, at), bottom = frame->y + frame->height;
        int minute = (int)fmod(at / 60, 1440);
        snprintf(text, sizeof text, "%02d:%02dZ", minute / 60, minute % 60);
        double width = pen_width(frame->pen, text, (struct pen_type){.size = SMALL});
        if (x + width / 2 <= frame->x + frame->width) {
            draw_stretch(frame, x, bottom, x, bottom + 2, 0.6);
            say(frame, text, SMALL, false, x - width / 2, bottom + 1.5);
        }
    }
}

/* Words one after the other, on a further line where this one ends. */
static double draw_legend(const struct frame *frame, const struct page_sheet *sheet, double left,
                          double y)
{
    const char *texts[PAGE_MODE_COUNT + 1];
    double x = left, right = frame->x + frame->width;
    for (size_t mode = 1; mode < PAGE_MODE_COUNT; mode++) {
        texts[mode] = page_mode_word(sheet, mode);
    }
    texts[PAGE_MODE_COUNT] = page_word(sheet, "trend");
    texts[0] =
        json_array_size(json_object_get(sheet->root, "gaps")) > 0 ? page_word(sheet, "silent") : "";
    for (size_t i = 1; i <= PAGE_MODE_COUNT + 1; i++) {
        const char *text = texts[i % (PAGE_MODE_COUNT + 1)];
        bool mark = i < PAGE_MODE_COUNT;
        double width = pen_width(frame->pen, text, (struct pen_type){.size = SMALL});
        if (x + width + (mark ? 9 : 0) > right && x > left) {
            x = left;
            y += 9;
        }
        if (mark) {
            draw_mark(frame->pen, x + 3, y + 5, i);
            x += 9;
        }
        x += say(frame, text, SMALL, false, x, y) + 8;
    }
    return y + 10;
}

static void draw_box(const struct frame *frame, const struct page_sheet *sheet, size_t line)
{
    char bound[24];
    draw_spans(frame, json_object_get(sheet->root, "sessions"), false);
    draw_spans(frame, json_object_get(sheet->root, "gaps"), true);
    pen_box(frame->pen, frame->x, frame->y, frame->width, frame->height, 0.7);
    draw_doses(frame, json_object_get(sheet->root, "doses"));
    say(frame, page_word(sheet, lines[line].key), 8, true, frame->x - LEFT,
        frame->y + frame->height / 2 - 6);
    snprintf(bound, sizeof bound, "%.0f", lines[line].high);
    say(frame, bound, SMALL, false, frame->x - 14, frame->y - 2);
    snprintf(bound, sizeof bound, "%.0f", lines[line].low);
    say(frame, bound, SMALL, false, frame->x - 14, frame->y + frame->height - 8);
    draw_line(frame, json_object_get(sheet->root, "trend"), line);
}

double page_trend_draw(struct pen *pen, const struct page_sheet *sheet, double x, double y,
                       double width)
{
    const json_t *doses = json_object_get(sheet->root, "doses");
    double from_s = 0, to_s = 0;
    if (!find_times(sheet, &from_s, &to_s)) {
        return 0;
    }
    /* The last figure stands right of its mark. */
    double point_s = (to_s - from_s) / (width - LEFT - 8 - FIGURE_WIDTH);
    struct frame frame = {pen,
                          x + LEFT,
                          y,
                          width - LEFT,
                          BOX_HEIGHT,
                          from_s - 8 * point_s,
                          to_s + FIGURE_WIDTH * point_s};
    struct tag tags[TAGS_MAX];
    size_t count = make_tags(&frame, doses, tags);
    frame.y += place_tags(tags, count) * LANE_HEIGHT + 2;
    draw_tags(&frame, tags, count);
    for (size_t line = 0; line < LINE_COUNT; line++) {
        draw_box(&frame, sheet, line);
        frame.y += BOX_HEIGHT + BOX_SPACE;
    }
    frame.y -= BOX_HEIGHT + BOX_SPACE;
    draw_times(&frame);
    return draw_legend(&frame, sheet, x, frame.y + BOX_HEIGHT + 10) - y;
}
