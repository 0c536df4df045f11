#include "handover/text/columns.h"

#include <string.h>

#include "handover/text/say.h"
#include "handover/utf8.h"
#include "ridgepost/error.h"

/* Width of the margin letter, and of the columns of signs; a cell wider than its column pushes the
 * others. */
#define LABEL_COLUMN 2
static const uint8_t table_widths[] = {13, 7, 7, 4, 3, 3, 7, 7, 5, 5, 3, 3};

const struct rp_columns_layout rp_columns_80 = {.columns = 80, .text_column = 10};
const struct rp_columns_layout rp_columns_42 = {.columns = 42, .text_column = 4, .narrow = true};
const struct rp_columns_layout rp_columns_32 = {.columns = 32, .text_column = 2, .narrow = true};

struct render {
    const struct rp_columns_layout *layout;
    struct rp_say say;
    struct rp_textbuf out;
    enum rp_sheet_section section; /* of the row before */
    bool begun;
    enum rp_text_id heads[RP_ROW_ITEMS_MAX]; /* of the table's columns, when narrow */
    size_t head_count;                       /* 0: the next row of a table is its head */
    char paragraph[RP_SAY_ROW_MAX];
};

static void put_repeated(struct rp_textbuf *out, char c, unsigned count)
{
    for (unsigned i = 0; i < count; i++) {
        rp_textbuf_put(out, &c, 1);
    }
}

struct line {
    unsigned column; /* where the next character goes */
    unsigned indent; /* of further lines */
    unsigned columns;
    bool empty; /* nothing but the indent yet */
};

static void break_line(struct rp_textbuf *out, struct line *line)
{
    rp_textbuf_str(out, "\n");
    put_repeated(out, ' ', line->indent);
    line->column = line->indent;
    line->empty = true;
}

static void put_wrapped_word(struct rp_textbuf *out, struct line *line, const char *word,
                             size_t len)
{
    unsigned columns = rp_utf8_columns(word, len);
    unsigned gap = line->empty ? 0 : 1;
    if (!line->empty && line->column + gap + columns > line->columns) {
        break_line(out, line);
        gap = 0;
    }
    put_repeated(out, ' ', gap);
    line->column += gap;
    while (line->column + columns > line->columns) {
        size_t part = rp_utf8_fit(word, len, line->columns - line->column);
        rp_textbuf_plain(out, word, part);
        word += part;
        len -= part;
        columns = rp_utf8_columns(word, len);
        break_line(out, line);
    }
    rp_textbuf_plain(out, word, len);
    line->column += columns;
    line->empty = false;
}

static void put_wrapped(struct rp_textbuf *out, const struct rp_textbuf *paragraph,
                        struct line line)
{
    size_t at = 0;
    while (at < paragraph->len) {
        size_t end = at;
        while (end < paragraph->len && paragraph->at[end] != ' ') {
            end++;
        }
        if (end > at) {
            put_wrapped_word(out, &line, paragraph->at + at, end - at);
        }
        at = end + 1;
    }
    rp_textbuf_str(out, "\n");
}

static struct line line_at(const struct render *r, unsigned column, unsigned indent)
{
    return (struct line){column, indent, r->layout->columns, true};
}

/* Cells in columns; a cell too wide for its column pushes the others, and a line that would then
 * be too long is wrapped like text. */
static void put_wide_table_row(struct render *r, const struct rp_sheet_row *row)
{
    struct rp_textbuf p = rp_textbuf_on(r->paragraph, sizeof r->paragraph);
    for (size_t i = 0; i < row->item_count; i++) {
        size_t start = p.len;
        rp_say_item(&p, &r->say, &row->items[i], true);
        unsigned width = rp_utf8_columns(p.at + start, p.len - start);
        if (i + 1 < row->item_count) {
            unsigned cell = i < sizeof table_widths ? table_widths[i] : 0;
            unsigned pad = cell > width ? cell - width : 0;
            for (unsigned k = 0; k < pad; k++) {
                rp_textbuf_str(&p, RP_NO_BREAK);
            }
            rp_textbuf_str(&p, " ");
        }
    }
    r->out.full = r->out.full || p.full;
    put_repeated(&r->out, ' ', LABEL_COLUMN);
    put_wrapped(&r->out, &p, line_at(r, LABEL_COLUMN, r->layout->text_column));
}

/* A narrow roll has no room for columns: each set is a paragraph, its values under their heads. */
static void put_stacked_table_row(struct render *r, const struct rp_sheet_row *row)
{
    struct rp_textbuf p = rp_textbuf_on(r->paragraph, sizeof r->paragraph);
    if (r->head_count == 0) {
        for (size_t i = 0; i < row->item_count; i++) {
            r->heads[i] = row->items[i].word;
        }
        r->head_count = row->item_count;
        return;
    }
    for (size_t i = 0; i < row->item_count; i++) {
        rp_textbuf_str(&p, i == 0 ? "" : i < 3 ? " " : ", ");
        if (i >= 3 && i < r->head_count) {
            rp_say_word(&p, &r->say, r->heads[i], false);
            rp_textbuf_str(&p, RP_NO_BREAK);
        }
        rp_say_item(&p, &r->say, &row->items[i], true);
    }
    r->out.full = r->out.full || p.full;
    put_repeated(&r->out, ' ', r->layout->text_column);
    put_wrapped(&r->out, &p, line_at(r, r->layout->text_column, r->layout->text_column + 2));
}

