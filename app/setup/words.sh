#!/bin/sh
# Lists everything the program says: assets/words/railside.pot, for translators. What stands between quotation marks
# in the rooms, in the core and in what the hosts say of cameras, folders and files, and reads as words, is listed, and
# what the page says in said('...'); names of entries, files and fields are not words.
#   words.sh         makes the list anew
#   words.sh check   is the list as the sources are? Exit status: 0 yes, 1 no, 77 cannot tell (xgettext is missing)
set -eu
cd "$(dirname "$0")/../.."

command -v xgettext >/dev/null 2>&1 || {
    echo "words: needs xgettext (Debian: gettext)"
    exit 77
}
list=assets/words/railside.pot
place=$(mktemp -d)
trap 'rm -rf "$place"' EXIT
made=$place/made

find app/rooms app/ui app/hosts app/web core/capture core/circuit core/device core/handover core/heat core/job \
    core/mains core/quantity core/stage core/store core/suspects core/working \( -name '*.cpp' -o -name '*.h' \) \
    ! -name 'demo_*' ! -name 'html_writer.cpp' ! -name 'pdf_[ft]*.cpp' ! -name 'schema*.cpp' ! -name 'usual.cpp' \
    ! -path 'app/hosts/sdl2.cpp' ! -path 'app/hosts/glfw.cpp' ! -path 'app/hosts/headless.cpp' \
    ! -path 'app/hosts/gl_painter.*' ! -path 'app/hosts/raster.*' ! -path 'app/hosts/host.h' |
    LC_ALL=C sort >"$place/files"
# xgettext stops at strings of bytes that are no UTF-8: it reads copies without such bytes.
mkdir "$place/copy"
tar cf - --files-from="$place/files" app/web/*.js | tar xf - -C "$place/copy"
(
    cd "$place/copy"
    xargs sed -i 's/\\x[89a-fA-F][0-9a-fA-F]//g' <"$place/files"
    xgettext --language=C++ --from-code=UTF-8 --extract-all --no-wrap --add-location=file \
        --files-from="$place/files" --output="$place/program" 2>"$place/said" &&
        xgettext --language=JavaScript --from-code=UTF-8 --keyword --keyword=said --no-wrap --add-location=file \
            --output="$place/page" app/web/*.js
) || {
    grep -vE 'warning|^ ' "$place/said" | head -n 5
    echo "words: xgettext could not read the sources"
    exit 1
}

cat >"$made" <<'HEAD'
# What Railside says. Copy this file, fill in each msgstr, and give it to the program as words.po in the bench's folder.
# {} stands for a figure or a name; numbered, "{1} {0}", they may change places.
msgid ""
msgstr "Content-Type: text/plain; charset=UTF-8\n"

HEAD
# Paragraph by paragraph: kept are those whose English has letters and is no key, path, column or pattern.
LC_ALL=C awk '
    BEGIN { RS = ""; ORS = "\n\n" }
    {
        text = ""
        n = split($0, line, "\n")
        at_english = 0
        for (i = 1; i <= n; i++) {
            if (line[i] ~ /^msgid /) { at_english = 1; sub(/^msgid /, "", line[i]) }
            else if (line[i] ~ /^msgstr/) at_english = 0
            if (at_english) { piece = line[i]; gsub(/^"|"$/, "", piece); text = text piece }
        }
        bare = text
        gsub(/\{[^}]*\}/, "", bare)
        if (bare !~ /[A-Za-z][a-z]/) next
        if (bare ~ /_/ && bare !~ /[A-Za-z] [A-Za-z]/) next
        if (bare ~ /[<>=#@$]|::|\\0|\/[a-z]*$|^[a-z.]*\//) next
        if (bare ~ /^(SELECT|INSERT|PRAGMA|UPDATE|CREATE|DELETE|ATTACH|DETACH|BEGIN|COMMIT|ROLLBACK|SAVEPOINT|RELEASE|DROP|REPLACE|WITH|VACUUM) ?/) next
        if (!said[text]++) print
    }' "$place/program" "$place/page" >>"$made"

if [ "${1:-}" = check ]; then
    cmp -s "$made" "$list" && exit 0
    diff "$list" "$made" | head -n 20
    echo "words: $list is not what the sources say: sh app/setup/words.sh"
    exit 1
fi
mkdir -p "$(dirname "$list")"
cp "$made" "$list"
