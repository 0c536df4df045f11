/* Who speaks next after a frame was heard. */
#include "mesh/state.h"

/* After a frame was heard, who would begin something waits up to this; he whose push was just
 * answered goes on sooner. Fitted with two backlogged stations that cannot hear each other. */
#define CONTEND_MS     3000
#define CONTEND_WON_MS 300

void rp_contend(struct rp_mesh *mesh, bool named, bool urgent, size_t frame_len, rp_time_us now_us)
{
    if (named) {
        rp_time_us speaks_us = rp_scale_us(mesh, urgent ? 30 : 300) + RP_LATENCY_US +
                               rp_airtime_of_us(mesh, frame_len);
        mesh->quiet_us = rp_later_us(mesh->quiet_us, now_us + speaks_us);
    }
    mesh->contend_us = rp_later_us(mesh->contend_us, rp_later_us(now_us, mesh->quiet_us) +
                                                         rp_wait_us(mesh, 0, CONTEND_MS));
}

void rp_contend_won(struct rp_mesh *mesh, rp_time_us now_us)
{
    mesh->contend_us = rp_later_us(now_us, mesh->quiet_us) + rp_wait_us(mesh, 0, CONTEND_WON_MS);
}
