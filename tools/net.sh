# Shell functions that run a small net of real daemons on emulated modems. Sourced by tools/demo,
# tools/bench and the system tests; not run by itself.
#
# net_scratch sets what the others use: dir (a scratch folder) and bin (the programs, in it).

# net_scratch NAME BUILD_FOLDER
net_scratch() {
    dir=$(mktemp -d "${TMPDIR:-/tmp}/ridgepost-$1.XXXXXX")
    bin=$dir/bin
    mkdir "$bin"
    for program in src/cli/ridgepost src/daemon/ridgepostd tools/air/ridgepost-air \
        src/page/ridgepost-page; do
        ln -s "$2/$program" "$bin/"
    done
}

# net_make: the net file; nothing here reaches a real antenna, hence band none. SF7 so that a rehearsal takes a minute; a real net chooses for range.
net_make() {
    "$bin/ridgepost" net make "$dir/demo.net" name "Tsergang rehearsal" spreading_factor 7 \
        band none ${1+"$@"} >/dev/null
}

# air_start: modems and links are read from $dir/air.conf.
air_start() {
    "$bin/ridgepost-air" "$dir/air.conf" --log "$dir/air.log" >"$dir/air.out" 2>&1 &
    air_pid=$!
    echo $air_pid >"$dir/air.pid"
}

# station_config KEY NUMBER ROLE NAME MODEM [ALTITUDE_M [POSITION [EXTRA_STATION_LINE]]]
station_config() {
    acknowledged=
    grep -qsx 'band = none' "$dir/demo.net" && acknowledged='no_limit_acknowledged = yes'
    cat >"$dir/$1.conf" <<CONF
[station]
number = $2
role = $3
name = $4
clock_trusted = yes
${6:+altitude_m = $6}
${7:+position = $7}
${8:-}
[net]
file = $dir/demo.net
[store]
database = $dir/$1.db
[control]
socket = $dir/$1.sock
[radio]
modem = $5
port = $dir/$1.tty
$acknowledged
CONF
}

# station_start KEY: starts the daemon and waits until it answers (at most 10 s).
station_start() {
    "$bin/ridgepostd" --config "$dir/$1.conf" 2>>"$dir/$1.log" &
    echo $! >"$dir/$1.pid"
    tries=0
    until "$bin/ridgepost" --socket "$dir/$1.sock" status >/dev/null 2>&1; do
        tries=$((tries + 1))
        if [ $tries -gt 100 ]; then
            echo "station $1 did not start:" >&2
            cat "$dir/$1.log" >&2
            return 1
        fi
        sleep 0.1
    done
}

# at KEY COMMAND...: what a person types at that station.
at() {
    key=$1
    shift
    "$bin/ridgepost" --socket "$dir/$key.sock" "$@"
}

# wait_for SECONDS COMMAND...: until the command succeeds; fails when the time is over.
wait_for() {
    left=$(($1 * 4))
    shift
    until "$@" >/dev/null 2>&1; do
        left=$((left - 1))
        [ $left -gt 0 ] || return 1
        sleep 0.25
    done
}

net_stop() {
    for file in "$dir"/*.pid; do
        if [ -f "$file" ]; then
            kill "$(cat "$file")" 2>/dev/null || true # it may have ended by itself
        fi
    done
    wait 2>/dev/null || true
}
