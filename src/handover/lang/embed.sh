#!/bin/sh
# Makes the C tables of all languages. The first file is English, which has every key; each other
# must have the same keys, the same number of {} in each text, and no text that is still English
# unless its line says so (KEY == text).
# usage: embed.sh OUT.c en.txt [fr.txt ...]
set -eu
out=$1
shift
awk '
function fail(text) {
    print FILENAME ":" FNR ": " text >"/dev/stderr"
    bad = 1
}
function holes(text) {
    return gsub(/\{\}/, "", text)
}
function close_file(key) {
    if (file == "") {
        return
    }
    for (key in english) {
        if (!(key in seen)) {
            print file ": no text for " key >"/dev/stderr"
            bad = 1
        }
    }
    print "}};"
    print "_Static_assert(" count " == RP_TX_COUNT, \"" name ": a key has no text\");\n"
}
BEGIN {
    print "/* Made by embed.sh. */"
    print "#include \"handover/texts.h\"\n"
}
FNR == 1 {
    close_file()
    file = FILENAME
    name = FILENAME
    sub(/.*\//, "", name)
    sub(/\.txt$/, "", name)
    gsub(/[^A-Za-z0-9]/, "_", name)
    first = all == ""
    all = all (first ? "&rp_texts_english" : ", &texts_" name)
    print (first ? "const struct rp_texts rp_texts_english" \
                 : "static const struct rp_texts texts_" name) " = {.words = {"
    split("", seen)
    count = 0
}
/^#/ || /^[ \t]*$/ {
    next
}
{
    at = index($0, "=")
    key = substr($0, 1, at - 1)
    text = substr($0, at + 1)
    same = substr(text, 1, 1) == "="
    text = same ? substr(text, 2) : text
    gsub(/[ \t]/, "", key)
    sub(/^[ \t]+/, "", text)
    sub(/[ \t\r]+$/, "", text)
    if (at == 0 || key !~ /^[A-Z0-9_]+$/) {
        fail("no line of the form KEY = text")
        next
    }
    if (key in seen) {
        fail(key " stands here twice")
    }
    if (first) {
        english[key] = text
    } else if (!(key in english)) {
        fail(key " is no key of the first file")
    } else if (holes(text) != holes(english[key])) {
        fail(key " must hold as many {} as in English")
    } else if (same != (text == english[key] && text != "")) {
        fail(key (same ? " is not the English text: one = only" \
                       : " is not translated; KEY == text says that it stays so"))
    }
    seen[key] = 1
    count++
    gsub(/\\/, "\\\\", text)
    gsub(/"/, "\\\"", text)
    gsub(/~/, "\302\240", text)
    print "    [RP_TX_" key "] = \"" text "\","
}
END {
    close_file()
    print "const struct rp_texts *const rp_texts_all[] = {" all "};"
    print "const size_t rp_texts_count = sizeof rp_texts_all / sizeof rp_texts_all[0];"
    exit bad
}
' "$@" >"$out.new"
mv "$out.new" "$out"
