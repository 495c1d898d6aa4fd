#!/bin/sh
# clang-tidy over every source file of core/ and app/, several sources at once where the build can (RAILSIDE_UNITY):
# most of its time goes into the headers. Needs .build/release built, for the files it generates.
# What was found clean is remembered in .build/lint and looked at again only when it, any header, or the checks change.
# Stops after RAILSIDE_LINT_MINUTES (40) and goes on there the next time. Exit status: 0 clean, 1 not,
# 77 cannot tell, or stopped before the end with nothing found so far.
set -eu

root=$(cd "$(dirname "$0")/../.." && pwd)
clean=$root/.build/lint
tree=$clean/tree
mkdir -p "$tree"
cd "$root"

# Every version has its own opinions; the code is kept clean by this one's.
wanted=14
tidy=
for name in clang-tidy-$wanted clang-tidy; do
    if [ -z "$tidy" ] && $name --version 2>/dev/null | grep -q "version $wanted\."; then tidy=$name; fi
done
if [ -z "$tidy" ]; then
    echo "lint: needs clang-tidy $wanted; here is: $(clang-tidy --version 2>/dev/null | grep version || echo none)"
    exit 77
fi

set --
if command -v ninja >/dev/null 2>&1; then set -- -G Ninja; fi
if ! cmake -S . -B "$tree" "$@" -DCMAKE_BUILD_TYPE=Release -DRAILSIDE_TESTS=OFF -DRAILSIDE_UNITY=ON \
    >"$clean/configure.log" 2>&1; then
    tail -n 40 "$clean/configure.log"
    exit 1
fi

common=$(
    {
        $tidy --version
        cat .clang-tidy
        find . -path ./.build -prune -o \( -name '*.h' -o -name CMakeLists.txt -o -name '*.cmake' \) -type f -print |
            LC_ALL=C sort | xargs cat
    } | sha256sum | cut -c 1-16
)
list=$clean/list
sed -n 's|^ *"file": "\(.*\)".*|\1|p' "$tree/compile_commands.json" | LC_ALL=C sort -u |
    while read -r file; do
        case $file in
            "$tree"/core/*/Unity/* | "$tree"/app/*/Unity/*) sources=$(sed -n 's|^#include "\(.*\)"$|\1|p' "$file") ;;
            "$root"/core/* | "$root"/app/*) sources= ;;
            *) continue ;;
        esac
        # shellcheck disable=SC2086  # one word for each source
        mark=$clean/$common-$(cat "$file" $sources | sha256sum | cut -c 1-16)
        [ -f "$mark" ] || printf '%s\0%s\0' "$file" "$mark"
    done >"$list"

rm -f "$clean/found"
export clean tree tidy
jobs=$(getconf _NPROCESSORS_ONLN 2>/dev/null || echo 2)
status=0
# A unity source includes the others, so that they count as its headers: the last three options have them looked at
# like sources.
# shellcheck disable=SC2016  # for the inner shell
timeout "${RAILSIDE_LINT_MINUTES:-40}m" xargs -0 -r -n 2 -P "$jobs" sh -c '
    if words=$($tidy --quiet -p "$tree" --extra-arg=-Wno-unknown-warning-option \
        --header-filter="/(core|app)/[^.]*\\.(h|cpp)\$" --extra-arg=-Xclang \
        --extra-arg=-analyzer-opt-analyze-headers "$0" 2>/dev/null); then
        touch "$1"
    else
        printf "%s\n" "lint: $0" "$words"
        : >"$clean/found"
        exit 1
    fi' <"$list" || status=$?
if [ $status = 124 ]; then
    [ ! -f "$clean/found" ] || exit 1
    undone=$(tr "\0" "\n" <"$list" | awk "NR % 2 == 0" | while read -r mark; do [ -f "$mark" ] || echo; done | wc -l)
    echo "lint: stopped after ${RAILSIDE_LINT_MINUTES:-40} minutes with $undone sources not looked at; run it again, it goes on there"
    exit 77
fi
[ $status = 0 ]
