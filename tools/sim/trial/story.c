#include "sim/trial/story.h"

#include <stdarg.h>

static void put_time(FILE *to, rp_time_us now_us)
{
    long long ms = now_us / 1000;
    fprintf(to, "[%3lld h %02lld min %02lld.%03lld s] ", ms / 3600000, ms / 60000 % 60,
            ms / 1000 % 60, ms % 1000);
}

void sim_story_tell(const struct sim_story *story, const struct sim_world *world, unsigned host,
                    const char *format, ...)
{
    if (story->to == NULL) {
        return;
    }
    put_time(story->to, world->now_us);
    fprintf(story->to, "%s ", world->topology->stations[host].name);
    va_list args;
    va_start(args, format);
    vfprintf(story->to, format, args);
    va_end(args);
    fputc('\n', story->to);
}

void sim_story_say(const struct sim_story *story, rp_time_us now_us, const char *format, ...)
{
    if (story->to == NULL) {
        return;
    }
    put_time(story->to, now_us);
    va_list args;
    va_start(args, format);
    vfprintf(story->to, format, args);
    va_end(args);
    fputc('\n', story->to);
}
