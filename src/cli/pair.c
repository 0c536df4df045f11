#include "cli/pair.h"

#include <stdio.h>
#include <string.h>
#include <sysexits.h>
#include <unistd.h>

#include "cli/ask.h"
#include "cli/program.h"
#include "port/process/find.h"

bool rp_cli_pair_wanted(const struct rp_options *options)
{
    return options->count == 2 && strcmp(options->words[0], "pair") == 0 &&
           strcmp(options->words[1], "end") != 0 && !options->json;
}

/* The address with the code in it: the device's page needs one more tap. */
static int draw_code(const struct rp_options *options, const json_t *data)
{
    char path[RP_PROGRAM_PATH_MAX], text[512];
    const char *const words[] = {path, "code", NULL};
    int len = snprintf(text, sizeof text, "%spair?code=%s", rp_ask_text(data, "where"),
                       rp_ask_text(data, "code"));
    if (!rp_program_find(options->self, RP_PAGE_PROGRAM, path)) {
        fputs("ridgepost: the code for a camera is drawn by " RP_PAGE_PROGRAM
              ", which is neither beside ridgepost nor on PATH: type the digits\n",
              stderr);
        return options->form != NULL ? EX_UNAVAILABLE : EX_OK;
    }
    puts("or point the device's camera here:");
    if (len < 0 || len >= (int)sizeof text || fflush(stdout) != 0) {
        return EX_IOERR;
    }
    return rp_program_run(words, text, (size_t)len, NULL, NULL) == 0 ? EX_OK : EX_SOFTWARE;
}

int rp_cli_pair(const struct rp_options *options)
{
    struct rp_options asking = *options;
    json_t *reply;
    if (options->form != NULL && strcmp(options->form, "qr") != 0) {
        fprintf(stderr,
                "ridgepost: form: \"%.16s\" is no form of a pairing code (example: ridgepost pair "
                "bedside --form qr)\n",
                options->form);
        return EX_USAGE;
    }
    asking.form = NULL;
    int status = rp_ask_data(&asking, &reply);
    if (status == EX_OK) {
        fputs(rp_ask_text(reply, "text"), stdout);
        if (options->form != NULL || isatty(STDOUT_FILENO)) {
            status = draw_code(options, json_object_get(reply, "data"));
        }
    }
    json_decref(reply);
    return status;
}
