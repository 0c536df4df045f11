# Sourced by the system tests: a scratch folder, the programs of a build, and tools/net.sh. Cleans up
# whatever happens. The first argument of each test is the build folder.
build=$1
helpers=$build/tests/system # small programs of these tests
. "$(dirname "$0")/../../tools/net.sh"
net_scratch system "$build"
trap 'net_stop; rm -rf "$dir"' EXIT
trap 'exit 130' INT TERM
failures=0
fail() {
    echo "FAILED: $*"
    failures=$((failures + 1))
}

# tell WORD...: a command to the air.
tell() { "$bin/ridgepost-air" --tell "$dir/air.sock" "$@" >/dev/null; }

# at_hears_hextext: configures camp with an AT-command modem and base with a hexadecimal-text one,
# which hear each other, and their air.
at_hears_hextext() {
    net_make frequency_hz 868300000 bandwidth_hz 250000 text_armour 1 duty_permille 1000
    cat >"$dir/air.conf" <<CONF
modem camp at $dir/camp.tty
modem base hextext $dir/base.tty
link camp base 0
air sf 7 bw 250000 cr 5 preamble 8 freq 868300000 sync 12
mixed on
control $dir/air.sock
CONF
    station_config camp 7 camp "Ridge Camp" at
    station_config base 2 base "Lake Camp" hextext
}

# expect STATUS WORDS COMMAND...: exits so, and says so on either stream.
expect() {
    status=$1 words=$2
    shift 2
    code=0
    "$@" >"$dir/stdout" 2>"$dir/stderr" || code=$?
    cat "$dir/stdout" "$dir/stderr" >"$dir/both"
    [ $code -eq "$status" ] || fail "$*: exit $code, not $status: $(cat "$dir/both")"
    grep -qF -- "$words" "$dir/both" || fail "$*: \"$words\" is not in: $(cat "$dir/both")"
}
