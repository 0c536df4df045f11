#!/bin/sh
# The handover as page and codes by one command, to a file, to a printer (a program in place of lp
# that keeps what it gets), and again when something important changed.
# usage: test_print.sh BUILD_FOLDER
set -eu
. "$(dirname "$0")/lib.sh"
net_make
station_config camp 7 camp "Ridge Camp" kiss 5480
sed -i -e 's|^port = .*|port = /dev/ridgepost-none|' "$dir/camp.conf"
station_start camp
at camp --by Ines open hace patient "पासाङ" sex m age 34 allergies "sulfa: rash" >/dev/null
at camp --by Ines obs 7-1 spo2 60 air pulse 131 alert --ago 30min >/dev/null

# No printer here: said, with what can be done. `tools` holds what a shell needs and no lp.
mkdir "$dir/tools" "$dir/fake"
cat >"$dir/fake/lp" <<'LP'
#!/bin/sh
# Keeps each job as job1, job2 ... beside itself.
folder=$(dirname "$0")
count=$(ls "$folder" | grep -c '^job[0-9]*$' || true)
cat >"$folder/part"
[ -z "${LP_FAILS:-}" ] || exit 1
mv "$folder/part" "$folder/job$((count + 1))"
LP
chmod +x "$dir/fake/lp"
without_lp() { PATH=$dir/tools at camp "$@"; }
with_lp() { PATH=$dir/fake:$PATH at camp "$@"; }
expect 69 "neither lp nor lpr is on PATH" without_lp handover 7-1 --form pdf --print
expect 69 "Debian: cups-client" without_lp handover 7-1 --print

# quiet COMMAND...: does it without a word.
quiet() {
    "$@" >"$dir/both" 2>&1 || fail "$*: exit $?"
    [ ! -s "$dir/both" ] || fail "$* said: $(cat "$dir/both")"
}

# The forms by one command.
quiet at camp handover 7-1 --form pdf --out "$dir/sheet.pdf"
pdftotext -layout "$dir/sheet.pdf" - | grep -qF पासाङ || fail "the name is not in the PDF"
quiet at camp handover form pdf --out "$dir/sheet.pdf"
quiet at camp handover 7-1 --form png --out "$dir/codes.png"
zbarimg -q --raw "$dir/codes.png" 2>/dev/null | grep -qF "sulfa: rash" || fail "no code in the PNG"
expect 0 "█" at camp handover 7-1 --form qr
quiet at camp handover 7-1 --form roll32 --out "$dir/roll.txt"
grep -qF "sulfa:" "$dir/roll.txt" || fail "the roll is not in the file"
[ ! -e "$dir/sheet.pdf.part" ] || fail "a part of a file is left"
expect 73 "sheet.pdf" at camp handover 7-1 --form pdf --out "$dir/none/sheet.pdf"
expect 69 "it is neither beside" env PATH=/usr/bin:/bin "$build/src/cli/ridgepost" \
    --socket "$dir/camp.sock" handover 7-1 --form pdf --out "$dir/sheet.pdf"
expect 65 "no form; forms: text" at camp handover 7-1 --form scroll --out "$dir/x"

# A device or a pipe, such as a receipt printer's, is written to and stays what it is; neither a
# standard input that is closed nor an empty variable keeps the page back.
mkfifo "$dir/printer"
cat "$dir/printer" >"$dir/received" &
reader=$!
quiet at camp handover 7-1 --form roll32 --out "$dir/printer"
if [ -p "$dir/printer" ]; then wait $reader; else kill $reader; fi
[ -p "$dir/printer" ] || fail "the pipe is replaced by a file"
grep -qF "sulfa:" "$dir/received" || fail "the roll is not in the pipe"
at camp handover 7-1 --form pdf --out "$dir/closed.pdf" <&- || fail "closed input: no page"
pdftotext "$dir/closed.pdf" - | grep -qF "sulfa: rash" || fail "closed input: an empty page"
RIDGEPOST_LANG='' expect 0 "HANDOVER SHEET" at camp handover 7-1

