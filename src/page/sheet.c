#include "page/sheet.h"

#include <stdio.h>
#include <string.h>

#include "handover/data/rows.h"

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
    const char *word = json_string_value(given);
    word = word != NULL ? word : rp_rows_word(&rp_texts_english, key);
    return word != NULL ? word : "";
}

const char *page_mode_word(const struct page_sheet *sheet, size_t mode)
{
    const json_t *given = json_object_get(json_object_get(sheet->root, "words"), "modes");
    const char *word = json_string_value(json_array_get(given, mode));
    return word != NULL ? word : rp_rows_mode_word(&rp_texts_english, mode);
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
