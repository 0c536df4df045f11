#include "page/draw.h"

#include <string.h>

#include "page/code.h"
#include "page/pen.h"
#include "page/trend.h"

#define LABEL_WIDTH 66.0
#define CELL_SIDE   0.96 /* of a QR code: 0.34 mm, what a phone reads from a hand's breadth */
#define ROWS_MAX    2000
/* A row of fewer lines is not torn by the end of a page. */
#define ROW_WHOLE_LINES 8
/* The table of signs is read at a glance too. */
#define TABLE_SIZE_MIN 9.5

/* Large type first: what must be read at a glance (clinical reference 6.6: 12 to 14), and the rest.
 * One page if any of the first holds all, with the rest set close; below the smallest a second page
 * is better than a lens (ours; common practice, no source). */
static const struct style {
    double glance, rest;
    bool close; /* the rest in paragraphs, not a line each */
} styles[] = {{13, 11, false},   {13, 10, false}, {12.5, 9.5, false}, {13, 10, true},
              {12.5, 9.5, true}, {12, 9, true},   {12, 8.5, true},    {11.5, 8.5, true},
              {11.5, 8, true},   {11, 8, true},   {13, 10.5, false},  {12.5, 10, false},
              {12, 9.5, false},  {11.5, 9, false}};
#define STYLE_COUNT (sizeof styles / sizeof styles[0])

/* A row and the label it stands under. */
struct placed {
    const json_t *row;
    const char *section, *key;
    const json_t *head; /* the row with that label */
    bool done;
};

struct sheet_draw {
    struct pen *pen;
    const struct page_sheet *sheet;
    const struct page_codes *codes;
    struct style style;
    struct placed rows[ROWS_MAX];
    size_t count;
};

static const char *label_of(const json_t *row, char *buf, size_t cap)
{
    const char *letter = page_row_text(row, "letter"), *label = page_row_text(row, "label");
    snprintf(buf, cap, "%s%s%s", letter, letter[0] != '\0' && label[0] != '\0' ? "  " : "", label);
    return label[0] != '\0' ? buf : "";
}

static void add_bold(PangoAttrList *marks, size_t from, size_t to)
{
    PangoAttribute *bold = pango_attr_weight_new(PANGO_WEIGHT_BOLD);
    bold->start_index = (guint)from;
    bold->end_index = (guint)to;
    pango_attr_list_insert(marks, bold);
}

/* The loud words of a row are bold; `base`: where the row's text begins in the text shown, less
 * than nothing when its first bytes are left out. */
static void mark_loud(PangoAttrList *marks, const json_t *row, json_int_t base)
{
    const json_t *loud = json_object_get(row, "loud");
    for (size_t i = 0; i + 1 < json_array_size(loud); i += 2) {
        json_int_t from = base + json_integer_value(json_array_get(loud, i));
        json_int_t to = base + json_integer_value(json_array_get(loud, i + 1));
        if (to > 0) {
            add_bold(marks, from > 0 ? (size_t)from : 0, (size_t)to);
        }
    }
}

static PangoLayout *lay_row(struct pen *pen, const json_t *row, double size, bool bold,
                            double width)
{
    PangoAttrList *marks = pango_attr_list_new();
    const char *text = page_row_text(row, "text");
    size_t skipped = strspn(text, " ");
    text += skipped;
    mark_loud(marks, row, -(json_int_t)skipped);
    PangoLayout *layout =
        pen_layout(pen, text,
                   (struct pen_type){.size = size,
                                     .bold = bold,
                                     .struck = json_is_true(json_object_get(row, "struck")),
                                     .marks = marks},
                   width);
    pango_attr_list_unref(marks);
    return layout;
}

