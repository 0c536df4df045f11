#!/bin/sh
# Codes in half blocks on a terminal, from standard input, as pictures: PREFIX1.pbm, PREFIX2.pbm ...
# (plain portable bit maps, 3 pixels a cell).
# usage: terminal_code.sh PREFIX
set -eu
esc=$(printf '\033')
LC_ALL=C sed -n -e "s/^$esc\[30;107m\(.*\)$esc\[0m\$/\1|/" \
    -e 's/█/B/g' -e 's/▀/U/g' -e 's/▄/L/g' -e 's/ /S/g' -e p |
    awk -v prefix="$1" '
    function flush(file, i, j, k, bits, cells) {
        if (rows == 0) {
            return
        }
        codes++
        file = prefix codes ".pbm"
        cells = length(row[1])
        print "P1" >file
        print cells * 3, rows * 3 >file
        for (i = 1; i <= rows; i++) {
            bits = ""
            for (j = 1; j <= cells; j++) {
                k = substr(row[i], j, 1)
                bits = bits k " " k " " k " "
            }
            for (k = 0; k < 3; k++) {
                print bits >file
            }
        }
        close(file)
        rows = 0
    }
    /\|$/ {
        upper = lower = $0
        gsub(/\|/, "", upper)
        gsub(/\|/, "", lower)
        gsub(/[BU]/, "1", upper)
        gsub(/[LS]/, "0", upper)
        gsub(/[BL]/, "1", lower)
        gsub(/[US]/, "0", lower)
        row[++rows] = upper
        row[++rows] = lower
        next
    }
    { flush() }
    END { flush() }'
