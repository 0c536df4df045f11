#include "daemon/draw.h"

#include <stdlib.h>

#include "port/clock.h"
#include "port/process/find.h"
#include "ridgepost/error.h"

#define DRAW_US    ((rp_time_us)20 * 1000000)
#define OUTPUT_MAX ((size_t)2 * 1024 * 1024)

static void on_end(void *ctx, enum rp_command_end end)
{
    struct rp_daemon_drawing *drawing = ctx;
    struct rp_daemon_draw *draw = drawing->owner;
    int code = end == RP_COMMAND_WELL       ? RP_OK
               : end == RP_COMMAND_TOO_LONG ? RP_E_TIMEOUT
               : end == RP_COMMAND_TOO_MUCH ? RP_E_TOO_LONG
                                            : RP_E_IO;
    rp_web_drawn(draw->web, (size_t)(drawing - draw->places), code,
                 rp_command_output(drawing->command));
    rp_command_forget_output(drawing->command);
    rp_web_run(draw->web, rp_clock_now_us());
}

/* Looked for each time until it is found: it may be installed while the station runs. */
static int find_program(struct rp_daemon_draw *draw, struct rp_daemon_drawing *drawing)
{
    char path[RP_PROGRAM_PATH_MAX];
    if (drawing->command != NULL) {
        return RP_OK;
    }
    if (!rp_program_find(draw->self, RP_PAGE_PROGRAM, path)) {
        return RP_E_NOT_FOUND;
    }
    char *whole = realpath(path, NULL);
    drawing->owner = draw;
    int code = whole != NULL
                   ? rp_command_new(draw->loop, whole, DRAW_US, on_end, drawing, &drawing->command)
                   : RP_E_NOT_FOUND;
    free(whole);
    return code;
}

int rp_daemon_draw(void *draw_ctx, size_t place, const char *form, struct rp_view rows)
{
    struct rp_daemon_draw *draw = draw_ctx;
    struct rp_daemon_drawing *drawing = &draw->places[place];
    int code = find_program(draw, drawing);
    return code == RP_OK ? rp_command_feed(drawing->command, form, rows, OUTPUT_MAX) : code;
}

rp_time_us rp_daemon_draw_turn(struct rp_daemon_draw *draw)
{
    rp_time_us wake_us = RP_NEVER;
    for (size_t i = 0; i < RP_WEB_DRAWINGS_MAX; i++) {
        struct rp_command *command = draw->places[i].command;
        if (command != NULL) {
            rp_command_tick(command);
            wake_us = rp_sooner_us(wake_us, rp_command_wake(command));
        }
    }
    return wake_us;
}

void rp_daemon_draw_stop(struct rp_daemon_draw *draw)
{
    for (size_t i = 0; i < RP_WEB_DRAWINGS_MAX; i++) {
        rp_command_free(draw->places[i].command);
        draw->places[i].command = NULL;
    }
}
