#include "handover/data/fhir/write.h"

#include <string.h>

#include "handover/data/stamp.h"

static void put_hex(struct rp_textbuf *out, uint64_t value, unsigned digits)
{
    static const char hex[] = "0123456789abcdef";
    for (unsigned i = digits; i > 0; i--) {
        rp_textbuf_put(out, &hex[value >> (4 * (i - 1)) & 15], 1);
    }
}

void rp_fhir_uuid(struct rp_fhir *f, const char *key, enum rp_fhir_kind kind,
                  struct rp_record_ref ref, unsigned part)
{
    char text[64];
    struct rp_textbuf out = rp_textbuf_on(text, sizeof text);
    rp_textbuf_str(&out, "urn:uuid:5250"); /* "RP" */
    put_hex(&out, ref.origin, 4);
    rp_textbuf_str(&out, "-");
    put_hex(&out, kind, 4);
    rp_textbuf_str(&out, "-8");
    put_hex(&out, f->ep->ref.number, 3);
    rp_textbuf_str(&out, "-8000-");
    put_hex(&out, ref.seq, 8);
    put_hex(&out, part, 4);
    rp_json_text_len(&f->json, key, text, out.len);
}

struct rp_record_ref rp_fhir_episode_ref(const struct rp_fhir *f)
{
    return (struct rp_record_ref){f->ep->ref.origin, 0};
}

void rp_fhir_reference(struct rp_fhir *f, const char *key, enum rp_fhir_kind kind)
{
    rp_json_object(&f->json, key);
    rp_fhir_uuid(f, "reference", kind, rp_fhir_episode_ref(f), 0);
    rp_json_end_object(&f->json);
}

void rp_fhir_meta(struct rp_fhir *f)
{
    if (!f->ep->exercise) {
        return;
    }
    rp_json_object(&f->json, "meta");
    rp_json_list(&f->json, "tag");
    rp_json_object(&f->json, NULL);
    rp_json_text(&f->json, "system", RP_FHIR_CODES);
    rp_json_text(&f->json, "code", "EXERCISE");
    rp_json_text(&f->json, "display", f->texts->words[RP_TX_EXERCISE]);
    rp_json_end_object(&f->json);
    rp_json_end_list(&f->json);
    rp_json_end_object(&f->json);
}

bool rp_fhir_begin(struct rp_fhir *f, const char *type, enum rp_fhir_kind kind,
                   struct rp_record_ref ref, unsigned part)
{
    f->listed++;
    rp_json_object(&f->json, NULL);
    if (f->listing) {
        rp_fhir_uuid(f, "reference", kind, ref, part);
        rp_json_end_object(&f->json);
        return false;
    }
    rp_fhir_uuid(f, "fullUrl", kind, ref, part);
    rp_json_object(&f->json, "resource");
    rp_json_text(&f->json, "resourceType", type);
    rp_fhir_meta(f);
    return true;
}

void rp_fhir_end(struct rp_fhir *f)
{
    rp_json_end_object(&f->json);
    rp_json_end_object(&f->json);
}

void rp_fhir_text(struct rp_fhir *f, const char *key, const char *text)
{
    char clean[RP_NOTE_LEN * 2];
    struct rp_textbuf out = rp_textbuf_on(clean, sizeof clean);
    if (text[strspn(text, " \t\r\n")] == '\0') {
        return;
    }
    rp_textbuf_entered(&out, text);
    f->json.out->full = f->json.out->full || out.full;
    rp_json_text_len(&f->json, key, clean, out.len);
}

void rp_fhir_time(struct rp_fhir *f, const char *key, uint32_t time_s)
{
    char text[RP_STAMP_LEN];
    struct rp_textbuf out = rp_textbuf_on(text, sizeof text);
    rp_stamp_utc(&out, time_s);
    rp_json_text_len(&f->json, key, text, out.len);
}

void rp_fhir_concept(struct rp_fhir *f, const char *key, const char *system, const char *code,
                     const char *text)
{
    rp_json_object(&f->json, key);
    if (code != NULL) {
        rp_json_list(&f->json, "coding");
        rp_json_object(&f->json, NULL);
        rp_json_text(&f->json, "system", system);
        rp_json_text(&f->json, "code", code);
        rp_json_end_object(&f->json);
        rp_json_end_list(&f->json);
    }
    if (text != NULL) {
        rp_fhir_text(f, "text", text);
    }
    rp_json_end_object(&f->json);
}

void rp_fhir_quantity(struct rp_fhir *f, const char *key, int64_t value, unsigned decimals,
                      const char *ucum)
{
    rp_json_object(&f->json, key);
    rp_json_number(&f->json, "value", value, decimals);
    rp_json_text(&f->json, "unit", ucum);
    rp_json_text(&f->json, "system", RP_FHIR_UCUM);
    rp_json_text(&f->json, "code", ucum);
    rp_json_end_object(&f->json);
}

void rp_fhir_absent(struct rp_fhir *f, const char *reason, const char *text)
{
    rp_fhir_concept(f, "dataAbsentReason",
                    "http://terminology.hl7.org/CodeSystem/data-absent-reason", reason, text);
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

static void put_labelled(struct rp_textbuf *out, const char *label, const char *text)
{
    if (text[0] != '\0') {
        rp_textbuf_str(out, out->len > 0 ? "; " : "");
        rp_textbuf_str(out, label);
        rp_textbuf_str(out, label[0] != '\0' ? " " : "");
        rp_textbuf_str(out, text);
    }
}

void rp_fhir_note(struct rp_fhir *f, const struct rp_source *from, const char *text)
{
    const char *const *words = f->texts->words;
    char note[RP_NOTE_LEN + 900];
    struct rp_textbuf out = rp_textbuf_on(note, sizeof note - 1);
    put_labelled(&out, "", text);
    put_labelled(&out, words[RP_TX_BY], from->by);
    if (from->via != RP_VIA_ENTERED) {
        put_labelled(&out, "", words[rp_text_pick(RP_TX_VIA_ENTERED, RP_TX_VIA_VOICE, from->via)]);
    }
    if (rp_episode_is_late(f->ep, from)) {
        put_labelled(&out, "", words[RP_TX_AFTER_HANDOVER]);
    }
    put_labelled(&out, "", from->unsynced ? words[RP_TX_CLOCK_UNSET] : "");
    put_labelled(&out, words[RP_TX_FHIR_CORRECTED],
                 from->voided ? reason_of(f->ep, from->ref) : "");
    note[out.len] = '\0';
    if (note[strspn(note, " ")] != '\0') {
        rp_json_list(&f->json, "note");
        rp_json_object(&f->json, NULL);
        rp_fhir_text(f, "text", note);
        rp_json_end_object(&f->json);
        rp_json_end_list(&f->json);
    }
}