/* A label in its column, smaller where it is long in its language. */
static void put_label(struct pen *pen, const json_t *row, struct pen_type type, double x, double y,
                      double width)
{
    char label[96];
    if (label_of(row, label, sizeof label)[0] != '\0') {
        double wide = pen_width(pen, label, type), size = type.size;
        type.size = wide > width ? size * width / wide : size;
        pen_text(pen, label, type, x, y + (size - type.size), 0);
    }
}

/* `labelled`: the row whose label stands beside it. */
static void put_row(struct sheet_draw *d, const json_t *row, const json_t *labelled, double size)
{
    struct pen *pen = d->pen;
    PangoLayout *layout = lay_row(pen, row, size, false, PEN_INSIDE - LABEL_WIDTH);
    double height = pen_flow_height(layout, size), line = size * 1.2;
    pen_need(pen, height < ROW_WHOLE_LINES * line ? height : 2 * line);
    put_label(pen, labelled, (struct pen_type){.size = size - 1.5, .bold = true}, PEN_MARGIN,
              pen->y + 0.2, LABEL_WIDTH - 4);
    pen_flow(pen, layout, size, PEN_MARGIN + LABEL_WIDTH);
    g_object_unref(layout);
    pen->y += 1;
}

/* A row with its label white on black, for what is always in the same place. */
static void put_care_row(struct sheet_draw *d, const json_t *row, bool first)
{
    struct pen *pen = d->pen;
    PangoLayout *layout =
        lay_row(pen, row, d->style.glance, page_row_is(row, "section", "ALLERGIES"),
                PEN_INSIDE - LABEL_WIDTH - 8);
    double height = pen_flow_height(layout, d->style.glance) + 2;
    pen_need(pen, height);
    bool torn = height > pen_room(pen); /* longer than a page: without its black field */
    if (!torn) {
        pen_block(pen, PEN_MARGIN, pen->y, LABEL_WIDTH, height);
    }
    pen_rule(pen, PEN_MARGIN, pen->y, PEN_INSIDE, first ? 1.2 : 0.3);
    put_label(pen, row,
              (struct pen_type){.size = d->style.glance - 2.5, .bold = true, .white = !torn},
              PEN_MARGIN + 3, pen->y + 1, LABEL_WIDTH - 6);
    pen->y += torn ? 0 : 1;
    pen_flow(pen, layout, d->style.glance, PEN_MARGIN + LABEL_WIDTH + 6);
    g_object_unref(layout);
    pen->y += torn ? 2 : 1;
}

static void put_head(struct sheet_draw *d)
{
    struct pen *pen = d->pen;
    char check[40];
    double x = PEN_MARGIN + PEN_INSIDE - 76, y = pen->y;
    snprintf(check, sizeof check, "%ld  %s", d->sheet->number, d->sheet->check);
    pen_block(pen, x, y, 76, 25);
    pen_middle(pen, check, (struct pen_type){.size = 15, .bold = true, .white = true}, x, y + 2,
               76);
    for (size_t i = 0; i < d->count; i++) {
        struct placed *at = &d->rows[i];
        if (!at->done && strcmp(at->section, "HEAD") == 0) {
            pen->y += pen_text(pen, page_row_text(at->row, "text"),
                               (struct pen_type){.size = 9, .bold = pen->y == y}, PEN_MARGIN,
                               pen->y, PEN_INSIDE - 82);
            at->done = true;
        }
    }
    pen->y = pen->y > y + 27 ? pen->y : y + 27;
}

static void put_headline(struct sheet_draw *d)
{
    struct pen *pen = d->pen;
    for (size_t i = 0; i < d->count; i++) {
        struct placed *at = &d->rows[i];
        if (at->done || strcmp(at->section, "HEADLINE") != 0) {
            continue;
        }
        if (page_row_is(at->row, "style", "title")) {
            pen->y += pen_text(pen, page_row_text(at->row, "text"),
                               (struct pen_type){.size = d->style.glance + 6, .bold = true},
                               PEN_MARGIN, pen->y, PEN_INSIDE);
        } else {
            put_row(d, at->row, at->row,
                    strcmp(at->key, "L_GRID") == 0 ? d->style.rest : d->style.glance);
        }
        at->done = true;
    }
    pen->y += 2;
}

