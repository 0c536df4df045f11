#!/bin/sh
# The house rules that a machine can see: the top level, sizes, unfinished marks, foreign traces.
# usage: check_tree.sh SOURCE_DIR
set -eu
cd "$1"
status=0
complain() {
    echo "$1"
    status=1
}
if [ -d .git ]; then
    files=$(git ls-files --cached --others --exclude-standard | sort -u)
else
    files=$(find . -type f ! -path './build*' | sed 's|^\./||' | sort)
fi
for top in $(printf '%s\n' "$files" | sed 's|/.*||' | sort -u); do
    case "$top" in
    README.md | DEVELOPERS.md | CMakeLists.txt | LICENSE | src | proto | include | tests | tools | .*) ;;
    *) complain "top level: $top does not belong there" ;;
    esac
done
for file in $(printf '%s\n' "$files" | grep -E '\.([ch]|cpp)$'); do
    [ -f "$file" ] || continue
    lines=$(wc -l <"$file")
    [ "$lines" -le 600 ] || complain "$file: $lines lines, at most 600"
done
for dir in $(printf '%s\n' "$files" | grep -E '^src/.*\.c$' | sed 's|/[^/]*$||' | sort -u); do
    count=$(printf '%s\n' "$files" | grep -cE "^$dir/[^/]*\.c$")
    [ "$count" -le 12 ] || complain "$dir: $count sources, at most 12"
done
marks='TO''DO|FIX''ME|XX''X|HA''CK'
found=$(printf '%s\n' "$files" | grep -E '^(src|include|tools|tests|proto)/' |
    grep -vE 'tests/fuzz/corpus/' | xargs grep -nIE "\\b($marks)\\b" 2>/dev/null || true)
[ -z "$found" ] || complain "unfinished marks:
$found"
exit $status
