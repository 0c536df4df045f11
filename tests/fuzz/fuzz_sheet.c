/* Texts of any bytes in every form and language: no control byte reaches the printer, no line of
 * the sheet passes its end, no read or write outside. The input is cut into the texts of a note, a
 * dose and a patient's name. */
#include <assert.h>
#include <stdint.h>
#include <string.h>

#include "handover/forms.h"
#include "handover/utf8.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static struct rp_episode episode;
static char sheet[RP_FORM_LEN_MAX];

/* Takes up to field_size - 1 bytes; a NUL among them ends the text there. */
static void take(const uint8_t **data, size_t *size, char *field, size_t field_size)
{
    size_t len = *size < field_size - 1 ? *size : field_size - 1;
    memcpy(field, *data, len);
    field[len] = '\0';
    *data += len;
    *size -= len;
}

/* Lines end, in a form of plain text within its paper. */
static void check_lines(unsigned columns)
{
    for (const char *line = sheet; *line != '\0';) {
        const char *end = strchr(line, '\n');
        assert(end != NULL);
        assert(rp_utf8_columns(line, (size_t)(end - line)) <= columns);
        for (const char *at = line; at < end;) {
            uint32_t code;
            at += rp_utf8_next(at, &code);
            assert(!rp_utf8_hostile(code));
        }
        line = end + 1;
    }
}

static void check_form(const struct rp_sheet_input *input, const struct rp_form *form,
                       const struct rp_texts *texts)
{
    int len = rp_form_make(form, input, texts, sheet, sizeof sheet);
    assert(len > 0 && (size_t)len == strlen(sheet));
    if (strncmp(form->type, "text/plain", 10) == 0) {
        bool roll = strcmp(form->word, "roll42") == 0, card = strcmp(form->word, "pilot") == 0;
        check_lines(roll ? 42 : card || strcmp(form->word, "roll32") == 0 ? 32 : 80);
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    const size_t whole = size;
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
    /* The length chooses one form and language: all of them would leave little time for texts. */
    size_t forms = 0;
    while (rp_form_at(forms) != NULL) {
        forms++;
    }
    check_form(&input, rp_form_at(whole % forms), rp_texts_all[whole / forms % rp_texts_count]);
    return 0;
}
