#!/bin/sh
# The table of failures names tests that exist, for every driver of every failure.
# usage: check_failures.sh SOURCE_DIR [TABLE]
set -eu
cd "$1"
table=${2:-tests/replay/FAILURES.md}
status=0
complain() {
    echo "$table: $1"
    status=1
}
# Everything that is run: test functions, system scripts, sessions.
known=$(mktemp)
trap 'rm -f "$known"' EXIT
{
    # A static function that is not used does not compile.
    grep -rhoE '^static void [a-z0-9_]+\(void \*\*state\)' tests --include='*.c' |
        sed 's/^static void //; s/(.*//'
    grep -hoE '^rp_system_test\([a-z_]+' tests/system/CMakeLists.txt | sed 's/.*(/system_/'
    for session in tests/replay/*.txt; do
        name=${session##*/}
        grep -q "${name%.txt}" tests/replay/CMakeLists.txt && echo "session_${name%.txt}"
    done
} | sort -u >"$known"
for name in $(grep -o '`[a-z0-9_]*`' "$table" | tr -d '`' | sort -u); do
    grep -qx "$name" "$known" || complain "there is no test $name"
done
rows=$(awk -F'|' '
    $2 ~ /^ *[0-9]+ *$/ {
        rows++
        if ($2 + 0 != rows) { print "row " rows " is missing"; exit }
        if (NF != 9) { print "row " rows " has " NF - 2 " cells, not 7"; next }
        for (i = 4; i <= 7; i++) {
            port = $i ~ /^ *port *$/ && $8 ~ /`/
            not = $i ~ /^ *not: [a-zA-Z]/
            tested = $i ~ /^ *`[a-z0-9_]+`/
            if (!port && !not && !tested) print "row " rows ", cell " i - 1 ": neither a test nor why not"
        }
    }
    END { if (rows != 30) print rows + 0 " failures, not 30" }' "$table")
[ -z "$rows" ] || complain "$rows"
exit $status