/* What is new since the sheet that this one supersedes. */
static void put_changes(struct sheet_draw *d)
{
    const json_t *since = json_object_get(d->sheet->root, "since");
    const json_t *changes = json_object_get(d->sheet->root, "changes");
    struct pen *pen = d->pen;
    struct pen_type type = {.size = d->style.glance - 1, .bold = true};
    char head[120];
    if (since == NULL) {
        return;
    }
    snprintf(head, sizeof head, "%.60s %ld %.8s", page_word(d->sheet, "since"),
             (long)json_integer_value(json_object_get(since, "sheet")),
             page_row_text(since, "check"));
    pen_rule(pen, PEN_MARGIN, pen->y, PEN_INSIDE, 2);
    pen->y += 2;
    pen->y += pen_text(pen, head, type, PEN_MARGIN, pen->y, PEN_INSIDE);
    type.bold = false;
    for (size_t i = 0; i < json_array_size(changes); i++) {
        const json_t *change = json_array_get(changes, i);
        bool gone = json_is_true(json_object_get(change, "gone"));
        GString *text = g_string_new(gone ? page_word(d->sheet, "gone") : "");
        g_string_append_printf(text, "%s%s%s%s", gone ? " " : "", page_row_text(change, "label"),
                               page_row_text(change, "label")[0] != '\0' ? "  " : "",
                               page_row_text(change, "text"));
        PangoLayout *layout = pen_layout(pen, text->str, type, PEN_INSIDE - 12);
        pen_text(pen, "\u25b6", (struct pen_type){.size = 7}, PEN_MARGIN, pen->y + 1.5, 0);
        pen_flow(pen, layout, type.size, PEN_MARGIN + 12);
        g_object_unref(layout);
        g_string_free(text, TRUE);
    }
    pen->y += 2;
}

/* Always in this order, whatever else there is; what was corrected stands with the rest: what
 * handovers leave out or say twice (clinical reference 4.1, JAV20). */
static void put_care(struct sheet_draw *d)
{
    static const struct {
        const char *section, *key;
    } care[] = {{"ALLERGIES", ""},        {"MEDICINES", ""},         {"SIGNS", "L_AIRWAY"},
                {"TREATMENT", "L_GIVEN"}, {"TREATMENT", "L_OXYGEN"}, {"TREATMENT", "L_CHAMBER"},
                {"UNKNOWNS", ""},         {"COMPLETENESS", ""}};
    bool first = true;
    for (size_t c = 0; c < sizeof care / sizeof care[0]; c++) {
        for (size_t i = 0; i < d->count; i++) {
            struct placed *at = &d->rows[i];
            bool struck = json_is_true(json_object_get(at->row, "struck"));
            if (!at->done && !struck && strcmp(at->section, care[c].section) == 0 &&
                (care[c].key[0] == '\0' || strcmp(at->key, care[c].key) == 0)) {
                put_care_row(d, at->row, first);
                at->done = true;
                first = false;
            }
        }
    }
    pen_rule(d->pen, PEN_MARGIN, d->pen->y, PEN_INSIDE, 1.2);
    d->pen->y += 3;
}

/* Time, age, mode, SpO2, pulse, resp, BP, temp, level, GCS, ataxia, LLS: shares of the width. */
static const double shares[] = {14, 8, 10, 6, 6, 6, 9, 9, 8, 8, 6, 6};
#define SHARE_COUNT (sizeof shares / sizeof shares[0])

