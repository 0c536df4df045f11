#include "page/paper.h"

#include <string.h>

#include "page/pen.h"

#define TWELFTH      (PEN_INSIDE / 12)
#define FIELD_HEIGHT 29.0
#define ROW_HEIGHT   17.0
#define LABEL_SIZE   8.0
#define WORD_SIZE    6.5
#define TICK_SIDE    8.0

const struct paper_form *paper_find(const char *name)
{
    for (size_t i = 0; i < paper_form_count; i++) {
        if (strcmp(paper_forms[i].name, name) == 0) {
            return &paper_forms[i];
        }
    }
    return NULL;
}

/* The text with each hole filled by the next of the words. */
static const char *fill(char *buf, size_t size, const char *text, const char *first,
                        const char *second)
{
    const char *words[] = {first, second};
    size_t used = 0, len = 0;
    buf[0] = '\0';
    while (*text != '\0' && len + 1 < size) {
        if (strncmp(text, RP_TEXT_HOLE, strlen(RP_TEXT_HOLE)) == 0 && used < 2) {
            int more = snprintf(buf + len, size - len, "%s", words[used++]);
            len += more > 0 ? (size_t)more : 0;
            text += strlen(RP_TEXT_HOLE);
        } else {
            buf[len++] = *text++;
        }
    }
    buf[len < size ? len : size - 1] = '\0';
    return buf;
}

void paper_list(const struct rp_texts *texts, FILE *out)
{
    for (size_t i = 0; i < paper_form_count; i++) {
        char text[200], number[24];
        snprintf(number, sizeof number, "%zu", i + 1);
        fprintf(out, "%-14s %s\n", paper_forms[i].name,
                fill(text, sizeof text, texts->words[RP_TX_PAPER_LISTED], number,
                     texts->words[paper_forms[i].title]));
    }
}

struct paper_draw {
    const struct paper_form *form;
    const struct rp_texts *texts;
    struct pen *pen;
    double stretch; /* of all heights: gloves write large */
    int number;     /* of the last field */
    double x;       /* where the next field of the line goes */
    double line;    /* height of that line */
};

static const char *words_of(const struct paper_draw *d, enum rp_text_id id)
{
    return d->texts->words[id];
}

/* Number, label and the word to type, in one line above the room to write. */
static void put_label(struct paper_draw *d, const struct paper_item *item, double width)
{
    char text[160];
    snprintf(text, sizeof text, "%d", d->number);
    struct pen_type bold = {.size = LABEL_SIZE, .bold = true}, plain = {.size = LABEL_SIZE};
    struct pen_type small = {.size = WORD_SIZE};
    double x = d->x + 2;
    pen_text(d->pen, text, bold, x, d->pen->y, 0);
    x += pen_width(d->pen, text, bold) + 3;
    double label = pen_width(d->pen, words_of(d, item->text), plain), room = d->x + width - x;
    plain.size = label > room ? LABEL_SIZE * room / label : LABEL_SIZE;
    pen_text(d->pen, words_of(d, item->text), plain, x, d->pen->y, 0);
    if (item->word != NULL) {
        double word = pen_width(d->pen, item->word, small);
        if (label + word + 4 < room) {
            pen_text(d->pen, item->word, small, d->x + width - word - 3, d->pen->y + 1, 0);
        }
    }
}

/* Boxes to tick, on as many lines as they need; returns how many. */
static int put_choices(struct paper_draw *d, const char *choices, double width, bool draws)
{
    char buf[600], *rest = NULL;
    struct pen_type type = {.size = 8.8};
    double left = d->x + 4, x = left, y = d->pen->y + 13;
    int lines = 1;
    snprintf(buf, sizeof buf, "%s", choices);
    for (char *word = strtok_r(buf, "|", &rest); word != NULL; word = strtok_r(NULL, "|", &rest)) {
        double wide = TICK_SIDE + 3 + pen_width(d->pen, word, type);
        if (x + wide > d->x + width && x > left) {
            x = left;
            y += 13;
            lines++;
        }
        if (draws) {
            pen_box(d->pen, x, y + 2.5, TICK_SIDE, TICK_SIDE, 0.8);
            pen_text(d->pen, word, type, x + TICK_SIDE + 3, y, 0);
        }
        x += wide + 6;
    }
    return lines;
}

static double field_height(struct paper_draw *d, const struct paper_item *item, double width)
{
    int lines =
        item->choices != RP_TX_NONE ? put_choices(d, words_of(d, item->choices), width, false) : 1;
    return FIELD_HEIGHT * d->stretch + 13.0 * (lines - 1);
}

/* The tallest field of the line that begins with `item`; `left` items are left. */
static double line_height(struct paper_draw *d, const struct paper_item *item, size_t left)
{
    double tallest = 0;
    int share = 0;
    for (size_t i = 0; i < left && item[i].kind == PAPER_FIELD && share < 12; i++) {
        double height = field_height(d, &item[i], TWELFTH * item[i].share);
        tallest = height > tallest ? height : tallest;
        share += item[i].share;
    }
    return tallest;
}

static void put_field(struct paper_draw *d, const struct paper_item *item, size_t left)
{
    double width = TWELFTH * item->share;
    if (d->x < PEN_MARGIN + 1) {
        d->line = line_height(d, item, left);
        pen_need(d->pen, d->line);
    }
    d->number++;
    pen_box(d->pen, d->x, d->pen->y, width, d->line, 0.5);
    put_label(d, item, width);
    if (item->choices != RP_TX_NONE) {
        put_choices(d, words_of(d, item->choices), width, true);
    }
    d->x += width;
    if (d->x > PEN_MARGIN + PEN_INSIDE - 1) {
        d->x = PEN_MARGIN;
        d->pen->y += d->line;
    }
}

