#include "handover/voice/script.h"

#include <assert.h>

#include "handover/text/say.h"
#include "handover/utf8.h"
#include "ridgepost/error.h"

#define COLUMNS 80u

void rp_script_begin(struct rp_script *script, const struct rp_sheet_facts *facts,
                     const struct rp_texts *texts)
{
    script->facts = facts;
    script->ep = facts->input->episode;
    script->text = rp_textbuf_on(script->pool, sizeof script->pool);
    script->voice = (struct rp_voice){&script->text, texts};
    script->count = 0;
    script->cut = false;
    if (script->ep->exercise) {
        rp_script_part(script, ' ', RP_SCRIPT_MUST, false);
        rp_voice_word(&script->voice, RP_TX_SAY_EXERCISE);
    }
}

static void close_part(struct rp_script *script)
{
    if (script->count > 0) {
        struct rp_script_part *part = &script->parts[script->count - 1];
        part->len = script->text.len - part->start;
        part->words = rp_voice_count(script->pool + part->start, part->len);
    }
}

void rp_script_part(struct rp_script *script, char letter, uint8_t rank, bool read_back)
{
    assert(script->count < RP_SCRIPT_PARTS_MAX);
    close_part(script);
    if (script->count > 0) {
        rp_textbuf_put(&script->text, " ", 1);
    }
    script->parts[script->count++] = (struct rp_script_part){
        .letter = letter, .read_back = read_back, .rank = rank, .start = script->text.len};
}

static void take(struct rp_script_part *part, unsigned *words)
{
    part->taken = part->len > 0;
    *words += part->words;
}

static unsigned take_parts(struct rp_script *script, unsigned budget)
{
    unsigned words = 0, reserved = 0;
    bool cut = script->cut;
    for (size_t i = 0; i < script->count; i++) {
        reserved += script->parts[i].rank == RP_SCRIPT_IF_CUT ? script->parts[i].words : 0;
    }
    for (unsigned rank = RP_SCRIPT_MUST; rank < RP_SCRIPT_IF_CUT; rank++) {
        for (size_t i = 0; i < script->count; i++) {
            struct rp_script_part *part = &script->parts[i];
            bool fits = rank == RP_SCRIPT_MUST || words + part->words + reserved <= budget;
            if (part->rank == rank && fits) {
                take(part, &words);
            }
            cut = cut || (part->rank == rank && rank == RP_SCRIPT_FIRST && !fits);
        }
    }
    for (size_t i = 0; i < script->count && cut; i++) {
        if (script->parts[i].rank == RP_SCRIPT_IF_CUT) {
            take(&script->parts[i], &words);
        }
    }
    return words;
}

static void put_line_start(struct rp_textbuf *out, const struct rp_script_part *part, bool first)
{
    if (part->letter == '\0') {
        return;
    }
    char margin[] = {first ? part->letter : ' ', ' ', first && part->read_back ? '>' : ' ', '|',
                     ' '};
    rp_textbuf_put(out, margin, sizeof margin);
}

static void put_part(struct rp_textbuf *out, const char *text, const struct rp_script_part *part)
{
    const unsigned indent = part->letter != '\0' ? 5 : 0;
    unsigned column = indent;
    put_line_start(out, part, true);
    for (size_t at = 0; at < part->len;) {
        size_t end = at;
        while (end < part->len && text[end] != ' ') {
            end++;
        }
        unsigned width = rp_utf8_columns(text + at, end - at);
        if (column > indent && column + 1 + width > COLUMNS) {
            rp_textbuf_str(out, "\n");
            put_line_start(out, part, false);
            column = indent;
        }
        rp_textbuf_str(out, column > indent ? " " : "");
        rp_textbuf_put(out, text + at, end - at);
        column += width + (column > indent ? 1 : 0);
        for (at = end; at < part->len && text[at] == ' '; at++) {
        }
    }
    rp_textbuf_str(out, "\n");
}

static void put_head(struct rp_textbuf *out, const struct rp_script *script, enum rp_text_id title)
{
    const struct rp_texts *texts = script->voice.texts;
    const struct rp_sheet_input *in = script->facts->input;
    if (script->ep->exercise) {
        rp_textbuf_str(out, "*** ");
        rp_textbuf_str(out, texts->words[RP_TX_EXERCISE]);
        rp_textbuf_str(out, " ***\n");
    }
    rp_textbuf_str(out, texts->words[title]);
    rp_textbuf_str(out, " - ");
    rp_textbuf_str(out, texts->words[RP_TX_WITH_SHEET]);
    rp_textbuf_str(out, " ");
    rp_textbuf_number(out, in->sheet_number, 0);
    rp_textbuf_str(out, " - ");
    rp_textbuf_str(out, texts->words[RP_TX_CHECK]);
    rp_textbuf_str(out, " ");
    rp_textbuf_str(out, script->facts->check != NULL ? script->facts->check : "");
    rp_textbuf_str(out, "\n");
    rp_textbuf_str(out, texts->words[RP_TX_SPOKEN_HOW]);
    rp_textbuf_str(out, "\n\n");
}

static void put_foot(struct rp_textbuf *out, const struct rp_script *script, unsigned words)
{
    const struct rp_texts *texts = script->voice.texts;
    rp_textbuf_str(out, "\n");
    rp_textbuf_number(out, words, 0);
    rp_textbuf_str(out, " ");
    rp_textbuf_str(out, texts->words[RP_TX_SPOKEN_WORDS]);
    rp_textbuf_str(out, " ");
    rp_textbuf_number(out, (words * 60 + 149) / 150, 0);
    rp_textbuf_str(out, " ");
    rp_textbuf_str(out, texts->words[RP_TX_SPOKEN_SECONDS]);
    rp_textbuf_str(out, " ");
    rp_textbuf_str(out, texts->words[RP_TX_SPOKEN_REST]);
    rp_textbuf_str(out, "\n");
    char caution[400];
    struct rp_textbuf text = rp_textbuf_on(caution, sizeof caution);
    rp_textbuf_str(&text, texts->words[RP_TX_L_CAUTION]);
    rp_textbuf_str(&text, " ");
    rp_textbuf_str(&text, texts->words[RP_TX_CAUTIONS]);
    put_part(out, caution, &(struct rp_script_part){.len = text.len});
    if (script->ep->exercise) {
        rp_textbuf_str(out, "*** ");
        rp_textbuf_str(out, texts->words[RP_TX_EXERCISE]);
        rp_textbuf_str(out, " ***\n");
    }
}

int rp_script_end(struct rp_script *script, enum rp_text_id title, unsigned budget, char *buf,
                  size_t cap)
{
    if (cap == 0) {
        return RP_E_TOO_LONG;
    }
    struct rp_textbuf out = rp_textbuf_on(buf, cap - 1);
    close_part(script);
    unsigned words = take_parts(script, budget);
    put_head(&out, script, title);
    for (size_t i = 0; i < script->count; i++) {
        if (script->parts[i].taken) {
            put_part(&out, script->pool + script->parts[i].start, &script->parts[i]);
        }
    }
    put_foot(&out, script, words);
    bool full = out.full || script->text.full;
    buf[full ? 0 : out.len] = '\0';
    return full ? RP_E_TOO_LONG : (int)out.len;
}
