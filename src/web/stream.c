#include "web/stream.h"

#include <stdio.h>
#include <string.h>

#include "web/mhd.h"

void rp_web_stream_init(struct rp_web_stream *stream, const struct rp_mhd *calls, uint32_t boot)
{
    memset(stream, 0, sizeof *stream);
    stream->calls = calls;
    stream->boot = boot;
    stream->revision = 1;
}

/* The next text for this page; false when there is nothing to say. */
static bool next_text(struct rp_web_viewer *viewer)
{
    const struct rp_web_stream *stream = viewer->stream;
    int len = 0;
    if (viewer->sent != stream->revision) {
        len = snprintf(viewer->text, sizeof viewer->text,
                       "id: %08x-%llu\nevent: change\ndata: %llu\n\n", (unsigned)stream->boot,
                       (unsigned long long)stream->revision, (unsigned long long)stream->revision);
        viewer->sent = stream->revision;
    } else if (viewer->pulse) {
        len = snprintf(viewer->text, sizeof viewer->text, "event: pulse\ndata: 0\n\n");
    }
    viewer->pulse = false;
    viewer->at = 0;
    viewer->len = (size_t)len;
    return len > 0;
}

static ssize_t read_stream(void *cls, uint64_t position, char *buf, size_t max)
{
    struct rp_web_viewer *viewer = cls;
    (void)position;
    if (viewer->stream->ending || viewer->ending) {
        return MHD_CONTENT_READER_END_OF_STREAM;
    }
    if (viewer->at == viewer->len && !next_text(viewer)) {
        viewer->waits = true;
        viewer->stream->calls->suspend_connection(viewer->mhd);
        return 0;
    }
    size_t len = viewer->len - viewer->at;
    len = len < max ? len : max;
    memcpy(buf, viewer->text + viewer->at, len);
    viewer->at += len;
    return (ssize_t)len;
}

static void free_viewer(void *cls)
{
    struct rp_web_viewer *viewer = cls;
    *viewer = (struct rp_web_viewer){.mhd = NULL};
}

/* A page that was away and missed nothing is not told anything. */
static uint64_t seen_revision(const struct rp_web_stream *stream, const char *last_id)
{
    char present[40];
    snprintf(present, sizeof present, "%08x-%llu", (unsigned)stream->boot,
             (unsigned long long)stream->revision);
    return last_id != NULL && strcmp(last_id, present) == 0 ? stream->revision : 0;
}

struct MHD_Response *rp_web_stream_reply(struct rp_web_stream *stream, struct MHD_Connection *mhd,
                                         unsigned session, const char *last_id)
{
    for (size_t i = 0; i < RP_WEB_STREAM_MAX; i++) {
        struct rp_web_viewer *viewer = &stream->viewers[i];
        if (viewer->mhd != NULL) {
            continue;
        }
        struct MHD_Response *reply = stream->calls->create_response_from_callback(
            MHD_SIZE_UNKNOWN, 512, read_stream, viewer, free_viewer);
        if (reply != NULL) {
            /* A pulse at once: the page knows that the line works. */
            *viewer = (struct rp_web_viewer){.stream = stream,
                                             .mhd = mhd,
                                             .session = session,
                                             .pulse = true,
                                             .sent = seen_revision(stream, last_id)};
        }
        return reply;
    }
    return NULL;
}

static void take_up(struct rp_web_viewer *viewer)
{
    if (viewer->mhd != NULL && viewer->waits) {
        viewer->waits = false;
        viewer->stream->calls->resume_connection(viewer->mhd);
    }
}

void rp_web_stream_wake(struct rp_web_stream *stream)
{
    stream->revision++;
    for (size_t i = 0; i < RP_WEB_STREAM_MAX; i++) {
        take_up(&stream->viewers[i]);
    }
}

void rp_web_stream_pulse(struct rp_web_stream *stream)
{
    for (size_t i = 0; i < RP_WEB_STREAM_MAX; i++) {
        stream->viewers[i].pulse = true;
        take_up(&stream->viewers[i]);
    }
}

void rp_web_stream_end(struct rp_web_stream *stream)
{
    stream->ending = true;
    for (size_t i = 0; i < RP_WEB_STREAM_MAX; i++) {
        take_up(&stream->viewers[i]);
    }
}

void rp_web_stream_part(struct rp_web_stream *stream,
                        bool (*lives)(const void *ctx, unsigned session), const void *ctx)
{
    for (size_t i = 0; i < RP_WEB_STREAM_MAX; i++) {
        struct rp_web_viewer *viewer = &stream->viewers[i];
        if (viewer->mhd != NULL && !lives(ctx, viewer->session)) {
            viewer->ending = true;
            take_up(viewer);
        }
    }
}

size_t rp_web_stream_count(const struct rp_web_stream *stream)
{
    size_t count = 0;
    for (size_t i = 0; i < RP_WEB_STREAM_MAX; i++) {
        count += stream->viewers[i].mhd != NULL;
    }
    return count;
}
