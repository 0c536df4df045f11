#!/bin/sh
# Handing over, with three real daemons on one lossy air: both ends print a sheet with the same check,
# both show who took the patient, with which sheet and what was asked, and both mark what was entered
# afterwards, in every form and view.
# usage: test_handed.sh BUILD_FOLDER
set -eu
. "$(dirname "$0")/lib.sh"
net_make text_armour 1 band fcc-digital frequency_hz 915000000 bandwidth_hz 500000 duty_permille 1000
cat >"$dir/air.conf" <<CONF
modem camp at $dir/camp.tty
modem relay kiss-ack $dir/relay.tty txdelay=0
modem base hextext $dir/base.tty chip=rn2903
link camp relay 0.1
link relay base 0.1
air sf 7 bw 500000 cr 5 preamble 8 freq 915000000 sync 12
mixed on
seed 7
control $dir/air.sock
CONF
air_start
station_config camp 7 camp "Ridge Camp" at 5480 "28.10410,86.75230"
station_config relay 4 relay "Moraine Cache" kiss-ack 4920
station_config base 2 base "Lake Camp" hextext 4310 "28.04100,86.81100"
wait_for 5 test -e "$dir/base.tty"
for station in camp relay base; do station_start $station; done

# flat FORM...: the handover's text at a station, its line ends made spaces.
flat() {
    key=$1
    shift
    at "$key" handover 7-1 "$@" | tr -s ' \n' ' '
}
says() { # says STATION WORDS FORM...
    key=$1 words=$2
    shift 2
    flat "$key" "$@" | grep -qF -- "$words"
}
check_of() { at "$1" handover 7-1 --json | sed -n 's/.*"check":"\([^"]*\)".*/\1/p'; }

at camp --by "Ines Okafor" open hace patient "M. Tarn" allergies "sulfa: rash" >/dev/null
at camp --by "Ines Okafor" give dexamethasone 8mg im checked Jory >/dev/null
at camp --by "Ines Okafor" obs 7-1 airway at-risk spo2 66 oxygen pulse 120 alert >/dev/null
same_check() {
    camp_check=$(check_of camp)
    [ -n "$camp_check" ] && [ "$camp_check" = "$(check_of base)" ]
}
wait_for 60 same_check || fail "the sheets never became the same: $(check_of camp), $(check_of base)"
says base "AIRWAY AT RISK" || fail "base's sheet does not tell the airway"

# The crew takes the patient at the camp, with the sheet in hand.
check=$(check_of camp)
number=$(at camp handover 7-1 --json | sed -n 's/.*"sheet":\([0-9]*\).*/\1/p')
at camp --by "Ines Okafor" taken 7-1 team "Valley Air 3" person "Dr Lindqvist" sheet "$number" \
    "$check" "asked: last dose? answered: dexamethasone only" >/dev/null
took="to Valley Air 3, taken by Dr Lindqvist, sheet $number check $check"
known() { at base board | grep -qF "$took"; }
wait_for 60 known || fail "base does not know who took the patient: $(at base board)"
for key in camp base; do
    at $key board | grep -qF "$took" || fail "$key: the board does not tell who took the patient"
    says $key "$took; asked: last dose? answered: dexamethasone only, by Ines Okafor" ||
        fail "$key: the sheet does not tell what was asked"
    says $key "HANDED OVER" || fail "$key: the sheet is not of a patient handed over"
    says $key "ENTERED AFTER" && fail "$key: marked late before anything came late"
done

# What the camp had not entered yet, and what base hears afterwards.
at camp --by Sabe --ago 20min --sure give nifedipine 20mg po checked Jory >/dev/null
at base --by "Pelle Aandal" --via voice note 7-1 "sister called back" >/dev/null
arrived() { says base nifedipine && says camp "sister called back"; }
wait_for 60 arrived || fail "the late entries did not reach the other end"
mark="ENTERED AFTER THE HANDOVER"
for key in camp base; do
    for form in text roll42 roll32 rows isbar request fhir; do
        says $key "$mark" --form $form || fail "$key: no late mark in $form"
    done
    says $key '"LATE"' --form csv || fail "$key: no late mark in csv"
    says $key '"late":true' --form jsonl || fail "$key: no late mark in jsonl"
    says $key "Entered after the handover: two." --form spoken || fail "$key: none is spoken of"
    says $key "SAISI APRÈS LA REMISE" --lang fr || fail "$key: no late mark in French"
    at $key board | grep -qF "LATE: 2 records from after the handover" || fail "$key: board"
    at $key log 7-1 | grep -qF "(AFTER THE HANDOVER)" || fail "$key: log"
    at $key view 7-1 --json | grep -qF '"late":true' || fail "$key: view"
done
says base "Lake Camp" --form geojson || fail "base is not on its map"
# The camp's card comes behind what is more important.
wait_for 60 says base '"name":"Ridge Camp"' --form geojson || fail "the camp is not on base's map"
RIDGEPOST_LANG=fr says base "TRANSMISSION ORALE" --form spoken || fail "RIDGEPOST_LANG does nothing"
RIDGEPOST_LANG=fr says base "SPOKEN HANDOVER" --form spoken --lang en || fail "--lang does not count"
RIDGEPOST_LANG=fr at base board >/dev/null || fail "RIDGEPOST_LANG reaches other commands"
expect 65 "is no language of the forms" at base handover 7-1 --lang xx
exit $failures
