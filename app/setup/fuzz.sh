#!/bin/sh
# Runs each libFuzzer program of tests/fuzz for RAILSIDE_FUZZ_SECONDS (20), from its seeds and what earlier
# runs found (.build/fuzz-corpus). What breaks a program is kept in .build/fuzz-broken. RAILSIDE_FUZZ_SEED makes
# chance the same again (0, as without it: another every time).
#   fuzz.sh [NAME...]   Exit status: 0 nothing broke, 1 something did, 77 there is no clang.
set -eu

root=$(cd "$(dirname "$0")/../.." && pwd)
seconds=${RAILSIDE_FUZZ_SECONDS:-20}
tree=$root/.build/sanitize

if ! command -v clang++ >/dev/null 2>&1; then
    echo "fuzz: needs clang++ with its runtime (Debian: clang, libclang-rt-dev)"
    exit 77
fi
if ! echo 'extern "C" int LLVMFuzzerTestOneInput(const char *, unsigned long) { return 0; }' |
    clang++ -x c++ -fsanitize=fuzzer,address,undefined -o /dev/null - 2>/dev/null; then
    echo "fuzz: this clang++ has no libFuzzer (Debian: libclang-rt-dev)"
    exit 77
fi
sh "$root/app/setup/sanitize.sh" railside_fuzzers

if [ $# = 0 ]; then
    for source in "$root"/tests/fuzz/*_fuzz.cpp; do
        set -- "$@" "$(basename "$source" _fuzz.cpp)"
    done
fi
export root tree seconds
jobs=$(getconf _NPROCESSORS_ONLN 2>/dev/null || echo 2)
# shellcheck disable=SC2016  # for the inner shell
printf '%s\n' "$@" | xargs -n 1 -P "$jobs" sh -c '
    corpus=$root/.build/fuzz-corpus/$1
    broken=$root/.build/fuzz-broken/$1
    mkdir -p "$corpus" "$broken"
    if words=$("$tree/tests/fuzz/${1}_fuzz" -max_total_time="$seconds" -seed="${RAILSIDE_FUZZ_SEED:-0}" -timeout=10 -rss_limit_mb=2048 \
        -max_len=8192 -print_final_stats=0 -verbosity=0 -artifact_prefix="$broken/" "$corpus" \
        "$root/tests/fuzz/seeds/$1" 2>&1); then
        echo "fuzz: $1 held for $seconds s"
    else
        printf "%s\n" "$words"
        echo "fuzz: $1 broke; the input is in .build/fuzz-broken/$1"
        exit 1
    fi' fuzz
