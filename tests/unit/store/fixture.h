/* A folder of its own for each test, and rows with content that tells them apart. */
#ifndef RP_TEST_STORE_FIXTURE_H
#define RP_TEST_STORE_FIXTURE_H

#include "rp_test.h"

#include <sqlite3.h>

#include "store/store.h"

/* The sanitizers take several times as long: the longest loops are thinned out with them. */
#if defined(__SANITIZE_ADDRESS__)
#define FIXTURE_SLOW 1
#elif defined(__has_feature)
#if __has_feature(address_sanitizer)
#define FIXTURE_SLOW 1
#endif
#endif
#ifndef FIXTURE_SLOW
#define FIXTURE_SLOW 0
#endif

struct fixture {
    char folder[64];
    char path[96]; /* log.db in the folder */
    struct rp_store *store;
    const struct rp_store_ops *ops;
};

/* cmocka setup and teardown: makes the folder and opens the store; closes, removes the folder. */
int fixture_open(void **state);
/* The same without opening the store. */
int fixture_folder(void **state);
int fixture_close(void **state);

void fixture_reopen(struct fixture *f);
/* The path with the suffix, in a buffer that the next call overwrites. */
const char *fixture_side(const struct fixture *f, const char *suffix);
/* Runs SQL on the file with a connection of its own; returns the SQLite result. */
int fixture_sql(const struct fixture *f, const char *sql);
int64_t fixture_number(const struct fixture *f, const char *sql);
void fixture_write_file(const char *path, const void *bytes, size_t len);

/* A record of `count` segments from seq on; the bytes follow from origin and sequence. */
struct rows {
    struct rp_segment_row segments[RP_RECORD_SEGMENTS_MAX];
    size_t count;
    struct rp_record_row record;
    uint8_t sealed[RP_RECORD_SEGMENTS_MAX][40];
    uint8_t body[40];
};
void rows_fill(struct rows *rows, uint16_t origin, uint32_t seq, size_t count);
/* Fills and appends as an own record. */
int rows_append(struct rp_store *store, uint16_t origin, uint32_t seq, size_t count);

/* What visits saw. */
struct seen {
    struct rp_record_row rows[64];
    uint8_t bodies[64][40];
    int count;
    int stop_after; /* 0: never */
};
int seen_visit(void *arg, const struct rp_record_row *row);
/* Asserts that record seq of origin is there as rows_fill made it, with all its segments. */
void assert_rows_held(struct rp_store *store, uint16_t origin, uint32_t seq, size_t count);
/* Asserts that rp_store_check finds nothing. */
void assert_whole(struct rp_store *store);

#endif
