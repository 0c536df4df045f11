/* Everything the emulator does, without a descriptor or a clock: modems, their serial lines with
 * delay, and the air between them. Events are worked off in the order of their own times, so a late
 * call changes no time on air. */
#ifndef AIR_WORLD_H
#define AIR_WORLD_H

#include "air/config.h"
#include "air/delay.h"

/* Longest text a command answers: a line of counters for every station. */
#define AIR_REPLY_CAP 16384

/* What the world needs of its owner. */
struct air_world_ops {
    void *ctx;
    /* One line for the log, without line end. */
    void (*log)(void *ctx, rp_time_us at_us, const char *text);
    /* Pulls the station's port, or gives it a new one. 0 or a negative error. */
    int (*plug)(void *ctx, unsigned station, bool plugged);
};

struct air_counts {
    uint64_t frames, airtime_us;    /* sent */
    uint64_t fates[AIR_FATE_COUNT]; /* of others' frames, here */
    uint64_t serial_lost;           /* bytes that did not fit on the way to or from the host */
};

/* Most bytes of a host's one write: what the program reads at a time. */
#define AIR_HOST_WRITE_MAX 1024

/* Faults of a serial line, an adapter or a supply, injected by commands. */
struct air_faults {
    uint32_t drop_ppm, add_ppm; /* chance of each serial byte to vanish, or to get one before it */
    bool echo;                  /* what the host writes comes back to it */
    bool cooked;                /* 11 and 13 are eaten, 0D becomes 0A: a terminal left as it was */
    unsigned lost_ends;         /* that many sendings end without a word */
    unsigned brownouts;         /* that many sendings pull the supply down in their middle */
    bool first_set, first_due;  /* a byte of rubbish before the first one after power-up */
    uint8_t first_byte;
    rp_time_us brownout_us; /* RP_NEVER */
};

struct air_station {
    struct air_modem modem;
    struct air_delay to_host, to_modem;
    bool plugged;       /* has power and a port */
    bool host_open;     /* somebody reads the port */
    bool muted;         /* its answers get lost */
    bool hung;          /* deaf to the host and to the air */
    uint32_t host_baud; /* speed the host has set; 0 unknown */
    struct air_counts counts;
    struct air_faults faults;
};

struct air_world {
    struct air_config *config; /* borrowed; links and latency change with commands */
    struct air_world_ops ops;
    struct air_channel air;
    struct air_station stations[AIR_STATIONS_MAX];
    struct rp_rng rng;
    struct rp_rng out_rng; /* of rubbish a host reads: when it reads is no input of the world */
    rp_time_us now_us;
};

/* All modems are plugged in and boot at now_us. The configuration must have a modem. */
void air_world_init(struct air_world *world, struct air_config *config,
                    const struct air_world_ops *ops, rp_time_us now_us);
/* Takes links, signals and latency over from the configuration. */
void air_world_apply_links(struct air_world *world);
/* The host opened or closed the port. What is written while nobody has it open is lost. */
void air_world_host_open(struct air_world *world, unsigned station, bool open, rp_time_us now_us);
/* The host has set its port to that many bits per second; 0: unknown. */
void air_world_host_speed(struct air_world *world, unsigned station, uint32_t baud,
                          rp_time_us now_us);
/* The host wrote. */
void air_world_host_wrote(struct air_world *world, unsigned station, struct rp_view bytes,
                          rp_time_us now_us);
/* Takes at most cap bytes that the host can read by now. */
size_t air_world_host_take(struct air_world *world, unsigned station, uint8_t *buf, size_t cap,
                           rp_time_us now_us);
rp_time_us air_world_wake(const struct air_world *world);
void air_world_tick(struct air_world *world, rp_time_us now_us);

/* For commands: */
void air_world_restart(struct air_world *world, unsigned station, rp_time_us now_us);
int air_world_plug(struct air_world *world, unsigned station, bool plugged, rp_time_us now_us);
void air_world_rubbish(struct air_world *world, unsigned station, unsigned count,
                       rp_time_us now_us);
void air_world_hang(struct air_world *world, unsigned station, bool hung, rp_time_us now_us);
/* The mode pin; RP_E_UNSUPPORTED for a modem that has none. */
int air_world_set_mode(struct air_world *world, unsigned station, bool configuring,
                       rp_time_us now_us);
void air_world_log(struct air_world *world, rp_time_us at_us, const char *format, ...)
    __attribute__((format(printf, 3, 4)));
/* One line of counters, NUL-terminated. */
void air_world_counts(const struct air_world *world, unsigned station, char *text, size_t cap);

/* Runs one command line (see command.c), which is cut up, and writes the answer: lines, the last of
 * them "ok" or "error: ...". */
void air_command(struct air_world *world, char *line, char reply[AIR_REPLY_CAP], rp_time_us now_us);

#endif
