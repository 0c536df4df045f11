#!/bin/sh
# The sheet as PDF and QR codes, read back by other programs: poppler's pdftotext and pdffonts, and
# zbarimg. Skipped where the page program was left out or these readers are missing.
# usage: test_page.sh BUILD_FOLDER
set -eu
. "$(dirname "$0")/lib.sh"
page=$build/src/page/ridgepost-page
for program in "$page" pdftotext pdffonts pdfinfo zbarimg; do
    command -v "$program" >/dev/null || {
        echo "$program is not there"
        exit 77
    }
done
net_make
station_config camp 7 camp "Ridge Camp" kiss 5480
sed -i -e 's|^port = .*|port = /dev/ridgepost-none|' -e '/^\[station\]/a exercise = yes' "$dir/camp.conf"
station_start camp
at camp --by Ines open hace patient "M. Tarn" sex m age 34 allergies "sulfa: rash" >/dev/null
at camp --by Ines obs 7-1 spo2 60 air pulse 131 alert --ago 30min >/dev/null
at camp --by Ines obs 7-1 spo2 66 air pulse 125 alert >/dev/null
at camp --by Ines give 7-1 dexamethasone 8mg im checked Jory >/dev/null
at camp handover 7-1 --form rows >"$dir/rows.json"

"$page" pdf <"$dir/rows.json" >"$dir/sheet.pdf"
pdftotext -layout "$dir/sheet.pdf" "$dir/sheet.txt"
for words in "M. Tarn" "sulfa: rash" dexamethasone "SUSPECTED HACE" "Not a medical device" "check "; do
    grep -qF "$words" "$dir/sheet.txt" || fail "\"$words\" is not in the PDF"
done
pages=$(pdfinfo "$dir/sheet.pdf" | sed -n 's/^Pages: *//p')
[ "$pages" -le 2 ] || fail "$pages pages"
marks=$(grep -c "EXERCISE - NOT A REAL PATIENT" "$dir/sheet.txt" || true)
[ "$marks" -eq "$pages" ] || fail "EXERCISE stands on $marks of $pages pages"
pdffonts "$dir/sheet.pdf" | tail -n +3 | awk '$(NF-4) != "yes" { exit 1 }' ||
    fail "a font is not embedded"

"$page" png <"$dir/rows.json" >"$dir/codes.png"
zbarimg -q --raw "$dir/codes.png" >"$dir/codes.txt" 2>/dev/null
for words in "EXERCISE - NOT REAL" "sulfa: rash" dexamethasone "SUSPECTED HACE"; do
    grep -qF "$words" "$dir/codes.txt" || fail "\"$words\" is in no QR code"
done
expect 65 "no sheet" sh -c "echo '{}' | '$page' pdf"
expect 64 "usage" "$page" drawing
exit $failures
