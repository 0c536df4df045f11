#include "page/sheet.h"

#include <stdio.h>
#include <string.h>

/* English, for rows of a station that sends no words with them. */
static const struct {
    const char *key, *english;
} words[] = {
    {"exercise", "EXERCISE - NOT A REAL PATIENT"},
    {"page", "page {} of {}"},
    {"caution", "Not a medical device. A chamber is never a substitute for descent. Follow the "
                "treating clinician, local protocols and licensed practice."},
    {"check_patient", "Not a medical device: check the patient."},
    {"translation", ""},
    {"code_head", "HANDOVER sheet"},
    {"phone", "For a phone's camera (plain text, no network):"},
    {"trend", "grey: chamber session; upright line: drug"},
    {"since", "CHANGED SINCE SHEET"},
    {"gone", "NO LONGER:"},
    {"silent", "hatched: no report"},
    {"spo2_pct", "SpO2 %"},
    {"pulse_bpm", "Pulse /min"},
    {"resp_rpm", "Resp /min"},
};
static const char *const modes[PAGE_MODE_COUNT] = {"mode not said", "on air", "on oxygen",
                                                   "in chamber", "in chamber on oxygen"};

const char *page_row_text(const json_t *row, const char *key)
{
    const char *text = json_string_value(json_object_get(row, key));
    return text != NULL ? text : "";
}

bool page_row_is(const json_t *row, const char *key, const char *value)
{
    return strcmp(page_row_text(row, key), value) == 0;
}

bool page_row_is_words(const json_t *row)
{
    return !page_row_is(row, "style", "banner") && !page_row_is(row, "style", "table");
}

const char *page_word(const struct page_sheet *sheet, const char *key)
{
    const json_t *given = json_object_get(json_object_get(sheet->root, "words"), key);
    if (json_is_string(given)) {
        return json_string_value(given);
    }
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++) {
        if (strcmp(words[i].key, key) == 0) {
            return words[i].english;
        }
    }
    return "";
}

const char *page_mode_word(const struct page_sheet *sheet, size_t mode)
{
    const json_t *given = json_object_get(json_object_get(sheet->root, "words"), "modes");
    const char *word = json_string_value(json_array_get(given, mode));
    return word != NULL ? word : modes[mode < PAGE_MODE_COUNT ? mode : 0];
}

const char *page_sheet_read(void *stream, struct page_sheet *out_sheet)
{
    json_t *root = json_loadf(stream, 0, NULL);
    json_t *rows = json_object_get(root, "rows");
    if (!json_is_array(rows)) {
        json_decref(root);
        return "the input is no sheet (example: ridgepost handover 7-1 --form rows)";
    }
    *out_sheet = (struct page_sheet){
        .root = root,
        .exercise = json_is_true(json_object_get(root, "exercise")),
        .number = (long)json_integer_value(json_object_get(root, "sheet")),
        .check = page_row_text(root, "check"),
        .station = page_row_text(root, "station"),
        .patient = page_row_text(root, "patient"),
        .rows = rows,
    };
    return NULL;
}

void page_sheet_free(struct page_sheet *sheet)
{
    json_decref(sheet->root);
    sheet->root = NULL;
}
