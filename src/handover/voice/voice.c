#include "handover/voice/voice.h"

#include <string.h>

static const char *const alphabet[26] = {
    "Alfa",    "Bravo", "Charlie", "Delta",  "Echo",     "Foxtrot", "Golf",   "Hotel",  "India",
    "Juliett", "Kilo",  "Lima",    "Mike",   "November", "Oscar",   "Papa",   "Quebec", "Romeo",
    "Sierra",  "Tango", "Uniform", "Victor", "Whiskey",  "X-ray",   "Yankee", "Zulu",
};

static void space(struct rp_voice *voice)
{
    const struct rp_textbuf *out = voice->out;
    if (out->len > 0 && out->at[out->len - 1] != ' ') {
        rp_textbuf_put(voice->out, " ", 1);
    }
}

void rp_voice_word(struct rp_voice *voice, enum rp_text_id word)
{
    if (voice->texts->words[word][0] != '\0') {
        space(voice);
        rp_textbuf_str(voice->out, voice->texts->words[word]);
    }
}

void rp_voice_entered(struct rp_voice *voice, const char *text)
{
    if (text[0] != '\0') {
        space(voice);
        rp_textbuf_entered(voice->out, text);
    }
}

void rp_voice_stop(struct rp_voice *voice, const char *mark)
{
    rp_textbuf_str(voice->out, mark);
}

static void say_digit(struct rp_voice *voice, char digit)
{
    rp_voice_word(voice, (enum rp_text_id)(RP_TX_SAY_0 + digit - '0'));
}

static void say_figures(struct rp_voice *voice, const char *figures, size_t len)
{
    for (size_t i = 0; i < len; i++) {
        if (figures[i] >= '0' && figures[i] <= '9') {
            say_digit(voice, figures[i]);
        } else if (figures[i] == '.') {
            rp_voice_word(voice, RP_TX_SAY_DECIMAL);
        } else if (figures[i] == '-') {
            rp_voice_word(voice, RP_TX_SAY_MINUS);
        }
    }
}

void rp_voice_number(struct rp_voice *voice, int64_t number, unsigned decimals)
{
    char figures[32];
    struct rp_textbuf text = rp_textbuf_on(figures, sizeof figures);
    rp_textbuf_short_number(&text, number, decimals);
    say_figures(voice, figures, text.len);
}

void rp_voice_height(struct rp_voice *voice, int64_t metres)
{
    if (metres < 100 || metres % 100 != 0) {
        rp_voice_number(voice, metres, 0);
        return;
    }
    if (metres >= 1000) {
        rp_voice_number(voice, metres / 1000, 0);
        rp_voice_word(voice, RP_TX_SAY_THOUSAND);
    }
    if (metres % 1000 != 0) {
        rp_voice_number(voice, metres % 1000 / 100, 0);
        rp_voice_word(voice, RP_TX_SAY_HUNDRED);
    }
}

void rp_voice_time(struct rp_voice *voice, uint32_t now_s, uint32_t time_s)
{
    struct rp_civil civil = rp_civil_of(time_s);
    char figures[16];
    struct rp_textbuf text = rp_textbuf_on(figures, sizeof figures);
    if (time_s / 86400 != now_s / 86400) { /* net time begins at midnight UTC */
        rp_voice_word(voice, RP_TX_SAY_DAY);
        rp_voice_number(voice, civil.day, 0);
    }
    rp_textbuf_padded(&text, civil.hour, 2);
    rp_textbuf_padded(&text, civil.minute, 2);
    say_figures(voice, figures, text.len);
    rp_voice_word(voice, RP_TX_SAY_ZULU);
}

void rp_voice_spell(struct rp_voice *voice, const char *text)
{
    for (const char *at = text; *at != '\0'; at++) {
        char c = *at >= 'a' && *at <= 'z' ? (char)(*at - 'a' + 'A') : *at;
        if (c >= 'A' && c <= 'Z') {
            space(voice);
            rp_textbuf_str(voice->out, alphabet[c - 'A']);
        } else if (c >= '0' && c <= '9') {
            say_digit(voice, c);
        }
    }
}

unsigned rp_voice_count(const char *text, size_t len)
{
    unsigned words = 0;
    bool inside = false;
    for (size_t i = 0; i < len; i++) {
        bool is_space = text[i] == ' ' || text[i] == '\n';
        words += !is_space && !inside;
        inside = !is_space;
    }
    return words;
}
