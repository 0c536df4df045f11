#!/bin/sh
# The pages against those who should not use them: nobody's session, the wrong role, a forged origin,
# too long, malformed, out of the folder, too slow, too many. All refused within bounds, and meanwhile
# records are kept.
set -eu
. "$(dirname "$0")/lib.sh"
net_make
port=$((20000 + $$ % 20000))
station_config base 2 base "Lake Camp" kiss 4310
sed -i '/^\[radio\]/,$d' "$dir/base.conf"
printf '[pages]\nlisten = 127.0.0.1:%s\n' "$port" >>"$dir/base.conf"
station_start base
. "$(dirname "$0")/pages.sh"
at base --by Ines open ams patient A allergies none >/dev/null
note='{"command":"note","args":["2-1","entered over the pages"]}'

# Nobody.
ask GET /base "" "$host"
status 303 "the page without a session"
grep -q '^Location: /pair' "$dir/reply" || fail "without a session: not led to pairing"
for path in /view /log /handover /events /me; do
    ask GET $path "" "$host"
    status 401 "$path without a session"
done
post /entry "$note" "X-None: 1"
status 401 "an entry without a session"
post /entry "$note" "Cookie: ridgepost=$(printf '%064d' 0)"
status 401 "an entry with an invented session"
post /pair '{"code":"000000","device":"x"}' "X-None: 1"
status 403 "pairing while no code waits"
[ "$(count)" = 0 ] || fail "somebody without a session entered a note"

# Roles.
reader=$(pair reader)
bedside=$(pair bedside)
[ -n "$reader" ] && [ -n "$bedside" ] || fail "no cookie was given"
grep -q 'HttpOnly; SameSite=Strict' "$dir/reply" || fail "the cookie is open to scripts or other sites"
ask GET /view "" "$host" "$reader"
status 200 "a reader's view"
grep -q "^Content-Security-Policy: default-src 'none'" "$dir/reply" || fail "no policy is sent"
post /entry "$note" "$reader"
status 403 "a reader's entry"
post /entry '{"command":"answer","args":["2-1","seen"],"by":"X"}' "$bedside"
status 403 "an answer from the bedside"
for command in pair path airtime compute nonsense; do
    post /entry "{\"command\":\"$command\",\"args\":[]}" "$bedside"
    status 403 "the command $command"
done
post /entry "$note" "$bedside"
status 200 "the bedside's entry"
[ "$(count)" = 1 ] || fail "the bedside's note was not recorded once: $(count)"

# A live page is told of an entry once.
{
    printf 'GET /events HTTP/1.1\r\n%s\r\n%s\r\n\r\n' "$host" "$bedside" | client send >"$dir/events" || true
} &
live=$!
wait_for 5 grep -q "event: change" "$dir/events" || fail "a live page is told nothing at first"
before=$(grep -c "event: change" "$dir/events")
post /entry '{"command":"note","args":["2-1","for live pages"]}' "$bedside"
status 200 "an entry while a page is live"
wait $live
told=$(($(grep -c "event: change" "$dir/events") - before))
[ $told -eq 1 ] || fail "a live page is told of one entry $told times"

# A page that was away says which event it saw last (HTML standard, server-sent events, the
# Last-Event-ID header): told again only when it has missed something, or the station began anew.
events_after() { # ID: what comes within 2 s, into $dir/events
    printf 'GET /events HTTP/1.1\r\n%s\r\n%s\r\nLast-Event-ID: %s\r\nConnection: close\r\n\r\n' \
        "$host" "$reader" "$1" | client send 2 >"$dir/events" || true
}
events_after none
seen=$(sed -n 's/^id: //p' "$dir/events" | tr -d '\r' | head -n 1)
[ -n "$seen" ] || fail "the first event has no id: $(head -c 300 "$dir/events" | tr -cd " -~")"
events_after "$seen"
grep -q "event: pulse" "$dir/events" || fail "a page that came back is not told that the line works"
! grep -q "event: change" "$dir/events" || fail "a page that has missed nothing is told of a change"
at base --by Ines obs 2-1 spo2 70 air >/dev/null
events_after "$seen"
grep -q "event: change" "$dir/events" || fail "a page that has missed an entry is not told"
events_after "00000000-${seen#*-}"
grep -q "event: change" "$dir/events" || fail "an id of another life of the station is believed"

# A device that is unpaired hears nothing more: its live events end.
ended=$(pair reader)
number=$(at base --json pair | tr '{' '\n' | sed -n 's/.*"number":\([0-9]*\).*/\1/p' | tail -n 1)
{
    printf 'GET /events HTTP/1.1\r\n%s\r\nConnection: close\r\n%s\r\n\r\n' "$host" "$ended" |
        client watch >"$dir/events" || true
} &
live=$!
wait_for 5 grep -q "event: change" "$dir/events" || fail "a live page is told nothing at first"
at base pair end "$number" >/dev/null
wait_for 5 grep -q "^ended" "$dir/events" || fail "the events of an unpaired device go on"
kill $live 2>/dev/null || true
wait $live || true
ask GET /view "" "$host" "$ended"
status 401 "a view of a device that was unpaired"

