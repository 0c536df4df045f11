#include "handover/data/csv.h"

#include <string.h>

#include "handover/build.h"
#include "handover/data/stamp.h"
#include "handover/utf8.h"
#include "ridgepost/error.h"

/* Holds the name of a drug and the words around it. */
#define TEXT_MAX 400

/* Blanks before it are passed over: whoever reads the table may take them away. */
static bool like_a_formula(const char *text)
{
    static const uint32_t blanks[] = {' ', '\t', '\r', '\n', 0xa0, 0x3000};
    static const uint32_t firsts[] = {'=', '+', '-', '@', 0xff1d, 0xff0b, 0xff0d, 0xff20};
    for (const char *at = text; *at != '\0';) {
        uint32_t code;
        bool blank = false;
        at += rp_utf8_next(at, &code);
        for (size_t i = 0; i < sizeof firsts / sizeof firsts[0]; i++) {
            if (code == firsts[i]) {
                return true;
            }
        }
        for (size_t i = 0; i < sizeof blanks / sizeof blanks[0]; i++) {
            blank = blank || code == blanks[i];
        }
        if (!blank) {
            return false;
        }
    }
    return false;
}

void rp_csv_entered(struct rp_textbuf *out, const char *text)
{
    rp_textbuf_put(out, "\"", 1);
    if (like_a_formula(text)) {
        rp_textbuf_put(out, "'", 1);
    }
    for (const char *at = text; *at != '\0';) {
        uint32_t code;
        size_t len = rp_utf8_next(at, &code);
        if (code == '"') {
            rp_textbuf_put(out, "\"\"", 2);
        } else if (code == '\n' || code == '\r' || code == '\t') {
            rp_textbuf_put(out, " ", 1);
        } else if (rp_utf8_hostile(code)) {
            rp_textbuf_put(out, "?", 1);
        } else {
            rp_textbuf_put(out, at, len);
        }
        at += len;
    }
    rp_textbuf_put(out, "\"", 1);
}

static void comma(struct rp_textbuf *out)
{
    rp_textbuf_put(out, ",", 1);
}

static void put_word(struct rp_textbuf *out, const struct rp_texts *texts, enum rp_text_id word)
{
    comma(out);
    rp_csv_entered(out, texts->words[word]);
}

/* "episode 7-1", "record 7:2": alone a spreadsheet would take them for a day and an hour. */
#define NAME_MAX 64

static struct rp_textbuf name_on(char text[NAME_MAX], const struct rp_texts *texts,
                                 enum rp_text_id what)
{
    struct rp_textbuf name = rp_textbuf_on(text, NAME_MAX - 1);
    rp_textbuf_str(&name, texts->words[what]);
    rp_textbuf_str(&name, " ");
    return name;
}

static void put_episode(struct rp_textbuf *out, const struct rp_texts *texts,
                        struct rp_episode_ref ref)
{
    char text[NAME_MAX];
    struct rp_textbuf name = name_on(text, texts, RP_TX_EPISODE);
    rp_stamp_episode(&name, ref);
    text[name.len] = '\0';
    comma(out);
    rp_csv_entered(out, text);
}

static void put_record(struct rp_textbuf *out, const struct rp_texts *texts,
                       struct rp_record_ref ref)
{
    char text[NAME_MAX];
    struct rp_textbuf name = name_on(text, texts, RP_TX_CORRECTION_OF);
    rp_stamp_record(&name, ref);
    text[name.len] = '\0';
    comma(out);
    rp_csv_entered(out, text);
}

static void put_value(struct rp_textbuf *out, const struct rp_texts *texts, struct rp_value value,
                      unsigned decimals)
{
    if (value.state == RP_UNABLE) {
        put_word(out, texts, RP_TX_CSV_NO_RESULT);
        return;
    }
    comma(out);
    if (value.state == RP_MEASURED) {
        rp_textbuf_number(out, value.value, decimals);
    }
}

/* A choice as its word: first is the word of 0. */
static void put_choice(struct rp_textbuf *out, const struct rp_texts *texts, struct rp_value value,
                       enum rp_text_id first, enum rp_text_id last)
{
    if (value.state == RP_MEASURED) {
        put_word(out, texts, rp_text_pick(first, last, value.value));
    } else {
        put_value(out, texts, value, 0);
    }
}

