/* A sheet's rows, as `ridgepost handover EPISODE --form rows` gives them (handover/data/rows.h). */
#ifndef RP_PAGE_SHEET_H
#define RP_PAGE_SHEET_H

#include <jansson.h>
#include <stdbool.h>
#include <stddef.h>

struct page_sheet {
    json_t *root; /* owned */
    bool exercise;
    long number;
    const char *check, *station, *patient; /* borrowed from root */
    json_t *rows;                          /* borrowed */
};

/* Reads the JSON of a whole stream. Returns NULL, or a sentence that says what is wrong. */
const char *page_sheet_read(void *stream, struct page_sheet *out_sheet);
void page_sheet_free(struct page_sheet *sheet);

/* A text member of a row, "" when it has none. */
const char *page_row_text(const json_t *row, const char *key);
bool page_row_is(const json_t *row, const char *key, const char *value);
/* Whether the row has words of its own to read: no banner, no line of a table. */
bool page_row_is_words(const json_t *row);

/* The words that a page has beside the rows, in the language of the rows, by their key: "exercise",
 * "page" ... in English where the rows bring none. */
const char *page_word(const struct page_sheet *sheet, const char *key);
/* The same for how a value was taken: enum rp_mode of wire/record.h as rows.h gives it. */
#define PAGE_MODE_COUNT 5
const char *page_mode_word(const struct page_sheet *sheet, size_t mode);

#endif