static void put_table_row(struct sheet_draw *d, const json_t *row, bool head)
{
    struct pen *pen = d->pen;
    const json_t *cells = json_object_get(row, "cells");
    double x = PEN_MARGIN, tallest = 0, sum = 0;
    double size = d->style.rest < TABLE_SIZE_MIN ? TABLE_SIZE_MIN : d->style.rest;
    size_t index;
    json_t *cell;
    for (size_t i = 0; i < SHARE_COUNT; i++) {
        sum += shares[i];
    }
    pen_need(pen, size * (head ? 6 : 1.5));
    json_array_foreach(cells, index, cell)
    {
        double width = PEN_INSIDE * (index < SHARE_COUNT ? shares[index] : 6) / sum;
        const char *text = json_string_value(cell);
        double height =
            pen_text(pen, text != NULL ? text : "", (struct pen_type){.size = size, .bold = head},
                     x, pen->y, width - 2);
        tallest = height > tallest ? height : tallest;
        x += width;
    }
    pen->y += tallest;
    if (head) {
        pen_rule(pen, PEN_MARGIN, pen->y, PEN_INSIDE, 0.3);
    }
}

/* All codes side by side; false: they are too many for `width`. */
static bool measure_codes(const struct page_codes *codes, double width, double *out_width)
{
    double sum = 0;
    for (size_t i = 0; i < codes->count; i++) {
        sum += page_code_cells(codes->codes[i]) * CELL_SIDE + 3;
    }
    *out_width = sum;
    return sum <= width;
}

/* From x to the right and, where there is no more room, below. */
static int put_codes(struct sheet_draw *d, double x)
{
    struct pen *pen = d->pen;
    const struct page_codes *codes = d->codes;
    double left = x, tallest = 0;
    int result = 0;
    pen_need(pen, page_code_cells(codes->codes[0]) * CELL_SIDE + 10);
    pen_text(pen, page_word(d->sheet, "phone"), (struct pen_type){.size = 7}, x + 3, pen->y,
             PEN_MARGIN + PEN_INSIDE - x);
    pen->y += 7;
    for (size_t i = 0; i < codes->count && result == 0; i++) {
        double side = page_code_cells(codes->codes[i]) * CELL_SIDE;
        if (x + side > PEN_MARGIN + PEN_INSIDE + 2) {
            pen->y += tallest;
            tallest = 0;
            x = left;
            pen_need(pen, side);
        }
        if (pen->draws) {
            result = page_code_draw(pen->cairo, codes->codes[i], x, pen->y, CELL_SIDE);
        }
        x += side + 3;
        tallest = side > tallest ? side : tallest;
    }
    pen->y += tallest;
    return result;
}

/* The trend, with the codes beside it when they leave it half of the page or more. */
static int put_pictures(struct sheet_draw *d)
{
    struct pen *pen = d->pen, measure = *pen;
    double codes_width, width = PEN_INSIDE;
    bool has_trend = page_trend_has(d->sheet);
    bool beside = has_trend && measure_codes(d->codes, PEN_INSIDE / 2, &codes_width);
    double codes_height = page_code_cells(d->codes->codes[0]) * CELL_SIDE + 10;
    width -= beside ? codes_width + 4 : 0;
    measure.draws = false;
    double height = page_trend_draw(&measure, d->sheet, PEN_MARGIN, 0, width) + 4;
    height = beside && codes_height > height ? codes_height : height;
    pen_need(pen, height);
    double top = pen->y;
    page_trend_draw(pen, d->sheet, PEN_MARGIN, top + 2, width);
    pen->y = beside ? top : has_trend ? top + height : top;
    int result = put_codes(d, beside ? PEN_MARGIN + width + 4 : PEN_MARGIN);
    pen->y = beside ? top + height : pen->y;
    return result;
}

static void put_signs(struct sheet_draw *d)
{
    bool head = true;
    for (size_t i = 0; i < d->count; i++) {
        struct placed *at = &d->rows[i];
        bool table = page_row_is(at->row, "style", "table");
        if (!at->done && (table || strcmp(at->key, "L_SIGNS") == 0)) {
            if (table) {
                put_table_row(d, at->row, head);
                head = false;
            } else {
                put_row(d, at->row, at->row, d->style.rest);
            }
            at->done = true;
        }
    }
}

