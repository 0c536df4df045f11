#include "sim/trial/story.h"

#include <stdarg.h>

#include "wire/frame.h"

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

void sim_story_frame(const struct sim_story *story, const struct sim_world *world,
                     const struct sim_air_frame *frame)
{
    static const char *const kinds[] = {[RP_FRAME_SEGMENT] = "segment",
                                        [RP_FRAME_DIGEST] = "digest",
                                        [RP_FRAME_VECTOR] = "vector",
                                        [RP_FRAME_REQUEST] = "need or acknowledgement"};
    struct rp_frame_head head;
    if (story->to == NULL || !story->frames || rp_frame_head_read(frame->bytes, &head) < 0) {
        return;
    }
    struct rp_trailer trailer;
    if (head.kind != RP_FRAME_SEGMENT || rp_trailer_read(frame->bytes, &trailer) < 0) {
        sim_story_tell(story, world, frame->from, "sends a %s, counter %u, %zu bytes",
                       kinds[head.kind], head.counter, frame->bytes.len);
        return;
    }
    const struct sim_fact *fact = sim_truth_find(&world->truth, head.origin, head.counter);
    bool urgent = fact != NULL && world->truth.records[fact->record].urgent;
    sim_story_tell(story, world, frame->from,
                   "sends %ssegment %u of log %04x, %zu bytes, from station %u, names %u%s",
                   urgent ? "urgent " : "", head.counter, head.origin, frame->bytes.len,
                   trailer.previous, trailer.named, trailer.retransmission ? ", again" : "");
}
