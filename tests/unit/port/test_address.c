/* This computer's own address, against what the kernel itself lists. */
#include "rp_test.h"

#include <arpa/inet.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#include "port/address.h"
#include "ridgepost/error.h"

/* In /proc/net/fib_trie an address of this computer stands before a line "/32 host LOCAL" (Linux
 * networking: the kernel's local table). */
static bool kernel_has(const char *text)
{
    FILE *file = fopen("/proc/net/fib_trie", "r");
    char line[256], last[256] = "";
    bool found = false;
    assert_non_null(file);
    while (!found && fgets(line, sizeof line, file) != NULL) {
        char *at = strstr(line, "-- ");
        if (at != NULL) {
            snprintf(last, sizeof last, "%.*s", (int)strcspn(at + 3, "\n"), at + 3);
        }
        found = strstr(line, "/32 host LOCAL") != NULL && strcmp(last, text) == 0;
    }
    fclose(file);
    return found;
}

static void the_own_address_is_one_that_others_reach(void **state)
{
    (void)state;
    char text[RP_ADDRESS_LEN] = "";
    struct in_addr address;
    int code = rp_address_own(text);
    if (code == RP_E_NOT_FOUND) {
        skip(); /* a computer without a network */
    }
    assert_int_equal(code, RP_OK);
    assert_int_equal(inet_pton(AF_INET, text, &address), 1);
    assert_int_not_equal(ntohl(address.s_addr) >> 24, 127); /* loopback: RFC 1122, 3.2.1.3 (g) */
    assert_true(kernel_has(text));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_own_address_is_one_that_others_reach),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
