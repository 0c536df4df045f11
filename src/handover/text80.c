#include "handover/text80.h"

#include <string.h>

#include "geo/geo.h"
#include "handover/utf8.h"
#include "ridgepost/error.h"

/* Columns of the sheet: the margin letter, the label, the text. */
#define LABEL_COLUMN 2
#define TEXT_COLUMN  10

/* The longest row is a note with who wrote it and why it was corrected. */
#define PARAGRAPH_MAX 6000

/* Index of the column of signs that shows a time without the local clock. */
static const uint8_t table_widths[] = {13, 7, 7, 4, 3, 3, 7, 7, 5, 5, 3, 3};

struct render {
    const struct rp_texts *texts;
    struct rp_time_frame frame;
    struct rp_textbuf out;
    enum rp_sheet_section section; /* of the row before */
    bool begun;
    char paragraph[PARAGRAPH_MAX];
};

static void put_repeated(struct rp_textbuf *out, char c, unsigned count)
{
    for (unsigned i = 0; i < count; i++) {
        rp_textbuf_put(out, &c, 1);
    }
}

/* Fixed words; loud ones in capitals. */
static void put_word(struct rp_textbuf *p, const struct render *r, enum rp_text_id id, bool loud)
{
    const char *word = r->texts->words[id];
    for (size_t i = 0; word[i] != '\0'; i++) {
        char c = word[i];
        if (loud && c >= 'a' && c <= 'z') {
            c = (char)(c - 'a' + 'A');
        }
        rp_textbuf_put(p, &c, 1);
    }
}

static void put_unit(struct rp_textbuf *p, const struct render *r, enum rp_text_id unit)
{
    if (unit != RP_TX_NONE) {
        rp_textbuf_str(p, RP_NO_BREAK);
        rp_textbuf_str(p, r->texts->words[unit]);
    }
}

static void put_unmeasured(struct rp_textbuf *p, const struct render *r,
                           const struct rp_sheet_item *item, bool in_table)
{
    bool unable = item->state == RP_UNABLE;
    enum rp_text_id word = in_table ? (unable ? RP_TX_CROSS : RP_TX_DASH)
                                    : (unable ? RP_TX_UNABLE : RP_TX_NOT_MEASURED);
    rp_textbuf_str(p, r->texts->words[word]);
}

static void put_value(struct rp_textbuf *p, const struct render *r,
                      const struct rp_sheet_item *item, bool in_table)
{
    if (item->state != RP_MEASURED) {
        put_unmeasured(p, r, item, in_table);
        return;
    }
    rp_textbuf_number(p, item->number, item->decimals);
    put_unit(p, r, item->word);
}

static void put_pressure(struct rp_textbuf *p, const struct render *r,
                         const struct rp_sheet_item *item, bool in_table)
{
    if (item->state != RP_MEASURED) {
        put_unmeasured(p, r, item, in_table);
        return;
    }
    rp_textbuf_number(p, item->number, 0);
    rp_textbuf_str(p, "/");
    if (item->number_2 >= 0) {
        rp_textbuf_number(p, item->number_2, 0);
    } else {
        rp_textbuf_str(p, "?");
    }
    if (!in_table) {
        put_unit(p, r, item->word);
    }
}

/* "E4 V4 M6 = 14" in text, "4-4-6" in the table. */
static void put_gcs(struct rp_textbuf *p, const struct render *r, const struct rp_sheet_item *item,
                    bool in_table)
{
    static const char *const letters[2][3] = {{"E", RP_NO_BREAK "V", RP_NO_BREAK "M"},
                                              {"", "-", "-"}};
    int64_t parts[3] = {item->number / 100, item->number / 10 % 10, item->number % 10};
    if (item->state != RP_MEASURED) {
        put_unmeasured(p, r, item, in_table);
        return;
    }
    for (size_t i = 0; i < 3; i++) {
        rp_textbuf_str(p, letters[in_table ? 1 : 0][i]);
        rp_textbuf_number(p, parts[i], 0);
    }
    if (!in_table) {
        rp_textbuf_str(p, RP_NO_BREAK "=" RP_NO_BREAK);
        rp_textbuf_number(p, parts[0] + parts[1] + parts[2], 0);
    }
}

