#include "handover/sheet.h"

#include <string.h>

#include "handover/check.h"
#include "handover/forms.h"

/* Polynomial 0x04c11db7, reflected. */
static uint32_t crc_byte(uint32_t crc, uint8_t byte)
{
    crc ^= byte;
    for (int bit = 0; bit < 8; bit++) {
        crc = crc >> 1 ^ ((crc & 1) != 0 ? UINT32_C(0xedb88320) : 0);
    }
    return crc;
}

uint32_t rp_sheet_crc32(struct rp_view bytes)
{
    uint32_t crc = UINT32_MAX;
    for (size_t i = 0; i < bytes.len; i++) {
        crc = crc_byte(crc, bytes.bytes[i]);
    }
    return ~crc;
}

struct digest {
    uint32_t crc;
};

static void digest_text(struct digest *d, const char *text)
{
    for (size_t i = 0; text[i] != '\0'; i++) {
        d->crc = crc_byte(d->crc, (uint8_t)text[i]);
    }
    d->crc = crc_byte(d->crc, 0);
}

static void digest_number(struct digest *d, int64_t number)
{
    for (unsigned i = 0; i < 8; i++) {
        d->crc = crc_byte(d->crc, (uint8_t)((uint64_t)number >> (8 * i)));
    }
}

/* Text keys stand for fixed words, so that the check does not depend on the language. */
static void digest_item(struct digest *d, const struct rp_sheet_item *item)
{
    if (item->live) {
        return;
    }
    digest_number(d, item->kind);
    digest_text(d, rp_text_key(item->label));
    digest_text(d, rp_text_key(item->word));
    digest_number(d, item->decimals);
    digest_number(d, item->state);
    digest_number(d, item->number);
    digest_number(d, item->number_2);
    digest_number(d, item->time_s);
    /* A station's name is local configuration, its number is not. */
    bool named = item->entered != NULL && item->kind != RP_ITEM_STATION;
    digest_text(d, named ? item->entered : "");
    if (item->taken_from != NULL) {
        digest_number(d, item->taken_from->taken_s);
        digest_number(d, item->taken_from->mode);
    }
}

static void digest_row(void *arg, const struct rp_sheet_row *row)
{
    struct digest *d = arg;
    digest_number(d, row->section);
    digest_text(d, rp_text_key(row->label));
    digest_number(d, row->struck);
    if (row->correction != NULL) {
        digest_text(d, row->correction->what.reason);
        digest_text(d, row->correction->from.by);
        digest_number(d, row->correction->from.happened_s);
    }
    for (size_t i = 0; i < row->item_count; i++) {
        digest_item(d, &row->items[i]);
    }
}

uint32_t rp_sheet_row_sum(const struct rp_sheet_row *row)
{
    struct digest d = {UINT32_MAX};
    digest_row(&d, row);
    return ~d.crc;
}

void rp_sheet_check_letters(uint32_t crc, char out_check[5])
{
    /* Digits and capitals without 0, 1, I and O: 32 of them, 5 bits each. */
    static const char alphabet[] = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ";
    for (int i = 0; i < 4; i++) {
        out_check[i] = alphabet[crc >> (27 - 5 * i) & 31];
    }
    out_check[4] = '\0';
}

void rp_sheet_check(const struct rp_sheet_input *input, char out_check[5])
{
    const struct rp_sheet_facts facts = {.input = input};
    struct digest d = {UINT32_MAX};
    rp_sheet_model(&facts, digest_row, &d);
    rp_sheet_check_letters(~d.crc, out_check);
}

int rp_sheet_text(const struct rp_sheet_input *input, char *buf, size_t cap)
{
    return rp_form_make(rp_form_at(0), input, &rp_texts_english, buf, cap);
}
