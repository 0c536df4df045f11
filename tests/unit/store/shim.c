#include "fixture.h"

#include "shim.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define TRACKS_MAX 4
#define SECTOR     512

/* One file: what a power cut cannot take away, and which part was written since. */
struct track {
    char path[512];
    bool main;        /* the database itself, made before SQLite sees it */
    bool safe_exists; /* its name survives */
    bool replaced;    /* deleted or made anew since: the old one may come back whole */
    uint8_t *safe;    /* its synced content */
    size_t safe_len;
    size_t dirty_from, dirty_to;
};

static struct {
    sqlite3_vfs vfs;
    sqlite3_vfs *real;
    enum shim_mode mode;
    enum shim_fault fault;
    long nth, count;
    bool dead; /* the power is off */
    struct track tracks[TRACKS_MAX];
    int track_count;
} shim;

struct shim_file {
    sqlite3_file base;
    struct track *track; /* NULL: a temporary file, or no power cut to come */
    sqlite3_file *real;
};

static struct shim_file *file_of(sqlite3_file *file)
{
    return (struct shim_file *)(void *)file;
}

/* Counts a change: whether it is to fail. */
static bool change_fails(void)
{
    if (shim.mode == SHIM_PASS) {
        return false;
    }
    shim.count++;
    bool now = (shim.mode == SHIM_FAIL_ONCE && shim.count == shim.nth) ||
               (shim.mode != SHIM_FAIL_ONCE && shim.count >= shim.nth);
    shim.dead = shim.dead || (now && shim.mode == SHIM_CUT);
    if (now) {
        errno = shim.fault == SHIM_DISK_FULL ? ENOSPC : EIO;
    }
    return now;
}

static size_t read_file(const char *path, uint8_t **out_bytes)
{
    FILE *file = fopen(path, "rb");
    *out_bytes = NULL;
    if (file == NULL) {
        return 0;
    }
    assert_int_equal(fseek(file, 0, SEEK_END), 0);
    size_t len = (size_t)ftell(file);
    *out_bytes = malloc(len + 1);
    rewind(file);
    assert_int_equal(fread(*out_bytes, 1, len, file), len);
    fclose(file);
    return len;
}

static struct track *track_of(const char *path, bool main)
{
    for (int i = 0; i < shim.track_count; i++) {
        if (strcmp(shim.tracks[i].path, path) == 0) {
            return &shim.tracks[i];
        }
    }
    assert_true(shim.track_count < TRACKS_MAX);
    struct track *track = &shim.tracks[shim.track_count++];
    *track = (struct track){.main = main, .safe_exists = access(path, F_OK) == 0};
    snprintf(track->path, sizeof track->path, "%s", path);
    track->safe_len = read_file(path, &track->safe);
    return track;
}

static void forget_tracks(void)
{
    for (int i = 0; i < shim.track_count; i++) {
        free(shim.tracks[i].safe);
    }
    shim.track_count = 0;
}

static int shim_close(sqlite3_file *file)
{
    sqlite3_file *real = file_of(file)->real;
    return real->pMethods == NULL ? SQLITE_OK : real->pMethods->xClose(real);
}

static int shim_read(sqlite3_file *file, void *bytes, int len, sqlite3_int64 offset)
{
    sqlite3_file *real = file_of(file)->real;
    return shim.dead ? SQLITE_IOERR_READ : real->pMethods->xRead(real, bytes, len, offset);
}

static void mark_dirty(struct track *track, size_t from, size_t to)
{
    if (track->dirty_to == track->dirty_from) {
        track->dirty_from = from;
        track->dirty_to = to;
    }
    track->dirty_from = from < track->dirty_from ? from : track->dirty_from;
    track->dirty_to = to > track->dirty_to ? to : track->dirty_to;
}

static int shim_write(sqlite3_file *file, const void *bytes, int len, sqlite3_int64 offset)
{
    struct shim_file *shimmed = file_of(file);
    sqlite3_file *real = shimmed->real;
    if (shim.dead) {
        return SQLITE_IOERR_WRITE;
    }
    bool fails = change_fails();
    int part = fails && shim.fault == SHIM_DISK_FULL && shim.mode != SHIM_CUT ? len / 2 : len;
    if (!fails || shim.mode == SHIM_CUT || shim.fault == SHIM_DISK_FULL) {
        int result = real->pMethods->xWrite(real, bytes, part, offset);
        assert_int_equal(result, SQLITE_OK);
        if (shimmed->track != NULL) {
            mark_dirty(shimmed->track, (size_t)offset, (size_t)offset + (size_t)part);
        }
    }
    if (!fails) {
        return SQLITE_OK;
    }
    return shim.fault == SHIM_DISK_FULL ? SQLITE_FULL : SQLITE_IOERR_WRITE;
}

static int shim_truncate(sqlite3_file *file, sqlite3_int64 size)
{
    sqlite3_file *real = file_of(file)->real;
    if (shim.dead || (change_fails() && shim.mode != SHIM_CUT)) {
        return SQLITE_IOERR_TRUNCATE;
    }
    int result = real->pMethods->xTruncate(real, size);
    return shim.dead ? SQLITE_IOERR_TRUNCATE : result;
}