/* Which sections share a paragraph when the rest is set close. */
static int paragraph_of(const char *section)
{
    static const struct {
        const char *section;
        int paragraph;
    } shared[] = {{"TIME", 1},        {"COMPLAINT", 2}, {"INVESTIGATIONS", 3},
                  {"SIGNS", 3},       {"TREATMENT", 4}, {"MEDICINES", 5},
                  {"BACKGROUND", 5},  {"OTHER", 5},     {"EVACUATION", 6},
                  {"CORRECTIONS", 7}, {"FOOT", 7}};
    for (size_t i = 0; i < sizeof shared / sizeof shared[0]; i++) {
        if (strcmp(section, shared[i].section) == 0) {
            return shared[i].paragraph;
        }
    }
    return 0;
}

/* A row at the end of a paragraph: its label and its loud words bold. */
static void add_to_paragraph(GString *text, PangoAttrList *marks, const json_t *row,
                             const json_t *labelled)
{
    char label[96];
    g_string_append(text, text->len > 0 ? "   " : "");
    size_t from = text->len;
    g_string_append(text, label_of(labelled, label, sizeof label));
    add_bold(marks, from, text->len);
    g_string_append(text, text->len > from ? "  " : "");
    size_t base = text->len;
    g_string_append(text, page_row_text(row, "text"));
    mark_loud(marks, row, (json_int_t)base);
    if (json_is_true(json_object_get(row, "struck"))) {
        PangoAttribute *line = pango_attr_strikethrough_new(TRUE);
        line->start_index = (guint)base;
        line->end_index = (guint)text->len;
        pango_attr_list_insert(marks, line);
    }
}

/* A row without a label of its own has that of its group, unless the row before it in the rest is
 * of the same: what was corrected has left its place. */
static const json_t *labelled_by(const struct placed *at, const char **last_key)
{
    bool goes_on = strcmp(at->key, *last_key) == 0;
    *last_key = at->key;
    return page_row_text(at->row, "label")[0] != '\0' || goes_on ? at->row : at->head;
}

static void put_paragraph(struct sheet_draw *d, size_t first)
{
    const char *key = "";
    GString *text = g_string_new(NULL);
    PangoAttrList *marks = pango_attr_list_new();
    int paragraph = paragraph_of(d->rows[first].section);
    for (size_t i = first; i < d->count; i++) {
        struct placed *at = &d->rows[i];
        if (!at->done && paragraph_of(at->section) == paragraph) {
            add_to_paragraph(text, marks, at->row, labelled_by(at, &key));
            at->done = true;
        }
    }
    PangoLayout *layout = pen_layout(
        d->pen, text->str, (struct pen_type){.size = d->style.rest, .marks = marks}, PEN_INSIDE);
    pen_flow(d->pen, layout, d->style.rest, PEN_MARGIN);
    g_object_unref(layout);
    pango_attr_list_unref(marks);
    g_string_free(text, TRUE);
}

static void put_rest(struct sheet_draw *d)
{
    const char *key = "";
    int paragraph = -1;
    for (size_t i = 0; i < d->count; i++) {
        struct placed *at = &d->rows[i];
        if (at->done) {
            continue;
        }
        if (paragraph_of(at->section) != paragraph) {
            paragraph = paragraph_of(at->section);
            pen_rule(d->pen, PEN_MARGIN, d->pen->y + 0.5, PEN_INSIDE, 0.3);
            d->pen->y += 1.5;
        }
        if (d->style.close) {
            put_paragraph(d, i);
        } else {
            put_row(d, at->row, labelled_by(at, &key), d->style.rest);
            at->done = true;
        }
    }
}