/* Empty columns. */
static void skip(struct rp_textbuf *out, enum rp_text_id first, enum rp_text_id after)
{
    for (int i = (int)first; i < (int)after; i++) {
        comma(out);
    }
}

/* Mode, signs and an empty text; as many columns as put_text. */
static void put_signs(struct rp_textbuf *out, const struct rp_texts *texts,
                      const struct rp_obs *obs)
{
    put_word(out, texts, rp_text_pick(RP_TX_MODE_UNSAID, RP_TX_MODE_CHAMBER_OXYGEN, obs->mode));
    put_value(out, texts, obs->spo2_pct, 0);
    put_value(out, texts, obs->pulse_bpm, 0);
    put_value(out, texts, obs->resp_rpm, 0);
    put_choice(out, texts, obs->acvpu, RP_TX_ACVPU_ALERT, RP_TX_ACVPU_UNRESPONSIVE);
    put_value(out, texts, obs->gcs_eye, 0);
    put_value(out, texts, obs->gcs_verbal, 0);
    put_value(out, texts, obs->gcs_motor, 0);
    put_value(out, texts, obs->systolic_mmhg, 0);
    put_value(out, texts, obs->diastolic_mmhg, 0);
    put_value(out, texts, obs->temp_dc, 1);
    if (obs->temp_dc.state == RP_MEASURED) {
        put_word(out, texts,
                 rp_text_pick(RP_TX_SITE_UNSAID, RP_TX_SITE_OESOPHAGEAL, obs->temp_site));
    } else {
        comma(out);
    }
    put_choice(out, texts, obs->airway, RP_TX_AIRWAY_CLEAR, RP_TX_AIRWAY_DEVICE);
    put_value(out, texts, obs->lls, 0);
    put_value(out, texts, obs->ataxia, 0);
    put_value(out, texts, obs->pain, 0);
    skip(out, RP_TX_CSV_H_URINE, RP_TX_CSV_H_BY);
}

static void put_text(struct rp_textbuf *out, const char *text)
{
    skip(out, RP_TX_CSV_H_MODE, RP_TX_CSV_H_TEXT);
    comma(out);
    rp_csv_entered(out, text);
}

static const char *reason_of(const struct rp_episode *ep, struct rp_record_ref ref)
{
    for (size_t i = ep->corrections.count; i > 0; i--) {
        const struct rp_correction_entry *entry = &ep->corrections.at[i - 1];
        if (!entry->from.voided && rp_ref_equal(entry->what.about, ref)) {
            return entry->what.reason;
        }
    }
    return "";
}

static void put_station(struct rp_textbuf *out, const struct rp_sheet_input *in, uint8_t station)
{
    const char *name =
        in->station_name_of != NULL ? in->station_name_of(in->names_ctx, station) : NULL;
    comma(out);
    if (name != NULL) {
        rp_csv_entered(out, name);
    } else {
        rp_textbuf_number(out, station, 0);
    }
}

/* From who to the end of the line; `from` NULL: it is of no single entry. */
static void put_source(struct rp_textbuf *out, const struct rp_sheet_input *in,
                       const struct rp_texts *texts, const struct rp_source *from)
{
    if (from == NULL) {
        rp_textbuf_str(out, ",,,,,,,,\r\n");
        return;
    }
    comma(out);
    rp_csv_entered(out, from->by);
    put_word(out, texts, rp_text_pick(RP_TX_CSV_VIA_ENTERED, RP_TX_CSV_VIA_VOICE, from->via));
    put_station(out, in, from->station);
    put_record(out, texts, from->ref);
    put_word(out, texts, from->unsynced ? RP_TX_CSV_UNSYNCED : RP_TX_CSV_SYNCED);
    put_word(out, texts, rp_episode_is_late(in->episode, from) ? RP_TX_CSV_LATE : RP_TX_NONE);
    put_word(out, texts, from->voided ? RP_TX_CSV_CORRECTED : RP_TX_NONE);
    comma(out);
    if (from->voided) {
        rp_csv_entered(out, reason_of(in->episode, from->ref));
    }
    rp_textbuf_str(out, "\r\n");
}

