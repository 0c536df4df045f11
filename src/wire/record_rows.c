/* How every member travels: the common ones, and those of the patient's records. The order of the
 * digit rows (without `field`) is the order of the digits, least significant first; a row that
 * rarely has a value stands late, so that the number stays short. PROTOCOL.md and
 * proto/ridgepost.proto say the same. */
#include "wire/record_row.h"

#include <stddef.h>

#include "wire/frame.h"

#define AT(member_)                                                                                \
    .at = offsetof(struct rp_record, member_), .size = sizeof(((struct rp_record *)0)->member_)
#define M(record_, member_)        .name = #member_, AT(as.record_.member_)
#define HAS(record_, member_)      .has_at = offsetof(struct rp_record, as.record_.member_)
#define MEASURED(record_, member_) .type = RP_ROW_VALUE, M(record_, member_)
#define ROWS(array)                                                                                \
    {                                                                                              \
        array, sizeof(array) / sizeof(array)[0]                                                    \
    }

#define AGO_MAX_S 604800 /* a week */

static const struct rp_row common_rows[] = {
    {.field = 1, .name = "episode", AT(episode.number), .max = 255},
    {.field = 2,
     .type = RP_ROW_ORIGIN,
     .name = "episode",
     AT(episode.origin),
     .max = UINT16_MAX,
     .base_at = offsetof(struct rp_record, episode.number),
     .base_size = 1},
    {.field = 13, .type = RP_ROW_TEXT, .name = "by", AT(by)},
    {.field = 14, .name = "ago_s", AT(ago_s), .max = AGO_MAX_S},
    {.field = 15, .name = "via", AT(via), .max = RP_VIA_VOICE},
};
const struct rp_row_table rp_common_rows = ROWS(common_rows);

#define POSITION(record_, member_, first_field)                                                    \
    {.field = first_field,                                                                         \
     .type = RP_ROW_DELTA,                                                                         \
     M(record_, member_.lat_e6),                                                                   \
     HAS(record_, member_.present),                                                                \
     .is_signed = true,                                                                            \
     .min = -90000000,                                                                             \
     .max = 90000000},                                                                             \
        {.field = first_field + 1,                                                                 \
         .type = RP_ROW_DELTA,                                                                     \
         M(record_, member_.lon_e6),                                                               \
         HAS(record_, member_.present),                                                            \
         .follows = true,                                                                          \
         .is_signed = true,                                                                        \
         .min = -180000000,                                                                        \
         .max = 180000000},                                                                        \
    {                                                                                              \
        .field = first_field + 2, M(record_, member_.accuracy_m),                                  \
        HAS(record_, member_.has_accuracy), .max = UINT16_MAX                                      \
    }
#define ALTITUDE(record_, first_field)                                                             \
    {                                                                                              \
        .field = first_field, .type = RP_ROW_ALTITUDE, M(record_, altitude), .min = -450,          \
        .max = 8900                                                                                \
    }
#define TIME(record_, has_, member_)                                                               \
    .type = RP_ROW_DELTA, M(record_, member_), HAS(record_, has_), .max = UINT32_MAX,              \
    .base_at = offsetof(struct rp_record, time_s)
#define REF(record_, member_, first_field, seq_min)                                                \
    {.field = first_field,                                                                         \
     .name = #member_,                                                                             \
     AT(as.record_.member_.seq),                                                                   \
     .min = seq_min,                                                                               \
     .max = RP_SEQ_MAX},                                                                           \
    {                                                                                              \
        .field = first_field + 1, .type = RP_ROW_ORIGIN, .name = #member_,                         \
        AT(as.record_.member_.origin), .max = UINT16_MAX,                                          \
        .base_at = offsetof(struct rp_record, as.record_.member_.seq), .base_size = 4              \
    }
#define SCORE_ITEMS(record_)                                                                       \
    {.radix = 6, MEASURED(record_, lls.headache), .max = 3},                                       \
        {.radix = 6, MEASURED(record_, lls.gut), .max = 3},                                        \
        {.radix = 6, MEASURED(record_, lls.fatigue), .max = 3},                                    \
    {                                                                                              \
        .radix = 6, MEASURED(record_, lls.dizziness), .max = 3                                     \
    }

