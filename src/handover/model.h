/* The sheet as facts: rows of items in sections, without any layout. Every form of the sheet (80
 * columns, a narrow roll, a page, a spoken script) renders these same rows, so that no form can
 * say less than another.
 *
 * The rows are built one after the other and handed to a visitor: nothing is allocated and no row
 * is ever dropped for want of room. */
#ifndef RP_HANDOVER_MODEL_H
#define RP_HANDOVER_MODEL_H

#include "handover/sheet.h"
#include "handover/texts.h"

/* X(name, letter in the margin, ' ' for none). The order is the order on the sheet. */
#define RP_SHEET_SECTIONS(X)                                                                       \
    X(HEAD, ' ')                                                                                   \
    X(HEADLINE, ' ')                                                                               \
    X(PATIENT, 'A')                                                                                \
    X(TIME, 'T')                                                                                   \
    X(COMPLAINT, 'M')                                                                              \
    X(INVESTIGATIONS, 'I')                                                                         \
    X(SIGNS, 'S')                                                                                  \
    X(TREATMENT, 'T')                                                                              \
    X(ALLERGIES, 'A')                                                                              \
    X(MEDICINES, 'M')                                                                              \
    X(BACKGROUND, 'B')                                                                             \
    X(OTHER, 'O')                                                                                  \
    X(EVACUATION, ' ')                                                                             \
    X(CORRECTIONS, ' ')                                                                            \
    X(COMPLETENESS, ' ')                                                                           \
    X(UNKNOWNS, ' ')                                                                               \
    X(CAUTIONS, ' ')                                                                               \
    X(FOOT, ' ')
enum rp_sheet_section {
#define X(name, letter) RP_SECTION_##name,
    RP_SHEET_SECTIONS(X)
#undef X
        RP_SECTION_COUNT
};

/* The check of a sheet covers these numbers: a new kind goes last. */
enum rp_item_kind {
    RP_ITEM_WORD,     /* fixed words: `word` */
    RP_ITEM_ENTERED,  /* `entered`: words of a person, not to be trusted with a terminal */
    RP_ITEM_NUMBER,   /* `number` / 10^`decimals`, in unit `word` */
    RP_ITEM_VALUE,    /* measured or not: `state`; number, decimals, unit as above; when taken_from
                       * is set also its mode and time */
    RP_ITEM_PRESSURE, /* blood pressure: `number` over `number_2` mmHg */
    RP_ITEM_GCS,      /* eye, verbal, motor: number = 100 e + 10 v + m */
    RP_ITEM_TIME,     /* `time_s`, net time */
    RP_ITEM_DAY,      /* the UTC day of `time_s` */
    RP_ITEM_AGE,      /* age of `time_s` now; `word` follows it: "old", "ago" */
    RP_ITEM_SPAN,     /* a length of time: `number` seconds */
    RP_ITEM_OFFSET,   /* local time minus UTC: `number` seconds */
    RP_ITEM_POSITION, /* latitude `number`, longitude `number_2`, millionths of a degree */
    RP_ITEM_REF,      /* "7:42": station `number` and sequence `number_2` */
    RP_ITEM_EPISODE,  /* "7-1" */
    RP_ITEM_STATION,  /* station `number`, its name in `entered` or NULL */
    RP_ITEM_DEGREES,  /* a position as decimal degrees, in unit `word` */
    RP_ITEM_UTM,      /* a position as UTM, or UPS at the poles */
    RP_ITEM_MGRS      /* a position as a grid reference of `decimals` digits twice */
};

/* How an item follows the one before. */
enum rp_join { RP_JOIN_SPACE, RP_JOIN_COMMA, RP_JOIN_SEMICOLON, RP_JOIN_STOP, RP_JOIN_DASH };

struct rp_sheet_item {
    enum rp_item_kind kind;
    enum rp_join join;
    enum rp_text_id label; /* before the value: "SpO2"; RP_TX_NONE: none */
    enum rp_text_id word;  /* the fixed words, or the unit */
    bool loud;             /* must strike the eye */
    bool live;             /* changes with the time of printing: outside the check */
    bool opens, closes;    /* a bracket before, after */
    uint8_t decimals;
    enum rp_measured state;
    int64_t number, number_2;
    uint32_t time_s;
    const char *entered;             /* borrowed from the episode */
    const struct rp_obs *taken_from; /* RP_ITEM_VALUE, PRESSURE, GCS: the set, or NULL */
};

/* Most items a builder puts in one row: the list of unknowns is the longest. */
#define RP_ROW_ITEMS_MAX 48

enum rp_row_style {
    RP_ROW_PLAIN,
    RP_ROW_TITLE,  /* the line that must be read first */
    RP_ROW_BANNER, /* across the sheet */
    RP_ROW_TABLE,  /* one line of the table of signs; each item one column; the first: head */
};

struct rp_sheet_row {
    enum rp_sheet_section section;
    enum rp_row_style style;
    enum rp_text_id label;        /* RP_TX_NONE: goes on under the label above */
    const struct rp_source *from; /* the entry it shows, or NULL when it joins several */
    bool struck;                  /* corrected: shown, never counted */
    const struct rp_correction_entry *correction; /* of a struck row, NULL: not held */
    size_t item_count;
    struct rp_sheet_item items[RP_ROW_ITEMS_MAX];
};

/* Silences longer than this are named: a report is due every 30 min, 10 min late is late
 * (clinical reference 6.1 "keep informed", 6.4 B2). */
#define RP_SHEET_GAP_S    2400
#define RP_SHEET_GAPS_MAX 16

/* What the model is built from: the caller's input and what is derived from it once. */
struct rp_sheet_facts {
    const struct rp_sheet_input *input;
    const struct rp_gap *gaps;
    size_t gap_count;  /* RP_SHEET_GAPS_MAX + 1: there are more than the sheet lists */
    const char *check; /* 4 characters; NULL: only the sections the check covers are built */
};

typedef void rp_sheet_visit(void *arg, const struct rp_sheet_row *row);
/* Hands every row to `visit`, in the order of the sheet. A row is valid during the call only; its
 * texts live as long as the episode. */
void rp_sheet_model(const struct rp_sheet_facts *facts, rp_sheet_visit *visit, void *arg);

#endif
