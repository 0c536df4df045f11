/* The tables that say how each member of struct rp_record travels, and the code that follows them.
 * Only for src/wire/record*.c and its tests. */
#ifndef RP_WIRE_RECORD_ROW_H
#define RP_WIRE_RECORD_ROW_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "wire/record.h"

enum rp_row_type {
    RP_ROW_NUMBER,     /* an integer or bool; with has_at it may be absent, else absent is 0 */
    RP_ROW_DELTA,      /* an integer minus another member, modulo 2^32, as sint32 */
    RP_ROW_ORIGIN,     /* a log; absent: the log that holds the record, when base_at is not 0 */
    RP_ROW_VALUE,      /* struct rp_value: absent, 0 unable, value - min + 1 in steps */
    RP_ROW_SATURATING, /* an integer; what is above max is sent as max */
    RP_ROW_AGE_FINE,   /* minutes, rounded up to one of 32 steps */
    RP_ROW_AGE_COARSE, /* minutes, rounded up to one of 8 steps */
    RP_ROW_ALTITUDE,   /* struct rp_altitude: (metres - min) * 8 + source */
    RP_ROW_GCS,        /* three struct rp_value, from gcs_eye on */
    RP_ROW_TEXT,       /* one line of UTF-8; empty: absent */
    RP_ROW_LINES,      /* the same, line ends and tabs allowed */
    RP_ROW_KNOWN,      /* struct rp_known: absent not asked, empty none known */
    RP_ROW_TYPES
};

struct rp_row {
    const char *name;
    enum rp_row_type type;
    uint8_t field;        /* protobuf field number; 0: a digit of the packed number */
    uint16_t radix;       /* of a digit */
    uint16_t at;          /* offset of the member in struct rp_record */
    uint16_t size;        /* of the member, in bytes */
    uint16_t has_at;      /* offset of the flag that says it is present; 0: there is none */
    uint16_t base_at;     /* RP_ROW_DELTA, RP_ROW_ORIGIN: offset of the other member; 0: none */
    uint16_t base_size;   /* RP_ROW_ORIGIN: its size */
    uint16_t base_has_at; /* RP_ROW_DELTA: without this flag the base counts as 0; 0: none */
    uint8_t step;         /* RP_ROW_VALUE: size of a step, 0 as 1 */
    bool is_signed;
    bool follows; /* shares has_at with the row before: both or neither */
    int64_t min, max;
};

struct rp_row_table {
    const struct rp_row *rows;
    size_t count;
};

/* One member on its way to or from the message. */
struct rp_cell {
    bool present;
    uint32_t number;  /* signed fields: two's complement */
    const char *text; /* borrowed, NUL-terminated, when a text is present */
};

extern const struct rp_row_table rp_common_rows;
/* By record kind; empty for kinds without a table. */
extern const struct rp_row_table rp_record_rows[RP_REC_LAST + 1];

/* Steps of ages, in minutes; the last one stands for itself and everything above. */
extern const uint16_t rp_age_fine_min[32];
extern const uint16_t rp_age_coarse_min[8];

/* True when the member can be absent: as a digit, 0 then means absent and number + 1 the rest. */
bool rp_row_can_miss(const struct rp_row *row);
/* 0, RP_E_INVALID or RP_E_TOO_LONG. */
int rp_row_check(const struct rp_row *row, const struct rp_record *record);
/* Of a member that has passed the check. */
struct rp_cell rp_row_get(const struct rp_row *row, const struct rp_record *record);
/* Stores a received cell, absent ones too; members used as a base must have been set before.
 * 0, RP_E_INVALID, RP_E_FORMAT. */
int rp_row_set(const struct rp_row *row, struct rp_cell cell, uint16_t own_origin,
               struct rp_record *record);

/* The packed number: little endian, RP_DIGITS_LEN bytes. */
#define RP_DIGITS_LEN 24
struct rp_digits {
    uint8_t bytes[RP_DIGITS_LEN];
};
/* number = number * radix + digit; false when it no longer fits. radix 1..65535. */
bool rp_digits_push(struct rp_digits *digits, uint16_t radix, uint16_t digit);
/* The remainder of number / radix; number becomes the quotient. */
uint16_t rp_digits_pop(struct rp_digits *digits, uint16_t radix);
/* Bytes up to the last one that is not zero. */
size_t rp_digits_len(const struct rp_digits *digits);

/* The first len bytes are whole UTF-8 characters (Unicode 15 table 3-7) without control
 * characters; line feed and tab are allowed when `lines`. */
bool rp_text_valid(const char *text, size_t len, bool lines);

#define RP_RECEIPT_VALUES_MAX (4 * RP_RECEIPT_MAX)
/* 0 or RP_E_INVALID. */
int rp_receipt_check(const struct rp_rec_receipt *receipt);
/* Fills values; returns how many. */
size_t rp_receipt_pack(const struct rp_rec_receipt *receipt,
                       uint32_t values[RP_RECEIPT_VALUES_MAX]);
/* 0, RP_E_FORMAT, RP_E_INVALID. */
int rp_receipt_unpack(const uint32_t *values, size_t count, struct rp_rec_receipt *out_receipt);

/* Every bound of a record, the same on the way out and in. *out_field (not NULL) is the name of
 * the member at fault. */
int rp_record_check(const struct rp_record *record, const char **out_field);

/* Memory for decoding, so that a test can make it fail; NULL: the heap. */
struct rp_record_memory {
    void *ctx;
    void *(*take)(void *ctx, size_t size);
    void (*give)(void *ctx, void *at);
};
/* rp_record_decode with that memory. */
int rp_record_decode_in(struct rp_view bytes, uint16_t origin,
                        const struct rp_record_memory *memory, struct rp_record *out_record);

#endif
