/* A station: joins the mesh engine, one radio, storage and the incident model. Every use case of
 * the daemon, of tests and of the simulator is here. No descriptor, no clock, no global: the time
 * is an argument, storage is given, serial bytes go in and out. */
#ifndef RP_NODE_NODE_H
#define RP_NODE_NODE_H

#include "base/problem.h"
#include "incident/episode.h"
#include "incident/watch/watch.h"
#include "node/net.h"
#include "node/station_store.h"
#include "ridgepost/engine.h"

struct rp_node;

/* The time, as the caller's clocks tell it. */
struct rp_moment {
    rp_time_us now_us; /* monotonic, suspend included */
    int64_t unix_s;    /* wall clock; may be wrong or step */
    bool synced;       /* the wall clock is synchronised or vouched for */
};

struct rp_node_config {
    uint8_t station; /* 1..99 */
    enum rp_role role;
    char name[RP_NAME_LEN + 1];
    char callsign[RP_NAME_LEN + 1];
    struct rp_altitude altitude;
    struct rp_position position;
    bool exercise; /* every record entered here is marked EXERCISE */
    struct rp_net net;
    int16_t antenna_gain_cdbd; /* over a half-wave dipole, 0.01 dB, cable loss taken off */
    enum rp_low_data_rate low_data_rate; /* of this modem's firmware */
    bool no_limit_acknowledged;  /* the operator asked the regulator: the net may use band none */
    char modem[RP_NAME_LEN + 1]; /* driver name, or empty: no radio, records are kept */
    uint32_t baud;               /* of its port; 0: the modem family's usual speed */
    bool has_mode_pin;           /* the port's owner can switch the modem to configuration mode */
    int64_t boot;                /* which run of the computer the monotonic clock is of */
    uint64_t seed;               /* for waits */
    uint16_t generation_seed;    /* random: picks the generation of a new log */
    const struct rp_store_ops *store;
    void *store_ctx;
    const struct rp_watch_plan *plan;   /* borrowed; NULL: the default */
    const struct rp_protocol *protocol; /* borrowed; NULL: no table of drugs */
};

/* Builds a station over its storage: finds or starts its log, tells the engine what is held and
 * what was aired in the last hour, queues what nobody has heard yet. Problems name the setting. */
int rp_node_new(const struct rp_node_config *config, struct rp_moment moment,
                struct rp_node **out_node, struct rp_problem *out_problem);
void rp_node_free(struct rp_node *node);

/* Whether config->modem is a family that can do config->net, and whether the net's band allows what
 * this station would send; nothing is built. RP_E_NOT_FOUND or
 * RP_E_INVALID, the problem names the setting; else *out_baud is the family's usual serial speed,
 * bits per second. The modem must not be empty. */
int rp_node_check_radio(const struct rp_node_config *config, uint32_t *out_baud,
                        struct rp_problem *out_problem);

/* The serial line. Output is taken after any call that returns; wake tells when to tick. */
void rp_node_line_opened(struct rp_node *node, struct rp_moment moment);
void rp_node_line_closed(struct rp_node *node, struct rp_moment moment);
void rp_node_line_bytes(struct rp_node *node, struct rp_view bytes, struct rp_moment moment);
size_t rp_node_line_output(struct rp_node *node, uint8_t *buf, size_t cap);
void rp_node_tick(struct rp_node *node, struct rp_moment moment);
rp_time_us rp_node_wake(const struct rp_node *node);
uint32_t rp_node_line_baud(const struct rp_node *node);
/* What the radio asks of the owner of its port, one wish at a time; see src/radio/radio.h. */
enum rp_radio_wish rp_node_take_wish(struct rp_node *node);
/* The channel became busy or free (not by own frames), as whoever owns the port can tell; from the
 * first call on this station listens before it talks. Without it random waits must do. */
void rp_node_channel(struct rp_node *node, bool busy, struct rp_moment moment);

/* Enters one record made here: checks it, stamps it (time, clock state, EXERCISE), seals it,
 * stores it durably, and hands it to the engine. A status report that promises the next one
 * (next_min) makes the other stations ask for it when it is overdue; any other record promises
 * nothing. For RP_REC_EPISODE a number is chosen. The
 * record's episode.origin must be the opener's origin, as rp_node_find_episode gives it.
 * On failure nothing is recorded and the problem says why. */
int rp_node_enter(struct rp_node *node, struct rp_record *record, struct rp_moment moment,
                  struct rp_record_ref *out_ref, struct rp_problem *out_problem);

