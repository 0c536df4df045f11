#!/bin/sh
# A full disk gives a clear error, loses nothing that was recorded, and is forgiven once there is
# room again. Needs root for a small file system of its own; says so and passes without.
# usage: test_disk_full.sh BUILD_FOLDER
set -eu
if [ "${RP_INSIDE:-}" != yes ]; then
    if [ "$(id -u)" -ne 0 ] || ! unshare -m true 2>/dev/null; then
        echo "skipped: needs root and a mount namespace"
        exit 77
    fi
    RP_INSIDE=yes exec unshare -m sh "$0" "$@"
fi
. "$(dirname "$0")/lib.sh"
mkdir "$dir/small"
mount -t tmpfs -o size=700k tmpfs "$dir/small" || exit 77
net_make
station_config camp 7 camp "Ridge Camp" ''
sed -i "/^\[radio\]/,\$d; s|^database = .*|database = $dir/small/log.db|" "$dir/camp.conf"
station_start camp
at camp open hace patient A >/dev/null
head -c 100000 /dev/zero >"$dir/small/ballast"
words=$(head -c 900 /dev/zero | tr '\0' 'x')
count=0
while at camp note "$words" >/dev/null 2>"$dir/error"; do
    count=$((count + 1))
    [ $count -lt 2000 ] || { fail "the disk never got full"; break; }
done
grep -q 'nothing was recorded' "$dir/error" && grep -q 'disk is full' "$dir/error" ||
    fail "the full disk is not told: $(cat "$dir/error")"
held() { at camp log 7-1 --json | tr '{' '\n' | grep -c '"kind":"note"'; }
[ "$(held)" -eq $count ] || fail "$(held) of $count notes are held on the full disk"
rm "$dir/small/ballast"
at camp note "room again" >/dev/null || fail "does not record after room was made"
[ "$(held)" -eq $((count + 1)) ] || fail "$(held) notes, not $((count + 1)), after room was made"
kill "$(cat "$dir/camp.pid")"
wait 2>/dev/null || true
rm -f "$dir/camp.pid"
"$bin/ridgepostd" --config "$dir/camp.conf" --check || fail "integrity"
umount "$dir/small" 2>/dev/null || true
exit $failures
