#!/bin/sh
# Sheets drawn for a paired device: PDF and PNG from the page program, read back by poppler and
# zbarimg; refused without a session; a program that is missing, fails, hangs or never stops; and the
# record goes on meanwhile.
# usage: test_drawn.sh BUILD_FOLDER
set -eu
. "$(dirname "$0")/lib.sh"
net_make
port=$((20000 + $$ % 20000))
station_config base 2 base "Lake Camp" kiss 4310
sed -i -e '/^\[radio\]/,$d' -e '/^\[station\]/a exercise = yes' "$dir/base.conf"
printf '[pages]\nlisten = 127.0.0.1:%s\n' "$port" >>"$dir/base.conf"
rm "$bin/ridgepost-page" # where the daemon looks first: beside itself
station_start base
. "$(dirname "$0")/pages.sh"
at base --by Ines open hace patient "M. Tarn" sex m age 34 allergies "sulfa: rash" >/dev/null
at base --by Ines obs 2-1 spo2 60 air pulse 131 alert >/dev/null
reader=$(pair reader)

# wish FORM: what the reader's device sends for a drawing.
wish() {
    printf 'POST /drawn?episode=2-1&form=%s HTTP/1.1\r\nConnection: close\r\n' "$1"
    for header in "$host" "$origin" "$guard" "$json" "$reader"; do printf '%s\r\n' "$header"; done
    printf 'Content-Length: 2\r\n\r\n{}'
}
# drawn FORM [SECONDS]: the reply into $dir/reply, its body into $dir/body.
drawn() {
    wish "$1" | client send "${2:-15}" >"$dir/reply"
    head=$(sed '/^\r$/q' "$dir/reply" | wc -c)
    tail -c +$((head + 1)) "$dir/reply" >"$dir/body"
}
program() { # BODY: the page program of this station from now on
    printf '#!/bin/sh\n%s\n' "$1" >"$dir/new"
    chmod 755 "$dir/new"
    mv "$dir/new" "$bin/ridgepost-page"
}
sheet() { at base --json handover 2-1 --form csv | sed -n 's/.*"sheet":\([0-9]*\).*/\1/p'; }

# Nobody, and what is no form.
ask POST '/drawn?episode=2-1&form=pdf' "{}" "$host" "$origin" "$guard" "$json"
status 401 "a drawing without a session"
post '/drawn?episode=2-1&form=pdf' "{}" "Cookie: ridgepost=$(printf '%064d' 0)"
status 401 "a drawing with an invented session"
for query in 'episode=2-1&form=text' 'episode=2-1&form=../pdf' 'episode=2-1' 'form=pdf' ''; do
    post "/drawn?$query" "{}" "$reader"
    status 400 "a drawing of \"$query\""
done
post '/drawn?episode=2-9&form=pdf' "{}" "$reader"
status 404 "a drawing of an episode that is not held"
ask POST '/drawn?episode=2-1&form=pdf' "{}" "$host" "Origin: http://other.example" "$guard" "$json" "$reader"
status 403 "a drawing for another site's page"
# Looking takes no number (RFC 9110 section 9.2.1, safe methods).
for method in GET HEAD; do
    ask $method '/drawn?episode=2-1&form=pdf' "" "$host" "$reader"
    status 405 "a drawing by $method"
    ask $method '/handover?episode=2-1' "" "$host" "$reader"
    status 200 "a sheet that is looked at"
    ! grep -q 'HANDOVER SHEET [0-9]' "$dir/reply" || fail "$method: a draft has a number"
done
ask GET '/handover?episode=2-1' "" "$host" "$reader"
grep -q 'DRAFT OF A HANDOVER SHEET, NOT NUMBERED' "$dir/reply" || fail "a draft is not called one"
[ "$(sheet)" = 0 ] || fail "$(sheet) sheets were numbered for what was refused"

# No program.
drawn pdf
status 503 "a page without the page program"
grep -q 'ridgepost-page, is not installed' "$dir/body" || fail "what is missing is not said: $(head -c 200 "$dir/body" | tr -cd " -~")"

# The program itself, found without a restart. The daemon hands on nothing of its environment.
real="LSAN_OPTIONS='${LSAN_OPTIONS:-}' exec '$build/src/page/ridgepost-page' \"\$@\""
program "$real"
before=$(sheet)

