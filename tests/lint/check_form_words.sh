#!/bin/sh
# No text of a form stands in C: every literal in src/handover with two letters in a row is a word for
# machines and listed in form_words.txt (keys of JSON, codes of standards, names of files); what a
# person reads belongs to src/handover/lang/.
# usage: check_form_words.sh SOURCE_DIR LIST
set -eu
export LC_ALL=C
cd "$1"
list=$2
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
find src/handover -name '*.[ch]' | sort | while read -r file; do
    # Comments, includes, character constants and escapes out; then one literal to a line.
    sed -e 's|//.*||' -e '/^ *#include/d' -e "s/'[^']*'//g" "$file" |
        awk '{ text = text $0 "\n" } END { while (match(text, /\/\*/)) {
            end = index(substr(text, RSTART), "*/"); if (end == 0) end = length(text)
            text = substr(text, 1, RSTART - 1) " " substr(text, RSTART + end + 1) } print text }' |
        grep -oE '"([^"\\]|\\.)*"' | sed -e 's/\\x[0-9a-fA-F][0-9a-fA-F]//g' -e 's/\\[nrt0]//g' |
        grep -E '[A-Za-z]{2}' | sed "s|^|$file: |" || true
done >"$work/found"
sed -e 's/^[^:]*: //' "$work/found" | sort -u >"$work/literals"
grep -v '^#' "$list" | grep -v '^$' | sort -u >"$work/listed"
status=0
if comm -23 "$work/literals" "$work/listed" | grep . >"$work/new"; then
    status=1
    echo "words in C; a text for people belongs to src/handover/lang/, a word for machines into $list:"
    grep -F -f "$work/new" "$work/found"
fi
if comm -13 "$work/literals" "$work/listed" | grep . >"$work/gone"; then
    status=1
    echo "listed, but no literal any more:"
    cat "$work/gone"
fi
[ "$status" -ne 0 ] || echo "$(wc -l <"$work/literals") literals are words for machines"
exit $status