# Not from our own page.
ask POST /entry "$note" "$host" "Origin: http://elsewhere.example" "$guard" "$json" "$bedside"
status 403 "a forged origin"
ask POST /entry "$note" "$host" "Origin: null" "$guard" "$json" "$bedside"
status 403 "the origin null"
ask POST /entry "$note" "$host" "$guard" "$json" "$bedside"
status 403 "no origin"
ask POST /entry "$note" "$host" "$origin" "$json" "$bedside"
status 403 "no guard header"
ask POST /entry "$note" "$host" "$origin" "$guard" "Content-Type: text/plain" "$bedside"
status 415 "another content type"
ask GET /view "" "Host: elsewhere.example" "$bedside"
status 421 "another host name"
ask GET /view "" "$bedside"
status 400 "no host (RFC 9112 section 3.2)"

# Too long and malformed.
long=$(head -c 20000 /dev/zero | tr '\0' a)
post /entry "{\"command\":\"note\",\"args\":[\"2-1\",\"$long\"]}" "$bedside"
status 413 "a body of 20 kB"
printf 'POST /entry HTTP/1.1\r\n%s\r\nContent-Length: 99999999999999999999\r\n\r\nx' "$host" |
    client send >"$dir/reply"
grep -q '^HTTP/1.[01] [45]' "$dir/reply" || [ ! -s "$dir/reply" ] || fail "an endless body: taken"
ask GET /base "" "$host" "X-Long: $long$long$long"
grep -q '^HTTP/1.[01] 4' "$dir/reply" || [ ! -s "$dir/reply" ] || fail "60 kB of headers: taken"
for bytes in 'NONSENSE\r\n\r\n' '\0\0\0\0\r\n\r\n' 'GET\r\n\r\n' 'GET / HTTP/9.9\r\n\r\n' '\r\n\r\n\r\n' \
    '\026\003\001\002\000\001\000\001\374'; do
    printf "$bytes" | client send >"$dir/reply"
    grep -q '^HTTP/1.[01] 2' "$dir/reply" && fail "taken for a request: $bytes"
done
for body in '{' '[]' 'null' '{"command":5}' '{"command":"note","args":5}' \
    '{"command":"note","command":"note"}' "$(printf '\377\376')"; do
    post /entry "$body" "$bedside"
    grep -q '"ok":true' "$dir/reply" && fail "taken for an entry: $body"
done
for method in PUT DELETE TRACE OPTIONS; do
    ask $method /entry "" "$host" "$bedside"
    status 405 "$method"
done

# Out of the folder.
for path in /file/../session.h /file/%2e%2e/%2e%2e/etc/passwd //etc/passwd /file//etc/passwd \
    /file/..%2f..%2fetc%2fpasswd /file/%00base.html /../../etc/passwd /file/; do
    ask GET "$path" "" "$host" "$bedside"
    grep -q '^HTTP/1.[01] 40[04]' "$dir/reply" || fail "$path: $(head -n 1 "$dir/reply")"
    grep -q 'root:' "$dir/reply" && fail "$path reads files of the computer"
done
[ "$(count)" = 2 ] || fail "something of that was recorded: $(count) notes"

# Bound where it was told to, and nowhere else.
"$helpers/pages_client" 127.0.0.2 "$port" send </dev/null >"$dir/reply" || true
grep -q 'no connection' "$dir/reply" || fail "it listens on more than 127.0.0.1"

# One station only has the port.
station_config other 3 base "Other" kiss 4310
sed -i '/^\[radio\]/,$d' "$dir/other.conf"
printf '[pages]\nlisten = 127.0.0.1:%s\n' "$port" >>"$dir/other.conf"
expect 75 "in use by another program" timeout 10 "$bin/ridgepostd" --config "$dir/other.conf"

# Slow, and many at once; the record goes on meanwhile.
client slow 45 >"$dir/slow" &
slow=$!
client idle 200 10 >"$dir/idle" &
idle=$!
began=$(date +%s)
for i in 1 2 3 4 5; do
    at base --by Ines note 2-1 "meanwhile $i" >/dev/null || fail "no note while 200 connections wait"
    ask GET /view "" "$host" "$bedside" # of the crowd's own address, as behind an access point
    status 200 "a viewer amid the crowd"
    sleep 1
done
[ $(($(date +%s) - began)) -le 20 ] || fail "five notes took $(($(date +%s) - began)) s"
[ -d /proc/$idle ] || fail "the crowd has gone home before it was asked among them"
wait $idle
[ "$(cat "$dir/idle")" -le 96 ] || fail "$(cat "$dir/idle") idle connections held"
ask GET /view "" "$host" "$bedside"
status 200 "a viewer after the crowd"
wait $slow
[ "$(cat "$dir/slow")" -le 40 ] || fail "a slow request is never ended"
[ "$(count)" = 7 ] || fail "$(count) notes, not 7"
memory_kb=$(sed -n 's/^VmRSS:[^0-9]*\([0-9]*\).*/\1/p' "/proc/$(cat "$dir/base.pid")/status")
if [ "${2:-0}" -gt 0 ]; then # kilobytes; ours: an idle station's bound, and the library with its pages
    [ "$memory_kb" -le "$2" ] || fail "$memory_kb kB resident afterwards"
fi

# Wrong codes kill the code.
at base pair base >/dev/null
for i in 1 2 3 4 5; do post /pair '{"code":"00000x","device":"x"}' "X-None: 1"; done
grep -q 'this code is dead' "$dir/reply" || fail "guessing a code goes on: $(tail -n 1 "$dir/reply")"
exit $failures