/* Entries that may be sent twice, because whoever sent one never saw the answer: between begin and
 * end, the records entered are kept under `key` (8 to RP_ENTRY_KEY_LEN_MAX letters, digits and
 * hyphens, chosen anew for each entry by its maker) together with the record itself; entered again
 * under the same key, after a restart too, rp_node_enter records nothing and gives back the first
 * record's place. RP_E_INVALID: not such a key. */
#define RP_ENTRY_KEY_LEN_MAX 40
int rp_node_entry_begin(struct rp_node *node, const char *key);
void rp_node_entry_end(struct rp_node *node);
/* The record number `index` (0..) recorded under a key; RP_E_NOT_FOUND. */
int rp_node_entry_record(struct rp_node *node, const char *key, unsigned index,
                         struct rp_record_ref *out_ref);

/* "7-1", or "1" for an episode of this station, or "" when only one is known or only one of those
 * known is open. RP_E_NOT_FOUND,
 * RP_E_AMBIGUOUS (two logs of one station number opened the same episode number: the problem
 * lists both with their generation, "7-1/213"). */
int rp_node_find_episode(struct rp_node *node, const char *text, struct rp_episode_ref *out_ref,
                         struct rp_problem *out_problem);
/* "7:42" or "42" (this station's own current log), or "7:42/213" with the generation. */
int rp_node_find_record(struct rp_node *node, const char *text, struct rp_record_ref *out_ref,
                        struct rp_problem *out_problem);
/* Visits the reference of every episode of which any record is held. */
typedef int rp_episode_visit(void *arg, struct rp_episode_ref ref);
int rp_node_each_episode(struct rp_node *node, rp_episode_visit *visit, void *arg);
/* Folds one episode; *out_episode is owned by the node and valid until the next call. holdings:
 * the logs it draws on, valid as long. */
int rp_node_episode(struct rp_node *node, struct rp_episode_ref ref, struct rp_moment moment,
                    const struct rp_episode **out_episode, const struct rp_holding **out_holdings,
                    size_t *out_holding_count);
/* The rules that hold here for an episode: the camp's where it was opened, base's at a base, as
 * RP_WATCH_ bits; 0: this station only passes it on. */
uint8_t rp_node_watch_places(const struct rp_node *node, struct rp_episode_ref ref);
/* Folds one episode and evaluates the watch rules over it; those of the station itself are told
 * with one open episode alone, the first that was asked for. What the alarms point at and
 * *out_episode are valid until the next call that folds. RP_E_* when the log cannot be read. */
int rp_node_watch(struct rp_node *node, struct rp_episode_ref ref, struct rp_moment moment,
                  const struct rp_episode **out_episode, struct rp_alarms *out_alarms);
/* What the station itself knows, for the watch rules over this episode (folded by this node). */
void rp_node_watch_station(struct rp_node *node, const struct rp_episode *episode,
                           struct rp_moment moment, struct rp_watch_station *out_station);
/* One stroke of the chamber's pump was told; pumper: who pumps, or "" for the same as before.
 * Strokes of an episode become a record when the pumper changes, after two minutes without one, or
 * after ten minutes; until then they are kept so that a restart loses at most 20 s of them. With
 * episode number 0 they are kept in memory only. */
void rp_node_stroke(struct rp_node *node, struct rp_episode_ref episode, const char *pumper,
                    struct rp_moment moment);
/* Before a planned end: keeps what a restart would lose of the strokes. */
void rp_node_settle(struct rp_node *node);
/* The charge of this station's battery, 0..100 percent; anything else: not known. Others are told.
 */
void rp_node_set_battery(struct rp_node *node, int pct, struct rp_moment moment);
/* Visits records as stored; body can be decoded with rp_record_decode(body, row->origin, ...). */
int rp_node_each_record(struct rp_node *node, const struct rp_record_filter *filter,
                        rp_record_visit *visit, void *arg);
/* Visits one record; RP_E_NOT_FOUND. */
int rp_node_record(struct rp_node *node, struct rp_record_ref ref, rp_record_visit *visit,
                   void *arg);

/* Delivery of one record as far as this station knows. */
enum rp_delivery { RP_DEL_QUEUED, RP_DEL_ON_AIR, RP_DEL_HEARD, RP_DEL_AT_BASE, RP_DEL_SEEN };
struct rp_delivery_row {
    struct rp_record_ref ref;
    struct rp_episode_ref episode;
    uint8_t kind;
    bool urgent, exercise;
    uint32_t entered_s; /* net time */
    enum rp_delivery state;
    int64_t state_s; /* unix seconds when that state was reached; entered for QUEUED */
    uint8_t station; /* HEARD: the neighbour */
    char seen_by[RP_NAME_LEN + 1];
};
typedef int rp_delivery_visit(void *arg, const struct rp_delivery_row *row);
/* Records of this station's logs (also those of before its database was restored), in the order
 * they were entered within each log; episode number 0: all. */
