/* The handover sheet: one page for whoever takes the patient. Built from a folded episode and a
 * time; pure. 80 columns of UTF-8 text, LF line ends.
 *
 * Order (ATMIST-AMBO in fixed places; see clinical.md 4.1 of the design references): headline;
 * Age/sex/name; Time of onset and altitude; Medical complaint; Investigations; Signs (last three
 * sets with mode); Treatment with times; Allergies, Medicines, Background, Other; chamber
 * sessions; evacuation; completeness; unknowns; cautions. */
#ifndef RP_HANDOVER_SHEET_H
#define RP_HANDOVER_SHEET_H

#include "incident/episode.h"
#include "incident/watch/protocol.h"

/* A station of the net that is known by its card, for a map. */
struct rp_sheet_station {
    uint8_t number, role; /* 1..127; enum rp_role */
    char name[RP_NAME_LEN + 1];
    struct rp_position position;
    struct rp_altitude altitude;
};

struct rp_sheet_input {
    const struct rp_episode *episode; /* finished */
    uint32_t now_s;                   /* net time of printing */
    int32_t utc_offset_s;             /* local time zone, for the second clock; has_local */
    bool has_local;
    uint32_t sheet_number;             /* 1.. counts sheets printed of this episode here; 0: a draft */
    uint8_t station;                   /* that prints */
    const char *station_name;          /* or NULL */
    const struct rp_holding *holdings; /* logs the episode draws on */
    size_t holding_count;
    const char *(*station_name_of)(void *ctx, uint8_t station); /* or NULL result: "station 7" */
    void *names_ctx;
    const struct rp_protocol *protocol;      /* when a drug's interval is over; NULL: no table */
    const struct rp_sheet_station *stations; /* borrowed; NULL when station_count is 0 */
    size_t station_count;
};

/* Writes the sheet, NUL-terminated, to buf; returns its length without NUL. RP_E_TOO_LONG when cap
 * is too small. RP_SHEET_TEXT_LEN_MAX always suffices, for station names of up to RP_NAME_LEN
 * bytes: a sheet of which every table is full of the longest texts takes about 320 kB. A usual one
 * takes 4 kB. Needs about 16 kB of stack. */
#define RP_SHEET_TEXT_LEN_MAX 524288
int rp_sheet_text(const struct rp_sheet_input *input, char *buf, size_t cap);
/* A short check (4 characters of the trade's spelling-safe letters and digits) over the facts of
 * the sheet, so that two people on the radio know they hold the same one. out_check: 5 bytes. */
void rp_sheet_check(const struct rp_sheet_input *input, char out_check[5]);

#endif
