/* A layer between SQLite and the disk (an SQLite VFS) that fails, or cuts the power, at a chosen
 * moment. It counts what changes the disk: writes, syncs, truncations, deletions, new files and
 * new shared memory. Real syncs are left out: the shim itself knows what would be safe. */
#ifndef RP_TEST_STORE_SHIM_H
#define RP_TEST_STORE_SHIM_H

#include <stdbool.h>
#include <stdint.h>

#include "base/rng.h"

enum shim_mode {
    SHIM_PASS,      /* all works */
    SHIM_FAIL_ONCE, /* the Nth change fails, the next ones work */
    SHIM_FAIL_ON,   /* the Nth change and all later ones fail */
    SHIM_CUT,       /* the power goes during the Nth change: nothing works any more */
};

enum shim_fault {
    SHIM_DISK_FULL, /* half of a write arrives, then there is no space */
    SHIM_DISK_BAD,  /* an I/O error */
};

/* What of the unsynced changes a power cut leaves. */
enum shim_left {
    SHIM_LEFT_NONE,
    SHIM_LEFT_SOME, /* each sector of 512 bytes and each length by chance */
};

/* Makes the shim SQLite's default. Once, before the first connection. */
void shim_install(void);
/* Starts counting at 0, with nothing known about any file: call it with none open. */
void shim_arm(enum shim_mode mode, long nth, enum shim_fault fault);
/* All works again from here on. */
void shim_disarm(void);
/* Whether the Nth change was reached since shim_arm, and how many changes there were. */
bool shim_hit(void);
long shim_count(void);
/* After SHIM_CUT and with all files closed: leaves on disk what a power cut may leave, and
 * disarms. */
void shim_power_cut(enum shim_left left, struct rp_rng *rng);

#endif
