/* The commands that tell: each fills a text for people and data for programs. */
#ifndef RP_CONTROL_SHOW_H
#define RP_CONTROL_SHOW_H

#include <jansson.h>

#include "base/text.h"
#include "control/entries.h"
#include "control/pages.h"

struct rp_show {
    struct rp_entry *entry; /* words after the command, node, moment, problem */
    struct rp_text *text;
    json_t *data;                 /* an object, owned by the caller */
    const struct rp_pages *pages; /* NULL: none are served */
};

typedef int rp_show_command(struct rp_show *show);

rp_show_command rp_show_board, rp_show_episode, rp_show_delivery, rp_show_log, rp_show_stations,
    rp_show_status, rp_show_handover, rp_show_compute, rp_show_pair, rp_show_view, rp_show_airtime,
    rp_show_path, rp_show_alarms, rp_show_stroke, rp_show_drugs;

/* One line: how many alarms sound, and the most pressing. Folds the episode anew: what was folded
 * last is the same afterwards when it is of this episode. */
void rp_show_sounding(struct rp_show *show, struct rp_episode_ref ref, json_t *data);
/* One alarm that stands, as data: what it is, its value's time, what may be answered to it. */
json_t *rp_show_alarm_data(const struct rp_alarm *alarm, const char *episode);
/* The treatment clock and what is due next, as lines of the episode's text and as data. */
void rp_show_course(struct rp_show *show, const struct rp_episode *episode, json_t *data);

/* Lines of what is computed from an episode: scores, chamber, oxygen, contradictions. */
void rp_show_assessment(struct rp_show *show, const struct rp_episode *episode);
/* Only the contradictions. */
void rp_show_conflicts(struct rp_show *show, const struct rp_episode *episode);
/* Lines of where this station stands; nothing when its position is not configured. */
void rp_show_place(struct rp_show *show);

/* "4f2a: 869.525000 MHz, SF9, 125 kHz, 4/5, sync 0x12, 14 dBm": what two stations compare. */
void rp_show_settings(struct rp_text *text, const struct rp_radio_profile *profile);
/* A warning when nothing has been heard for longer than a net is quiet. */
void rp_show_silence(struct rp_text *text, const struct rp_node_config *config,
                     const struct rp_node_status *status);
/* "14:05Z", or "24 Nov 14:05Z" when not of the day of now_s; "-" for 0. */
const char *rp_show_time(uint32_t now_s, uint32_t time_s, char out_text[24]);
/* "12 min", "1 h 40 min", "3 d 2 h": whole minutes, rounded up, so that nothing looks younger. */
const char *rp_show_span(uint32_t span_s, char out_text[24]);
/* "7-1", or "7-1/213" when two logs of the station opened that number. */
const char *rp_show_episode_name(struct rp_node *node, struct rp_episode_ref ref,
                                 char out_text[24]);
/* Which stations have several logs here, so that a record's name needs its generation. */
struct rp_show_logs {
    uint16_t first[RP_STATION_MAX + 1]; /* 0: none seen */
    bool several[RP_STATION_MAX + 1];
};
int rp_show_logs_find(struct rp_node *node, struct rp_show_logs *out_logs);
/* "7:42", or "7:42/213" when several logs of the station are held. */
const char *rp_show_record_in(const struct rp_show_logs *logs, struct rp_record_ref ref,
                              char out_text[24]);
/* "7:42" */
const char *rp_show_record_name(struct rp_record_ref ref, char out_text[24]);
/* "0.5 mg", of thousandths of an enum rp_dose_unit. */
void rp_show_amount(uint32_t milli, uint8_t unit, struct rp_text *text);
/* "8 mg"; nothing without a dose. */
void rp_show_dose(const struct rp_rec_treatment *treatment, struct rp_text *text);
/* "HACE + HAPE" */
const char *rp_show_label(const struct rp_episode *episode, char *buf, size_t cap);

#endif