static const struct rp_row station_rows[] = {
    {.radix = 4, M(station, role), .max = RP_ROLE_BASE},
    {.field = 4, .type = RP_ROW_TEXT, M(station, name)},
    {.field = 5, .type = RP_ROW_TEXT, M(station, callsign)},
    ALTITUDE(station, 6),
    POSITION(station, position, 7),
};

#define CRITERION(name_, word)                                                                     \
    {.radix = 3, M(opened, criteria[RP_CRIT_##name_]), .max = RP_FINDING_YES},
static const struct rp_row episode_rows[] = {
    {.radix = 4, M(opened, sex), .max = RP_SEX_OTHER},
    {.radix = 112, M(opened, age_y), HAS(opened, has_age), .max = 110},
    {.radix = 250, M(opened, weight_kg), HAS(opened, has_weight), .min = 2, .max = 250},
    {.radix = 16, M(opened, label), .max = 15},
    RP_CRITERIA(CRITERION) SCORE_ITEMS(opened),
    {.field = 4, .type = RP_ROW_TEXT, M(opened, patient)},
    {.field = 5, TIME(opened, has_onset, onset_s)},
    {.field = 6, TIME(opened, has_reached, reached_s)},
    ALTITUDE(opened, 7),
    POSITION(opened, position, 8),
    {.field = 11, .type = RP_ROW_TEXT, M(opened, label_text)},
    {.field = 12, .type = RP_ROW_TEXT, M(opened, first_sign)},
};

static const struct rp_row background_rows[] = {
    {.field = 3, .type = RP_ROW_KNOWN, M(background, allergies)},
    {.field = 4, .type = RP_ROW_KNOWN, M(background, medicines)},
    {.field = 5, .type = RP_ROW_KNOWN, M(background, history)},
    {.field = 6, .type = RP_ROW_KNOWN, M(background, last_meal)},
    {.field = 7, .type = RP_ROW_KNOWN, M(background, contact)},
};

static const struct rp_row status_rows[] = {
    {.radix = 8, M(status, condition), .max = RP_COND_DEAD},
    {.radix = 8, M(status, phase), .max = RP_PHASE_OUT},
    {.radix = 1024, .type = RP_ROW_SATURATING, M(status, elapsed_min), .max = 1023},
    {.radix = 16, .type = RP_ROW_SATURATING, M(status, cycle), .max = 15},
    {.radix = 5, M(status, mode), .max = RP_MODE_CHAMBER_OXYGEN},
    {.radix = 8, M(status, evac_state), .max = RP_EVAC_HANDED_OVER},
    {.radix = 32, .type = RP_ROW_AGE_FINE, M(status, vitals_age_min)},
    {.radix = 103, MEASURED(status, spo2_pct), .max = 100},
    {.radix = 303, MEASURED(status, pulse_bpm), .max = 300},
    {.radix = 93, MEASURED(status, resp_rpm), .max = 90},
    {.radix = 7, MEASURED(status, acvpu), .max = RP_ACVPU_UNRESPONSIVE},
    {.radix = 53, MEASURED(status, oxygen_flow_dlpm), .max = 250, .step = 5},
    {.radix = 353, MEASURED(status, cylinder_bar), .max = 350},
    {.radix = 8, .type = RP_ROW_AGE_COARSE, M(status, pressure_age_min)},
    {.radix = 273, MEASURED(status, systolic_mmhg), .min = 30, .max = 300},
    {.radix = 193, MEASURED(status, diastolic_mmhg), .min = 10, .max = 200},
    {.radix = 8, .type = RP_ROW_AGE_COARSE, M(status, temp_age_min)},
    {.radix = 353, MEASURED(status, temp_dc), .min = 100, .max = 450},
    {.radix = 4, M(status, temp_site), .max = RP_SITE_OESOPHAGEAL},
    {.radix = 8, .type = RP_ROW_AGE_COARSE, M(status, score_age_min)},
    {.radix = 15, MEASURED(status, lls), .max = 12},
    {.radix = 7, MEASURED(status, ataxia), .max = 4},
    {.radix = 122, .type = RP_ROW_GCS, M(status, gcs_eye)},
    {.radix = 10, MEASURED(status, airway), .max = RP_AIRWAY_DEVICE},
    {.field = 4, M(status, next_min), .max = RP_NEXT_MIN_MAX},
    {.field = 5, MEASURED(status, pain), .max = 10},
};

static const struct rp_row treatment_rows[] = {
    {.radix = 4, M(treatment, kind), .max = RP_TREAT_OTHER},
    {.radix = 2, M(treatment, refused), .max = 1},
    {.radix = 16, M(treatment, route), .max = RP_ROUTE_TOPICAL},
    {.radix = 16, M(treatment, dose_unit), .max = RP_DOSE_IU},
    {.field = 4, .type = RP_ROW_TEXT, M(treatment, name)},
    {.field = 5, M(treatment, dose_milli), HAS(treatment, has_dose), .min = 1, .max = 10000000},
    {.field = 6, .type = RP_ROW_TEXT, M(treatment, checker)},
    {.field = 7, .type = RP_ROW_TEXT, M(treatment, text)},
    {.field = 8, M(treatment, flags), .max = 127},
    {.field = 9, .type = RP_ROW_TEXT, M(treatment, confirmed)},
};

static const struct rp_row oxygen_rows[] = {
    {.radix = 8, M(oxygen, action), .max = RP_O2_READING},
    {.radix = 8, M(oxygen, device), .max = RP_O2_RESERVOIR_MASK},
    {.field = 4, MEASURED(oxygen, flow_dlpm), .max = 250},
    {.field = 5, .type = RP_ROW_TEXT, M(oxygen, cylinder)},
    {.field = 6, MEASURED(oxygen, cylinder_bar), .max = 350},
    {.field = 7, MEASURED(oxygen, water_dl), .min = 5, .max = 500},
};

static const struct rp_row chamber_rows[] = {
    {.radix = 8, M(chamber, phase), .max = RP_PHASE_OUT},
    {.radix = 8, M(chamber, hold_reason), .max = RP_HOLD_OTHER},
    {.radix = 256, M(chamber, session), .min = 1, .max = 255},
    {.field = 4, MEASURED(chamber, gauge_dhpa), .max = 3000},
    {.field = 5, MEASURED(chamber, altimeter_m), .min = -450, .max = 8900},
    {.field = 6, .type = RP_ROW_TEXT, M(chamber, text)},
};

static const struct rp_row reassess_rows[] = {
    {.radix = 8, M(reassess, condition), .max = RP_COND_DEAD},
    {.radix = 8, M(reassess, next), .max = RP_NEXT_WATCH},
    {.radix = 3, M(reassess, can_walk), .max = RP_FINDING_YES},
    {.radix = 3, M(reassess, mental_change), .max = RP_FINDING_YES},
    {.radix = 6, MEASURED(reassess, functional), .max = 3},
    {.radix = 7, MEASURED(reassess, ataxia), .max = 4},
    SCORE_ITEMS(reassess),
    {.field = 4, .type = RP_ROW_TEXT, M(reassess, text)},
};

static const struct rp_row descent_rows[] = {
    {.radix = 2, M(descent, descending), .max = 1},
    {.radix = 16, M(descent, why_not), .max = RP_WHY_OTHER},
    {.field = 4, M(descent, ask_again_min), HAS(descent, has_ask_again), .min = 1, .max = 1440},
    {.field = 5, .type = RP_ROW_TEXT, M(descent, text)},
    {.field = 6, M(descent, way_min), HAS(descent, has_way), .min = 1, .max = 2880},
};

static const struct rp_row note_rows[] = {
    {.field = 3, .type = RP_ROW_LINES, M(note, text)},
};

/* The site follows the patient's position, from which it is counted. */
#define NEAR(member_)                                                                              \
    .base_at = offsetof(struct rp_record, as.evacuation.position.member_),                         \
    .base_has_at = offsetof(struct rp_record, as.evacuation.position.present)
static const struct rp_row evacuation_rows[] = {
    {.radix = 8, M(evacuation, urgency), .max = RP_URG_E4_ROUTINE},
    {.radix = 51, M(evacuation, patients), HAS(evacuation, has_patients), .min = 1, .max = 50},
    {.radix = 8, M(evacuation, mobility), .max = RP_MOB_STRETCHER},
    {.radix = 3, M(evacuation, conscious), .max = RP_FINDING_YES},
    {.radix = 3, M(evacuation, oxygen_needed), .max = RP_FINDING_YES},
    {.radix = 3, M(evacuation, lies_flat), .max = RP_FINDING_YES},
    {.radix = 17, M(evacuation, needs), HAS(evacuation, has_needs), .max = 15},
    {.radix = 250, M(evacuation, weight_kg), HAS(evacuation, has_weight), .min = 2, .max = 250},
    {.radix = 3, M(evacuation, site_marked), .max = RP_FINDING_YES},
    {.radix = 8, M(evacuation, surface), .max = RP_SURF_SAND},
    {.radix = 252, M(evacuation, wind_kmh), HAS(evacuation, has_wind), .max = 250},
    {.radix = 361, M(evacuation, wind_from_deg), HAS(evacuation, has_wind_dir), .max = 359},
    {.radix = 122,
     M(evacuation, temp_c),
     HAS(evacuation, has_temp),
     .is_signed = true,
     .min = -70,
     .max = 50},
    {.radix = 252, M(evacuation, gust_kmh), HAS(evacuation, has_gust), .max = 250},
    {.radix = 62, M(evacuation, slope_deg), HAS(evacuation, has_slope), .max = 60},
    {.radix = 102, M(evacuation, party), HAS(evacuation, has_party), .max = 100},
    {.radix = 1001,
     M(evacuation, site_length_m),
     HAS(evacuation, has_site_size),
     .min = 1,
     .max = 1000},
    {.radix = 1001,
     M(evacuation, site_width_m),
     HAS(evacuation, has_site_size),
     .follows = true,
     .min = 1,
     .max = 1000},
    POSITION(evacuation, position, 4),
    {.field = 7,
     .type = RP_ROW_DELTA,
     M(evacuation, site.lat_e6),
     HAS(evacuation, site.present),
     NEAR(lat_e6),
     .is_signed = true,
     .min = -90000000,
     .max = 90000000},
    {.field = 8,
     .type = RP_ROW_DELTA,
     M(evacuation, site.lon_e6),
     HAS(evacuation, site.present),
     NEAR(lon_e6),
     .follows = true,
     .is_signed = true,
     .min = -180000000,
     .max = 180000000},
    {.field = 9,
     M(evacuation, site.accuracy_m),
     HAS(evacuation, site.has_accuracy),
     .max = UINT16_MAX},
    ALTITUDE(evacuation, 10),
    {.field = 11, .type = RP_ROW_TEXT, M(evacuation, ground_contact)},
    {.field = 12, .type = RP_ROW_TEXT, M(evacuation, hazards)},
    {.field = 16, .type = RP_ROW_TEXT, M(evacuation, weather)},
    {.field = 17, .type = RP_ROW_TEXT, M(evacuation, obstacles)},
    {.field = 18, .type = RP_ROW_TEXT, M(evacuation, fallback)},
    {.field = 19, .type = RP_ROW_KNOWN, M(evacuation, insurance)},
    {.field = 20, TIME(evacuation, has_daylight, daylight_end_s)},
    {.field = 21, M(evacuation, visibility_m), HAS(evacuation, has_visibility), .max = 50000},
    {.field = 22, M(evacuation, cloud_base_m), HAS(evacuation, has_cloud_base), .max = 12000},
    REF(evacuation, revises, 23, 0),
    REF(evacuation, conscious_from, 25, 0),
};

static const struct rp_row evac_cancel_rows[] = {
    REF(evac_cancel, request, 3, 1),
    {.field = 5, .type = RP_ROW_TEXT, M(evac_cancel, reason)},
};

static const struct rp_row answer_rows[] = {
    {.field = 3, M(answer, kind), .min = RP_ANS_SEEN, .max = RP_ANS_ADVICE},
    REF(answer, about, 4, 0),
    {.field = 6, .type = RP_ROW_TEXT, M(answer, whom)},
    {.field = 7, TIME(answer, has_eta, eta_s)},
    {.field = 8, .type = RP_ROW_TEXT, M(answer, text)},
};

static const struct rp_row readback_rows[] = {
    REF(readback, about, 3, 1),
    {.field = 5, .type = RP_ROW_TEXT, M(readback, text)},
};

static const struct rp_row handover_rows[] = {
    {.field = 3, .type = RP_ROW_TEXT, M(handover, team)},
    {.field = 4, .type = RP_ROW_TEXT, M(handover, taken_by)},
    {.field = 5, M(handover, sheet), HAS(handover, has_sheet), .max = UINT32_MAX},
    {.field = 6, .type = RP_ROW_TEXT, M(handover, sheet_check)},
    {.field = 7, .type = RP_ROW_TEXT, M(handover, text)},
};

static const struct rp_row correction_rows[] = {
    REF(correction, about, 3, 1),
    REF(correction, replacement, 5, 0),
    {.field = 7, .type = RP_ROW_TEXT, M(correction, reason)},
};

static const struct rp_row close_rows[] = {
    {.field = 3, M(close, outcome), .max = RP_OUT_OTHER},
    {.field = 4, .type = RP_ROW_TEXT, M(close, text)},
};

static const struct rp_row clock_rows[] = {
    {.radix = 4, M(clock, reason), .max = RP_CLOCK_SET},
    {.radix = 2, M(clock, synced), .max = 1},
    {.field = 4,
     .type = RP_ROW_DELTA,
     M(clock, offset_s),
     .is_signed = true,
     .min = INT32_MIN,
     .max = INT32_MAX},
};

static const struct rp_row alarm_rows[] = {
    {.radix = 4, M(alarm, action), .max = RP_ALARM_ACK},
    {.radix = 256, M(alarm, rule), .min = 1, .max = 255},
    {.radix = 256, M(alarm, subject), .max = 255},
    {.field = 4, TIME(alarm, has_about, about_s)},
    {.field = 5, TIME(alarm, has_until, until_s)},
    {.field = 6, .type = RP_ROW_TEXT, M(alarm, text)},
};

static const struct rp_row pumping_rows[] = {
    {.radix = 3601, M(pumping, spell_s), .max = 3600},
    {.radix = 3001, M(pumping, strokes), .min = 1, .max = 3000},
    {.field = 4, .type = RP_ROW_TEXT, M(pumping, pumper)},
};

static const struct rp_row stock_rows[] = {
    {.radix = 16, M(stock, unit), .max = RP_DOSE_IU},
    {.field = 4, .type = RP_ROW_TEXT, M(stock, name)},
    {.field = 5, M(stock, left_milli), .max = 10000000},
};

static const struct rp_row fluids_rows[] = {
    {.radix = 3003, MEASURED(fluids, urine_ml), .max = 3000},
    {.radix = 1441, M(fluids, span_min), HAS(fluids, has_span), .min = 1, .max = 1440},
    {.radix = 5003, MEASURED(fluids, drunk_ml), .max = 5000},
};

const struct rp_row_table rp_record_rows[RP_REC_LAST + 1] = {
    [RP_REC_STATION] = ROWS(station_rows),       [RP_REC_EPISODE] = ROWS(episode_rows),
    [RP_REC_BACKGROUND] = ROWS(background_rows), [RP_REC_STATUS] = ROWS(status_rows),
    [RP_REC_TREATMENT] = ROWS(treatment_rows),   [RP_REC_OXYGEN] = ROWS(oxygen_rows),
    [RP_REC_CHAMBER] = ROWS(chamber_rows),       [RP_REC_REASSESS] = ROWS(reassess_rows),
    [RP_REC_DESCENT] = ROWS(descent_rows),       [RP_REC_NOTE] = ROWS(note_rows),
    [RP_REC_EVACUATION] = ROWS(evacuation_rows), [RP_REC_EVAC_CANCEL] = ROWS(evac_cancel_rows),
    [RP_REC_ANSWER] = ROWS(answer_rows),         [RP_REC_READBACK] = ROWS(readback_rows),
    [RP_REC_HANDOVER] = ROWS(handover_rows),     [RP_REC_CORRECTION] = ROWS(correction_rows),
    [RP_REC_CLOSE] = ROWS(close_rows),           [RP_REC_CLOCK] = ROWS(clock_rows),
    [RP_REC_ALARM] = ROWS(alarm_rows),           [RP_REC_PUMPING] = ROWS(pumping_rows),
    [RP_REC_STOCK] = ROWS(stock_rows),           [RP_REC_FLUIDS] = ROWS(fluids_rows),
};
