#!/bin/sh
# What goes wrong at the start is told in one sentence, with the exit status of sysexits.h:
# 64 EX_USAGE, 65 EX_DATAERR, 69 EX_UNAVAILABLE, 74 EX_IOERR, 75 EX_TEMPFAIL, 77 EX_NOPERM,
# 78 EX_CONFIG.
# usage: test_start.sh BUILD_FOLDER
set -eu
. "$(dirname "$0")/lib.sh"

daemon() { "$bin/ridgepostd" --config "$dir/camp.conf" "$@"; }
# refuse STATUS WORDS: the daemon does not start, and --check says the same.
refuse() {
    expect "$1" "$2" daemon
    expect "$1" "$2" daemon --check
}
fresh() {
    station_config camp 7 camp "Ridge Camp" kiss
    rm -rf "$dir"/camp.db*
}
set_key() { sed -i "s|^$1 = .*|$1 = $2|" "$dir/camp.conf"; }
# other_net SED: the configuration names a changed copy of the net file.
other_net() {
    fresh
    rm -f "$dir/other.net"
    (umask 077 && sed "$1" "$dir/demo.net" >"$dir/other.net")
    set_key file "$dir/other.net"
}

net_make
expect 78 "$dir/none.conf does not exist" "$bin/ridgepostd" --config "$dir/none.conf"
expect 64 bogus daemon --bogus
expect 64 'one word too many' daemon now
fresh && echo 'colour = red' >>"$dir/camp.conf"
refuse 78 "camp.conf:19: there is no key 'colour' in [radio]"
fresh && set_key number 0
refuse 78 "camp.conf:2: number must be a number from 1 to 99, such as 7; not '0'"
fresh && set_key number 100
refuse 78 "number must be a number from 1 to 99, such as 7; not '100'"
fresh && sed -i '/^number/d' "$dir/camp.conf"
refuse 78 "number is missing in [station], for example: number = 7"
fresh && set_key role doctor
refuse 78 "camp, relay, base"
fresh && set_key modem smoke
refuse 78 "modem must be one of kiss, "
fresh && sed -i '/^port/d' "$dir/camp.conf"
refuse 78 'needs both modem and port, or neither (example: modem = kiss, port = /dev/ttyUSB0)'
fresh && set_key port ttyUSB0
refuse 78 "'ttyUSB0' is neither a path such as /dev/ttyUSB0 nor tcp:HOST:PORT"
fresh && set_key port tcp:127.0.0.1:0
refuse 78 'PORT 1-65535'
fresh && echo 'baud = 12345' >>"$dir/camp.conf"
refuse 78 '12345 baud is not a usual rate'

# The net file.
fresh && set_key file "$dir/none.net"
refuse 78 "$dir/none.net"
fresh && chmod 0644 "$dir/demo.net"
refuse 77 "chmod 600 $dir/demo.net"
chmod 0600 "$dir/demo.net"
other_net 's/^secret = ../secret = zz/'
refuse 78 'secret holds something else than hexadecimal digits'
other_net 's/^secret = ..../secret = /'
refuse 78 'secret must have 32 bytes, such as the 32 digits that ridgepost net make wrote; not 28'
other_net 's/^spreading_factor.*/spreading_factor = 13/'
refuse 78 'spreading_factor must be a number from 5 to 12, such as 9'
other_net 's/^spreading_factor.*/spreading_factor = 6/'
refuse 78 'chip families follow different rules for 5 and 6'
# The AT family does SF7 to SF9 at 125 kHz, to SF10 at 250, to SF11 at 500 (AT+PARAMETER in its
# command reference), and carries text only.
other_net 's/^spreading_factor.*/spreading_factor = 10/; s/^text_armour.*/text_armour = 1/'
set_key modem at
refuse 78 'spreading_factor 10'
fresh && set_key modem at
refuse 78 text_armour


# A mode pin belongs to transparent modules, and is opened at the start; they have channels.
fresh && echo 'mode_pin = gpiochip99:1' >>"$dir/camp.conf"
refuse 78 'mode_pin is of no use with modem kiss'
fresh && set_key modem uart-e22
refuse 78 'freq_hz 869525000 is no channel of an E22'
other_net 's/^frequency_hz = .*/frequency_hz = 868125000/'
set_key modem uart-e22
expect 0 'are in order' daemon --check
echo 'mode_pin = cts' >>"$dir/camp.conf"
expect 78 'mode_pin must be dtr, rts or gpiochipN:LINE' daemon

# The law of the band (values and sources: tests/unit/radio/test_law.c).
other_net '/^band = /d'
refuse 78 'the net has no band, so nothing may be sent'
other_net 's/^band = .*/band = eu-r/'
refuse 78 'band eu-r is none of eu-k, '
other_net 's/^band = .*/band = eu-m/'
refuse 78 'frequency_hz 869525000 is outside 868000000..868600000 of band eu-m: ETSI EN 300 220-2'
other_net 's/^band = .*/band = eu-p/; s/^duty_permille = .*/duty_permille = 101/'
refuse 78 'duty_permille 101 is above 100 of 1000'
other_net 's/^band = .*/band = eu-p/'
expect 0 'band eu-p: Europe 869400-869650 kHz, band P, ETSI EN 300 220-2' daemon --check
echo 'antenna_gain_dbi = 15.16' >>"$dir/camp.conf"
refuse 78 'power_dbm 14 is too much for 15.16 dBi of antenna in band eu-p, 27 dBm ERP'
fresh && sed -i '/^no_limit/d' "$dir/camp.conf"
refuse 78 'band none checks nothing: ask your regulator'

# The database and the socket.
fresh && set_key database "$dir/none/log.db"
refuse 78 "$dir/none/log.db is in a folder that does not exist"
fresh && set_key socket "$dir/none/sock"
expect 78 "the folder of the socket $dir/none/sock does not exist" daemon
fresh && mkdir "$dir/camp.db"
refuse 78 "$dir/camp.db is a folder"
fresh && echo 'this is a letter, not a database, and long enough to be looked at' >"$dir/camp.db"
cp "$dir/camp.db" "$dir/letter"
refuse 74 "$dir/camp.db is damaged or not a log"
cmp -s "$dir/camp.db" "$dir/letter" || fail "a foreign file was written to"

fresh && set_key port "$dir/missing.tty"
station_start camp || fail "does not start without its radio"
at camp status | grep -q 'NOT CONNECTED' || fail "the missing radio is not told"
at camp open hace patient A >/dev/null || fail "does not record without its radio"
expect 75 "$dir/camp.db" daemon
cp "$dir/camp.conf" "$dir/second.conf"
sed -i "s|^database = .*|database = $dir/second.db|" "$dir/second.conf"
expect 75 "$dir/camp.sock" "$bin/ridgepostd" --config "$dir/second.conf"
at camp board | grep -q '7-1' || fail "a second daemon disturbed the first"
kill "$(cat "$dir/camp.pid")"
wait "$(cat "$dir/camp.pid")" || fail "SIGTERM: exit $?"
rm "$dir/camp.pid"
expect 0 'in order' daemon --check
if command -v sqlite3 >/dev/null; then
    sqlite3 "$dir/camp.db" 'PRAGMA user_version = 9999'
    refuse 78 9999
else
    echo "not tested without sqlite3: a database from a newer version"
fi
exit $failures
