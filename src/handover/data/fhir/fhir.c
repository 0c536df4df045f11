#include "handover/data/fhir/fhir.h"

#include "handover/data/fhir/write.h"
#include "handover/text/say.h"
#include "ridgepost/error.h"

static const struct {
    void (*write)(struct rp_fhir *f);
    enum rp_text_id title;
} sections[RP_FHIR_SECTIONS] = {
    [RP_FHIR_ILLNESS] = {rp_fhir_illness, RP_TX_FHIR_ILLNESS},
    [RP_FHIR_ALLERGIES] = {rp_fhir_allergies, RP_TX_FHIR_ALLERGIES},
    [RP_FHIR_DRUGS] = {rp_fhir_drugs, RP_TX_FHIR_DRUGS},
    [RP_FHIR_OWN_MEDICINES] = {rp_fhir_own_medicines, RP_TX_FHIR_OWN_MEDICINES},
    [RP_FHIR_SIGNS] = {rp_fhir_signs, RP_TX_FHIR_SIGNS},
    [RP_FHIR_TREATMENT] = {rp_fhir_treatment, RP_TX_FHIR_TREATMENT},
    [RP_FHIR_BACKGROUND] = {rp_fhir_background, RP_TX_FHIR_BACKGROUND},
    [RP_FHIR_SILENCES] = {rp_fhir_silences, RP_TX_FHIR_SILENCES},
};

/* "nilknown", "notasked" and "unavailable" are different things to a doctor. */
static const char *empty_reason(const struct rp_fhir *f, enum rp_fhir_section section)
{
    enum rp_asked state = section == RP_FHIR_ALLERGIES ? f->ep->background.allergies.state
                                                       : f->ep->background.medicines.state;
    if (section == RP_FHIR_SILENCES) {
        return "nilknown";
    }
    if (section != RP_FHIR_ALLERGIES && section != RP_FHIR_OWN_MEDICINES) {
        return "unavailable";
    }
    return state == RP_NONE_KNOWN ? "nilknown" : "notasked";
}

/* How many entries of the section gave way for want of room. */
static void add_dropped(struct rp_fhir *f, enum rp_fhir_section section)
{
    const struct rp_episode *ep = f->ep;
    uint32_t dropped =
        section == RP_FHIR_DRUGS       ? ep->doses.older_dropped
        : section == RP_FHIR_SIGNS     ? ep->obs.older_dropped + ep->obs_dropped
        : section == RP_FHIR_ALLERGIES ? ep->known[RP_BG_ALLERGIES].older_dropped
        : section == RP_FHIR_TREATMENT
            ? ep->sessions.older_dropped + ep->oxygen.older_dropped + ep->fluids.older_dropped
            : 0;
    bool more_gaps = section == RP_FHIR_SILENCES && f->facts->gap_count > RP_SHEET_GAPS_MAX;
    if (dropped == 0 && !more_gaps) {
        return;
    }
    char text[240];
    struct rp_textbuf out = rp_textbuf_on(text, sizeof text);
    rp_textbuf_str(&out, "<div xmlns=\"http://www.w3.org/1999/xhtml\">");
    if (more_gaps) {
        rp_textbuf_str(&out, f->texts->words[RP_TX_MORE_GAPS]);
    } else {
        rp_textbuf_number(&out, dropped, 0);
        rp_textbuf_str(&out, " ");
        rp_textbuf_str(&out, f->texts->words[RP_TX_OLDER_DROPPED]);
    }
    rp_textbuf_str(&out, "</div>");
    rp_json_object(&f->json, "text");
    rp_json_text(&f->json, "status", "additional");
    rp_json_text_len(&f->json, "div", text, out.len);
    rp_json_end_object(&f->json);
}

static void add_section(struct rp_fhir *f, enum rp_fhir_section section)
{
    struct rp_fhir counting = *f;
    char none[1];
    struct rp_textbuf nowhere = rp_textbuf_on(none, 0);
    counting.json = rp_json_on(&nowhere);
    counting.listing = true;
    counting.listed = 0;
    sections[section].write(&counting);
    rp_json_object(&f->json, NULL);
    rp_json_text(&f->json, "title", f->texts->words[sections[section].title]);
    add_dropped(f, section);
    if (counting.listed > 0) {
        rp_json_list(&f->json, "entry");
        f->listing = true;
        sections[section].write(f);
        f->listing = false;
        rp_json_end_list(&f->json);
    } else {
        rp_fhir_concept(f, "emptyReason", "http://terminology.hl7.org/CodeSystem/list-empty-reason",
                        empty_reason(f, section), NULL);
    }
    rp_json_end_object(&f->json);
}

