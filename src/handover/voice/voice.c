#include "handover/voice/voice.h"

#include <string.h>

#include "handover/utf8.h"

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

static void say_part(struct rp_voice *voice, const char *text, size_t len)
{
    if (len > 0) {
        space(voice);
        rp_textbuf_put(voice->out, text, len);
    }
}

void rp_voice_before(struct rp_voice *voice, enum rp_text_id around)
{
    const char *text = voice->texts->words[around], *hole = strstr(text, RP_TEXT_HOLE);
    size_t len = hole != NULL ? (size_t)(hole - text) : strlen(text);
    while (len > 0 && text[len - 1] == ' ') {
        len--;
    }
    say_part(voice, text, len);
}

void rp_voice_after(struct rp_voice *voice, enum rp_text_id around)
{
    const char *hole = strstr(voice->texts->words[around], RP_TEXT_HOLE);
    const char *text = hole != NULL ? hole + strlen(RP_TEXT_HOLE) : "";
    text += strspn(text, " ");
    say_part(voice, text, strlen(text));
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

static void say_whole(struct rp_voice *voice, int64_t count, enum rp_text_id one,
                      enum rp_text_id many)
{
    if (count == 1) {
        rp_voice_word(voice, one);
    } else if (count > 1) {
        rp_voice_number(voice, count, 0);
        rp_voice_word(voice, many);
    }
}

bool rp_voice_illness(struct rp_voice *voice, uint8_t label)
{
    static const struct {
        uint8_t bit;
        enum rp_text_id word;
    } labels[] = {{RP_LABEL_HACE, RP_TX_SAY_HACE},
                  {RP_LABEL_HAPE, RP_TX_SAY_HAPE},
                  {RP_LABEL_AMS, RP_TX_SAY_AMS}};
    bool any = false;
    for (size_t i = 0; i < sizeof labels / sizeof labels[0]; i++) {
        if ((label & labels[i].bit) != 0) {
            rp_voice_word(voice, any ? RP_TX_SAY_AND : RP_TX_SAY_SUSPECTED);
            rp_voice_word(voice, labels[i].word);
            any = true;
        }
    }
    return any;
}

void rp_voice_height(struct rp_voice *voice, int64_t metres)
{
    if (metres < 100 || metres % 100 != 0) {
        rp_voice_number(voice, metres, 0);
        return;
    }
    say_whole(voice, metres / 1000, RP_TX_SAY_ONE_THOUSAND, RP_TX_SAY_THOUSAND);
    say_whole(voice, metres % 1000 / 100, RP_TX_SAY_ONE_HUNDRED, RP_TX_SAY_HUNDRED);
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

/* The plain letters that a capital is spelt with; what is no letter of the Latin script: "". */
static const char *plain_letters(uint32_t capital)
{
    static const char ascii[][2] = {"A", "B", "C", "D", "E", "F", "G", "H", "I", "J", "K", "L",
                                    "M", "N", "O", "P", "Q", "R", "S", "T", "U", "V", "W", "X",
                                    "Y", "Z", "0", "1", "2", "3", "4", "5", "6", "7", "8", "9"};
    static const struct {
        uint32_t first, last;
        const char *letters;
    } others[] = {
        {0xc0, 0xc3, "A"},    {0xc4, 0xc4, "AE"},  {0xc5, 0xc5, "AA"},   {0xc6, 0xc6, "AE"},
        {0xc7, 0xc7, "C"},    {0xc8, 0xcb, "E"},   {0xcc, 0xcf, "I"},    {0xd0, 0xd0, "D"},
        {0xd1, 0xd1, "N"},    {0xd2, 0xd5, "O"},   {0xd6, 0xd6, "OE"},   {0xd8, 0xd8, "OE"},
        {0xd9, 0xdb, "U"},    {0xdc, 0xdc, "UE"},  {0xdd, 0xdd, "Y"},    {0xde, 0xde, "TH"},
        {0xdf, 0xdf, "SS"},   {0x100, 0x105, "A"}, {0x106, 0x10d, "C"},  {0x10e, 0x111, "D"},
        {0x112, 0x11b, "E"},  {0x11c, 0x123, "G"}, {0x124, 0x127, "H"},  {0x128, 0x131, "I"},
        {0x132, 0x133, "IJ"}, {0x134, 0x135, "J"}, {0x136, 0x138, "K"},  {0x139, 0x142, "L"},
        {0x143, 0x14b, "N"},  {0x14c, 0x151, "O"}, {0x152, 0x153, "OE"}, {0x154, 0x159, "R"},
        {0x15a, 0x161, "S"},  {0x162, 0x167, "T"}, {0x168, 0x173, "U"},  {0x174, 0x175, "W"},
        {0x176, 0x178, "Y"},  {0x179, 0x17e, "Z"},
    };
    if (capital >= 'A' && capital <= 'Z') {
        return ascii[capital - 'A'];
    }
    if (capital >= '0' && capital <= '9') {
        return ascii[26 + capital - '0'];
    }
    for (size_t i = 0; i < sizeof others / sizeof others[0]; i++) {
        if (capital >= others[i].first && capital <= others[i].last) {
            return others[i].letters;
        }
    }
    return "";
}

void rp_voice_spell(struct rp_voice *voice, const char *text)
{
    for (const char *at = text; *at != '\0';) {
        uint32_t code;
        at += rp_utf8_next(at, &code);
        for (const char *c = plain_letters(rp_utf8_capital(code)); *c != '\0'; c++) {
            if (*c >= 'A' && *c <= 'Z') {
                space(voice);
                rp_textbuf_str(voice->out, alphabet[*c - 'A']);
            } else if (*c >= '0' && *c <= '9') {
                say_digit(voice, *c);
            }
        }
    }
}

bool rp_voice_spells(const char *text)
{
    bool any = false;
    while (*text != '\0') {
        uint32_t code;
        text += rp_utf8_next(text, &code);
        bool letter = plain_letters(rp_utf8_capital(code))[0] != '\0';
        if (code > 0x7f && !letter && rp_utf8_width(code) > 0 && code != 0xa0) {
            return false;
        }
        any = any || (letter && code > ' ');
    }
    return any;
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
