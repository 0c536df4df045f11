#include "handover/data/rows.h"

#include <string.h>

#include "handover/check.h"
#include "handover/data/json.h"
#include "handover/text/say.h"
#include "ridgepost/error.h"
#include "wire/frame.h"

struct render {
    struct rp_say say;
    struct rp_json json;
    char paragraph[RP_SAY_ROW_MAX];
};

static const char *const section_names[RP_SECTION_COUNT] = {
#define X(name, letter) #name,
    RP_SHEET_SECTIONS(X)
#undef X
};
static const char section_letters[RP_SECTION_COUNT] = {
#define X(name, letter) letter,
    RP_SHEET_SECTIONS(X)
#undef X
};
static const char *const style_names[] = {
    [RP_ROW_PLAIN] = "plain",
    [RP_ROW_TITLE] = "title",
    [RP_ROW_BANNER] = "banner",
    [RP_ROW_TABLE] = "table",
};

#define LOUD_MAX 32 /* spans of one row; what is more is not set apart */

/* The words to show, and where in them the loud ones stand. */
struct plain {
    char text[RP_SAY_ROW_MAX * 2];
    size_t from[LOUD_MAX], to[LOUD_MAX], loud_count;
    bool open; /* inside a loud span */
};

/* A space that must not become a line end is U+00A0 for whoever lays out the text. */
static size_t make_plain(struct rp_textbuf *out, const struct rp_textbuf *said, struct plain *plain)
{
    for (size_t i = 0; i < said->len; i++) {
        char c = said->at[i];
        if (c == RP_NO_BREAK_BYTE) {
            rp_textbuf_str(out, "\xc2\xa0");
        } else if (c == RP_SAY_LOUD_BYTE) {
            plain->open = plain->loud_count < LOUD_MAX;
            if (plain->open) {
                plain->from[plain->loud_count] = out->len;
            }
        } else if (c == RP_SAY_LOUD_END_BYTE) {
            if (plain->open) {
                plain->to[plain->loud_count++] = out->len;
            }
            plain->open = false;
        } else {
            rp_textbuf_put(out, &c, 1);
        }
    }
    return out->len;
}

static void add_said(struct render *r, const char *key, const struct rp_textbuf *said)
{
    struct plain plain = {.loud_count = 0};
    struct rp_textbuf out = rp_textbuf_on(plain.text, sizeof plain.text);
    size_t len = make_plain(&out, said, &plain);
    r->json.out->full = r->json.out->full || out.full || said->full;
    rp_json_text_len(&r->json, key, plain.text, len);
    if (key != NULL && plain.loud_count > 0) {
        rp_json_list(&r->json, "loud");
        for (size_t i = 0; i < plain.loud_count; i++) {
            rp_json_number(&r->json, NULL, (int64_t)plain.from[i], 0);
            rp_json_number(&r->json, NULL, (int64_t)plain.to[i], 0);
        }
        rp_json_end_list(&r->json);
    }
}

static void add_cells(struct render *r, const struct rp_sheet_row *row)
{
    rp_json_list(&r->json, "cells");
    for (size_t i = 0; i < row->item_count; i++) {
        struct rp_textbuf said = rp_textbuf_on(r->paragraph, sizeof r->paragraph);
        rp_say_item(&said, &r->say, &row->items[i], true);
        add_said(r, NULL, &said);
    }
    rp_json_end_list(&r->json);
}

static void add_row(void *arg, const struct rp_sheet_row *row)
{
    struct render *r = arg;
    char letter[2] = {section_letters[row->section], '\0'};
    rp_json_object(&r->json, NULL);
    rp_json_text(&r->json, "section", section_names[row->section]);
    rp_json_text(&r->json, "letter", letter[0] == ' ' ? "" : letter);
    rp_json_text(&r->json, "style", style_names[row->style]);
    rp_json_text(&r->json, "key", rp_text_key(row->label));
    rp_json_text(&r->json, "label", r->say.texts->words[row->label]);
    rp_json_number(&r->json, "sum", rp_sheet_row_sum(row), 0);
    rp_json_bool(&r->json, "struck", row->struck);
    if (row->style == RP_ROW_TABLE) {
        add_cells(r, row);
    } else {
        struct rp_textbuf said = rp_textbuf_on(r->paragraph, sizeof r->paragraph);
        rp_say_row(&said, &r->say, row);
        add_said(r, "text", &said);
    }
    rp_json_end_object(&r->json);
}

static void add_value(struct rp_json *json, const char *key, const struct rp_value *value)
{
    if (value->state == RP_MEASURED) {
        rp_json_number(json, key, value->value, 0);
    }
}

static void add_trend(struct rp_json *json, const struct rp_episode *episode)
{
    rp_json_list(json, "trend");
    for (uint16_t i = 0; i < episode->obs.count; i++) {
        const struct rp_obs *obs = &episode->obs.at[i];
        if (!obs->from.voided) {
            rp_json_object(json, NULL);
            rp_json_number(json, "taken_s", obs->taken_s, 0);
            rp_json_number(json, "mode", obs->mode, 0);
            add_value(json, "spo2_pct", &obs->spo2_pct);
            add_value(json, "pulse_bpm", &obs->pulse_bpm);
            add_value(json, "resp_rpm", &obs->resp_rpm);
            rp_json_end_object(json);
        }
    }
    rp_json_end_list(json);
}

