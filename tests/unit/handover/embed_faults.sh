#!/bin/sh
# embed.sh must refuse a language file with a fault, and say where it is.
# usage: embed_faults.sh LANG_DIR
set -eu
lang=$1
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
printf 'WORD = word\nAGO = {} ago\nUNIT = mg\nEMPTY =\n' >"$work/en.txt"
refused() {
    what=$1
    printf "$2" >"$work/xx.txt"
    if sh "$lang/embed.sh" "$work/out.c" "$work/en.txt" "$work/xx.txt" 2>"$work/said"; then
        echo "not refused: $what"
        exit 1
    fi
    grep -q "xx.txt.*$3" "$work/said" || {
        echo "$what: the message does not name it:"
        cat "$work/said"
        exit 1
    }
}
good='WORD = mot\nAGO = il y a {}\nUNIT == mg\nEMPTY =\n'
printf "$good" >"$work/xx.txt"
sh "$lang/embed.sh" "$work/out.c" "$work/en.txt" "$work/xx.txt"
grep -q 'RP_TX_WORD\] = "mot"' "$work/out.c"
refused "a missing key" 'AGO = il y a {}\nUNIT == mg\nEMPTY =\n' 'no text for WORD'
refused "a key too many" "${good}MORE = plus\n" MORE
refused "a key twice" "${good}WORD = terme\n" WORD
refused "a lost hole" 'WORD = mot\nAGO = avant\nUNIT == mg\nEMPTY =\n' AGO
refused "an English text" 'WORD = word\nAGO = il y a {}\nUNIT == mg\nEMPTY =\n' WORD
refused "a text said to be English" 'WORD == mot\nAGO = il y a {}\nUNIT == mg\nEMPTY =\n' WORD
refused "no line" "${good}nonsense\n" 'KEY = text'
echo "7 faults are refused"
