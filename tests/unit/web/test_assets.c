/* The embedded files: bounded in weight, no inline script or style, nothing from elsewhere. */
#define _GNU_SOURCE /* memmem */
#include "rp_test.h"

#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#include "web/assets.h"

static bool holds(const struct rp_web_asset *asset, const char *text)
{
    return memmem(asset->bytes.bytes, asset->bytes.len, text, strlen(text)) != NULL;
}

static bool ends_in(const char *name, const char *end)
{
    size_t len = strlen(name), end_len = strlen(end);
    return len >= end_len && strcmp(name + len - end_len, end) == 0;
}

static void nothing_comes_from_elsewhere(void **state)
{
    (void)state;
    /* The SVG namespace is a name and not an address. */
    static const char *const forbidden[] = {"https://", "src=\"//", "url(//", "@import"};
    static const char *const inline_code[] = {" style=", "<style",
                                              " onclick=", "javascript:", "<script>"};
    const struct rp_web_asset *asset;
    size_t count = 0;
    for (; (asset = rp_web_asset_at(count)) != NULL; count++) {
        for (size_t i = 0; i < sizeof forbidden / sizeof forbidden[0]; i++) {
            assert_false(holds(asset, forbidden[i]));
        }
        for (size_t i = 0;
             ends_in(asset->name, ".html") && i < sizeof inline_code / sizeof inline_code[0]; i++) {
            assert_false(holds(asset, inline_code[i]));
        }
    }
    assert_true(count >= 5);
}

/* 150 kB for a whole page, with everything it loads: no page loads all files, so all of them
 * together, twice, is a safe bound that needs no parsing. */
static void pages_are_light(void **state)
{
    (void)state;
    size_t total = 0;
    const struct rp_web_asset *asset;
    for (size_t i = 0; (asset = rp_web_asset_at(i)) != NULL; i++) {
        total += asset->bytes.len;
        assert_int_equal(asset->etag[0], '"');
        assert_int_equal(strlen(asset->etag), 18);
    }
    printf("all files of the pages: %zu bytes\n", total);
    assert_true(total < 300000);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nothing_comes_from_elsewhere),
        cmocka_unit_test(pages_are_light),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
