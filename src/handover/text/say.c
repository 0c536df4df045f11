#include "handover/text/say.h"

#include <string.h>

#include "geo/geo.h"
#include "handover/data/stamp.h"
#include "handover/utf8.h"

/* Fixed words; loud ones in capitals. */
void rp_say_word(struct rp_textbuf *p, const struct rp_say *say, enum rp_text_id id, bool loud)
{
    size_t start = p->len;
    rp_textbuf_str(p, say->texts->words[id]);
    if (loud) {
        rp_utf8_capitalise(p->at + start, p->len - start);
    }
}

static void put_unit(struct rp_textbuf *p, const struct rp_say *say, enum rp_text_id unit)
{
    if (unit != RP_TX_NONE) {
        rp_textbuf_str(p, RP_NO_BREAK);
        rp_textbuf_str(p, say->texts->words[unit]);
    }
}

static void put_unmeasured(struct rp_textbuf *p, const struct rp_say *say,
                           const struct rp_sheet_item *item, bool in_table)
{
    bool unable = item->state == RP_UNABLE;
    enum rp_text_id word = in_table ? (unable ? RP_TX_CROSS : RP_TX_DASH)
                                    : (unable ? RP_TX_UNABLE : RP_TX_NOT_MEASURED);
    rp_textbuf_str(p, say->texts->words[word]);
}

static void put_value(struct rp_textbuf *p, const struct rp_say *say,
                      const struct rp_sheet_item *item, bool in_table)
{
    if (item->state != RP_MEASURED) {
        put_unmeasured(p, say, item, in_table);
        return;
    }
    rp_textbuf_number(p, item->number, item->decimals);
    put_unit(p, say, item->word);
}

static void put_pressure(struct rp_textbuf *p, const struct rp_say *say,
                         const struct rp_sheet_item *item, bool in_table)
{
    if (item->state != RP_MEASURED) {
        put_unmeasured(p, say, item, in_table);
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
        put_unit(p, say, item->word);
    }
}

/* "E4 V4 M6 = 14" in text, "4-4-6" in the table. */
static void put_gcs(struct rp_textbuf *p, const struct rp_say *say,
                    const struct rp_sheet_item *item, bool in_table)
{
    static const enum rp_text_id letters[] = {RP_TX_GCS_E, RP_TX_GCS_V, RP_TX_GCS_M};
    int64_t parts[3] = {item->number / 100, item->number / 10 % 10, item->number % 10};
    if (item->state != RP_MEASURED) {
        put_unmeasured(p, say, item, in_table);
        return;
    }
    for (size_t i = 0; i < 3; i++) {
        rp_textbuf_str(p, i == 0 ? "" : in_table ? "-" : RP_NO_BREAK);
        rp_textbuf_str(p, in_table ? "" : say->texts->words[letters[i]]);
        rp_textbuf_number(p, parts[i], 0);
    }
    if (!in_table) {
        rp_textbuf_str(p, RP_NO_BREAK "=" RP_NO_BREAK);
        rp_textbuf_number(p, parts[0] + parts[1] + parts[2], 0);
    }
}

static void put_unbroken(struct rp_textbuf *p, const char *text, size_t len)
{
    for (size_t i = 0; i < len; i++) {
        rp_textbuf_put(p, text[i] == ' ' ? RP_NO_BREAK : &text[i], 1);
    }
}

static void put_age(struct rp_textbuf *p, const struct rp_say *say, uint32_t time_s, bool in_table,
                    enum rp_text_id old)
{
    bool ahead = time_s > say->frame.now_s;
    uint32_t span_s = ahead ? time_s - say->frame.now_s : say->frame.now_s - time_s;
    if (in_table) {
        rp_textbuf_str(p, ahead ? "+" : "");
        rp_format_span(p, say->texts, span_s);
        return;
    }
    const char *around = say->texts->words[ahead ? RP_TX_AGE_AHEAD : old];
    const char *hole = strstr(around, RP_TEXT_HOLE);
    put_unbroken(p, around, hole != NULL ? (size_t)(hole - around) : strlen(around));
    rp_format_span(p, say->texts, span_s);
    if (hole != NULL) {
        hole += strlen(RP_TEXT_HOLE);
        put_unbroken(p, hole, strlen(hole));
    }
}

