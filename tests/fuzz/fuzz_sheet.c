/* Texts of any bytes on a sheet: no control byte reaches the printer, no line passes its end, no
 * read or write outside. The input is cut into the texts of a note, a dose and a patient's name. */
#include <assert.h>
#include <stdint.h>
#include <string.h>

#include "handover/sheet.h"
#include "handover/utf8.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static struct rp_episode episode;
static char sheet[RP_SHEET_TEXT_LEN_MAX];

/* Takes up to field_size - 1 bytes; a NUL among them ends the text there. */
static void take(const uint8_t **data, size_t *size, char *field, size_t field_size)
{
    size_t len = *size < field_size - 1 ? *size : field_size - 1;
    memcpy(field, *data, len);
    field[len] = '\0';
    *data += len;
    *size -= len;
}

static void check_lines(void)
{
    for (const char *line = sheet; *line != '\0';) {
        const char *end = strchr(line, '\n');
        assert(end != NULL);
        assert(rp_utf8_columns(line, (size_t)(end - line)) <= 80);
        for (const char *at = line; at < end;) {
            uint32_t code;
            at += rp_utf8_next(at, &code);
            assert(!rp_utf8_hostile(code));
        }
        line = end + 1;
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    memset(&episode, 0, sizeof episode);
    episode.request_now = -1;
    episode.eta_answer = -1;
    episode.opened = true;
    episode.doses.count = 1;
    episode.notes.count = 1;
    take(&data, &size, episode.opening.patient, sizeof episode.opening.patient);
    take(&data, &size, episode.doses.at[0].what.name, sizeof episode.doses.at[0].what.name);
    take(&data, &size, episode.notes.at[0].text, sizeof episode.notes.at[0].text);
    const struct rp_sheet_input input = {.episode = &episode, .now_s = 3600, .sheet_number = 1};
    int len = rp_sheet_text(&input, sheet, sizeof sheet);
    assert(len > 0 && (size_t)len == strlen(sheet));
    check_lines();
    return 0;
}
