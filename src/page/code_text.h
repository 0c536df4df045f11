/* The words of the QR codes: which rows, in which order, cut into texts of bounded length. */
#ifndef RP_PAGE_CODE_TEXT_H
#define RP_PAGE_CODE_TEXT_H

#include "page/sheet.h"

/* Cuts what page_codes_make promises into at most cap texts of at most bytes_max bytes, UTF-8, each
 * allocated. Returns how many, or -1: they do not fit, or no memory. */
int page_code_texts(const struct page_sheet *sheet, size_t bytes_max, char **out_texts, size_t cap);

#endif