static void put_age(struct rp_textbuf *p, const struct render *r, uint32_t time_s, bool in_table,
                    enum rp_text_id old)
{
    bool ahead = time_s > r->frame.now_s;
    uint32_t span_s = ahead ? time_s - r->frame.now_s : r->frame.now_s - time_s;
    if (in_table && ahead) {
        rp_textbuf_str(p, "+");
    }
    rp_format_span(p, r->texts, span_s);
    if (!in_table) {
        put_unit(p, r, ahead ? RP_TX_AGE_AHEAD : old);
    }
}

static void put_station(struct rp_textbuf *p, const struct render *r,
                        const struct rp_sheet_item *item)
{
    if (item->entered != NULL && item->entered[0] != '\0') {
        rp_textbuf_entered(p, item->entered);
        return;
    }
    rp_textbuf_str(p, r->texts->words[RP_TX_STATION]);
    rp_textbuf_str(p, RP_NO_BREAK);
    rp_textbuf_number(p, item->number, 0);
}

/* A grid reference is never torn apart at the end of a line. */
static void put_grid(struct rp_textbuf *p, const struct rp_sheet_item *item)
{
    char text[RP_GEO_TEXT_MAX] = "?";
    int32_t lat_e6 = (int32_t)item->number, lon_e6 = (int32_t)item->number_2;
    if (item->kind == RP_ITEM_UTM) {
        rp_geo_show_utm(lat_e6, lon_e6, text);
    } else {
        rp_geo_show_mgrs(lat_e6, lon_e6, item->decimals, text);
    }
    for (const char *at = text; *at != '\0'; at++) {
        rp_textbuf_put(p, *at == ' ' ? RP_NO_BREAK : at, 1);
    }
}

static void put_number_like(struct rp_textbuf *p, const struct render *r,
                            const struct rp_sheet_item *item)
{
    switch (item->kind) {
    case RP_ITEM_NUMBER:
        rp_textbuf_short_number(p, item->number, item->decimals);
        put_unit(p, r, item->word);
        break;
    case RP_ITEM_SPAN:
        rp_format_span(p, r->texts, (uint32_t)item->number);
        break;
    case RP_ITEM_OFFSET:
        rp_format_offset(p, (int32_t)item->number);
        break;
    case RP_ITEM_POSITION:
        rp_format_position(p, r->texts, (int32_t)item->number, (int32_t)item->number_2);
        break;
    case RP_ITEM_DEGREES:
        rp_textbuf_number(p, item->number, 6);
        rp_textbuf_str(p, "," RP_NO_BREAK);
        rp_textbuf_number(p, item->number_2, 6);
        put_unit(p, r, item->word);
        break;
    case RP_ITEM_UTM:
    case RP_ITEM_MGRS:
        put_grid(p, item);
        break;
    default: /* RP_ITEM_REF, RP_ITEM_EPISODE */
        rp_textbuf_number(p, item->number, 0);
        rp_textbuf_str(p, item->kind == RP_ITEM_REF ? ":" : "-");
        rp_textbuf_number(p, item->number_2, 0);
        break;
    }
}

static void put_item(struct rp_textbuf *p, const struct render *r, const struct rp_sheet_item *item,
                     bool in_table)
{
    switch (item->kind) {
    case RP_ITEM_WORD:
        put_word(p, r, item->word, item->loud);
        break;
    case RP_ITEM_ENTERED:
        rp_textbuf_entered(p, item->entered[0] != '\0' ? item->entered
                                                       : r->texts->words[RP_TX_NOT_SAID]);
        break;
    case RP_ITEM_VALUE:
        put_value(p, r, item, in_table);
        break;
    case RP_ITEM_PRESSURE:
        put_pressure(p, r, item, in_table);
        break;
    case RP_ITEM_GCS:
        put_gcs(p, r, item, in_table);
        break;
    case RP_ITEM_TIME:
        if (in_table) {
            rp_format_time_utc(p, &r->frame, item->time_s);
        } else {
            rp_format_time(p, &r->frame, item->time_s);
        }
        break;
    case RP_ITEM_DAY:
        rp_format_day(p, r->texts, item->time_s);
        break;
    case RP_ITEM_AGE:
        put_age(p, r, item->time_s, in_table, item->word);
        break;
    case RP_ITEM_STATION:
        put_station(p, r, item);
        break;
    default:
        put_number_like(p, r, item);
        break;
    }
}