static void add_composition(struct rp_fhir *f)
{
    char title[400];
    struct rp_textbuf out = rp_textbuf_on(title, sizeof title);
    rp_textbuf_str(&out, f->ep->exercise ? f->texts->words[RP_TX_EXERCISE] : "");
    rp_textbuf_str(&out, f->ep->exercise ? ": " : "");
    rp_textbuf_str(&out, f->texts->words[RP_TX_SHEET]);
    rp_textbuf_str(&out, ", ");
    rp_say_sheet(&out, f->texts, f->facts, ", ");
    rp_fhir_begin(f, "Composition", RP_FHIR_COMPOSITION, rp_fhir_episode_ref(f), 0);
    rp_json_text(&f->json, "language", f->texts->words[RP_TX_LANGUAGE_CODE]);
    bool over = f->ep->closed || f->ep->evac_state == RP_EVAC_HANDED_OVER;
    rp_json_text(&f->json, "status", over ? "final" : "preliminary");
    rp_fhir_concept(f, "type", RP_FHIR_CODES, "handover-sheet", f->texts->words[RP_TX_SHEET]);
    rp_fhir_reference(f, "subject", RP_FHIR_PATIENT);
    rp_fhir_time(f, "date", f->facts->input->now_s);
    rp_json_list(&f->json, "author");
    rp_fhir_reference(f, NULL, RP_FHIR_DEVICE);
    rp_json_end_list(&f->json);
    f->json.out->full = f->json.out->full || out.full;
    rp_json_text_len(&f->json, "title", title, out.len);
    rp_json_list(&f->json, "section");
    for (int i = 0; i < RP_FHIR_SECTIONS; i++) {
        add_section(f, (enum rp_fhir_section)i);
    }
    rp_json_end_list(&f->json);
    rp_fhir_end(f);
}

static void add_patient(struct rp_fhir *f)
{
    static const char *const genders[] = {[RP_SEX_UNSAID] = "unknown",
                                          [RP_SEX_FEMALE] = "female",
                                          [RP_SEX_MALE] = "male",
                                          [RP_SEX_OTHER] = "other"};
    const struct rp_rec_episode *o = &f->ep->opening;
    rp_fhir_begin(f, "Patient", RP_FHIR_PATIENT, rp_fhir_episode_ref(f), 0);
    if (f->ep->opened && o->patient[0] != '\0') {
        rp_json_list(&f->json, "name");
        rp_json_object(&f->json, NULL);
        rp_fhir_text(f, "text", o->patient);
        rp_json_end_object(&f->json);
        rp_json_end_list(&f->json);
    }
    rp_json_text(&f->json, "gender",
                 genders[f->ep->opened && o->sex <= RP_SEX_OTHER ? o->sex : RP_SEX_UNSAID]);
    rp_fhir_end(f);
}

/* The station that made the document. */
static void add_device(struct rp_fhir *f)
{
    const char *name = f->facts->input->station_name;
    rp_fhir_begin(f, "Device", RP_FHIR_DEVICE, rp_fhir_episode_ref(f), 0);
    rp_json_list(&f->json, "deviceName");
    rp_json_object(&f->json, NULL);
    rp_fhir_text(f, "name",
                 name != NULL && name[0] != '\0' ? name : f->texts->words[RP_TX_STATION]);
    rp_json_text(&f->json, "type", "user-friendly-name");
    rp_json_end_object(&f->json);
    rp_json_end_list(&f->json);
    rp_fhir_end(f);
}

int rp_fhir_render(const struct rp_sheet_facts *facts, const struct rp_texts *texts, char *buf,
                   size_t cap)
{
    if (cap == 0) {
        return RP_E_TOO_LONG;
    }
    struct rp_textbuf out = rp_textbuf_on(buf, cap - 1);
    struct rp_fhir f = {
        .facts = facts, .ep = facts->input->episode, .texts = texts, .json = rp_json_on(&out)};
    f.json.plain_spaces = true; /* the standard's string takes no other */
    rp_json_object(&f.json, NULL);
    rp_json_text(&f.json, "resourceType", "Bundle");
    rp_fhir_meta(&f);
    rp_json_text(&f.json, "language", texts->words[RP_TX_LANGUAGE_CODE]);
    rp_json_object(&f.json, "identifier");
    rp_json_text(&f.json, "system", "urn:ietf:rfc:3986");
    rp_fhir_uuid(&f, "value", RP_FHIR_BUNDLE, rp_fhir_episode_ref(&f), facts->input->sheet_number);
    rp_json_end_object(&f.json);
    rp_json_text(&f.json, "type", "document");
    rp_fhir_time(&f, "timestamp", facts->input->now_s);
    rp_json_list(&f.json, "entry");
    add_composition(&f);
    add_patient(&f);
    add_device(&f);
    for (int i = 0; i < RP_FHIR_SECTIONS; i++) {
        sections[i].write(&f);
    }
    rp_json_end_list(&f.json);
    rp_json_end_object(&f.json);
    rp_textbuf_str(&out, "\n");
    buf[out.full ? 0 : out.len] = '\0';
    return out.full ? RP_E_TOO_LONG : (int)out.len;
}