# Pairing by camera: the code on the terminal is the address with the digits in it.
at base pair bedside --form qr >"$dir/pair"
digits=$(sed -n 's/^pairing code \([0-9]*\),.*/\1/p' "$dir/pair")
sh "$(dirname "$0")/terminal_code.sh" "$dir/pair" <"$dir/pair"
scanned=$(zbarimg -q --raw "$dir/pair1.pbm" 2>/dev/null || true)
[ "$scanned" = "http://127.0.0.1:$port/pair?code=$digits" ] || fail "a camera reads \"$scanned\""
at base pair bedside >"$dir/pair"
[ "$(wc -l <"$dir/pair")" = 2 ] || fail "a code for a camera where there is no terminal"
expect 64 "no form of a pairing code" at base pair bedside --form pdf

drawn pdf
status 200 "a page"
grep -q '^Content-Type: application/pdf' "$dir/reply" || fail "a page is sent as something else"
grep -q "^Content-Disposition: attachment; filename=\"EXERCISE-2-1-sheet$((before + 1))-[0-9A-Z]\{4\}.pdf\"" \
    "$dir/reply" || fail "the file has another name: $(grep -a '^Content-Disp' "$dir/reply")"
grep -q "^Content-Security-Policy: default-src 'none'" "$dir/reply" || fail "no policy is sent"
pdftotext -layout "$dir/body" "$dir/sheet.txt"
for words in "M. Tarn" "sulfa: rash" "EXERCISE - NOT A REAL PATIENT" "Not a medical device"; do
    grep -qF "$words" "$dir/sheet.txt" || fail "\"$words\" is not on the page: $(cat "$dir/sheet.txt")"
done
[ "$(sheet)" = $((before + 1)) ] || fail "a page has taken $(($(sheet) - before)) numbers"
drawn png
status 200 "codes"
zbarimg -q --raw "$dir/body" 2>/dev/null | tr -s ' \n' '  ' >"$dir/codes.txt"
grep -qF "sulfa: rash" "$dir/codes.txt" || fail "no allergy in the codes: $(cat "$dir/codes.txt")"

# One that fails.
program 'cat >/dev/null; echo broken >&2; exit 65'
drawn pdf
status 500 "a page by a program that fails"

# One that never stops writing: killed at the bound of 2 MiB.
program 'exec yes'
drawn pdf
status 500 "an endless page"
grep -q 'too large' "$dir/body" || fail "an endless page: $(head -c 200 "$dir/body")"

# Two that hang, the most at once: a third is refused, records are kept, and they are killed.
program "echo \$\$ >>'$dir/hung'; exec sleep 600"
for i in 1 2; do
    wish pdf | client send 60 >"$dir/hung.$i" &
    eval "hung$i=$!"
done
two_hang() { [ "$(wc -l <"$dir/hung" 2>/dev/null)" = 2 ]; }
wait_for 10 two_hang || fail "two drawings did not start"
drawn pdf 5
status 503 "a third drawing at once"
grep -q 'try again' "$dir/body" || fail "a third drawing: $(head -c 200 "$dir/body" | tr -cd " -~")"
for i in 1 2 3; do
    at base --by Ines note 2-1 "meanwhile $i" >/dev/null || fail "no note while two drawings hang"
done
[ "$(count)" = 3 ] || fail "$(count) notes while two drawings hang, not 3"
ask GET /view "" "$host" "$reader"
status 200 "a view while two drawings hang"
for pid in $(cat "$dir/hung"); do
    [ -d "/proc/$pid" ] || fail "a drawing has ended before it was asked beside it"
done
wait $hung1 $hung2
for i in 1 2; do
    grep -q '^HTTP/1.1 504' "$dir/hung.$i" || fail "a page that hangs: $(head -c 100 "$dir/hung.$i" | tr -cd " -~")"
done
for pid in $(cat "$dir/hung"); do
    [ ! -d "/proc/$pid" ] || fail "the program that hangs still runs: $(cat "/proc/$pid/stat")"
done

# A browser that goes away in the middle, and then a page again.
rm "$dir/hung"
program "echo \$\$ >>'$dir/hung'; sleep 2"
wish pdf | client send 0 >/dev/null
wait_for 5 [ -s "$dir/hung" ] || fail "the drawing did not start"
program "$real"
drawn pdf
status 200 "a page after all that"
pdftotext "$dir/body" - | grep -q "sulfa" || fail "the page after all that lacks the allergy"

# The end of the station while one is drawn: it does not wait for it.
rm "$dir/hung"
program "echo \$\$ >>'$dir/hung'; exec sleep 600"
wish pdf | client send 30 >/dev/null &
last=$!
wait_for 5 [ -s "$dir/hung" ] || fail "the last drawing did not start"
kill "$(cat "$dir/base.pid")"
stopped() { [ ! -d "/proc/$(cat "$dir/base.pid")" ]; }
wait_for 10 stopped || fail "the station waits for a drawing"
wait $last || true
[ ! -d "/proc/$(cat "$dir/hung")" ] || fail "a drawing outlives its station"
exit $failures
