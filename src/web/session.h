/* Who may use the pages: pairing codes and the sessions they give. Pure: the time and random bytes
 * are given.
 *
 * A person asks the daemon for a pairing code on its own terminal and types it (or scans it) on the
 * device. The code lives ten minutes, works once, and dies after five wrong tries, so that guessing
 * one has odds of 1 in 200,000 per code. The device then holds a token in a cookie; here only the
 * SHA-256 of it is kept, so that whoever reads the session file cannot use it. */
#ifndef RP_WEB_SESSION_H
#define RP_WEB_SESSION_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/problem.h"
#include "base/text.h"
#include "ridgepost/view.h"

enum rp_web_role {
    RP_WEB_NOBODY,   /* no session: the pairing page only */
    RP_WEB_READER,   /* sees everything, enters nothing */
    RP_WEB_BEDSIDE,  /* enters what a medic enters */
    RP_WEB_BASE_DESK /* the same, and answers requests */
};

#define RP_WEB_SESSIONS_MAX   32
#define RP_WEB_CODE_LEN       6  /* digits: they can be typed with gloves and read out by voice */
#define RP_WEB_TOKEN_LEN      32 /* random bytes */
#define RP_WEB_TOKEN_TEXT_LEN 64 /* the same in hex, as the cookie holds it */
#define RP_WEB_DEVICE_LEN     24 /* longest device name, bytes */
#define RP_WEB_CODE_LIFE_S    600
#define RP_WEB_CODE_TRIES_MAX 5

struct rp_web_session {
    enum rp_web_role role; /* RP_WEB_NOBODY: free */
    uint8_t number;        /* 1..255, how a person names it */
    uint8_t token_hash[32];
    int64_t paired_s, seen_s; /* unix seconds */
    char device[RP_WEB_DEVICE_LEN + 1];
};

struct rp_web_code {
    enum rp_web_role role; /* RP_WEB_NOBODY: no code is waiting */
    char digits[RP_WEB_CODE_LEN + 1];
    int64_t until_s;
    unsigned tries;
};

struct rp_web_sessions {
    struct rp_web_session at[RP_WEB_SESSIONS_MAX];
    struct rp_web_code code; /* one at a time: the newest */
    uint8_t last_number;
    bool changed; /* something to be saved; the owner clears it */
};

/* "reader", "bedside", "base": the role of a word, RP_WEB_NOBODY for any other. */
enum rp_web_role rp_web_role_find(const char *word);
const char *rp_web_role_word(enum rp_web_role role);

/* Makes the one waiting code, replacing an older one. random: at least 8 bytes fit for keys. */
void rp_web_code_make(struct rp_web_sessions *sessions, enum rp_web_role role, int64_t now_s,
                      struct rp_view random);

/* Trades a code for a session. device: what the person calls the device, may be empty, cut to
 * RP_WEB_DEVICE_LEN. token: RP_WEB_TOKEN_LEN random bytes, fit for keys. When every place is taken
 * the session not seen for longest gives way. RP_E_NOT_FOUND (no code waits, or it has run out),
 * RP_E_INVALID (a wrong code), RP_E_PERMISSION (wrong too often: the code is dead). */
int rp_web_pair(struct rp_web_sessions *sessions, const char *digits, const char *device,
                int64_t now_s, const uint8_t token[RP_WEB_TOKEN_LEN],
                const struct rp_web_session **out_session, struct rp_problem *out_problem);

/* The session of a cookie's token (hex), or NULL. Marks it seen, to the hour. */
const struct rp_web_session *rp_web_session_find(struct rp_web_sessions *sessions,
                                                 struct rp_view token_text, int64_t now_s);
bool rp_web_session_lives(const struct rp_web_sessions *sessions, unsigned number);
/* Ends one by its number; RP_E_NOT_FOUND. */
int rp_web_session_end(struct rp_web_sessions *sessions, unsigned number);

/* The sessions as lines of text, for a file, and back. A line that cannot be read is left out:
 * that device pairs again. The waiting code is not saved. Sessions do not run out: a clock that was
 * wrong by years would end them in the middle of a treatment. They are ended by number. */
void rp_web_sessions_write(const struct rp_web_sessions *sessions, struct rp_text *text);
void rp_web_sessions_read(struct rp_web_sessions *sessions, struct rp_view text);
/* Longest text rp_web_sessions_write makes, with its NUL. */
#define RP_WEB_SESSIONS_TEXT_MAX (RP_WEB_SESSIONS_MAX * 192)

/* Writes len bytes as 2 * len hex digits and a NUL. */
void rp_web_hex(const uint8_t *bytes, size_t len, char *out_text);

#endif
