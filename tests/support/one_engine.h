/* One engine, station 4, fed frames by hand; its storage keeps nothing and makes up what is asked
 * for: each segment is a note of two bytes. */
#ifndef ONE_ENGINE_H
#define ONE_ENGINE_H

#include "mesh/state.h"

extern const uint16_t relay, high; /* its own origin, and that of station 7 */

struct fixture {
    struct rp_mesh *mesh;
    struct rp_seal seal, other_seal;
    uint32_t airtime_us[RP_FRAME_LEN_MAX + 1];
    uint32_t reserved;
    unsigned puts, charges;
    int put_rc, reserve_rc, charge_rc;
    rp_time_us now_us;
    struct rp_frame_head head; /* of the frame sent last */
    uint8_t sent[RP_FRAME_LEN_MAX], body[RP_FRAME_LEN_MAX];
    size_t sent_len, body_len;
};

void start(struct fixture *fixture, uint32_t counter_reserved);
void stop(struct fixture *fixture);
size_t seal_body(struct fixture *fixture, enum rp_frame_kind kind, uint16_t origin,
                 uint32_t counter, const void *body, size_t len, uint8_t *out);
void hear(struct fixture *fixture, const uint8_t *frame, size_t len);
/* A control frame with this body. */
void hear_body(struct fixture *fixture, enum rp_frame_kind kind, uint16_t origin, uint32_t counter,
               const void *body, size_t len);
struct rp_mesh_counters counted(const struct fixture *fixture);
/* Takes all events out; how many were of this kind. */
unsigned events_of(struct fixture *fixture, enum rp_mesh_event_kind kind);
/* A segment as its origin transmits it, naming `named`; its length with trailer. */
size_t make_segment(struct fixture *fixture, uint16_t origin, uint32_t seq, uint8_t named,
                    uint8_t *frame);
/* Lets time pass until the next frame leaves, at most until until_us; its length, 0 none. Its
 * bytes are in fixture->sent, what is inside the seal in fixture->body. */
size_t next_frame(struct fixture *fixture, rp_time_us until_us);
/* The next frame of this kind; others before it leave too. */
bool next_of_kind(struct fixture *fixture, enum rp_frame_kind kind, rp_time_us until_us);
/* A digest of `origin` in the very state of the engine (same), or in another. */
void hear_digest(struct fixture *fixture, uint16_t origin, uint32_t counter,
                 struct rp_digest digest, bool same);
/* A status report of station 7, entered at entry_s. */
void hear_status(struct fixture *fixture, uint32_t seq, uint32_t entry_s,
                 struct rp_trailer trailer);
/* Station 5 hears this one and, when asked for, station 6. */
void meet(struct fixture *fixture, uint16_t origin, uint32_t counter, uint8_t also);

#endif