static void add_sessions(struct rp_json *json, const struct rp_episode *episode, uint32_t now_s)
{
    rp_json_list(json, "sessions");
    for (uint16_t i = 0; i < episode->sessions.count; i++) {
        const struct rp_session *s = &episode->sessions.at[i];
        uint32_t from_s = s->has_closed         ? s->closed_s
                          : s->has_pressurising ? s->pressurising_s
                                                : s->at_pressure_s;
        if (s->has_closed || s->has_pressurising || s->has_at_pressure) {
            rp_json_object(json, NULL);
            rp_json_number(json, "from_s", from_s, 0);
            rp_json_number(json, "to_s", s->has_out ? s->out_s : now_s, 0);
            rp_json_end_object(json);
        }
    }
    rp_json_end_list(json);
}

static void add_doses(struct rp_json *json, const struct rp_episode *episode)
{
    rp_json_list(json, "doses");
    for (uint16_t i = 0; i < episode->doses.count; i++) {
        const struct rp_dose *dose = &episode->doses.at[i];
        if (!dose->from.voided && !dose->what.refused) {
            rp_json_object(json, NULL);
            rp_json_number(json, "at_s", dose->from.happened_s, 0);
            rp_json_text(json, "name", dose->what.name);
            rp_json_end_object(json);
        }
    }
    rp_json_end_list(json);
}

/* What a program that draws pages writes beside the rows, in the language of the rows. */
static const struct {
    const char *key;
    enum rp_text_id word;
} words[] = {
    {"exercise", RP_TX_PAGE_BANNER},
    {"page", RP_TX_PAGE_OF},
    {"caution", RP_TX_PAGE_CAUTION},
    {"check_patient", RP_TX_PAGE_CHECK_PATIENT},
    {"translation", RP_TX_TRANSLATION_NOTE},
    {"phone", RP_TX_PAGE_PHONE},
    {"code_head", RP_TX_PAGE_CODE_HEAD},
    {"since", RP_TX_PAGE_SINCE},
    {"gone", RP_TX_PAGE_GONE},
    {"silent", RP_TX_PAGE_SILENT},
    {"trend", RP_TX_PAGE_TREND},
    {"spo2_pct", RP_TX_PAGE_TREND_SPO2},
    {"pulse_bpm", RP_TX_PAGE_TREND_PULSE},
    {"resp_rpm", RP_TX_PAGE_TREND_RESP},
};
#define WORD_COUNT (sizeof words / sizeof words[0])
#define MODE_COUNT (RP_TX_MODE_CHAMBER_OXYGEN - RP_TX_MODE_UNSAID + 1)

const char *rp_rows_word(const struct rp_texts *texts, const char *key)
{
    for (size_t i = 0; i < WORD_COUNT; i++) {
        if (strcmp(words[i].key, key) == 0) {
            return texts->words[words[i].word];
        }
    }
    return NULL;
}

const char *rp_rows_mode_word(const struct rp_texts *texts, size_t mode)
{
    return texts->words[RP_TX_MODE_UNSAID + (mode < MODE_COUNT ? mode : RP_MODE_UNSAID)];
}

static void add_words(struct rp_json *json, const struct rp_texts *texts)
{
    rp_json_text(json, "language", texts->words[RP_TX_LANGUAGE_CODE]);
    rp_json_object(json, "words");
    for (size_t i = 0; i < WORD_COUNT; i++) {
        rp_json_text(json, words[i].key, texts->words[words[i].word]);
    }
    rp_json_list(json, "modes");
    for (size_t mode = 0; mode < MODE_COUNT; mode++) {
        rp_json_text(json, NULL, rp_rows_mode_word(texts, mode));
    }
    rp_json_end_list(json);
    rp_json_end_object(json);
}

static void add_gaps(struct rp_json *json, const struct rp_sheet_facts *facts)
{
    rp_json_list(json, "gaps");
    for (size_t i = 0; i < facts->gap_count && i < RP_SHEET_GAPS_MAX; i++) {
        rp_json_object(json, NULL);
        rp_json_number(json, "from_s", facts->gaps[i].from_s, 0);
        rp_json_number(json, "to_s", facts->gaps[i].to_s, 0);
        rp_json_end_object(json);
    }
    rp_json_end_list(json);
}

int rp_rows_render(const struct rp_sheet_facts *facts, const struct rp_texts *texts, char *buf,
                   size_t cap)
{
    const struct rp_sheet_input *input = facts->input;
    if (cap == 0) {
        return RP_E_TOO_LONG;
    }
    struct rp_textbuf out = rp_textbuf_on(buf, cap - 1);
    struct render r = {.json = rp_json_on(&out)};
    r.say.texts = texts;
    r.say.marks_loud = true;
    r.say.frame =
        (struct rp_time_frame){texts, input->now_s, input->has_local, input->utc_offset_s};
    rp_json_object(&r.json, NULL);
    rp_json_bool(&r.json, "exercise", input->episode->exercise);
    rp_json_number(&r.json, "sheet", input->sheet_number, 0);
    rp_json_text(&r.json, "check", facts->check);
    rp_json_number(&r.json, "opened_at", rp_origin_station(input->episode->ref.origin), 0);
    rp_json_number(&r.json, "episode", input->episode->ref.number, 0);
    rp_json_text(&r.json, "station", input->station_name != NULL ? input->station_name : "");
    rp_json_text(&r.json, "patient", input->episode->opening.patient);
    rp_json_number(&r.json, "now_s", input->now_s, 0);
    add_words(&r.json, texts);
    rp_json_list(&r.json, "rows");
    rp_sheet_model(facts, add_row, &r);
    rp_json_end_list(&r.json);
    add_trend(&r.json, input->episode);
    add_sessions(&r.json, input->episode, input->now_s);
    add_doses(&r.json, input->episode);
    add_gaps(&r.json, facts);
    rp_json_end_object(&r.json);
    buf[out.full ? 0 : out.len] = '\0';
    return out.full ? RP_E_TOO_LONG : (int)out.len;
}
