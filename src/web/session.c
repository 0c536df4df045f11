#include "web/session.h"

#include <stdio.h>
#include <string.h>

#include <nettle/memops.h>
#include <nettle/sha2.h>

#include "ridgepost/error.h"

static const char *const role_words[] = {"", "reader", "bedside", "base"};
#define ROLE_COUNT (sizeof role_words / sizeof role_words[0])

enum rp_web_role rp_web_role_find(const char *word)
{
    for (size_t i = 1; i < ROLE_COUNT; i++) {
        if (strcmp(word, role_words[i]) == 0) {
            return (enum rp_web_role)i;
        }
    }
    return RP_WEB_NOBODY;
}

const char *rp_web_role_word(enum rp_web_role role)
{
    return (size_t)role < ROLE_COUNT ? role_words[role] : "";
}

void rp_web_hex(const uint8_t *bytes, size_t len, char *out_text)
{
    static const char digits[] = "0123456789abcdef";
    for (size_t i = 0; i < len; i++) {
        out_text[2 * i] = digits[bytes[i] >> 4];
        out_text[2 * i + 1] = digits[bytes[i] & 15];
    }
    out_text[2 * len] = '\0';
}

static int hex_value(uint8_t digit)
{
    if (digit >= '0' && digit <= '9') {
        return digit - '0';
    }
    return digit >= 'a' && digit <= 'f' ? digit - 'a' + 10 : -1;
}

/* Exactly 2 * len lower-case digits. */
static bool from_hex(struct rp_view text, uint8_t *out_bytes, size_t len)
{
    if (text.len != 2 * len) {
        return false;
    }
    for (size_t i = 0; i < len; i++) {
        int high = hex_value(text.bytes[2 * i]), low = hex_value(text.bytes[2 * i + 1]);
        if (high < 0 || low < 0) {
            return false;
        }
        out_bytes[i] = (uint8_t)(high << 4 | low);
    }
    return true;
}

static void hash_token(const uint8_t token[RP_WEB_TOKEN_LEN], uint8_t out_hash[32])
{
    struct sha256_ctx sha;
    sha256_init(&sha);
    sha256_update(&sha, RP_WEB_TOKEN_LEN, token);
    sha256_digest(&sha, 32, out_hash);
}

void rp_web_code_make(struct rp_web_sessions *sessions, enum rp_web_role role, int64_t now_s,
                      struct rp_view random)
{
    uint64_t number = 0;
    for (size_t i = 0; i < 8 && i < random.len; i++) {
        number = number << 8 | random.bytes[i];
    }
    /* 2^64 is no multiple of 10^6: the bias is below 10^-13. */
    sessions->code = (struct rp_web_code){.role = role, .until_s = now_s + RP_WEB_CODE_LIFE_S};
    snprintf(sessions->code.digits, sizeof sessions->code.digits, "%06u",
             (unsigned)(number % 1000000));
}

static struct rp_web_session *place_for_one(struct rp_web_sessions *sessions)
{
    struct rp_web_session *oldest = &sessions->at[0];
    for (size_t i = 0; i < RP_WEB_SESSIONS_MAX; i++) {
        struct rp_web_session *session = &sessions->at[i];
        if (session->role == RP_WEB_NOBODY) {
            return session;
        }
        oldest = session->seen_s < oldest->seen_s ? session : oldest;
    }
    return oldest;
}

bool rp_web_session_lives(const struct rp_web_sessions *sessions, unsigned number)
{
    for (size_t i = 0; i < RP_WEB_SESSIONS_MAX; i++) {
        if (sessions->at[i].role != RP_WEB_NOBODY && sessions->at[i].number == number) {
            return true;
        }
    }
    return false;
}

static uint8_t next_number(struct rp_web_sessions *sessions)
{
    do {
        sessions->last_number =
            (uint8_t)(sessions->last_number == 255 ? 1 : sessions->last_number + 1);
    } while (rp_web_session_lives(sessions, sessions->last_number));
    return sessions->last_number;
}

/* Printable text only: the name is shown on the terminal. */
static void copy_device(const char *device, char *out_device)
{
    size_t len = 0;
    for (; *device != '\0' && len < RP_WEB_DEVICE_LEN; device++) {
        unsigned char c = (unsigned char)*device;
        out_device[len++] = c >= 0x20 && c < 0x7f ? (char)c : '?';
    }
    out_device[len] = '\0';
}