# Printed: a page, or text for a receipt printer; by another command; a failure is said.
sheet_of() { pdftotext -layout "$dir/fake/job$1" - | sed 's/\xc2\xa0/ /g' | tr -s ' \n' '  '; }
number_of() { sheet_of "$1" | sed -n 's/.*HANDOVER SHEET \([0-9]*\) - episode.*/\1/p'; }
quiet with_lp handover 7-1 --print
sheet_of 1 | grep -qF "sulfa: rash" || fail "the first job is no sheet"
quiet with_lp handover 7-1 --form roll42 --print
grep -qF "sulfa: rash" "$dir/fake/job2" || fail "the second job is no roll"
RIDGEPOST_PRINT="cp /dev/stdin $dir/copy" quiet at camp handover 7-1 --form text --print
grep -qF "sulfa: rash" "$dir/copy" || fail "another command did not get the sheet"
LP_FAILS=1 expect 75 "did not print it" with_lp handover 7-1 --print
rm "$dir/fake"/job*

# Watched: a further set of signs is no news; a drug and a request are, and are told together when
# they come together. `number` is what the sheet calls itself.
PATH=$dir/fake:$PATH "$bin/ridgepost" --socket "$dir/camp.sock" handover --print --watch \
    --every 1s 2>"$dir/watch.log" &
watch=$!
echo $watch >"$dir/watch.pid" # ended by net_stop
wait_for 60 test -e "$dir/fake/job1" || fail "nothing is printed at the start"
at camp --by Ines open ams patient B >/dev/null # another patient is nothing of this one
at camp --by Ines obs 7-1 spo2 61 air pulse 130 alert >/dev/null
sleep 4
[ ! -e "$dir/fake/job2" ] || fail "a set of signs is printed: $(cat "$dir/watch.log")"
number=$(number_of 1)
at camp --by Ines give 7-1 dexamethasone 8mg im checked Jory >/dev/null
at camp --by Ines evacuate 7-1 e1 stretcher >/dev/null
wait_for 60 test -e "$dir/fake/job2" || fail "a drug is not printed: $(cat "$dir/watch.log")"
for words in "CHANGED SINCE SHEET $number" "GIVEN" "dexamethasone 8" "E1 NOW"; do
    sheet_of 2 | grep -qF "$words" || fail "\"$words\" is not on: $(sheet_of 2)"
    sed 's/\xc2\xa0/ /g' "$dir/watch.log" | tr -s ' \n' '  ' | grep -qF "$words" || fail "\"$words\" is not told: $(cat "$dir/watch.log")"
done
[ "$(number_of 2)" -eq $((number + 1)) ] || fail "sheet $(number_of 2) follows sheet $number"
sleep 3
[ ! -e "$dir/fake/job3" ] || fail "printed without news"
wrong=$(at camp log | sed -n 's/^ *\(7:[0-9]*\) .*treatment.*dexamethasone.*/\1/p' | tail -n 1)
at camp --by Ines correct "$wrong" void "was not given" >/dev/null
wait_for 60 test -e "$dir/fake/job3" || fail "a correction is not printed: $(cat "$dir/watch.log")"
sheet_of 3 | grep -qF "CORRECTED: was" || fail "the correction is not on the sheet"

kill $watch

# The same as text for narrow paper, into a file that is always the newest.
"$bin/ridgepost" --socket "$dir/camp.sock" handover 7-1 --form roll32 --out "$dir/roll.txt" --watch \
    --every 1s 2>"$dir/roll.log" &