static void put_station(struct rp_textbuf *p, const struct rp_say *say,
                        const struct rp_sheet_item *item)
{
    if (item->entered != NULL && item->entered[0] != '\0') {
        rp_textbuf_entered(p, item->entered);
        return;
    }
    rp_textbuf_str(p, say->texts->words[RP_TX_STATION]);
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

static void put_number_like(struct rp_textbuf *p, const struct rp_say *say,
                            const struct rp_sheet_item *item)
{
    switch (item->kind) {
    case RP_ITEM_NUMBER:
        rp_textbuf_short_number(p, item->number, item->decimals);
        put_unit(p, say, item->word);
        break;
    case RP_ITEM_SPAN:
        rp_format_span(p, say->texts, (uint32_t)item->number);
        break;
    case RP_ITEM_OFFSET:
        rp_format_offset(p, (int32_t)item->number);
        break;
    case RP_ITEM_POSITION:
        rp_format_position(p, say->texts, (int32_t)item->number, (int32_t)item->number_2);
        break;
    case RP_ITEM_DEGREES:
        rp_textbuf_number(p, item->number, 6);
        rp_textbuf_str(p, "," RP_NO_BREAK);
        rp_textbuf_number(p, item->number_2, 6);
        put_unit(p, say, item->word);
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

/* Whoever lays out the text may set loud words apart. */
static void put_loud(struct rp_textbuf *p, const struct rp_say *say, enum rp_text_id id)
{
    static const char begin = RP_SAY_LOUD_BYTE, end = RP_SAY_LOUD_END_BYTE;
    rp_textbuf_put(p, &begin, say->marks_loud ? 1 : 0);
    rp_say_word(p, say, id, true);
    rp_textbuf_put(p, &end, say->marks_loud ? 1 : 0);
}

void rp_say_item(struct rp_textbuf *p, const struct rp_say *say, const struct rp_sheet_item *item,
                 bool in_table)
{
    switch (item->kind) {
    case RP_ITEM_WORD:
        if (item->loud) {
            put_loud(p, say, item->word);
        } else {
            rp_say_word(p, say, item->word, false);
        }
        break;
    case RP_ITEM_ENTERED:
        rp_textbuf_entered(p, item->entered[0] != '\0' ? item->entered
                                                       : say->texts->words[RP_TX_NOT_SAID]);
        break;
    case RP_ITEM_VALUE:
        put_value(p, say, item, in_table);
        break;
    case RP_ITEM_PRESSURE:
        put_pressure(p, say, item, in_table);
        break;
    case RP_ITEM_GCS:
        put_gcs(p, say, item, in_table);
        break;
    case RP_ITEM_TIME:
        if (in_table) {
            rp_format_time_utc(p, &say->frame, item->time_s);
        } else {
            rp_format_time(p, &say->frame, item->time_s);
        }
        break;
    case RP_ITEM_DAY:
        rp_format_day(p, say->texts, item->time_s);
        break;
    case RP_ITEM_AGE:
        put_age(p, say, item->time_s, in_table, item->word);
        break;
    case RP_ITEM_STATION:
        put_station(p, say, item);
        break;
    default:
        put_number_like(p, say, item);
        break;
    }
}

/* Values of one set that stand together share one "(on air, 12 min old)". */
static void put_taken(struct rp_textbuf *p, const struct rp_say *say,
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
        p,
        say->texts->words[rp_text_pick(RP_TX_MODE_UNSAID, RP_TX_MODE_CHAMBER_OXYGEN, obs->mode)]);
    rp_textbuf_str(p, ", ");
    put_age(p, say, obs->taken_s, false, RP_TX_AGE_OLD);
    rp_textbuf_str(p, ")");
}

/* Whether what was entered brought its own full stop: a comma behind it would look odd. */
static bool ends_sentence(const struct rp_textbuf *p)
{
    return p->len > 0 && strchr(".!?;,", p->at[p->len - 1]) != NULL;
}

static void put_row_item(struct rp_textbuf *p, const struct rp_say *say,
                         const struct rp_sheet_row *row, size_t index)
{
    static const char *const joins[] = {
        [RP_JOIN_SPACE] = " ", [RP_JOIN_COMMA] = ", ", [RP_JOIN_SEMICOLON] = "; ",
        [RP_JOIN_STOP] = ". ", [RP_JOIN_DASH] = " - ",
    };
    const struct rp_sheet_item *item = &row->items[index];
    if (item->kind == RP_ITEM_WORD && item->label == RP_TX_NONE &&
        say->texts->words[item->word][0] == '\0') {
        return; /* this language has nothing to say here */
    }
    const struct rp_sheet_item *next = index + 1 < row->item_count ? &row->items[index + 1] : NULL;
    bool breaks = item->kind == RP_ITEM_WORD || item->kind == RP_ITEM_ENTERED ||
                  item->kind == RP_ITEM_STATION || item->kind == RP_ITEM_TIME;
    bool stopped = index > 0 && row->items[index - 1].kind == RP_ITEM_ENTERED && ends_sentence(p);
    rp_textbuf_str(p, index == 0 ? "" : joins[stopped ? RP_JOIN_SPACE : item->join]);
    rp_textbuf_str(p, item->opens ? "(" : "");
    if (item->label != RP_TX_NONE) {
        rp_say_word(p, say, item->label, false);
        rp_textbuf_str(p, item->kind == RP_ITEM_OFFSET ? "" : breaks ? " " : RP_NO_BREAK);
    }
    rp_say_item(p, say, item, false);
    put_taken(p, say, item, next);
    rp_textbuf_str(p, item->closes ? ")" : "");
}

/* "(reason: ..., by ..., 14:20Z)" behind a struck row. */
static void put_correction(struct rp_textbuf *p, const struct rp_say *say,
                           const struct rp_correction_entry *correction)
{
    rp_textbuf_str(p, " (");
    if (correction == NULL) {
        rp_say_word(p, say, RP_TX_CORRECTION_MISSING, false);
        rp_textbuf_str(p, ")");
        return;
    }
    const char *reason = correction->what.reason;
    rp_say_word(p, say, reason[0] != '\0' ? RP_TX_REASON : RP_TX_NO_REASON, false);
    rp_textbuf_str(p, " ");
    rp_textbuf_entered(p, reason);
    rp_textbuf_str(p, ", ");
    if (correction->from.by[0] != '\0') {
        rp_say_word(p, say, RP_TX_BY, false);
        rp_textbuf_str(p, " ");
        rp_textbuf_entered(p, correction->from.by);
    } else {
        rp_say_word(p, say, RP_TX_BY_NOT_SAID, false);
    }
    rp_textbuf_str(p, " ");
    rp_format_time(p, &say->frame, correction->from.happened_s);
    rp_textbuf_str(p, ")");
}

void rp_say_row(struct rp_textbuf *p, const struct rp_say *say, const struct rp_sheet_row *row)
{
    if (row->struck) {
        rp_say_word(p, say, RP_TX_CORRECTED_WAS, false);
        rp_textbuf_str(p, " ");
    }
    for (size_t i = 0; i < row->item_count; i++) {
        put_row_item(p, say, row, i);
    }
    if (row->struck) {
        put_correction(p, say, row->correction);
    }
}

static void put_check(struct rp_textbuf *p, const struct rp_texts *texts,
                      const struct rp_sheet_facts *facts)
{
    rp_textbuf_str(p, texts->words[RP_TX_CHECK]);
    rp_textbuf_str(p, " ");
    rp_textbuf_str(p, facts->check != NULL ? facts->check : "-");
}

void rp_say_sheet(struct rp_textbuf *p, const struct rp_texts *texts,
                  const struct rp_sheet_facts *facts, const char *between)
{
    rp_textbuf_str(p, texts->words[RP_TX_WITH_SHEET]);
    rp_textbuf_str(p, " ");
    if (facts->input->sheet_number > 0) {
        rp_textbuf_number(p, facts->input->sheet_number, 0);
    } else {
        rp_textbuf_str(p, texts->words[RP_TX_DRAFT]);
    }
    rp_textbuf_str(p, between);
    put_check(p, texts, facts);
}

/* "LATE 2 after the handover of 14:44Z": what the team that left may not know. */
static void put_late(struct rp_textbuf *p, const struct rp_texts *texts,
                     const struct rp_episode *episode)
{
    uint32_t count = rp_episode_late_count(episode);
    if (count > 0) {
        rp_textbuf_str(p, " ");
        rp_textbuf_str(p, texts->words[RP_TX_L_LATE]);
        rp_textbuf_str(p, " ");
        rp_textbuf_number(p, count, 0);
        rp_textbuf_str(p, " ");
        rp_textbuf_str(p, texts->words[RP_TX_LATE_COUNT]);
        rp_textbuf_str(p, " ");
        rp_stamp_utc(p, rp_episode_handed(episode)->from.happened_s);
        rp_textbuf_str(p, ".");
    }
}

void rp_say_elsewhere(struct rp_textbuf *p, const struct rp_texts *texts,
                      const struct rp_sheet_facts *facts)
{
    rp_textbuf_str(p, texts->words[RP_TX_NOT_HERE]);
    rp_textbuf_str(p, " ");
    put_check(p, texts, facts);
    rp_textbuf_str(p, ".");
    put_late(p, texts, facts->input->episode);
}
