#!/bin/sh
# The sheet as PDF and QR codes, read back by other programs: poppler's pdftotext, pdftoppm and
# pdffonts, and zbarimg.
# usage: test_page.sh BUILD_FOLDER
set -eu
. "$(dirname "$0")/lib.sh"
page=$build/src/page/ridgepost-page
net_make
station_config camp 7 camp "Ridge Camp" kiss 5480
sed -i -e 's|^port = .*|port = /dev/ridgepost-none|' -e '/^\[station\]/a exercise = yes' "$dir/camp.conf"
station_start camp
at camp --by Ines open hace patient "M. Tarn" sex m age 34 allergies "sulfa: rash" >/dev/null
at camp --by Ines obs 7-1 spo2 60 air pulse 131 alert --ago 30min >/dev/null
at camp --by Ines obs 7-1 spo2 66 air pulse 125 alert >/dev/null
at camp --by Ines give 7-1 dexamethasone 8mg im checked Jory >/dev/null
at camp handover 7-1 --form rows >"$dir/rows.json"

# has FILE WORDS...: each of the words stands in the file, whose lines may be broken anywhere.
has() {
    tr -s ' \n' '  ' <"$1" >"$dir/flat"
    file=$1
    shift
    for words in "$@"; do
        grep -qF "$words" "$dir/flat" || fail "\"$words\" is not in $file: $(cat "$dir/flat")"
    done
}

"$page" pdf <"$dir/rows.json" >"$dir/sheet.pdf"
pdftotext -layout "$dir/sheet.pdf" "$dir/sheet.txt"
has "$dir/sheet.txt" "M. Tarn" "sulfa: rash" dexamethasone "SUSPECTED HACE" "Not a medical device" "check "
pages=$(pdfinfo "$dir/sheet.pdf" | sed -n 's/^Pages: *//p')
[ "$pages" -eq 1 ] || fail "$pages pages"
marks=$(grep -c "EXERCISE - NOT A REAL PATIENT" "$dir/sheet.txt" || true)
[ "$marks" -eq "$pages" ] || fail "EXERCISE stands on $marks of $pages pages"
pdffonts "$dir/sheet.pdf" | tail -n +3 | awk '$(NF-4) != "yes" { exit 1 }' ||
    fail "a font is not embedded"
size=$(wc -c <"$dir/sheet.pdf")
[ "$size" -lt 100000 ] || fail "the PDF has $size bytes"

# The codes: of the picture, of the printed page at 150 dots an inch, and of the terminal.
"$page" png <"$dir/rows.json" >"$dir/codes.png"
zbarimg -q --raw "$dir/codes.png" >"$dir/codes.txt" 2>/dev/null
pdftoppm -r 150 -png "$dir/sheet.pdf" "$dir/printed"
zbarimg -q --raw "$dir"/printed*.png >"$dir/printed.txt" 2>/dev/null
"$page" qr <"$dir/rows.json" | sh "$(dirname "$0")/terminal_code.sh" "$dir/terminal"
zbarimg -q --raw "$dir"/terminal*.pbm >"$dir/terminal.txt" 2>/dev/null
for text in codes printed terminal; do
    has "$dir/$text.txt" "EXERCISE - NOT A REAL" "sulfa: rash" dexamethasone "SUSPECTED HACE" \
        "HANDOVER sheet" "NO RECORD HELD OF" "Not a medical device"
done

# Another language: rows, page and codes are in it, and say that nobody has reviewed it.
at camp handover 7-1 --form rows --lang fr >"$dir/rows.fr.json"
"$page" pdf <"$dir/rows.fr.json" | pdftotext -layout - "$dir/sheet.fr.txt"
"$page" png <"$dir/rows.fr.json" >"$dir/codes.fr.png"
zbarimg -q --raw "$dir/codes.fr.png" >"$dir/codes.fr.txt" 2>/dev/null
for text in sheet codes; do
    has "$dir/$text.fr.txt" "EXERCICE - PAS UN VRAI PATIENT" "ALLERGIQUE À" "sulfa: rash" \
        dexamethasone "Traduction non relue" "AUCUNE ENTRÉE ICI DE" "dispositif médical"
done

# A clock that was wrong by years, or by more than any clock: times under the trend stay a few, and
# the page comes at once.
for at in 28400000 3000000000 9223372036854775807; do
    echo '{"rows":[],"trend":[{"taken_s":1,"mode":1,"spo2_pct":60},{"taken_s":'$at',"mode":1,
        "spo2_pct":62}]}' | timeout 60 "$page" pdf >"$dir/far.pdf" || fail "no page for $at"
    times=$(pdftotext "$dir/far.pdf" - | grep -cE '^[0-9]{2}:[0-9]{2}Z$' || true)
    [ "$times" -le 8 ] || fail "$times times under the trend for $at"
done

# Loud words are bold where they stand, though the row begins with a space that is not shown.
echo '{"rows":[{"section":"OTHER","key":"L_X","label":"L","text":" LOUD quiet","loud":[1,5]}]}' |
    "$page" pdf >"$dir/loud.pdf"
pdftohtml -xml -i -stdout "$dir/loud.pdf" >"$dir/loud.xml"
grep -qF '<b>LOUD</b>' "$dir/loud.xml" || fail "not bold where it is loud: $(cat "$dir/loud.xml")"

expect 65 "no sheet" sh -c "echo '{}' | '$page' pdf"
expect 64 "usage" "$page" drawing
exit $failures