static void put_title(struct paper_draw *d, enum rp_text_id title)
{
    struct pen_type type = {.size = 10, .bold = true};
    d->pen->y += 4;
    pen_need(d->pen, 60);
    d->pen->y += pen_text(d->pen, words_of(d, title), type, PEN_MARGIN, d->pen->y, PEN_INSIDE);
}

/* The heads of a table's columns; the words to type below them. */
static double put_heads(struct paper_draw *d, const struct paper_item *columns, size_t count)
{
    double x = PEN_MARGIN, tallest = 0;
    for (size_t i = 0; i < count; i++) {
        char text[200];
        double width = PEN_INSIDE * columns[i].share / 100;
        snprintf(text, sizeof text, "%d %s", d->number + (int)i + 1, words_of(d, columns[i].text));
        double height =
            pen_text(d->pen, text, (struct pen_type){.size = 7}, x + 2, d->pen->y, width - 3);
        if (columns[i].word != NULL) {
            height += pen_text(d->pen, columns[i].word, (struct pen_type){.size = WORD_SIZE - 0.5},
                               x + 2, d->pen->y + height - 1, width - 3);
        }
        tallest = height > tallest ? height : tallest;
        x += width;
    }
    return tallest + 1;
}

static void put_grid(struct paper_draw *d, const struct paper_item *columns, size_t count,
                     double head, int rows)
{
    double x = PEN_MARGIN, row = ROW_HEIGHT * d->stretch, height = head + row * rows;
    pen_box(d->pen, PEN_MARGIN, d->pen->y, PEN_INSIDE, height, 0.7);
    for (int i = 0; i < rows; i++) {
        pen_rule(d->pen, PEN_MARGIN, d->pen->y + head + row * i, PEN_INSIDE, i == 0 ? 0.7 : 0.3);
    }
    for (size_t i = 0; i < count; i++) {
        double width = PEN_INSIDE * columns[i].share / 100;
        pen_box(d->pen, x, d->pen->y, width, height, 0.3);
        x += width;
    }
}

static size_t put_table(struct paper_draw *d, const struct paper_item *table, size_t left)
{
    const struct paper_item *columns = table + 1;
    size_t count = 0;
    while (count < left && columns[count].kind == PAPER_COLUMN) {
        count++;
    }
    double rows = ROW_HEIGHT * d->stretch * table->count;
    put_title(d, table->text);
    pen_need(d->pen, 26 + rows);
    double head = put_heads(d, columns, count);
    put_grid(d, columns, count, head, table->count);
    d->pen->y += head + rows + 3;
    d->number += (int)count;
    return count;
}

/* What it is, whether it is real, and how it is entered late. */
static void put_head(struct paper_draw *d, size_t index)
{
    char title[400];
    struct pen *pen = d->pen;
    double x = PEN_MARGIN + PEN_INSIDE - 150;
    snprintf(title, sizeof title, "%zu  %s", index + 1, words_of(d, d->form->title));
    pen_text(pen, title, (struct pen_type){.size = 18, .bold = true}, PEN_MARGIN, pen->y, 0);
    if (pen->banner == NULL) {
        pen_box(pen, x, pen->y + 8, 10, 10, 1.2);
        pen_text(pen, words_of(d, RP_TX_EXERCISE_SHORT),
                 (struct pen_type){.size = 11, .bold = true}, x + 15, pen->y + 5, 0);
    }
    pen->y += 26;
    fill(title, sizeof title, words_of(d, RP_TX_PAPER_ENTRY), d->form->entry, "");
    pen->y +=
        pen_text(pen, title, (struct pen_type){.size = 8}, PEN_MARGIN, pen->y, PEN_INSIDE) + 2;
}

static void run(struct paper_draw *d, bool draws)
{
    d->number = 0;
    d->x = PEN_MARGIN;
    pen_start(d->pen, draws);
    put_head(d, (size_t)(d->form - paper_forms));
    for (size_t i = 0; i < d->form->item_count; i++) {
        const struct paper_item *item = &d->form->items[i];
        switch (item->kind) {
        case PAPER_FIELD:
            put_field(d, item, d->form->item_count - i);
            break;
        case PAPER_TABLE:
            i += put_table(d, item, d->form->item_count - i - 1);
            break;
        default:
            put_title(d, item->text);
            break;
        }
    }
    pen_end_page(d->pen);
}

static int draw_pages(struct pen *pen, void *arg)
{
    struct paper_draw *d = arg;
    d->pen = pen;
    /* As large as one page allows. */
    d->stretch = 1.4;
    do {
        d->stretch -= 0.05;
        run(d, false);
        pen->pages = pen->page;
    } while (pen->pages > 1 && d->stretch > 0.95);
    run(d, true);
    return 0;
}

int paper_draw(const struct paper_form *form, const struct rp_texts *texts, bool exercise,
               FILE *out)
{
    char name[80], foot[600];
    struct paper_draw draw = {.form = form, .texts = texts};
    snprintf(name, sizeof name, "%s", texts->words[form->title]);
    snprintf(foot, sizeof foot, "%s %s", texts->words[RP_TX_PAGE_CAUTION],
             texts->words[RP_TX_TRANSLATION_NOTE]);
    struct pen pen = {.banner = exercise ? texts->words[RP_TX_PAGE_BANNER] : NULL,
                      .name = name,
                      .foot = foot,
                      .page_of = texts->words[RP_TX_PAGE_OF]};
    return pen_pdf(out, &pen, draw_pages, &draw);
}