echo $! >"$dir/roll.pid"
wait_for 60 test -s "$dir/roll.log" || fail "nothing is written at the start"
first=$(sed -n 's/^HANDOVER SHEET \([0-9]*\).*/\1/p' "$dir/roll.txt")
[ -n "$first" ] || fail "no number: $(head -n 3 "$dir/roll.txt")"
at camp --by Ines background 7-1 allergies "sulfa: rash; penicillin: swelling of the face" >/dev/null
wait_for 60 grep -qF "CHANGED SINCE SHEET" "$dir/roll.txt" || fail "an allergy is no news"
grep -qF "CHANGED SINCE SHEET $first (" "$dir/roll.txt" ||
    fail "changed since another sheet than $first: $(head -n 1 "$dir/roll.txt")"
sed '/^---/q' "$dir/roll.txt" | grep -qF "ALLERGY" || fail "what changed is not said first"
wide=$(LC_ALL=C.UTF-8 grep -E '^.{33,}' "$dir/roll.txt" || true)
[ -z "$wide" ] || fail "wider than 32 columns: $wide"
kill "$(cat "$dir/roll.pid")"

# Blank forms, without a station: one page each, its fields numbered from 1 on; the example that
# each shows is what a station takes, and what came from paper is marked as such, with its writer.
paper() { "$bin/ridgepost" paper "$@"; }
expect 0 "form 4: Handover" paper
expect 64 "no blank form; these are:" paper scroll --out "$dir/x.pdf"
for form in $(paper | sed 's/ .*//'); do
    quiet paper $form --out "$dir/$form.pdf"
    pdftotext -layout "$dir/$form.pdf" "$dir/$form.txt"
    [ "$(pdfinfo "$dir/$form.pdf" | sed -n 's/^Pages: *//p')" -eq 1 ] || fail "$form is not one page"
    for words in "EXERCISE - NOT REAL" "Not a medical device" "Patient"; do
        grep -qF "$words" "$dir/$form.txt" || fail "\"$words\" is not on $form"
    done
    count=$(tr -s ' \n' '\n\n' <"$dir/$form.txt" | grep -cxE '[0-9]{1,2}')
    [ "$count" -gt 30 ] || fail "$form has $count numbers"
    tr -s ' \n' '  ' <"$dir/$form.txt" | grep -oE 'ridgepost --via paper .* 1 Patient' |
        sed -e 's/^ridgepost//' -e 's/ 1 Patient.*//' >"$dir/late"
    eval "quiet_entry() { at camp --sure $(cat "$dir/late") >/dev/null; }"
    quiet_entry 2>"$dir/late.err" || grep -q "a request is in force" "$dir/late.err" ||
        fail "the example of $form is refused: $(cat "$dir/late")"
done
quiet paper chamber exercise --out "$dir/exercise.pdf"
pdftotext "$dir/exercise.pdf" - | grep -qF "EXERCISE - NOT A REAL PATIENT" || fail "no EXERCISE"
expect 64 "neither exercise nor a language" paper chamber --lang xx --out "$dir/x.pdf"
for form in $(paper | sed 's/ .*//'); do
    quiet paper $form exercise --lang fr --out "$dir/$form-fr.pdf"
    [ "$(pdfinfo "$dir/$form-fr.pdf" | sed -n 's/^Pages: *//p')" -eq 1 ] ||
        fail "$form in French is not one page"
    pdftotext "$dir/$form-fr.pdf" "$dir/$form-fr.txt"
    for words in "EXERCICE - PAS" "un dispositif médical" "Écrit par" "ridgepost --via paper"; do
        grep -qF "$words" "$dir/$form-fr.txt" || fail "\"$words\" is not on $form in French"
    done
done
at camp handover 7-1 >"$dir/sheet.txt"
# The set of signs, the chamber and the handover itself.
marks=$(tr -s ' \n' '  ' <"$dir/sheet.txt" |
    grep -oE 'by Ines Okafor \(entered [0-9:]*Z from paper\)' | grep -c .)
[ "$marks" -ge 3 ] ||
    fail "$marks of 3 entries from paper are marked with their writer: $(cat "$dir/sheet.txt")"

exit $failures
