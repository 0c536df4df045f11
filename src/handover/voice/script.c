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
    script->elsewhere = false;
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

static void next_line(struct rp_textbuf *out, const struct rp_script_part *part, unsigned indent,
                      unsigned *out_column)
{
    rp_textbuf_str(out, "\n");
    put_line_start(out, part, false);
    *out_column = indent;
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
        bool begun = column > indent;
        if (begun && column + 1 + width > COLUMNS) {
            next_line(out, part, indent, &column);
            begun = false;
        }
        rp_textbuf_str(out, begun ? " " : "");
        column += begun;
        for (size_t fit; (fit = rp_utf8_fit(text + at, end - at, COLUMNS - column)) < end - at;) {
            rp_textbuf_plain(out, text + at, fit);
            at += fit;
            next_line(out, part, indent, &column);
        }
        rp_textbuf_plain(out, text + at, end - at);
        column += rp_utf8_columns(text + at, end - at);
        for (at = end; at < part->len && text[at] == ' '; at++) {
        }
    }
    rp_textbuf_str(out, "\n");
}

static void put_banner(struct rp_textbuf *out, const struct rp_script *script)
{
    if (script->ep->exercise) {
        rp_textbuf_str(out, "*** ");
        rp_textbuf_str(out, script->voice.texts->words[RP_TX_EXERCISE]);
        rp_textbuf_str(out, " ***\n");
    }
}

static void put_head(struct rp_textbuf *out, const struct rp_script *script, enum rp_text_id title)
{
    const struct rp_texts *texts = script->voice.texts;
    put_banner(out, script);
    rp_textbuf_str(out, texts->words[title]);
    rp_textbuf_str(out, " - ");
    rp_say_sheet(out, texts, script->facts, " - ");
    rp_textbuf_str(out, "\n");
    rp_textbuf_str(out, texts->words[RP_TX_SPOKEN_HOW]);
    rp_textbuf_str(out, "\n\n");
}

/* A paragraph across the paper. */
static void put_words(struct rp_textbuf *out, const char *text, size_t len)
{
    put_part(out, text, &(struct rp_script_part){.len = len});
}

static void put_foot(struct rp_textbuf *out, const struct rp_script *script, unsigned words)
{
    const struct rp_texts *texts = script->voice.texts;
    char foot[1200];
    struct rp_textbuf text = rp_textbuf_on(foot, sizeof foot);
    struct rp_voice voice = {&text, texts};
    rp_textbuf_str(out, "\n");
    rp_textbuf_number(&text, words, 0);
    rp_voice_word(&voice, RP_TX_SPOKEN_WORDS);
    rp_textbuf_str(&text, " ");
    rp_textbuf_number(&text, (words * 60 + 149) / 150, 0);
    rp_voice_word(&voice, RP_TX_SPOKEN_SECONDS);
    rp_voice_word(&voice, RP_TX_SPOKEN_REST);
    if (script->elsewhere) {
        rp_textbuf_str(&text, " ");
        rp_say_elsewhere(&text, texts, script->facts);
    }
    put_words(out, foot, text.len);
    text.len = 0;
    rp_voice_word(&voice, RP_TX_L_CAUTION);
    rp_voice_word(&voice, RP_TX_CAUTIONS);
    rp_voice_word(&voice, RP_TX_TRANSLATION_NOTE);
    put_words(out, foot, text.len);
    put_banner(out, script);
    out->full = out->full || text.full;
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