/* What the file holds now is safe. Only the part written since the last time is read again. */
static void make_safe(struct track *track)
{
    FILE *file = fopen(track->path, "rb");
    assert_non_null(file);
    assert_int_equal(fseek(file, 0, SEEK_END), 0);
    size_t len = (size_t)ftell(file);
    size_t from = track->replaced ? 0 : track->dirty_from;
    size_t to = track->replaced || track->dirty_to > len ? len : track->dirty_to;
    track->safe = realloc(track->safe, len + 1);
    assert_non_null(track->safe);
    if (from < to) {
        assert_int_equal(fseek(file, (long)from, SEEK_SET), 0);
        assert_int_equal(fread(track->safe + from, 1, to - from, file), to - from);
    }
    fclose(file);
    track->safe_len = len;
    track->safe_exists = true;
    track->replaced = false;
    track->dirty_from = track->dirty_to = 0;
}

/* SQLite syncs the folder with the first sync of a new file ("File Locking And Concurrency In
 * SQLite", section 5): deletions before that are safe from then on, too. */
static void sync_folder(void)
{
    for (int i = 0; i < shim.track_count; i++) {
        struct track *track = &shim.tracks[i];
        if (access(track->path, F_OK) != 0) {
            track->safe_exists = track->replaced = false;
            track->safe_len = 0;
        }
    }
}

static int shim_sync(sqlite3_file *file, int flags)
{
    (void)flags;
    if (shim.dead || change_fails()) {
        return SQLITE_IOERR_FSYNC;
    }
    if (file_of(file)->track != NULL) {
        if (file_of(file)->track->replaced) {
            sync_folder();
        }
        make_safe(file_of(file)->track);
    }
    return SQLITE_OK;
}

static int shim_file_size(sqlite3_file *file, sqlite3_int64 *out_size)
{
    sqlite3_file *real = file_of(file)->real;
    return shim.dead ? SQLITE_IOERR_FSTAT : real->pMethods->xFileSize(real, out_size);
}

static int shim_lock(sqlite3_file *file, int level)
{
    sqlite3_file *real = file_of(file)->real;
    return real->pMethods->xLock(real, level);
}

static int shim_unlock(sqlite3_file *file, int level)
{
    sqlite3_file *real = file_of(file)->real;
    return real->pMethods->xUnlock(real, level);
}

static int shim_check_reserved(sqlite3_file *file, int *out_reserved)
{
    sqlite3_file *real = file_of(file)->real;
    return real->pMethods->xCheckReservedLock(real, out_reserved);
}

static int shim_control(sqlite3_file *file, int op, void *arg)
{
    sqlite3_file *real = file_of(file)->real;
    return real->pMethods->xFileControl(real, op, arg);
}

static int shim_sector(sqlite3_file *file)
{
    sqlite3_file *real = file_of(file)->real;
    return real->pMethods->xSectorSize(real);
}

static int shim_traits(sqlite3_file *file)
{
    sqlite3_file *real = file_of(file)->real;
    return real->pMethods->xDeviceCharacteristics(real);
}

static int shim_shm_map(sqlite3_file *file, int page, int size, int extend, void volatile **out)
{
    sqlite3_file *real = file_of(file)->real;
    if (shim.dead || (extend && change_fails())) {
        return SQLITE_IOERR_SHMSIZE;
    }
    return real->pMethods->xShmMap(real, page, size, extend, out);
}

static int shim_shm_lock(sqlite3_file *file, int offset, int count, int flags)
{
    sqlite3_file *real = file_of(file)->real;
    return real->pMethods->xShmLock(real, offset, count, flags);
}

static void shim_shm_barrier(sqlite3_file *file)
{
    sqlite3_file *real = file_of(file)->real;
    real->pMethods->xShmBarrier(real);
}

static int shim_shm_unmap(sqlite3_file *file, int remove_it)
{
    sqlite3_file *real = file_of(file)->real;
    return real->pMethods->xShmUnmap(real, remove_it);
}

static const sqlite3_io_methods methods = {
    .iVersion = 2,
    .xClose = shim_close,
    .xRead = shim_read,
    .xWrite = shim_write,
    .xTruncate = shim_truncate,
    .xSync = shim_sync,
    .xFileSize = shim_file_size,
    .xLock = shim_lock,
    .xUnlock = shim_unlock,
    .xCheckReservedLock = shim_check_reserved,
    .xFileControl = shim_control,
    .xSectorSize = shim_sector,
    .xDeviceCharacteristics = shim_traits,
    .xShmMap = shim_shm_map,
    .xShmLock = shim_shm_lock,
    .xShmBarrier = shim_shm_barrier,
    .xShmUnmap = shim_shm_unmap,
};