/* Rows that the page shows by other means, or that the title says in the same words. */
static bool is_shown_elsewhere(const struct placed *at, const char *title)
{
    return page_row_is(at->row, "style", "banner") || strcmp(at->section, "CAUTIONS") == 0 ||
           (strcmp(at->section, "PATIENT") == 0 &&
            strstr(title, page_row_text(at->row, "text")) != NULL);
}

static void place_rows(struct sheet_draw *d)
{
    size_t index;
    json_t *row;
    const json_t *head = NULL;
    const char *key = "", *section = "", *title = "";
    d->count = 0;
    json_array_foreach(d->sheet->rows, index, row)
    {
        if (d->count == ROWS_MAX) {
            break;
        }
        bool goes_on = page_row_is(row, "key", "NONE") && page_row_is(row, "section", section);
        section = page_row_text(row, "section");
        key = goes_on ? key : page_row_text(row, "key");
        head = goes_on ? head : row;
        title = page_row_is(row, "style", "title") ? page_row_text(row, "text") : title;
        d->rows[d->count] = (struct placed){row, section, key, head, false};
        d->rows[d->count].done = is_shown_elsewhere(&d->rows[d->count], title);
        d->count++;
    }
}

/* Whether trend and codes still have room on this page. */
static bool pictures_fit(struct sheet_draw *d)
{
    struct pen *pen = d->pen, probe = *pen;
    probe.draws = false;
    d->pen = &probe;
    put_pictures(d);
    d->pen = pen;
    return probe.page == pen->page;
}

static int run(struct sheet_draw *d, bool draws, const struct style *style)
{
    d->style = *style;
    place_rows(d);
    pen_start(d->pen, draws);
    put_head(d);
    put_headline(d);
    put_changes(d);
    put_care(d);
    put_signs(d);
    bool first = pictures_fit(d); /* else words fill this page */
    int result = first ? put_pictures(d) : 0;
    put_rest(d);
    result = first ? result : put_pictures(d);
    pen_end_page(d->pen);
    return result;
}

/* The first style of one page, else the first of those that take the fewest. */
static int draw_pages(struct pen *pen, void *arg)
{
    struct sheet_draw *d = arg;
    size_t best = STYLE_COUNT;
    d->pen = pen;
    for (size_t i = 0; i < STYLE_COUNT; i++) {
        run(d, false, &styles[i]);
        bool counts = pen->page == 1 || !styles[i].close;
        if (counts && (best == STYLE_COUNT || pen->page < pen->pages)) {
            best = i;
            pen->pages = pen->page;
        }
        if (pen->page == 1) {
            break;
        }
    }
    return run(d, true, &styles[best]);
}

/* What a page that lost the other still tells. */
static void make_name(const struct page_sheet *sheet, char *buf, size_t cap)
{
    snprintf(buf, cap, "%.60s %ld %.8s - %.60s%s%.60s", page_word(sheet, "code_head"),
             sheet->number, sheet->check, sheet->patient, sheet->patient[0] != '\0' ? " - " : "",
             sheet->station);
}

int page_draw_pdf(const struct page_sheet *sheet, FILE *out)
{
    static struct sheet_draw draw; /* large */
    struct page_codes codes;
    char name[300], foot[900];
    make_name(sheet, name, sizeof name);
    snprintf(foot, sizeof foot, "%s%s%s", page_word(sheet, "caution"),
             page_word(sheet, "translation")[0] != '\0' ? " " : "",
             page_word(sheet, "translation"));
    if (json_array_size(sheet->rows) > ROWS_MAX ||
        page_codes_make(sheet, &page_code_paper, &codes) < 0) {
        return -1;
    }
    struct pen pen = {
        .banner = sheet->exercise ? page_word(sheet, "exercise") : NULL,
        .name = name,
        .foot = foot,
        .page_of = page_word(sheet, "page"),
    };
    draw = (struct sheet_draw){.sheet = sheet, .codes = &codes};
    int result = pen_pdf(out, &pen, draw_pages, &draw);
    page_codes_free(&codes);
    return result;
}