/* Whether it is an exercise, what the line is, and when. time_s NULL: at no known time. */
static void put_lead(struct rp_textbuf *out, const struct rp_sheet_input *in,
                     const struct rp_texts *texts, enum rp_text_id kind, const uint32_t *time_s)
{
    rp_csv_entered(out, texts->words[in->episode->exercise ? RP_TX_CSV_EXERCISE : RP_TX_CSV_REAL]);
    put_word(out, texts, kind);
    put_episode(out, texts, in->episode->ref);
    comma(out);
    if (time_s != NULL) {
        rp_stamp_utc(out, *time_s);
    }
    comma(out);
    if (time_s != NULL) {
        rp_textbuf_number(out, ((int64_t)in->now_s - *time_s) / 60, 0);
    }
}

static void put_set(struct rp_textbuf *out, const struct rp_sheet_input *in,
                    const struct rp_texts *texts, const struct rp_obs *obs)
{
    put_lead(out, in, texts, RP_TX_CSV_OBSERVATION, &obs->taken_s);
    put_signs(out, texts, obs);
    put_source(out, in, texts, &obs->from);
}

static void put_dose(struct rp_textbuf *out, const struct rp_sheet_input *in,
                     const struct rp_texts *texts, const struct rp_dose *dose)
{
    const struct rp_rec_treatment *what = &dose->what;
    char text[TEXT_MAX];
    struct rp_textbuf said = rp_textbuf_on(text, sizeof text - 1);
    rp_textbuf_str(&said, what->refused ? texts->words[RP_TX_REFUSED_BY_PATIENT] : "");
    rp_textbuf_str(&said, what->refused ? " " : "");
    rp_textbuf_str(&said, what->name);
    rp_textbuf_str(&said, " ");
    if (what->has_dose) {
        rp_textbuf_short_number(&said, what->dose_milli, 3);
        rp_textbuf_str(&said, " ");
        rp_textbuf_str(&said,
                       texts->words[rp_text_pick(RP_TX_DOSE_NONE, RP_TX_DOSE_IU, what->dose_unit)]);
    } else {
        rp_textbuf_str(&said, texts->words[RP_TX_DOSE_UNKNOWN]);
    }
    rp_textbuf_str(&said, " ");
    rp_textbuf_str(
        &said, texts->words[rp_text_pick(RP_TX_ROUTE_UNSAID, RP_TX_ROUTE_TOPICAL, what->route)]);
    text[said.len] = '\0';
    put_lead(out, in, texts, RP_TX_CSV_DRUG, &dose->from.happened_s);
    put_text(out, text);
    put_source(out, in, texts, &dose->from);
}

static void put_fluids(struct rp_textbuf *out, const struct rp_sheet_input *in,
                       const struct rp_texts *texts, const struct rp_fluids_entry *entry)
{
    const struct rp_rec_fluids *what = &entry->what;
    put_lead(out, in, texts, RP_TX_CSV_FLUIDS, &entry->from.happened_s);
    skip(out, RP_TX_CSV_H_MODE, RP_TX_CSV_H_URINE);
    put_value(out, texts, what->urine_ml, 0);
    put_value(out, texts, what->drunk_ml, 0);
    comma(out);
    if (what->has_span) {
        rp_textbuf_number(out, what->span_min, 0);
    }
    comma(out);
    put_source(out, in, texts, &entry->from);
}

static const char *known_text(const struct rp_texts *texts, const struct rp_known *known)
{
    return known->state == RP_KNOWN        ? known->text
           : known->state == RP_NONE_KNOWN ? texts->words[RP_TX_NONE_KNOWN]
                                           : texts->words[RP_TX_NOT_ASKED_LOUD];
}

/* The answer in force, and every answer ever given with its source. */
static void put_allergies(struct rp_textbuf *out, const struct rp_sheet_input *in,
                          const struct rp_texts *texts)
{
    const struct rp_episode *ep = in->episode;
    put_lead(out, in, texts, RP_TX_CSV_ALLERGIES, NULL);
    put_text(out, known_text(texts, &ep->background.allergies));
    put_source(out, in, texts, NULL);
    for (size_t i = 0; i < ep->known[RP_BG_ALLERGIES].count; i++) {
        const struct rp_known_entry *entry = &ep->known[RP_BG_ALLERGIES].at[i];
        put_lead(out, in, texts, RP_TX_CSV_ALLERGIES, &entry->from.happened_s);
        put_text(out, known_text(texts, &entry->what));
        put_source(out, in, texts, &entry->from);
    }
}

