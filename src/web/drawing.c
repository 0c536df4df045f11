#include "web/drawing.h"

#include <stdlib.h>
#include <string.h>

#include "ridgepost/error.h"
#include "web/mhd.h"

static const struct failure {
    int code; /* 0: any other */
    unsigned status;
    const char *sentence;
} failures[] = {
    {RP_E_NOT_FOUND, 503,
     "the program that draws pages and codes, ridgepost-page, is not installed at this station "
     "(neither beside ridgepostd nor on PATH): install it there, or take the form text\n"},
    {RP_E_BUSY, 503, "other sheets are being drawn: try again in a few seconds\n"},
    {RP_E_TIMEOUT, 504,
     "the sheet took too long to draw and was given up; the records are safe: try again, or take "
     "the form text\n"},
    {RP_E_TOO_LONG, 500, "the drawn sheet is too large to be sent: take the form text\n"},
    {0, 500,
     "ridgepost-page did not draw the sheet; the station's log says why: try again, or take the "
     "form text\n"},
};

static void say_failure(struct rp_web_response *response, int code)
{
    const struct failure *failure = failures;
    while (failure->code != 0 && failure->code != code) {
        failure++;
    }
    rp_web_response_say(response, failure->status, failure->sentence);
}

bool rp_web_drawings_start(struct rp_web_drawings *drawings, struct MHD_Connection *mhd,
                           struct rp_web_wait *wait, struct rp_web_response *response)
{
    size_t place = 0;
    while (place < RP_WEB_DRAWINGS_MAX && drawings->at[place].busy) {
        place++;
    }
    int code = place == RP_WEB_DRAWINGS_MAX ? RP_E_BUSY
               : drawings->draw == NULL
                   ? RP_E_NOT_FOUND
                   : drawings->draw(drawings->ctx, place, response->drawn_as, response->body);
    if (code < 0) {
        say_failure(response, code);
        return false;
    }
    rp_web_response_free(response); /* the rows */
    wait->response = *response;
    drawings->at[place].busy = true;
    drawings->at[place].mhd = mhd;
    drawings->at[place].wait = wait;
    drawings->calls->suspend_connection(mhd);
    return true;
}

void rp_web_drawings_done(struct rp_web_drawings *drawings, size_t place, int code,
                          struct rp_view bytes)
{
    struct rp_web_wait *wait = drawings->at[place].wait;
    drawings->at[place].busy = false;
    drawings->at[place].wait = NULL;
    if (wait == NULL) {
        return;
    }
    char *copy = code == RP_OK ? malloc(bytes.len + 1) : NULL;
    if (copy != NULL && bytes.len > 0) {
        memcpy(copy, bytes.bytes, bytes.len);
        wait->response.owned = copy;
        wait->response.body = (struct rp_view){(const uint8_t *)copy, bytes.len};
    } else { /* nothing drawn is no sheet */
        free(copy);
        say_failure(&wait->response, code);
    }
    wait->ready = true;
    drawings->calls->resume_connection(drawings->at[place].mhd);
}

void rp_web_drawings_forget(struct rp_web_drawings *drawings, struct rp_web_wait *wait)
{
    for (size_t i = 0; i < RP_WEB_DRAWINGS_MAX; i++) {
        if (drawings->at[i].wait == wait) {
            drawings->at[i].wait = NULL;
        }
    }
    rp_web_response_free(&wait->response);
}

void rp_web_drawings_end(struct rp_web_drawings *drawings)
{
    for (size_t i = 0; i < RP_WEB_DRAWINGS_MAX; i++) {
        rp_web_drawings_done(drawings, i, RP_E_IO, (struct rp_view){NULL, 0});
    }
}
