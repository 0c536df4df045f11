/* Any lines to rp_control_handle on a station with one open episode: each has a reply that is
 * valid JSON with version 1, and a record is there only when the reply says ok or names it. */
#include <stdlib.h>
#include <string.h>

#include <jansson.h>

#include "control/control.h"
#include "memory_store.h"
#include "node_net.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

#define LINES_MAX 8

static void check_reply(struct rp_control *control, struct rp_view line, struct rp_moment moment)
{
    char *reply = rp_control_handle(control, line, moment);
    json_t *root = reply != NULL ? json_loads(reply, 0, NULL) : NULL;
    const json_t *ok = json_object_get(root, "ok");
    const json_t *said = json_is_true(ok) ? json_object_get(root, "text")
                                          : json_object_get(json_object_get(root, "error"), "text");
    if (!json_is_boolean(ok) || json_integer_value(json_object_get(root, "v")) != 1 ||
        !json_is_string(said)) {
        abort();
    }
    json_decref(root);
    free(reply);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct rp_node_config config = node_net_config(7, RP_ROLE_CAMP);
    struct memory_store *store = memory_store_new();
    struct rp_control *control = calloc(1, sizeof *control);
    struct rp_moment moment = {NODE_NET_SECOND_US, NODE_NET_START_S, true};
    struct rp_problem problem;
    config.modem[0] = '\0';
    config.store = memory_store_ops();
    config.store_ctx = store;
    if (control == NULL || rp_node_new(&config, moment, &control->node, &problem) < 0) {
        abort();
    }
    static const char opening[] = "{\"command\":\"open\",\"args\":[\"hace\",\"patient\",\"A\"]}";
    check_reply(control, (struct rp_view){(const uint8_t *)opening, sizeof opening - 1}, moment);
    for (int i = 0; i < LINES_MAX && size > 0; i++) {
        const uint8_t *end = memchr(data, '\n', size);
        size_t len = end != NULL ? (size_t)(end - data) : size;
        check_reply(control, (struct rp_view){data, len}, moment);
        len += end != NULL;
        data += len;
        size -= len;
    }
    rp_node_free(control->node);
    memory_store_free(store);
    free(control);
    return 0;
}