static void put_gaps(struct rp_textbuf *out, const struct rp_sheet_facts *facts,
                     const struct rp_texts *texts)
{
    for (size_t i = 0; i < facts->gap_count && i < RP_SHEET_GAPS_MAX; i++) {
        char text[TEXT_MAX];
        struct rp_textbuf until = rp_textbuf_on(text, sizeof text - 1);
        rp_textbuf_str(&until, texts->words[RP_TX_CSV_UNTIL]);
        rp_textbuf_str(&until, " ");
        rp_stamp_utc(&until, facts->gaps[i].to_s);
        text[until.len] = '\0';
        put_lead(out, facts->input, texts, RP_TX_CSV_SILENCE, &facts->gaps[i].from_s);
        put_text(out, text);
        put_source(out, facts->input, texts, NULL);
    }
    if (facts->gap_count > RP_SHEET_GAPS_MAX) {
        put_lead(out, facts->input, texts, RP_TX_CSV_SILENCE, NULL);
        put_text(out, texts->words[RP_TX_MORE_GAPS]);
        put_source(out, facts->input, texts, NULL);
    }
}

/* Entries that gave way for want of room are missed by name. */
static void put_dropped(struct rp_textbuf *out, const struct rp_sheet_input *in,
                        const struct rp_texts *texts, enum rp_text_id kind, uint32_t count)
{
    if (count > 0) {
        char text[TEXT_MAX];
        struct rp_textbuf said = rp_textbuf_on(text, sizeof text - 1);
        rp_textbuf_number(&said, count, 0);
        rp_textbuf_str(&said, " ");
        rp_textbuf_str(&said, texts->words[RP_TX_OLDER_DROPPED]);
        text[said.len] = '\0';
        put_lead(out, in, texts, kind, NULL);
        put_text(out, text);
        put_source(out, in, texts, NULL);
    }
}

static void put_head(struct rp_textbuf *out, const struct rp_texts *texts, bool exercise)
{
    rp_csv_entered(out, texts->words[exercise ? RP_TX_EXERCISE_SHORT : RP_TX_CSV_REAL]);
    for (int id = RP_TX_CSV_H_KIND; id <= RP_TX_CSV_H_REASON; id++) {
        put_word(out, texts, (enum rp_text_id)id);
    }
    rp_textbuf_str(out, "\r\n");
}

int rp_csv_render(const struct rp_sheet_facts *facts, const struct rp_texts *texts, char *buf,
                  size_t cap)
{
    const struct rp_sheet_input *in = facts->input;
    const struct rp_episode *ep = in->episode;
    if (cap == 0) {
        return RP_E_TOO_LONG;
    }
    struct rp_textbuf out = rp_textbuf_on(buf, cap - 1);
    put_head(&out, texts, ep->exercise);
    put_dropped(&out, in, texts, RP_TX_CSV_OBSERVATION, ep->obs.older_dropped + ep->obs_dropped);
    for (size_t i = 0; i < ep->obs.count; i++) {
        put_set(&out, in, texts, &ep->obs.at[i]);
    }
    put_dropped(&out, in, texts, RP_TX_CSV_DRUG, ep->doses.older_dropped);
    for (size_t i = 0; i < ep->doses.count; i++) {
        put_dose(&out, in, texts, &ep->doses.at[i]);
    }
    put_dropped(&out, in, texts, RP_TX_CSV_FLUIDS, ep->fluids.older_dropped);
    for (size_t i = 0; i < ep->fluids.count; i++) {
        put_fluids(&out, in, texts, &ep->fluids.at[i]);
    }
    put_allergies(&out, in, texts);
    put_dropped(&out, in, texts, RP_TX_CSV_ALLERGIES, ep->known[RP_BG_ALLERGIES].older_dropped);
    put_gaps(&out, facts, texts);
    buf[out.full ? 0 : out.len] = '\0';
    return out.full ? RP_E_TOO_LONG : (int)out.len;
}
