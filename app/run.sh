#!/bin/sh
# Starts Railside from a fresh clone: installs what it needs, builds it, opens the demo job.
#   app/run.sh              the demo job; without a display its workings in words, its rooms as pictures
#   app/run.sh web [PORT]   the page for tablets and phones: builds it and gives it out on this machine
#   app/run.sh ARGUMENTS    the program with these arguments, such as: app/run.sh idle --reading 12mV
set -eu

root=$(cd "$(dirname "$0")/.." && pwd)
setup=$root/app/setup

if [ "${1:-}" = web ]; then
    sh "$setup/packages.sh" web >&2
    sh "$setup/sources.sh" web >&2 || true
    sh "$setup/web.sh" >&2
    exec node "$root/app/web/serve.mjs" "$root/.build/web/site" "${2:-8431}"
fi

# What is said while setting up goes to standard error: the program's own output stays clean.
sh "$setup/packages.sh" run >&2
sh "$setup/sources.sh" >&2 || true
if [ -f "$root/.build/release/configured" ]; then
    options=$(cat "$root/.build/release/configured")
else
    options="-DRAILSIDE_TESTS=OFF -DRAILSIDE_UNITY=ON"
fi
# shellcheck disable=SC2086  # a list of words
sh "$setup/build.sh" release railside $options >&2

program=$root/.build/release/app/railside
if [ $# -gt 0 ]; then
    exec "$program" "$@"
fi

display=${DISPLAY:-}${WAYLAND_DISPLAY:-}
[ "$(uname -s)" != Darwin ] || display=yes
for card in /dev/dri/card*; do
    if [ -r "$card" ] && [ -w "$card" ]; then display=yes; fi
done
if [ -n "$display" ]; then
    exec "$program" open --job demo
fi
pictures=$root/.build/pictures
echo "run: there is no display here, so the demo's workings follow in words; pictures of its rooms go to $pictures"
mkdir -p "$pictures"
exec "$program" demo --out "$pictures"
