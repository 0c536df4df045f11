#!/bin/sh
# A pure room's library may need only symbols of the project (rp_*) and of the allow-list.
# usage: check_purity.sh ALLOWED ROOM LIBRARY...  (ROOM LIBRARY pairs)
set -eu
allowed=$1
shift
status=0
while [ $# -ge 2 ]; do
    room=$1 library=$2
    shift 2
    defined=$(nm --defined-only "$library" 2>/dev/null | awk 'NF == 3 { print $3 }' | sort -u)
    nm -u "$library" 2>/dev/null | awk 'NF == 2 && $1 == "U" { print $2 }' | sort -u |
        grep -vE '^(rp_|ridgepost__|__(asan|ubsan|sanitizer|sancov)|__start_|__stop_)' |
        while read -r symbol; do
            if printf '%s\n' "$defined" | grep -qx "$symbol"; then
                continue
            fi
            if sed -n -e 's/^\([a-z_].*\)$/\1/p' "$allowed" | sed "s/^$room://" |
                grep -v ':' | while read -r pattern; do
                    # shellcheck disable=SC2254 # the allow-list holds shell patterns
                    case "$symbol" in $pattern) echo yes ;; esac
                done | grep -q yes; then
                continue
            fi
            echo "room $room needs $symbol, which a pure room may not"
        done >"${TMPDIR:-/tmp}/purity.$$"
    if [ -s "${TMPDIR:-/tmp}/purity.$$" ]; then
        cat "${TMPDIR:-/tmp}/purity.$$"
        status=1
    fi
    rm -f "${TMPDIR:-/tmp}/purity.$$"
done
[ $status -eq 0 ] && echo "pure rooms are pure"
exit $status
