#!/bin/sh
# What goes wrong at the start is told in one sentence, with the exit status of sysexits.h.
# usage: test_start.sh BUILD_FOLDER
set -eu
. "$(dirname "$0")/lib.sh"

# expect STATUS WORDS COMMAND...: exits so, and says so.
expect() {
    status=$1 words=$2
    shift 2
    code=0
    "$@" >"$dir/out" 2>&1 || code=$?
    [ $code -eq "$status" ] || fail "$*: exit $code, not $status: $(cat "$dir/out")"
    grep -qF -- "$words" "$dir/out" || fail "$*: \"$words\" is not in: $(cat "$dir/out")"
}
daemon() { "$bin/ridgepostd" --config "$dir/camp.conf"; }
fresh() {
    station_config camp 7 camp "Ridge Camp" kiss
    rm -rf "$dir"/camp.db*
}
set_key() { sed -i "s|^$1 = .*|$1 = $2|" "$dir/camp.conf"; }

net_make
expect 78 "$dir/none.conf" "$bin/ridgepostd" --config "$dir/none.conf"
fresh && echo 'colour = red' >>"$dir/camp.conf"
expect 78 colour daemon
fresh && set_key number 0
expect 78 number daemon
fresh && set_key number 100
expect 78 number daemon
fresh && set_key role doctor
expect 78 role daemon
fresh && set_key modem smoke
expect 78 modem daemon
fresh && sed -i '/^port/d' "$dir/camp.conf"
expect 78 'modem and port' daemon
fresh && set_key file "$dir/none.net"
expect 78 "$dir/none.net" daemon
fresh && chmod 0644 "$dir/demo.net"
expect 77 "$dir/demo.net" daemon
chmod 0600 "$dir/demo.net"
fresh && sed 's/^secret = ../secret = zz/' "$dir/demo.net" >"$dir/bad.net" && chmod 0600 "$dir/bad.net" &&
    set_key file "$dir/bad.net"
expect 78 secret daemon
fresh && sed 's/^spreading_factor.*/spreading_factor = 13/' "$dir/demo.net" >"$dir/sf.net" &&
    chmod 0600 "$dir/sf.net" && set_key file "$dir/sf.net"
expect 78 spreading_factor daemon
fresh && set_key modem at # a binary net
expect 78 text_armour daemon
fresh && set_key database "$dir/none/log.db"
expect 78 "$dir/none" daemon
fresh && echo 'this is a letter, not a database, and long enough to be looked at' >"$dir/camp.db"
code=0
daemon >"$dir/out" 2>&1 || code=$?
[ $code -ne 0 ] && grep -qF "$dir/camp.db" "$dir/out" || fail "a text file as database: exit $code"
grep -q 'a letter' "$dir/camp.db" || fail "a foreign file was written to"

fresh && set_key port "$dir/missing.tty"
station_start camp || fail "does not start without its radio"
at camp status | grep -q 'NOT CONNECTED' || fail "the missing radio is not told"
at camp open hace patient A >/dev/null || fail "does not record without its radio"
expect 75 "$dir/camp.db" "$bin/ridgepostd" --config "$dir/camp.conf"
kill -HUP "$(cat "$dir/camp.pid")"
at camp board | grep -q '7-1' || fail "SIGHUP stopped it"
kill "$(cat "$dir/camp.pid")"
wait "$(cat "$dir/camp.pid")" || fail "SIGTERM: exit $?"
[ ! -e "$dir/camp.sock" ] || fail "the socket was left behind"
expect 0 'in order' "$bin/ridgepostd" --config "$dir/camp.conf" --check
if command -v sqlite3 >/dev/null; then
    sqlite3 "$dir/camp.db" 'PRAGMA user_version = 9999'
    expect 78 9999 daemon
fi

# The command line.
expect 69 "$dir/camp.sock" at camp board
expect 64 usage "$bin/ridgepost"
expect 0 'never a substitute for descent' "$bin/ridgepost" --help
expect 65 'exists already' "$bin/ridgepost" net make "$dir/demo.net" name Again
[ "$(stat -c %a "$dir/demo.net")" = 600 ] || fail "the net file is open to others"
digits=$("$bin/ridgepost" net digits "$dir/demo.net")
"$bin/ridgepost" net join "$dir/joined.net" name Joined digits "$digits" >/dev/null
[ "$(grep '^secret' "$dir/joined.net")" = "$(grep '^secret' "$dir/demo.net")" ] ||
    fail "the digits do not carry the secret"
expect 65 group "$bin/ridgepost" net join "$dir/wrong.net" name W digits \
    "$(echo "$digits" | sed 's/^./9/; t; s/^9/8/')"
exit $failures
