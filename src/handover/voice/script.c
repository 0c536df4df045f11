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
    script->parts[script->count++] = (struct rp_script_part){.letter = letter,
                                                             .read_back = read_back,
                                                             .rank = rank,
                                                             .start = script->text.len,
                                                             .topic = RP_TX_NONE};
}

void rp_script_topic(struct rp_script *script, enum rp_text_id topic)
{
    assert(script->count > 0);
    script->parts[script->count - 1].topic = topic;
}

void rp_script_left(struct rp_script *script, enum rp_text_id topic)
{
    rp_script_part(script, ' ', RP_SCRIPT_NEVER, false);
    rp_script_topic(script, topic);
}

static bool names(const struct rp_script *script, size_t at)
{
    const struct rp_script_part *part = &script->parts[at];
    if (part->topic == RP_TX_NONE || part->taken) {
        return false;
    }
    for (size_t i = 0; i < at; i++) { /* each topic once */
        if (script->parts[i].topic == part->topic && !script->parts[i].taken) {
            return false;
        }
    }
    return true;
}

/* "On the sheet: more drugs, own medicines."; nothing when nothing was left out. */
static void say_pointer(const struct rp_script *script, struct rp_textbuf *out)
{
    struct rp_voice voice = {out, script->voice.texts};
    bool first = true;
    for (size_t i = 0; i < script->count; i++) {
        if (names(script, i)) {
            rp_voice_stop(&voice, first ? "" : ",");
            rp_voice_word(&voice, first ? RP_TX_SAY_ON_SHEET : RP_TX_NONE);
            rp_voice_word(&voice, script->parts[i].topic);
            first = false;
        }
    }
    rp_voice_stop(&voice, first ? "" : ".");
}

/* All words that are said if no other part is taken. */
static unsigned count_words(struct rp_script *script)
{
    unsigned words = 0;
    for (size_t i = 0; i < script->count; i++) {
        struct rp_script_part *part = &script->parts[i];
        if (part->rank == RP_SCRIPT_INSTEAD) {
            part->taken = i > 0 && !script->parts[i - 1].taken;
        } else if (part->rank == RP_SCRIPT_POINTER) {
            struct rp_textbuf text = rp_textbuf_on(script->pointer, sizeof script->pointer);
            say_pointer(script, &text);
            part->len = text.len;
            part->words = rp_voice_count(script->pointer, text.len);
            part->taken = part->len > 0;
        }
        words += part->taken ? part->words : 0;
    }
    return words;
}

static void take_rank(struct rp_script *script, unsigned rank, unsigned budget)
{
    for (size_t i = 0; i < script->count; i++) {
        struct rp_script_part *part = &script->parts[i];
        if (part->rank == rank && !part->taken && part->len > 0) {
            part->taken = true;
            part->taken = rank == RP_SCRIPT_MUST || count_words(script) <= budget;
        }
    }
}

/* Twice: a part that is taken needs no name any more, which may make room for one before it. */
static unsigned take_parts(struct rp_script *script, unsigned budget)
{
    for (unsigned pass = 0; pass < 2; pass++) {
        for (unsigned rank = RP_SCRIPT_MUST; rank <= RP_SCRIPT_LAST; rank++) {
            take_rank(script, rank, budget);
        }
    }
    return count_words(script);
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

/* A part and what goes on in its line. */
static void put_sentence(struct rp_textbuf *out, const struct rp_script *script, size_t at)
{
    char line[1000];
    struct rp_textbuf text = rp_textbuf_on(line, sizeof line);
    struct rp_script_part whole = script->parts[at];
    for (size_t i = at; i < script->count; i++) {
        const struct rp_script_part *part = &script->parts[i];
        if (i > at && part->letter != RP_SCRIPT_SAME_LINE) {
            break;
        }
        if (part->taken) {
            rp_textbuf_str(&text, i > at ? " " : "");
            rp_textbuf_put(&text,
                           part->rank == RP_SCRIPT_POINTER ? script->pointer
                                                           : script->pool + part->start,
                           part->len);
        }
    }
    whole.len = text.len;
    put_part(out, line, &whole);
    out->full = out->full || text.full;
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
        if (script->parts[i].taken && script->parts[i].letter != RP_SCRIPT_SAME_LINE) {
            put_sentence(&out, script, i);
        }
    }
    put_foot(&out, script, words);
    bool full = out.full || script->text.full;
    buf[full ? 0 : out.len] = '\0';
    return full ? RP_E_TOO_LONG : (int)out.len;
}