static void put_table_row(struct render *r, const struct rp_sheet_row *row)
{
    if (r->layout->narrow) {
        put_stacked_table_row(r, row);
    } else {
        put_wide_table_row(r, row);
    }
}

static void put_banner(struct render *r, const struct rp_sheet_row *row)
{
    bool narrow = r->layout->narrow && row->items[0].word == RP_TX_EXERCISE;
    const char *word = r->say.texts->words[narrow ? RP_TX_EXERCISE_SHORT : row->items[0].word];
    unsigned columns = rp_utf8_columns(word, strlen(word)) + 2;
    unsigned stars = columns < r->layout->columns ? r->layout->columns - columns : 0;
    put_repeated(&r->out, '*', stars / 2);
    rp_textbuf_str(&r->out, " ");
    rp_textbuf_str(&r->out, word);
    rp_textbuf_str(&r->out, " ");
    put_repeated(&r->out, '*', stars - stars / 2);
    rp_textbuf_str(&r->out, "\n");
}

/* A line across the sheet before the sections where the eye must find its way. */
static void put_rule(struct render *r, enum rp_sheet_section section)
{
    static const char rules[RP_SECTION_COUNT] = {
        [RP_SECTION_HEADLINE] = '=',
        [RP_SECTION_PATIENT] = '-',
        [RP_SECTION_EVACUATION] = '-',
        [RP_SECTION_COMPLETENESS] = '-',
    };
    if (rules[section] != '\0' && !r->layout->bare) {
        put_repeated(&r->out, rules[section], r->layout->columns);
        rp_textbuf_str(&r->out, "\n");
    }
}

static void put_margin(struct render *r, const struct rp_sheet_row *row, bool new_section)
{
    static const char letters[RP_SECTION_COUNT] = {
#define X(name, letter) letter,
        RP_SHEET_SECTIONS(X)
#undef X
    };
    const char *label = r->say.texts->words[row->label];
    unsigned column = 0;
    if (letters[row->section] != ' ' && !r->layout->bare) {
        char margin[LABEL_COLUMN] = {new_section ? letters[row->section] : ' ', ' '};
        rp_textbuf_put(&r->out, margin, sizeof margin);
        column = LABEL_COLUMN;
    }
    rp_textbuf_plain(&r->out, label, strlen(label));
    column += rp_utf8_columns(label, strlen(label));
    unsigned text_column = r->layout->text_column;
    put_repeated(&r->out, ' ', column < text_column ? text_column - column : 1);
}

/* On a narrow roll the label has a line of its own, so that the text has the whole width. */
static void put_label_line(struct render *r, const struct rp_sheet_row *row, bool new_section)
{
    if (row->label != RP_TX_NONE) {
        put_margin(r, row, new_section);
        while (r->out.len > 0 && r->out.at[r->out.len - 1] == ' ') {
            r->out.len--;
        }
        rp_textbuf_str(&r->out, "\n");
    }
    put_repeated(&r->out, ' ', r->layout->text_column);
}

static bool is_full_width(const struct rp_sheet_row *row)
{
    return row->style == RP_ROW_TITLE || row->section == RP_SECTION_HEAD ||
           row->section == RP_SECTION_CAUTIONS || row->section == RP_SECTION_FOOT;
}

static void put_row(void *arg, const struct rp_sheet_row *row)
{
    struct render *r = arg;
    bool new_section = !r->begun || r->section != row->section;
    r->begun = true;
    r->section = row->section;
    if (row->style == RP_ROW_BANNER) {
        put_banner(r, row);
        return;
    }
    if (new_section) {
        put_rule(r, row->section);
    }
    if (row->style == RP_ROW_TABLE) {
        put_table_row(r, row);
        return;
    }
    r->head_count = 0;
    struct rp_textbuf p = rp_textbuf_on(r->paragraph, sizeof r->paragraph);
    rp_say_row(&p, &r->say, row);
    r->out.full = r->out.full || p.full;
    if (p.len == 0) {
        return;
    }
    if (is_full_width(row)) {
        put_wrapped(&r->out, &p, line_at(r, 0, 0));
        return;
    }
    if (r->layout->narrow) {
        put_label_line(r, row, new_section);
    } else {
        put_margin(r, row, new_section);
    }
    put_wrapped(&r->out, &p, line_at(r, r->layout->text_column, r->layout->text_column));
}

int rp_columns_render_rows(const struct rp_sheet_facts *facts, const struct rp_texts *texts,
                           const struct rp_columns_layout *layout, rp_columns_rows *rows, char *buf,
                           size_t cap)
{
    if (cap == 0) {
        return RP_E_TOO_LONG;
    }
    struct render r;
    r.layout = layout;
    r.say.texts = texts;
    r.say.marks_loud = false;
    r.say.frame = (struct rp_time_frame){texts, facts->input->now_s, facts->input->has_local,
                                         facts->input->utc_offset_s};
    r.out = rp_textbuf_on(buf, cap - 1);
    r.begun = false;
    r.section = RP_SECTION_HEAD;
    r.head_count = 0;
    rows(facts, put_row, &r);
    if (layout->capitals) {
        rp_utf8_capitalise(r.out.at, r.out.len);
    }
    if (r.out.full) {
        buf[0] = '\0';
        return RP_E_TOO_LONG;
    }
    buf[r.out.len] = '\0';
    return (int)r.out.len;
}

int rp_columns_render(const struct rp_sheet_facts *facts, const struct rp_texts *texts,
                      const struct rp_columns_layout *layout, char *buf, size_t cap)
{
    return rp_columns_render_rows(facts, texts, layout, rp_sheet_model, buf, cap);
}
