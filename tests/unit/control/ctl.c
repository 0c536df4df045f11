#include "rp_test.h"

#include <stdlib.h>
#include <string.h>

#include "ctl.h"

struct ctl ctl_new(void)
{
    struct ctl ctl = {.kit = kit_new(7, RP_ROLE_CAMP)};
    strcpy(ctl.kit.config.name, "Ridge Camp");
    ctl.kit.config.altitude = (struct rp_altitude){true, 5480, RP_ALT_GPS};
    ctl.kit.config.position =
        (struct rp_position){.present = true, .lat_e6 = 27988000, .lon_e6 = 86925330};
    kit_start(&ctl.kit);
    ctl.control = calloc(1, sizeof *ctl.control);
    assert_non_null(ctl.control);
    ctl.control->node = ctl.kit.node;
    return ctl;
}

void ctl_end(struct ctl *ctl)
{
    json_decref(ctl->reply);
    free(ctl->control);
    kit_end(&ctl->kit);
}

void ctl_restart(struct ctl *ctl)
{
    kit_restart(&ctl->kit);
    ctl->control->node = ctl->kit.node;
}

void ctl_send_raw(struct ctl *ctl, struct rp_view bytes)
{
    char *reply = rp_control_handle(ctl->control, bytes, ctl->kit.moment);
    assert_non_null(reply);
    json_decref(ctl->reply);
    ctl->reply = json_loads(reply, 0, NULL);
    free(reply);
    assert_true(json_is_object(ctl->reply));
    assert_int_equal(json_integer_value(json_object_get(ctl->reply, "v")), 1);
}

/* The next word of the line, moving *at past it; NULL at the end. */
static const char *next_word(const char **at, char *buf)
{
    size_t len = 0;
    bool quoted = false;
    *at += strspn(*at, " ");
    if (**at == '\0') {
        return NULL;
    }
    for (; **at != '\0' && (quoted || **at != ' '); (*at)++) {
        if (**at == '"') {
            quoted = !quoted;
        } else {
            buf[len++] = **at;
        }
    }
    buf[len] = '\0';
    return buf;
}

void ctl_send(struct ctl *ctl, const char *line)
{
    char word[2048];
    json_t *root = json_object(), *args = json_array();
    assert_true(strlen(line) < sizeof word);
    while (next_word(&line, word) != NULL) {
        if (strcmp(word, "--sure") == 0) {
            json_object_set_new(root, "sure", json_true());
        } else if (strncmp(word, "--", 2) == 0) {
            const char *option = word[2] == 'b' ? "by" : word[2] == 'v' ? "via" : "ago";
            json_object_set_new(root, option, json_string(next_word(&line, word)));
        } else if (json_object_get(root, "command") == NULL) {
            json_object_set_new(root, "command", json_string(word));
        } else {
            json_array_append_new(args, json_string(word));
        }
    }
    json_object_set_new(root, "args", args);
    char *text = json_dumps(root, JSON_COMPACT);
    json_decref(root);
    ctl_send_raw(ctl, (struct rp_view){(const uint8_t *)text, strlen(text)});
    free(text);
}

const char *ctl_error(const struct ctl *ctl, const char *key)
{
    const char *value =
        json_string_value(json_object_get(json_object_get(ctl->reply, "error"), key));
    return value != NULL ? value : "";
}

const char *ctl_ok(struct ctl *ctl, const char *line)
{
    ctl_send(ctl, line);
    if (!json_is_true(json_object_get(ctl->reply, "ok"))) {
        fail_msg("%s: refused: %s", line, ctl_error(ctl, "text"));
    }
    return json_string_value(json_object_get(ctl->reply, "text"));
}

void ctl_refused(struct ctl *ctl, const char *line, const char *code, const char *text)
{
    ctl_send(ctl, line);
    if (json_is_true(json_object_get(ctl->reply, "ok"))) {
        fail_msg("%s: accepted", line);
    }
    if (strcmp(ctl_error(ctl, "text"), text) != 0 || strcmp(ctl_error(ctl, "code"), code) != 0) {
        fail_msg("%s:\n  is        %s %s\n  should be %s %s", line, ctl_error(ctl, "code"),
                 ctl_error(ctl, "text"), code, text);
    }
}

static int decode(void *arg, const struct rp_record_row *row)
{
    assert_int_equal(rp_record_decode(row->body, row->origin, arg), RP_OK);
    return 0;
}

struct rp_record ctl_last(struct ctl *ctl)
{
    struct rp_record record;
    struct rp_record_filter filter = {.origin = rp_node_origin(ctl->kit.node)};
    assert_int_equal(rp_node_each_record(ctl->kit.node, &filter, decode, &record), RP_OK);
    return record;
}
