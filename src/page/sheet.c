#include "page/sheet.h"

#include <stdio.h>
#include <string.h>

const char *page_row_text(const json_t *row, const char *key)
{
    const char *text = json_string_value(json_object_get(row, key));
    return text != NULL ? text : "";
}

bool page_row_is(const json_t *row, const char *key, const char *value)
{
    return strcmp(page_row_text(row, key), value) == 0;
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
