#include "handover/data/csv.h"

#include <string.h>

#include "handover/build.h"
#include "handover/data/stamp.h"
#include "handover/utf8.h"
#include "ridgepost/error.h"

void rp_csv_entered(struct rp_textbuf *out, const char *text)
{
    rp_textbuf_put(out, "\"", 1);
    if (text[0] != '\0' && strchr("=+-@", text[0]) != NULL) {
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

static const char head[] =
    ",episode,taken (UTC),age (min),mode,SpO2 (%),pulse (/min),respiration (/min),"
    "conscious level (ACVPU),GCS eye (of 4),GCS verbal (of 5),GCS motor (of 6),systolic (mmHg),"
    "diastolic (mmHg),temperature (Cel),temperature site,airway,Lake Louise 2018 (of 12),"
    "ataxia heel-to-toe (of 4),by,via,station,record,clock,corrected,reason\r\n";

static void comma(struct rp_textbuf *out)
{
    rp_textbuf_put(out, ",", 1);
}

static void put_value(struct rp_textbuf *out, struct rp_value value, unsigned decimals)
{
    comma(out);
    if (value.state == RP_MEASURED) {
        rp_textbuf_number(out, value.value, decimals);
    } else if (value.state == RP_UNABLE) {
        rp_textbuf_str(out, "no result");
    }
}

/* A choice as its word: first is the word of 0. */
static void put_choice(struct rp_textbuf *out, const struct rp_texts *texts, struct rp_value value,
                       enum rp_text_id first, enum rp_text_id last)
{
    if (value.state == RP_MEASURED) {
        comma(out);
        rp_csv_entered(out, texts->words[rp_text_pick(first, last, value.value)]);
    } else {
        put_value(out, value, 0);
    }
}

static void put_word(struct rp_textbuf *out, const struct rp_texts *texts, enum rp_text_id word)
{
    comma(out);
    rp_csv_entered(out, texts->words[word]);
}

static void put_signs(struct rp_textbuf *out, const struct rp_texts *texts,
                      const struct rp_obs *obs)
{
    put_value(out, obs->spo2_pct, 0);
    put_value(out, obs->pulse_bpm, 0);
    put_value(out, obs->resp_rpm, 0);
    put_choice(out, texts, obs->acvpu, RP_TX_ACVPU_ALERT, RP_TX_ACVPU_UNRESPONSIVE);
    put_value(out, obs->gcs_eye, 0);
    put_value(out, obs->gcs_verbal, 0);
    put_value(out, obs->gcs_motor, 0);
    put_value(out, obs->systolic_mmhg, 0);
    put_value(out, obs->diastolic_mmhg, 0);
    put_value(out, obs->temp_dc, 1);
    if (obs->temp_dc.state == RP_MEASURED) {
        put_word(out, texts,
                 rp_text_pick(RP_TX_SITE_UNSAID, RP_TX_SITE_OESOPHAGEAL, obs->temp_site));
    } else {
        comma(out);
    }
    put_choice(out, texts, obs->airway, RP_TX_AIRWAY_CLEAR, RP_TX_AIRWAY_DEVICE);
    put_value(out, obs->lls, 0);
    put_value(out, obs->ataxia, 0);
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

static void put_source(struct rp_textbuf *out, const struct rp_sheet_input *in,
                       const struct rp_source *from)
{
    static const char *const vias[] = {
        [RP_VIA_ENTERED] = "entered", [RP_VIA_PAPER] = "paper", [RP_VIA_VOICE] = "voice"};
    const char *name =
        in->station_name_of != NULL ? in->station_name_of(in->names_ctx, from->station) : NULL;
    comma(out);
    rp_csv_entered(out, from->by);
    comma(out);
    rp_textbuf_str(out, from->via <= RP_VIA_VOICE ? vias[from->via] : "?");
    comma(out);
    if (name != NULL) {
        rp_csv_entered(out, name);
    } else {
        rp_textbuf_number(out, from->station, 0);
    }
    comma(out);
    rp_stamp_record(out, from->ref);
    rp_textbuf_str(out, from->unsynced ? ",not synchronised" : ",synchronised");
    rp_textbuf_str(out, from->voided ? ",CORRECTED," : ",,");
    if (from->voided) {
        rp_csv_entered(out, reason_of(in->episode, from->ref));
    }
    rp_textbuf_str(out, "\r\n");
}

static void put_set(struct rp_textbuf *out, const struct rp_sheet_input *in,
                    const struct rp_texts *texts, const struct rp_obs *obs)
{
    rp_textbuf_str(out, in->episode->exercise ? "EXERCISE," : "actual,");
    rp_stamp_episode(out, in->episode->ref);
    comma(out);
    rp_stamp_utc(out, obs->taken_s);
    comma(out);
    rp_textbuf_number(out, ((int64_t)in->now_s - obs->taken_s) / 60, 0);
    put_word(out, texts, rp_text_pick(RP_TX_MODE_UNSAID, RP_TX_MODE_CHAMBER_OXYGEN, obs->mode));
    put_signs(out, texts, obs);
    put_source(out, in, &obs->from);
}

int rp_csv_render(const struct rp_sheet_facts *facts, const struct rp_texts *texts, char *buf,
                  size_t cap)
{
    const struct rp_sheet_input *in = facts->input;
    if (cap == 0) {
        return RP_E_TOO_LONG;
    }
    struct rp_textbuf out = rp_textbuf_on(buf, cap - 1);
    rp_textbuf_str(&out, in->episode->exercise ? "EXERCISE - NOT REAL" : "actual");
    rp_textbuf_str(&out, head);
    for (size_t i = 0; i < in->episode->obs.count; i++) {
        put_set(&out, in, texts, &in->episode->obs.at[i]);
    }
    buf[out.full ? 0 : out.len] = '\0';
    return out.full ? RP_E_TOO_LONG : (int)out.len;
}