/* Values of one set that stand together share one "(on air, 12 min old)". */
static void put_taken(struct rp_textbuf *p, const struct render *r,
                      const struct rp_sheet_item *item, const struct rp_sheet_item *next)
{
    const struct rp_obs *obs = item->taken_from;
    if (obs == NULL ||
        (next != NULL && next->taken_from != NULL && next->taken_from->taken_s == obs->taken_s &&
         next->taken_from->mode == obs->mode)) {
        return;
    }
    rp_textbuf_str(p, " (");
    rp_textbuf_str(
        p, r->texts->words[rp_text_pick(RP_TX_MODE_UNSAID, RP_TX_MODE_CHAMBER_OXYGEN, obs->mode)]);
    rp_textbuf_str(p, ", ");
    put_age(p, r, obs->taken_s, false, RP_TX_AGE_OLD);
    rp_textbuf_str(p, ")");
}

/* Whether what was entered brought its own full stop: a comma behind it would look odd. */
static bool ends_sentence(const struct rp_textbuf *p)
{
    return p->len > 0 && strchr(".!?;,", p->at[p->len - 1]) != NULL;
}

static void put_row_item(struct rp_textbuf *p, const struct render *r,
                         const struct rp_sheet_row *row, size_t index)
{
    static const char *const joins[] = {
        [RP_JOIN_SPACE] = " ", [RP_JOIN_COMMA] = ", ", [RP_JOIN_SEMICOLON] = "; ",
        [RP_JOIN_STOP] = ". ", [RP_JOIN_DASH] = " - ",
    };
    const struct rp_sheet_item *item = &row->items[index];
    const struct rp_sheet_item *next = index + 1 < row->item_count ? &row->items[index + 1] : NULL;
    bool breaks = item->kind == RP_ITEM_WORD || item->kind == RP_ITEM_ENTERED ||
                  item->kind == RP_ITEM_STATION || item->kind == RP_ITEM_TIME;
    bool stopped = index > 0 && row->items[index - 1].kind == RP_ITEM_ENTERED && ends_sentence(p);
    rp_textbuf_str(p, index == 0 ? "" : joins[stopped ? RP_JOIN_SPACE : item->join]);
    rp_textbuf_str(p, item->opens ? "(" : "");
    if (item->label != RP_TX_NONE) {
        put_word(p, r, item->label, false);
        rp_textbuf_str(p, item->kind == RP_ITEM_OFFSET ? "" : breaks ? " " : RP_NO_BREAK);
    }
    put_item(p, r, item, false);
    put_taken(p, r, item, next);
    rp_textbuf_str(p, item->closes ? ")" : "");
}

/* "(reason: ..., by ..., 14:20Z)" behind a struck row. */
static void put_correction(struct rp_textbuf *p, const struct render *r,
                           const struct rp_correction_entry *correction)
{
    rp_textbuf_str(p, " (");
    if (correction == NULL) {
        put_word(p, r, RP_TX_CORRECTION_MISSING, false);
        rp_textbuf_str(p, ")");
        return;
    }
    const char *reason = correction->what.reason;
    put_word(p, r, reason[0] != '\0' ? RP_TX_REASON : RP_TX_NO_REASON, false);
    rp_textbuf_str(p, " ");
    rp_textbuf_entered(p, reason);
    rp_textbuf_str(p, ", ");
    if (correction->from.by[0] != '\0') {
        put_word(p, r, RP_TX_BY, false);
        rp_textbuf_str(p, " ");
        rp_textbuf_entered(p, correction->from.by);
    } else {
        put_word(p, r, RP_TX_BY_NOT_SAID, false);
    }
    rp_textbuf_str(p, " ");
    rp_format_time(p, &r->frame, correction->from.happened_s);
    rp_textbuf_str(p, ")");
}

/* Bytes of the longest start of `word` that fits in `room` columns; at least one character. */
static size_t fitting(const char *word, size_t len, unsigned room)
{
    size_t at = 0;
    unsigned columns = 0;
    while (at < len) {
        uint32_t code;
        size_t step = rp_utf8_next(word + at, &code);
        columns += rp_utf8_width(code);
        if (columns > room && at > 0) {
            break;
        }
        at += step;
    }
    return at;
}

