/* The story of a run in plain words, one line for each thing that happened. */
#ifndef SIM_TRIAL_STORY_H
#define SIM_TRIAL_STORY_H

#include <stdio.h>

#include "sim/world/world.h"

struct sim_story {
    FILE *to;    /* NULL: nothing is told */
    bool frames; /* every frame on air, too */
};

/* "[ 3 h 12 min 05.210 s] s3: text" */
void sim_story_tell(const struct sim_story *story, const struct sim_world *world, unsigned host,
                    const char *format, ...) __attribute__((format(printf, 4, 5)));
/* The same of nobody in particular. */
void sim_story_say(const struct sim_story *story, rp_time_us now_us, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* A frame begins. */
void sim_story_frame(const struct sim_story *story, const struct sim_world *world,
                     const struct sim_air_frame *frame);

#endif
