#!/bin/sh
# Configures and builds one build tree: build.sh NAME TARGET [-DOPTION=VALUE...], in .build/NAME.
# Where nothing has changed it takes no longer than ninja's own look. Says little unless something fails.
set -eu

root=$(cd "$(dirname "$0")/../.." && pwd)
name=$1
target=$2
shift 2
tree=$root/.build/$name

say() { printf 'build: %s\n' "$*"; }

# A tree that was configured elsewhere (a copied folder) is of no use.
if [ -f "$tree/CMakeCache.txt" ] && ! grep -qxF "CMAKE_HOME_DIRECTORY:INTERNAL=$root" "$tree/CMakeCache.txt"; then
    rm -rf "$tree"
fi
mkdir -p "$tree"

if [ ! -f "$tree/configured" ] || [ "$*" != "$(cat "$tree/configured")" ]; then
    say "configuring .build/$name"
    options=$*
    if [ ! -f "$tree/CMakeCache.txt" ]; then
        set -- -DCMAKE_BUILD_TYPE=Release "$@"
        if command -v ninja >/dev/null 2>&1; then set -- -G Ninja "$@"; fi
        if command -v ccache >/dev/null 2>&1; then set -- -DCMAKE_CXX_COMPILER_LAUNCHER=ccache "$@"; fi
    fi
    if ! cmake -S "$root" -B "$tree" "$@" >"$tree/configure.log" 2>&1; then
        tail -n 40 "$tree/configure.log"
        say "cmake could not configure .build/$name (all it said is in .build/$name/configure.log)"
        exit 1
    fi
    printf '%s\n' "$options" >"$tree/configured"
fi

export CCACHE_BASEDIR="$root"
jobs=$(getconf _NPROCESSORS_ONLN 2>/dev/null || echo 2)
compile() { cmake --build "$tree" --target "$target" --parallel "$jobs"; }

if [ -t 1 ]; then
    # On a terminal ninja keeps to one line by itself.
    compile && exit 0
else
    # Elsewhere: one line for every fifth of the way, and whatever is not progress.
    touch "$tree/failed"
    { compile 2>&1 && rm -f "$tree/failed"; } | awk -v tree=".build/$name" '
        /^\[[0-9]+\/[0-9]+\]/ {
            split(substr($1, 2), n, /[\/\]]/)
            if (n[2] > 5 && int(5 * n[1] / n[2]) > shown) {
                shown = int(5 * n[1] / n[2])
                print "build: " tree " " n[1] " of " n[2]
                fflush()
            }
            next
        }
        /^ninja: (no work to do|Entering)/ || /^-- / || /^g?make/ || /^\[ *[0-9]+%\]/ { next }
        { print; fflush() }'
    [ -f "$tree/failed" ] || exit 0
fi
say "building .build/$name failed; the compiler's words are above"
exit 1
