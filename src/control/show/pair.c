/* Pairing devices with the pages, from the station's own terminal. */
#include <stdlib.h>
#include <string.h>

#include "control/pages.h"
#include "control/show/show.h"

static void show_device(void *arg, const struct rp_pages_device *device)
{
    struct rp_show *show = arg;
    char span[24];
    int64_t age_s = show->entry->moment.unix_s - device->seen_s;
    rp_text_add(show->text, "%-3u %-8s %-24s last seen %s ago\n", device->number, device->role,
                device->device[0] != '\0' ? device->device : "(no name)",
                rp_show_span(age_s > 0 && age_s < UINT32_MAX ? (uint32_t)age_s : 0, span));
    json_array_append_new(json_object_get(show->data, "devices"),
                          json_pack("{s:i,s:s,s:s}", "number", (int)device->number, "role",
                                    device->role, "device", device->device));
}

static int list_devices(struct rp_show *show)
{
    json_object_set_new(show->data, "devices", json_array());
    show->pages->each_device(show->pages->ctx, show_device, show);
    if (json_array_size(json_object_get(show->data, "devices")) == 0) {
        rp_text_add(show->text, "no device is paired (example: pair bedside)\n");
    }
    return RP_OK;
}

static int end_device(struct rp_show *show)
{
    struct rp_problem *problem = show->entry->problem;
    const char *word;
    int code = rp_entry_need(show->entry, "pair", "pair end 3", &word);
    if (code < 0) {
        return code;
    }
    char *end;
    unsigned long number = strtoul(word, &end, 10);
    if (*end != '\0' || number < 1 || number > 255 ||
        show->pages->end_device(show->pages->ctx, (unsigned)number) < 0) {
        return rp_problem_set(problem, RP_E_NOT_FOUND, "pair",
                              "no paired device has the number \"%.16s\"; pair lists them "
                              "(example: pair end 3)",
                              word);
    }
    rp_text_add(show->text, "device %lu may not use the pages any more\n", number);
    return RP_OK;
}

static int make_code(struct rp_show *show, const char *role)
{
    const char *digits;
    int code = show->pages->make_code(show->pages->ctx, role, &digits, show->entry->problem);
    if (code < 0) {
        return code;
    }
    rp_text_add(show->text,
                "pairing code %s, for one device, as %s, for ten minutes\n"
                "on the device open %s and type it\n",
                digits, role, show->pages->where);
    json_object_set_new(show->data, "code", json_string(digits));
    json_object_set_new(show->data, "where", json_string(show->pages->where));
    return RP_OK;
}

int rp_show_pair(struct rp_show *show)
{
    if (show->pages == NULL) {
        return rp_problem_set(show->entry->problem, RP_E_STATE, "pair",
                              "this station serves no pages: set listen in [pages] of its "
                              "configuration (example: listen = 127.0.0.1:8080)");
    }
    const char *word = rp_entry_take(show->entry);
    if (word == NULL) {
        return list_devices(show);
    }
    return strcmp(word, "end") == 0 ? end_device(show) : make_code(show, word);
}
