#!/bin/sh
# Builds the page: .build/web/site. Where nothing has changed it takes no longer than ninja's own look.
# RAILSIDE_WORDS: a catalogue made from assets/words/railside.pot (its whole path) that the page is to speak by.
set -eu

root=$(cd "$(dirname "$0")/../.." && pwd)

# emscripten writes into the folder its libraries lie in. Debian's package brings them ready made, where not everybody
# may write: a folder of our own, with links to them.
export EM_CACHE="$root/.build/emscripten"
if [ ! -d "$EM_CACHE" ]; then
    mkdir -p "$EM_CACHE"
    for part in /usr/share/emscripten/cache/*; do
        if [ -d "$part" ] || [ "${part%.stamp}" != "$part" ]; then ln -s "$part" "$EM_CACHE/"; fi
    done
fi
# Its optimiser of scripts is Debian's acorn, which lies where only Debian's node looks.
if [ -d /usr/share/nodejs ]; then export NODE_PATH="${NODE_PATH:-/usr/share/nodejs}"; fi

toolchain=
for folder in /usr/share/emscripten "${EMSDK:-}/upstream/emscripten" "$(dirname "$(command -v emcc || echo /)")"; do
    if [ -z "$toolchain" ] && [ -f "$folder/cmake/Modules/Platform/Emscripten.cmake" ]; then
        toolchain=$folder/cmake/Modules/Platform/Emscripten.cmake
    fi
done
if [ -z "$toolchain" ]; then
    echo "web: needs emscripten (Debian: emscripten)"
    exit 77
fi
exec sh "$root/app/setup/build.sh" web railside_site "-DCMAKE_TOOLCHAIN_FILE=$toolchain" -DRAILSIDE_TESTS=OFF \
    -DRAILSIDE_UNITY=ON "-DRAILSIDE_WORDS=${RAILSIDE_WORDS:-}" "-DCMAKE_CXX_FLAGS_RELEASE=-Os -DNDEBUG" "-DCMAKE_C_FLAGS_RELEASE=-Os -DNDEBUG" \
    -DCMAKE_CXX_COMPILER_LAUNCHER= -DCMAKE_C_COMPILER_LAUNCHER=
