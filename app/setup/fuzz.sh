#!/bin/sh
# Runs each libFuzzer program of tests/fuzz for RAILSIDE_FUZZ_SECONDS (20), from its seeds and what earlier
# runs found (.build/fuzz-corpus). What breaks a program is kept in .build/fuzz-broken.
#   fuzz.sh [NAME...]   Exit status: 0 nothing broke, 1 something did, 77 there is no clang.
set -eu

root=$(cd "$(dirname "$0")/../.." && pwd)
seconds=${RAILSIDE_FUZZ_SECONDS:-20}
tree=$root/.build/fuzz

if ! command -v clang++ >/dev/null 2>&1; then
    echo "fuzz: needs clang++ with its runtime (Debian: clang, libclang-rt-dev)"
    exit 77
fi
if ! echo 'extern "C" int LLVMFuzzerTestOneInput(const char *, unsigned long) { return 0; }' |
    clang++ -x c++ -fsanitize=fuzzer,address,undefined -o /dev/null - 2>/dev/null; then
    echo "fuzz: this clang++ has no libFuzzer (Debian: libclang-rt-dev)"
    exit 77
fi
sh "$root/app/setup/build.sh" fuzz railside_fuzzers -DRAILSIDE_TESTS=ON -DRAILSIDE_FUZZ=ON \
    -DCMAKE_CXX_COMPILER=clang++ -DCMAKE_C_COMPILER=clang "-DCMAKE_CXX_FLAGS_RELEASE=-O1"

if [ $# = 0 ]; then
    for source in "$root"/tests/fuzz/*_fuzz.cpp; do
        set -- "$@" "$(basename "$source" _fuzz.cpp)"
    done
fi
status=0
for name in "$@"; do
    corpus=$root/.build/fuzz-corpus/$name
    broken=$root/.build/fuzz-broken/$name
    mkdir -p "$corpus" "$broken"
    echo "fuzz: $name, $seconds s"
    if "$tree/tests/fuzz/${name}_fuzz" -max_total_time="$seconds" -timeout=10 -rss_limit_mb=2048 \
        -max_len=8192 -print_final_stats=0 -verbosity=0 -artifact_prefix="$broken/" "$corpus" \
        "$root/tests/fuzz/seeds/$name"; then
        echo "fuzz: $name held"
    else
        echo "fuzz: $name broke; the input is in .build/fuzz-broken/$name"
        status=1
    fi
done
exit $status
