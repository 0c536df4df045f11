/* Any words to `path` and `airtime`: an answer, or a refusal that names a field, and numbers that
 * JSON can hold. One word a line; the first byte chooses the command. */
#include <stdlib.h>
#include <string.h>

#include "control/show/show.h"
#include "memory_store.h"
#include "node_net.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

#define WORDS_MAX 32

static struct rp_node *station(struct rp_moment moment)
{
    static struct rp_node *node;
    struct rp_problem problem;
    if (node == NULL) {
        struct rp_node_config config = node_net_config(7, RP_ROLE_CAMP);
        config.position = (struct rp_position){.present = true, .lat_e6 = 28104100};
        config.store = memory_store_ops();
        config.store_ctx = memory_store_new();
        if (rp_node_new(&config, moment, &node, &problem) < 0) {
            abort();
        }
    }
    return node;
}

/* As the JSON of a request has it: no NUL inside a word. */
static size_t split(char *text, const char *words[WORDS_MAX])
{
    size_t count = 0;
    char *rest = text;
    for (char *word; count < WORDS_MAX && (word = strsep(&rest, "\n")) != NULL;) {
        words[count++] = word;
    }
    return count;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static char reply[16384];
    struct rp_moment moment = {NODE_NET_SECOND_US, NODE_NET_START_S, true};
    const char *words[WORDS_MAX];
    if (size == 0) {
        return 0;
    }
    char *copy = malloc(size);
    if (copy == NULL) {
        abort();
    }
    memcpy(copy, data + 1, size - 1);
    copy[size - 1] = '\0';
    struct rp_problem problem = {0};
    struct rp_entry entry = {
        .node = station(moment), .moment = moment, .args = words, .problem = &problem};
    entry.count = size > 1 ? split(copy, words) : 0;
    struct rp_text text = rp_text_on(reply, sizeof reply);
    struct rp_show show = {.entry = &entry, .text = &text, .data = json_object()};
    int code = data[0] % 4 == 0 ? rp_show_airtime(&show) : rp_show_path(&show);
    if (code < 0 ? problem.field[0] == '\0' || problem.text[0] == '\0'
                 : text.cut || json_object_size(show.data) < 6) {
        abort();
    }
    char *json = json_dumps(show.data, 0);
    if (json == NULL) { /* not a number */
        abort();
    }
    free(json);
    json_decref(show.data);
    free(copy);
    return 0;
}
