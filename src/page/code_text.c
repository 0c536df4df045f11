#include "page/code_text.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define HEAD_MAX 200 /* of the first line, its longest words included */

/* Texts in the making. */
struct cut {
    const struct page_sheet *sheet;
    size_t bytes_max, cap, count, used; /* used: bytes of the last text */
    char **texts;
    bool failed;
};

/* Rows in the order in which they matter, by section and own key ("": the rest of the section).
 * The optional ones come along where the last code has room. */
static const struct {
    const char *section, *key;
    bool optional;
} wanted[] = {
    {"HEADLINE", "L_GRID", true},     {"HEADLINE", "L_NEWS", true},
    {"HEADLINE", "", false},          {"ALLERGIES", "", false},
    {"TREATMENT", "L_DESCENT", true}, {"TREATMENT", "L_REASSESS", true},
    {"TREATMENT", "", false},         {"MEDICINES", "", false},
    {"SIGNS", "L_AIRWAY", false},     {"TIME", "", false},
    {"UNKNOWNS", "", false},          {"COMPLETENESS", "", false},
    {"BACKGROUND", "", true},         {"EVACUATION", "", true},
    {"COMPLAINT", "", true},          {"SIGNS", "L_LATEST", true},
    {"INVESTIGATIONS", "", true},     {"OTHER", "", true},
};
#define WANTED_COUNT (sizeof wanted / sizeof wanted[0])

/* The first row of the table that this row answers to; WANTED_COUNT: none. */
static size_t find_wanted(const json_t *row)
{
    size_t i = 0;
    while (i < WANTED_COUNT &&
           !(page_row_is(row, "section", wanted[i].section) &&
             (wanted[i].key[0] == '\0' || page_row_is(row, "key", wanted[i].key)))) {
        i++;
    }
    return i;
}

/* A no-break space is for whoever lays out lines. */
static void spaces_plain(char *text)
{
    char *to = text;
    for (const char *at = text; *at != '\0'; at++) {
        if (at[0] == '\xc2' && at[1] == '\xa0') {
            *to++ = ' ';
            at++;
        } else {
            *to++ = *at;
        }
    }
    *to = '\0';
}

/* Every text begins with what it belongs to; its place among the others is filled in at the end. */
static void begin_text(struct cut *cut)
{
    const struct page_sheet *sheet = cut->sheet;
    char *text = cut->count < cut->cap ? calloc(1, cut->bytes_max + 1) : NULL;
    if (text == NULL) {
        cut->failed = true;
        return;
    }
    snprintf(text, HEAD_MAX, "[00/00] %.90s%s%.40s %ld %.8s\n",
             sheet->exercise ? page_word(sheet, "exercise") : "", sheet->exercise ? ". " : "",
             page_word(sheet, "code_head"), sheet->number, sheet->check);
    cut->texts[cut->count++] = text;
    cut->used = strlen(text);
}

static size_t room(const struct cut *cut)
{
    return cut->bytes_max - cut->used;
}

static void put(struct cut *cut, const char *bytes, size_t len)
{
    memcpy(cut->texts[cut->count - 1] + cut->used, bytes, len);
    cut->used += len;
}

/* The longest piece that fits `most` bytes and ends between characters, at a space if there is
 * one in its second half. */
static size_t piece_of(const char *line, size_t most)
{
    size_t len = strlen(line);
    if (len <= most) {
        return len;
    }
    len = most;
    while (len > 0 && ((unsigned char)line[len] & 0xc0) == 0x80) {
        len--;
    }
    for (size_t at = len; at > len / 2; at--) {
        if (line[at - 1] == ' ') {
            return at;
        }
    }
    return len;
}

/* A line goes whole into the text it fits; one longer than a text goes on in the next. */
static void add_line(struct cut *cut, const char *line)
{
    while (!cut->failed && *line != '\0') {
        size_t len = strlen(line);
        bool fresh = strchr(cut->texts[cut->count - 1], '\n')[1] == '\0';
        if (len + 1 > room(cut) && !fresh) {
            begin_text(cut);
            continue;
        }
        size_t piece = piece_of(line, room(cut) - 1);
        if (piece == 0) {
            cut->failed = true;
            return;
        }
        put(cut, line, piece);
        put(cut, "\n", 1);
        line += piece;
    }
}

static void add_row(struct cut *cut, const json_t *row, bool optional)
{
    const char *label = page_row_text(row, "label"), *text = page_row_text(row, "text");
    size_t size = strlen(label) + strlen(text) + 2;
    char *line = malloc(size);
    if (line == NULL) {
        cut->failed = true;
        return;
    }
    snprintf(line, size, "%s%s%s", label, label[0] != '\0' ? " " : "", text);
    spaces_plain(line);
    if (!optional || strlen(line) + 1 <= room(cut)) {
        add_line(cut, line);
    }
    free(line);
}

static void add_rows(struct cut *cut, size_t which)
{
    size_t index;
    json_t *row;
    json_array_foreach(cut->sheet->rows, index, row)
    {
        if (find_wanted(row) == which && page_row_is_words(row) &&
            !json_is_true(json_object_get(row, "struck")) && !cut->failed) {
            add_row(cut, row, wanted[which].optional);
        }
    }
}

/* Where each stands among the others; one alone does not say. */
static void number_texts(struct cut *cut)
{
    char place[48];
    for (size_t i = 0; i < cut->count; i++) {
        char *text = cut->texts[i];
        if (cut->count == 1) {
            memmove(text, text + 8, strlen(text + 8) + 1);
            return;
        }
        snprintf(place, sizeof place, "[%02zu/%02zu]", i + 1, cut->count);
        memcpy(text, place, 7);
    }
}

static void free_texts(struct cut *cut)
{
    for (size_t i = 0; i < cut->count; i++) {
        free(cut->texts[i]);
    }
    cut->count = 0;
}

static bool cut_needed(struct cut *cut, size_t bytes_max)
{
    cut->bytes_max = bytes_max;
    cut->failed = false;
    begin_text(cut);
    for (size_t i = 0; i < WANTED_COUNT && !cut->failed; i++) {
        if (!wanted[i].optional) {
            add_rows(cut, i);
        }
    }
    if (!cut->failed) {
        add_line(cut, page_word(cut->sheet, "check_patient"));
        add_line(cut, page_word(cut->sheet, "translation"));
    }
    if (cut->failed) {
        free_texts(cut);
    }
    return !cut->failed;
}

/* Several texts of about one length make codes with larger cells than full ones and a small one. */
static bool cut_evenly(struct cut *cut, size_t bytes_max)
{
    if (!cut_needed(cut, bytes_max)) {
        return false;
    }
    size_t count = cut->count, least = HEAD_MAX * 2, most = bytes_max;
    while (count > 1 && least + 16 < most) {
        size_t middle = (least + most) / 2;
        free_texts(cut);
        bool fits = cut_needed(cut, middle) && cut->count <= count;
        least = fits ? least : middle;
        most = fits ? middle : most;
    }
    free_texts(cut);
    return cut_needed(cut, most);
}

int page_code_texts(const struct page_sheet *sheet, size_t bytes_max, char **out_texts, size_t cap)
{
    struct cut cut = {.sheet = sheet, .cap = cap, .texts = out_texts};
    if (!cut_evenly(&cut, bytes_max)) {
        return -1;
    }
    for (size_t i = 0; i < WANTED_COUNT && !cut.failed; i++) {
        if (wanted[i].optional) {
            add_rows(&cut, i);
        }
    }
    if (cut.failed) {
        free_texts(&cut);
        return -1;
    }
    number_texts(&cut);
    return (int)cut.count;
}
