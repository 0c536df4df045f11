#!/bin/sh
# A database that may not grow any more (a limit on the size of files, which needs no rights to set)
# gives a clear error and loses nothing; recording goes on once the limit is raised.
# usage: test_disk_limit.sh BUILD_FOLDER
set -eu
command -v prlimit >/dev/null || { echo "skipped: needs prlimit"; exit 77; }
. "$(dirname "$0")/lib.sh"
net_make
station_config camp 7 camp "Ridge Camp" ''
sed -i '/^\[radio\]/,$d' "$dir/camp.conf"
station_start camp
pid=$(cat "$dir/camp.pid")
at camp open hace patient A >/dev/null
limit() { prlimit --pid "$pid" --fsize="$1:unlimited"; }
limit 300000
words=$(head -c 900 /dev/zero | tr '\0' 'x')
count=0
while at camp note "$words" >/dev/null 2>"$dir/error"; do
    count=$((count + 1))
    [ $count -lt 2000 ] || { fail "the limit was never reached"; break; }
done
grep -q 'nothing was recorded' "$dir/error" || fail "the limit is not told: $(cat "$dir/error")"
cat "$dir/error"
held() { at camp log 7-1 --json | tr '{' '\n' | grep -c '"kind":"note"'; }
[ "$(held)" -eq $count ] || fail "$(held) of $count notes are held at the limit"
limit unlimited
at camp note "room again" >/dev/null || fail "does not record after the limit was raised"
[ "$(held)" -eq $((count + 1)) ] || fail "$(held) notes after the limit was raised"
kill "$pid"
wait "$pid" || fail "the end: exit $?"
rm "$dir/camp.pid"
"$bin/ridgepostd" --config "$dir/camp.conf" --check || fail "integrity"
exit $failures
