/* What several kinds of records are made of. */
#ifndef RP_WIRE_RECORD_PARTS_H
#define RP_WIRE_RECORD_PARTS_H

#include <stdbool.h>
#include <stdint.h>

#define RP_NAME_LEN 24   /* names of people, drugs, teams, call-signs: bytes without NUL */
#define RP_LINE_LEN 120  /* one-line texts */
#define RP_TALK_LEN 400  /* questions and answers of a handover */
#define RP_NOTE_LEN 1000 /* free notes */

/* An episode: the log that opened it and its number there. Shown as STATION-NUMBER ("7-1"). */
struct rp_episode_ref {
    uint16_t origin; /* 0: the origin of the record that holds this reference */
    uint8_t number;  /* 1..255; 0: no episode */
};

/* A record: whose log, and the sequence of its first segment. Shown as STATION:SEQ ("7:42"). */
struct rp_record_ref {
    uint16_t origin; /* 0: none */
    uint32_t seq;
};

struct rp_position {
    bool present;
    int32_t lat_e6, lon_e6; /* WGS 84, millionths of a degree, +-90e6 / +-180e6 */
    bool has_accuracy;
    uint16_t accuracy_m;
};

/* Altitude above mean sea level. */
struct rp_altitude {
    bool present;
    int16_t metres; /* -450..8900 */
    uint8_t source; /* enum rp_altitude_source */
};
enum rp_altitude_source { RP_ALT_UNSAID, RP_ALT_GPS, RP_ALT_MAP, RP_ALT_BAROMETER };

/* Something that can be asked of a patient: three different answers, never merged. */
enum rp_asked { RP_NOT_ASKED, RP_NONE_KNOWN, RP_KNOWN };
struct rp_known {
    enum rp_asked state;
    char text[RP_LINE_LEN + 1]; /* when RP_KNOWN */
};

/* A measured value: three different states, zero is a value. */
enum rp_measured { RP_NOT_MEASURED, RP_UNABLE, RP_MEASURED };
struct rp_value {
    enum rp_measured state;
    int16_t value; /* when RP_MEASURED, in the unit of the field's name */
};

/* A yes/no finding: not asked, no, yes. */
enum rp_finding { RP_FINDING_NOT_ASKED, RP_FINDING_NO, RP_FINDING_YES };

/* Working label: bits, a person may have both. */
#define RP_LABEL_AMS   1u
#define RP_LABEL_HACE  2u
#define RP_LABEL_HAPE  4u
#define RP_LABEL_OTHER 8u

/* Criteria of clinical.md 1.2 and the score items, as findings. X(name, word) */
#define RP_CRITERIA(X)                                                                             \
    X(ALTITUDE_GAIN, "recent altitude gain")                                                       \
    X(MENTAL_CHANGE, "change of mental state")                                                     \
    X(ATAXIA, "ataxia")                                                                            \
    X(DYSPNOEA_REST, "breathless at rest")                                                         \
    X(COUGH, "cough")                                                                              \
    X(WEAKNESS, "weakness or reduced performance")                                                 \
    X(CHEST_TIGHTNESS, "chest tightness or congestion")                                            \
    X(CRACKLES, "crackles or wheeze")                                                              \
    X(CYANOSIS, "central cyanosis")                                                                \
    X(TACHYPNOEA, "fast breathing")                                                                \
    X(TACHYCARDIA, "fast pulse")
enum rp_criterion {
#define RP_CRITERION_ENUM(name, word) RP_CRIT_##name,
    RP_CRITERIA(RP_CRITERION_ENUM)
#undef RP_CRITERION_ENUM
        RP_CRIT_COUNT
};

/* 2018 Lake Louise AMS score items, each 0..3 (Roach et al. 2018). */
struct rp_lls_items {
    struct rp_value headache, gut, fatigue, dizziness;
};

#endif
