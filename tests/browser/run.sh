#!/bin/sh
# The pages in a real browser: three daemons on emulated radios, the demo story clicked through at
# three sizes, each state looked at by axe-core; then stations that stop and start again.
# usage: run.sh BUILD_FOLDER [PART...]   (screenshots and figures: BUILD_FOLDER/browser)
# PORTS: the pages listen at this number + 7 (camp) and + 2 (base), 18300 unless told otherwise.
set -eu
here=$(cd "$(dirname "$0")" && pwd)
build=$(cd "$1" && pwd)
shift
out=$build/browser
ports=${PORTS:-18300}
mkdir -p "$out"
cp "$here/package.json" "$here/package-lock.json" "$here/.npmrc" "$out/"
[ -d "$out/node_modules/playwright-core" ] || (cd "$out" && npm ci --silent)
. "$here/../../tools/net.sh"

# Stations of their own for each size, so that no story sees another one's patients.
begin() {
    net_scratch browser "$build"
    net_make text_armour 1 band fcc-digital frequency_hz 915000000 bandwidth_hz 500000
    cat >"$dir/air.conf" <<CONF
modem camp at $dir/camp.tty
modem relay kiss-ack $dir/relay.tty txdelay=0
modem base hextext $dir/base.tty chip=rn2903
link camp relay 0.2
link relay base 0.2
air sf 7 bw 500000 cr 5 preamble 8 freq 915000000 sync 12
mixed on
latency 2 20
seed 7
control $dir/air.sock
CONF
    air_start
    station_config camp 7 camp "Ridge Camp" at 5480 "28.10410,86.75230" "${1:-}"
    station_config relay 4 relay "Moraine Cache" kiss-ack 4920
    station_config base 2 base "Lake Camp" hextext 4310
    printf '[treatment]\nprotocol = %s\n' "$here/../../tools/packaging/protocol.example" \
        >>"$dir/camp.conf"
    printf '[pages]\nlisten = 127.0.0.1:%s\n' $((ports + 7)) >>"$dir/camp.conf"
    printf '[pages]\nlisten = 127.0.0.1:%s\n' $((ports + 2)) >>"$dir/base.conf"
    wait_for 10 test -e "$dir/base.tty"
    for station in camp relay base; do station_start $station; done
}
end() {
    net_stop
    rm -rf "$dir"
}
trap 'end' EXIT
trap 'exit 130' INT TERM

failures=0
parts="1366x768 390x844 320x568 repaint patients line gloves desk access outage exercise figures"
for part in ${1+"$@"} $([ $# -gt 0 ] || echo "$parts"); do
    echo "== $part"
    [ "$part" = exercise ] && begin "exercise = yes" || begin
    case $part in
    *x*[0-9]) script=story.mjs ;;
    *) script=$part.mjs ;;
    esac
    OUT=$out DIR=$dir PORTS=$ports node "$here/$script" "$part" || failures=$((failures + 1))
    end
done
trap - EXIT
[ $failures -eq 0 ] && echo "browser: all passed" || echo "browser: $failures parts FAILED"
[ $failures -eq 0 ]