static int shim_open(sqlite3_vfs *vfs, const char *path, sqlite3_file *file, int flags,
                     int *out_flags)
{
    (void)vfs;
    struct shim_file *shimmed = file_of(file);
    bool known = (flags & (SQLITE_OPEN_MAIN_DB | SQLITE_OPEN_MAIN_JOURNAL | SQLITE_OPEN_WAL)) != 0;
    *shimmed = (struct shim_file){.real = (sqlite3_file *)(void *)(shimmed + 1)};
    bool created = known && (flags & SQLITE_OPEN_CREATE) != 0 && access(path, F_OK) != 0;
    if (shim.dead || (created && change_fails())) {
        return SQLITE_CANTOPEN;
    }
    if (known && shim.mode == SHIM_CUT) {
        shimmed->track = track_of(path, (flags & SQLITE_OPEN_MAIN_DB) != 0);
        shimmed->track->replaced = shimmed->track->replaced || created;
    }
    int result = shim.real->xOpen(shim.real, path, shimmed->real, flags, out_flags);
    shimmed->base.pMethods = result == SQLITE_OK ? &methods : NULL;
    return result;
}

static int shim_delete(sqlite3_vfs *vfs, const char *path, int sync_too)
{
    (void)vfs;
    if (shim.dead || (change_fails() && shim.mode != SHIM_CUT)) {
        return SQLITE_IOERR_DELETE;
    }
    int result = shim.real->xDelete(shim.real, path, 0);
    if (shim.mode == SHIM_CUT) {
        struct track *track = track_of(path, false);
        track->replaced = true;
        if (sync_too && !shim.dead) {
            track->safe_exists = false;
            track->safe_len = 0;
        }
    }
    return shim.dead ? SQLITE_IOERR_DELETE : result;
}

static int shim_access(sqlite3_vfs *vfs, const char *path, int flags, int *out_result)
{
    (void)vfs;
    return shim.dead ? SQLITE_IOERR_ACCESS : shim.real->xAccess(shim.real, path, flags, out_result);
}

void shim_install(void)
{
    shim.real = sqlite3_vfs_find(NULL);
    assert_non_null(shim.real);
    shim.vfs = *shim.real;
    shim.vfs.pNext = NULL;
    shim.vfs.zName = "shim";
    shim.vfs.szOsFile = (int)sizeof(struct shim_file) + shim.real->szOsFile;
    shim.vfs.xOpen = shim_open;
    shim.vfs.xDelete = shim_delete;
    shim.vfs.xAccess = shim_access;
    assert_int_equal(sqlite3_vfs_register(&shim.vfs, 1), SQLITE_OK);
}

void shim_arm(enum shim_mode mode, long nth, enum shim_fault fault)
{
    forget_tracks();
    shim.mode = mode;
    shim.nth = nth;
    shim.fault = fault;
    shim.count = 0;
    shim.dead = false;
}

void shim_disarm(void)
{
    shim.mode = SHIM_PASS;
    shim.dead = false;
}

bool shim_hit(void)
{
    return shim.count >= shim.nth;
}

long shim_count(void)
{
    return shim.count;
}

/* Sector by sector the synced content or the newest; past the synced end the newest or zeros. */
static size_t mix(const struct track *track, uint8_t *now, size_t now_len, struct rp_rng *rng)
{
    size_t len = rp_rng_below(rng, 2) == 0 ? now_len : track->safe_len;
    for (size_t at = 0; at < len; at += SECTOR) {
        size_t end = at + SECTOR < len ? at + SECTOR : len;
        bool newest = rp_rng_below(rng, 2) == 0;
        for (size_t i = at; i < end; i++) {
            uint8_t old = i < track->safe_len ? track->safe[i] : 0;
            now[i] = newest && i < now_len ? now[i] : old;
        }
    }
    return len;
}

static void cut_track(const struct track *track, enum shim_left left, struct rp_rng *rng)
{
    uint8_t *now = NULL;
    bool now_exists = access(track->path, F_OK) == 0;
    size_t now_len = read_file(track->path, &now), len = now_len;
    bool exists = now_exists;
    now = realloc(now, now_len + track->safe_len + 1);
    assert_non_null(now);
    bool old_whole = left == SHIM_LEFT_NONE ||
                     (left == SHIM_LEFT_SOME && track->replaced && rp_rng_below(rng, 2) == 0);
    if (old_whole) {
        exists = track->safe_exists;
        len = track->safe_len;
        if (len > 0) {
            memcpy(now, track->safe, len);
        }
    } else if (left == SHIM_LEFT_SOME && exists && track->replaced) {
        struct track fresh = {.safe_len = 0}; /* none of the new file is synced */
        len = mix(&fresh, now, now_len, rng);
    } else if (left == SHIM_LEFT_SOME && exists) {
        len = mix(track, now, now_len, rng);
    }
    if (exists || track->main) {
        fixture_write_file(track->path, now, len);
    } else if (now_exists) {
        assert_int_equal(remove(track->path), 0);
    }
    free(now);
}

void shim_power_cut(enum shim_left left, struct rp_rng *rng)
{
    for (int i = 0; i < shim.track_count; i++) {
        cut_track(&shim.tracks[i], left, rng);
        if (shim.tracks[i].main) {
            char memory[520]; /* shared memory is only memory */
            snprintf(memory, sizeof memory, "%s-shm", shim.tracks[i].path);
            (void)remove(memory);
        }
    }
    forget_tracks();
    shim_disarm();
}