int rp_node_each_delivery(struct rp_node *node, struct rp_episode_ref episode,
                          rp_delivery_visit *visit, void *arg);

/* One other station, as known here. */
struct rp_station_row {
    uint8_t station;
    bool has_card;
    enum rp_role role;
    char name[RP_NAME_LEN + 1];
    struct rp_altitude altitude; /* as on its card */
    struct rp_position position;
    bool is_neighbour;
    struct rp_mesh_neighbour neighbour; /* when is_neighbour */
};
typedef int rp_station_visit(void *arg, const struct rp_station_row *row);
int rp_node_each_station(struct rp_node *node, rp_station_visit *visit, void *arg);
/* "Ridge Camp", or "station 7" when no card is known. Valid until the next call. */
const char *rp_node_station_name(struct rp_node *node, uint8_t station);

/* How the modem behaves, and what was done to bring it back; counts since the start. */
struct rp_node_modem {
    const char *ladder; /* where the recovery stands: "well", "resync", "back-off", ... */
    uint32_t restarts;  /* it said that it had started */
    uint32_t timeouts;  /* no answer in time */
    uint32_t resets;    /* soft resets */
    uint32_t line_resets, reopens;
    uint32_t faults;     /* the ladder was climbed to its end */
    uint32_t tx_unknown; /* frames that may or may not have been on air: counted as aired */
    uint32_t tx_refused; /* frames the modem surely did not send */
    uint32_t rx_bad;     /* frames that arrived damaged on the serial line or inside the modem */
};

struct rp_node_status {
    uint8_t station;
    uint16_t origin;
    enum rp_role role;
    bool exercise, clock_synced, radio_open, radio_ready;
    bool same_station;  /* another live station used this number within the last half hour */
    bool restarted_log; /* the database was older than the net remembers: a new log was begun */
    int fault_code;     /* last radio fault still in force, 0 none */
    char fault[96];
    bool heard_any;         /* a neighbour was heard since the radio was ready, or before */
    uint32_t silent_s;      /* since a station of this net was heard last, or the radio was ready;
                             * 0: too short to mean anything, or the radio is not ready */
    uint16_t settings_hash; /* of the net's radio settings, radio/plan/settings.h */
    uint32_t budget_ms;     /* transmit time in any sliding hour */
    uint32_t promised_s; /* net time within which this station promised its next report; 0: it did
                          * not */
    uint32_t queued, airtime_left_ms, airtime_left_urgent_ms;
    uint32_t clock_back_s;    /* the own clock was set back by so much while nobody vouched for the
                               * time; 0: it was not, or somebody vouches for it now */
    uint32_t clock_back_at_s; /* net time when that was found */
    uint8_t battery_pct;      /* 0..100; 127: not known */
    uint32_t unreadable;      /* records held that this version cannot read */
    uint32_t store_failures;
    struct rp_mesh_counters mesh;
    char modem[RP_NAME_LEN + 1];
    struct rp_node_modem radio; /* all 0 without a radio */
    uint32_t settings_said; /* which the modem says are the profile's: bits of enum rp_setting */
};
void rp_node_status(struct rp_node *node, struct rp_moment moment,
                    struct rp_node_status *out_status);
/* Time on air of one frame of `len` bytes as this station's modem sends it, were the net's
 * spreading factor another. RP_E_INVALID: this modem cannot do that factor with the net's other
 * settings. */
int rp_node_frame_airtime(const struct rp_node *node, uint8_t spreading_factor, size_t len,
                          uint32_t *out_airtime_us);
/* Grows whenever something that is shown may have changed: a record, its delivery, the line. */
uint64_t rp_node_revision(const struct rp_node *node);
/* Net time now: the wall clock, or the net's when that is better. */
uint32_t rp_node_net_time(const struct rp_node *node, struct rp_moment moment);
uint16_t rp_node_origin(const struct rp_node *node);
const struct rp_node_config *rp_node_config(const struct rp_node *node);
/* Counts handover sheets printed here of one episode, durably; returns the number, 1.. */
int rp_node_next_sheet(struct rp_node *node, struct rp_episode_ref ref);
/* The number of the newest sheet printed here; 0: none yet. */
int rp_node_last_sheet(struct rp_node *node, struct rp_episode_ref ref);

#endif
