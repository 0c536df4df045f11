#!/bin/sh
# LeakSanitizer with page_leaks.supp still tells a leak of our own: two are planted.
# usage: test_page_leaks.sh BUILD_FOLDER   (a build with RP_SANITIZE)
set -eu
. "$(dirname "$0")/lib.sh"
"$helpers/planted_leak" nothing 2>"$dir/told" || fail "told without a leak: $(cat "$dir/told")"
for forgotten in memory layout; do
    if "$helpers/planted_leak" $forgotten 2>"$dir/told"; then
        fail "a forgotten $forgotten is not told"
    fi
    grep -q "detected memory leaks" "$dir/told" || fail "$forgotten: $(cat "$dir/told")"
done
exit $failures
