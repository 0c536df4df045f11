/* A sheet's rows of any bytes: read or refused with a sentence; the texts of its codes are within
 * their bound, each ends its first line, and no read or write is outside. */
#include <assert.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "page/code.h"
#include "page/code_text.h"
#include "page/trend.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void check_texts(const struct page_sheet *sheet, size_t bytes_max)
{
    static char *texts[PAGE_CODES_MAX];
    int count = page_code_texts(sheet, bytes_max, texts, PAGE_CODES_MAX);
    assert(count != 0);
    for (int i = 0; i < count; i++) {
        assert(strlen(texts[i]) <= bytes_max);
        assert(strchr(texts[i], '\n') != NULL);
        free(texts[i]);
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct page_sheet sheet;
    FILE *stream = tmpfile();
    assert(stream != NULL);
    assert(fwrite(data, 1, size, stream) == size);
    rewind(stream);
    if (page_sheet_read(stream, &sheet) == NULL) {
        check_texts(&sheet, page_code_paper.bytes_max);
        check_texts(&sheet, page_code_screen.bytes_max);
        (void)page_trend_has(&sheet);
        page_sheet_free(&sheet);
    }
    fclose(stream);
    return 0;
}