static void put_shown(struct rp_textbuf *out, const char *word, size_t len)
{
    for (size_t i = 0; i < len; i++) {
        char c = word[i] == RP_NO_BREAK_BYTE ? ' ' : word[i];
        rp_textbuf_put(out, &c, 1);
    }
}

struct line {
    unsigned column; /* where the next character goes */
    unsigned indent; /* of further lines */
    bool empty;      /* nothing but the indent yet */
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
    if (!line->empty && line->column + gap + columns > RP_TEXT80_COLUMNS) {
        break_line(out, line);
        gap = 0;
    }
    put_repeated(out, ' ', gap);
    line->column += gap;
    while (line->column + columns > RP_TEXT80_COLUMNS) {
        size_t part = fitting(word, len, RP_TEXT80_COLUMNS - line->column);
        put_shown(out, word, part);
        word += part;
        len -= part;
        columns = rp_utf8_columns(word, len);
        break_line(out, line);
    }
    put_shown(out, word, len);
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

static void fill_paragraph(struct rp_textbuf *p, const struct render *r,
                           const struct rp_sheet_row *row)
{
    if (row->struck) {
        put_word(p, r, RP_TX_CORRECTED_WAS, false);
        rp_textbuf_str(p, " ");
    }
    for (size_t i = 0; i < row->item_count; i++) {
        put_row_item(p, r, row, i);
    }
    if (row->struck) {
        put_correction(p, r, row->correction);
    }
}

/* Cells in columns; a cell too wide for its column pushes the others, and a line that would then
 * be too long is wrapped like text. */
static void put_table_row(struct render *r, const struct rp_sheet_row *row)
{
    struct rp_textbuf p = rp_textbuf_on(r->paragraph, sizeof r->paragraph);
    for (size_t i = 0; i < row->item_count; i++) {
        size_t start = p.len;
        put_item(&p, r, &row->items[i], true);
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
    put_wrapped(&r->out, &p, (struct line){LABEL_COLUMN, TEXT_COLUMN, true});
}

static void put_banner(struct render *r, const struct rp_sheet_row *row)
{
    const char *word = r->texts->words[row->items[0].word];
    unsigned columns = rp_utf8_columns(word, strlen(word)) + 2;
    unsigned stars = columns < RP_TEXT80_COLUMNS ? RP_TEXT80_COLUMNS - columns : 0;
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
    if (rules[section] != '\0') {
        put_repeated(&r->out, rules[section], RP_TEXT80_COLUMNS);
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
    const char *label = r->texts->words[row->label];
    unsigned column = 0;
    if (letters[row->section] != ' ') {
        char margin[LABEL_COLUMN] = {new_section ? letters[row->section] : ' ', ' '};
        rp_textbuf_put(&r->out, margin, sizeof margin);
        column = LABEL_COLUMN;
    }
    rp_textbuf_str(&r->out, label);
    column += rp_utf8_columns(label, strlen(label));
    put_repeated(&r->out, ' ', column < TEXT_COLUMN ? TEXT_COLUMN - column : 1);
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
    struct rp_textbuf p = rp_textbuf_on(r->paragraph, sizeof r->paragraph);
    fill_paragraph(&p, r, row);
    r->out.full = r->out.full || p.full;
    if (is_full_width(row)) {
        put_wrapped(&r->out, &p, (struct line){0, 0, true});
        return;
    }
    put_margin(r, row, new_section);
    put_wrapped(&r->out, &p, (struct line){TEXT_COLUMN, TEXT_COLUMN, true});
}

int rp_text80_render(const struct rp_sheet_facts *facts, const struct rp_texts *texts, char *buf,
                     size_t cap)
{
    if (cap == 0) {
        return RP_E_TOO_LONG;
    }
    struct render r;
    r.texts = texts;
    r.frame = (struct rp_time_frame){texts, facts->input->now_s, facts->input->has_local,
                                     facts->input->utc_offset_s};
    r.out = rp_textbuf_on(buf, cap - 1);
    r.begun = false;
    r.section = RP_SECTION_HEAD;
    rp_sheet_model(facts, put_row, &r);
    if (r.out.full) {
        buf[0] = '\0';
        return RP_E_TOO_LONG;
    }
    buf[r.out.len] = '\0';
    return (int)r.out.len;
}