static int check_code(struct rp_web_sessions *sessions, const char *digits, int64_t now_s,
                      struct rp_problem *out_problem)
{
    struct rp_web_code *code = &sessions->code;
    if (code->role == RP_WEB_NOBODY || now_s >= code->until_s ||
        now_s < code->until_s - RP_WEB_CODE_LIFE_S) {
        *code = (struct rp_web_code){.role = RP_WEB_NOBODY};
        return rp_problem_set(out_problem, RP_E_NOT_FOUND, "code",
                              "no pairing code is waiting: make one at the station (example: "
                              "ridgepost pair bedside)");
    }
    bool right =
        strlen(digits) == RP_WEB_CODE_LEN && memeql_sec(digits, code->digits, RP_WEB_CODE_LEN);
    if (right) {
        return RP_OK;
    }
    if (++code->tries >= RP_WEB_CODE_TRIES_MAX) {
        *code = (struct rp_web_code){.role = RP_WEB_NOBODY};
        return rp_problem_set(out_problem, RP_E_PERMISSION, "code",
                              "wrong %d times: this code is dead, make a new one at the station "
                              "(example: ridgepost pair bedside)",
                              RP_WEB_CODE_TRIES_MAX);
    }
    return rp_problem_set(out_problem, RP_E_INVALID, "code",
                          "not the code that is waiting: %d digits, as the station shows them "
                          "(example: 402913)",
                          RP_WEB_CODE_LEN);
}

int rp_web_pair(struct rp_web_sessions *sessions, const char *digits, const char *device,
                int64_t now_s, const uint8_t token[RP_WEB_TOKEN_LEN],
                const struct rp_web_session **out_session, struct rp_problem *out_problem)
{
    int result = check_code(sessions, digits, now_s, out_problem);
    if (result < 0) {
        return result;
    }
    struct rp_web_session *session = place_for_one(sessions);
    *session =
        (struct rp_web_session){.role = sessions->code.role, .paired_s = now_s, .seen_s = now_s};
    session->number = next_number(sessions);
    hash_token(token, session->token_hash);
    copy_device(device, session->device);
    sessions->code = (struct rp_web_code){.role = RP_WEB_NOBODY};
    sessions->changed = true;
    *out_session = session;
    return RP_OK;
}

const struct rp_web_session *rp_web_session_find(struct rp_web_sessions *sessions,
                                                 struct rp_view token_text, int64_t now_s)
{
    uint8_t token[RP_WEB_TOKEN_LEN], hash[32];
    if (!from_hex(token_text, token, sizeof token)) {
        return NULL;
    }
    hash_token(token, hash);
    for (size_t i = 0; i < RP_WEB_SESSIONS_MAX; i++) {
        struct rp_web_session *session = &sessions->at[i];
        if (session->role == RP_WEB_NOBODY || !memeql_sec(session->token_hash, hash, sizeof hash)) {
            continue;
        }
        if (now_s - session->seen_s >= 3600) {
            session->seen_s = now_s;
            sessions->changed = true;
        }
        return session;
    }
    return NULL;
}

int rp_web_session_end(struct rp_web_sessions *sessions, unsigned number)
{
    for (size_t i = 0; i < RP_WEB_SESSIONS_MAX; i++) {
        struct rp_web_session *session = &sessions->at[i];
        if (session->role != RP_WEB_NOBODY && session->number == number) {
            *session = (struct rp_web_session){.role = RP_WEB_NOBODY};
            sessions->changed = true;
            return RP_OK;
        }
    }
    return RP_E_NOT_FOUND;
}

void rp_web_sessions_write(const struct rp_web_sessions *sessions, struct rp_text *text)
{
    char hash[65];
    for (size_t i = 0; i < RP_WEB_SESSIONS_MAX; i++) {
        const struct rp_web_session *session = &sessions->at[i];
        if (session->role != RP_WEB_NOBODY) {
            rp_web_hex(session->token_hash, sizeof session->token_hash, hash);
            rp_text_add(text, "%u %s %s %lld %lld %s\n", session->number,
                        rp_web_role_word(session->role), hash, (long long)session->paired_s,
                        (long long)session->seen_s, session->device);
        }
    }
}

static bool read_line(const char *line, struct rp_web_session *out_session)
{
    unsigned number;
    char role[16], hash[65];
    long long paired_s, seen_s;
    int at = 0;
    if (sscanf(line, "%3u %15s %64s %18lld %18lld%n", &number, role, hash, &paired_s, &seen_s,
               &at) != 5 ||
        number < 1 || number > 255) {
        return false;
    }
    *out_session = (struct rp_web_session){.role = rp_web_role_find(role),
                                           .number = (uint8_t)number,
                                           .paired_s = paired_s,
                                           .seen_s = seen_s};
    copy_device(line[at] == ' ' ? line + at + 1 : "", out_session->device);
    struct rp_view digits = {(const uint8_t *)hash, strlen(hash)};
    return out_session->role != RP_WEB_NOBODY &&
           from_hex(digits, out_session->token_hash, sizeof out_session->token_hash);
}

void rp_web_sessions_read(struct rp_web_sessions *sessions, struct rp_view text)
{
    size_t at = 0, count = 0;
    while (at < text.len && count < RP_WEB_SESSIONS_MAX) {
        char line[192];
        size_t len = 0;
        while (at + len < text.len && text.bytes[at + len] != '\n') {
            len++;
        }
        size_t kept = len < sizeof line ? len : sizeof line - 1;
        memcpy(line, text.bytes + at, kept);
        line[kept] = '\0';
        at += len + 1;
        struct rp_web_session session;
        if (read_line(line, &session) && !rp_web_session_lives(sessions, session.number)) {
            sessions->at[count++] = session;
            sessions->last_number = session.number;
        }
    }
}
