#!/bin/sh
# Builds a target of .build/sanitize: address and undefined-behaviour sanitizers, several sources at once, and with
# clang the libFuzzer programs as well. clang takes half of g++'s time for it; -O1 keeps assertions.
set -eu

root=$(cd "$(dirname "$0")/../.." && pwd)
if command -v clang++ >/dev/null 2>&1 &&
    echo 'extern "C" int LLVMFuzzerTestOneInput(const char *, unsigned long) { return 0; }' |
    clang++ -x c++ -fsanitize=fuzzer,address,undefined -o /dev/null - 2>/dev/null; then
    set -- "$1" -DCMAKE_CXX_COMPILER=clang++ -DCMAKE_C_COMPILER=clang -DRAILSIDE_FUZZ=ON \
        "-DCMAKE_CXX_FLAGS_RELEASE=-O1"
else
    # g++ 12 sees unset values in the standard library that are not there.
    set -- "$1" "-DCMAKE_CXX_FLAGS_RELEASE=-O1 -Wno-maybe-uninitialized"
fi
exec sh "$root/app/setup/build.sh" sanitize "$@" -DRAILSIDE_TESTS=ON -DRAILSIDE_SANITIZE=ON -DRAILSIDE_UNITY=ON
