/* A station's storage in memory (node/station_store.h), with failures on request. Any number of
 * them; nothing is shared. It refuses what the real storage refuses: a sequence used twice, a
 * write from within a visit. A program that misuses it, or runs out of memory, is ended. */
#ifndef MEMORY_STORE_H
#define MEMORY_STORE_H

#include "node/station_store.h"

struct memory_store;

/* A failure to come. Writes are append_own, put_segment, the marks, charge and set_value. */
struct memory_fault {
    uint32_t after; /* writes that still succeed before it */
    uint32_t count; /* writes that fail then, one after the other; 0: no failure */
    int code;       /* negative rp_error they report */
    bool written;   /* they reach the disk all the same */
};

struct memory_store *memory_store_new(void);
void memory_store_free(struct memory_store *store);
/* The same content, no failure planned: what a backup made now would hold. */
struct memory_store *memory_store_copy(const struct memory_store *store);
/* The table; its ctx is the struct memory_store. */
const struct rp_store_ops *memory_store_ops(void);

/* Replaces the failure planned before. */
void memory_store_fail(struct memory_store *store, struct memory_fault fault);
/* Every read of records, runs and segments reports this code; 0: reads work. */
void memory_store_fail_reads(struct memory_store *store, int code);
/* Writes asked for since the start, those that failed included. */
uint32_t memory_store_writes(const struct memory_store *store);
uint32_t memory_store_segments(const struct memory_store *store, uint16_t origin);
uint32_t memory_store_records(const struct memory_store *store, uint16_t origin);
/* Airtime charged since unix_s, in microseconds. */
uint64_t memory_store_charged_us(const struct memory_store *store, int64_t since_unix_s);

#endif
