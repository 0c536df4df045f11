#include "handover/forms.h"

#include <string.h>

#include "handover/data/cap.h"
#include "handover/data/csv.h"
#include "handover/data/fhir/fhir.h"
#include "handover/data/geojson.h"
#include "handover/data/rows.h"
#include "handover/text/cards.h"
#include "handover/text/columns.h"
#include "handover/voice/spoken.h"

static int text80(const struct rp_sheet_facts *facts, const struct rp_texts *texts, char *buf,
                  size_t cap)
{
    return rp_columns_render(facts, texts, &rp_columns_80, buf, cap);
}

static int roll42(const struct rp_sheet_facts *facts, const struct rp_texts *texts, char *buf,
                  size_t cap)
{
    return rp_columns_render(facts, texts, &rp_columns_42, buf, cap);
}

static int roll32(const struct rp_sheet_facts *facts, const struct rp_texts *texts, char *buf,
                  size_t cap)
{
    return rp_columns_render(facts, texts, &rp_columns_32, buf, cap);
}

#define PLAIN "text/plain; charset=utf-8"

static const struct rp_form forms[] = {
    {"text", PLAIN, "txt", "the sheet, 80 columns", true, RP_CARE_WHOLE, text80},
    {"roll42", PLAIN, "txt", "the sheet for a receipt printer, 42 columns", true, RP_CARE_WHOLE,
     roll42},
    {"roll32", PLAIN, "txt", "the sheet for a receipt printer, 32 columns", true, RP_CARE_WHOLE,
     roll32},
    {"rows", "application/json", "json", "the sheet's rows, for a program that draws pages", true,
     RP_CARE_WHOLE, rp_rows_render},
    {"spoken", PLAIN, "txt", "the handover to be said in 45 s", true, RP_CARE_COUNTED,
     rp_spoken_render},
    {"ethane", PLAIN, "txt", "first call-out to be said, ETHANE", true, RP_CARE_ELSEWHERE,
     rp_ethane_render},
    {"isbar", PLAIN, "txt", "the sheet in the order for a doctor, ISBAR", true, RP_CARE_WHOLE,
     rp_isbar_render},
    {"request", PLAIN, "txt", "evacuation request for the helicopter's operator", true,
     RP_CARE_WHOLE, rp_request_render},
    {"pilot", PLAIN, "txt", "pilot card, capitals, 32 columns", true, RP_CARE_ELSEWHERE,
     rp_pilot_render},
    {"csv", "text/csv; charset=utf-8; header=present", "csv",
     "observations, drugs, fluids, allergies, a line each", false, RP_CARE_WHOLE, rp_csv_render},
    {"geojson", "application/geo+json", "geojson", "places and stations, longitude first", false,
     RP_CARE_ELSEWHERE, rp_geojson_render},
    {"fhir", "application/fhir+json", "json", "FHIR R4 document for the hospital", false,
     RP_CARE_WHOLE, rp_fhir_render},
    {"cap", "application/cap+xml", "xml", "CAP 1.2 alert of the evacuation request", false,
     RP_CARE_ELSEWHERE, rp_cap_render},
};
#define FORM_COUNT (sizeof forms / sizeof forms[0])

const struct rp_form *rp_form_find(const char *word)
{
    for (size_t i = 0; i < FORM_COUNT; i++) {
        if (strcmp(forms[i].word, word) == 0) {
            return &forms[i];
        }
    }
    return NULL;
}

const struct rp_form *rp_form_at(size_t index)
{
    return index < FORM_COUNT ? &forms[index] : NULL;
}

int rp_form_make(const struct rp_form *form, const struct rp_sheet_input *input,
                 const struct rp_texts *texts, char *buf, size_t cap)
{
    char check[5];
    struct rp_gap gaps[RP_SHEET_GAPS_MAX + 1];
    rp_sheet_check(input, check);
    const struct rp_sheet_facts facts = {
        .input = input,
        .gaps = gaps,
        .gap_count = rp_episode_gaps(input->episode, RP_SHEET_GAP_S, input->now_s, gaps,
                                     sizeof gaps / sizeof gaps[0]),
        .check = check,
    };
    return form->render(&facts, texts, buf, cap);
}
