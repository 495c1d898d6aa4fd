#!/bin/sh
# The page in a real browser: builds it, gives it out on this machine and goes through it with fingers, without a
# network, and with the browser killed. Pictures of its screens are in .build/web-test/pictures.
#   run.sh [NAME...]   only the parts of those names   Exit status: 0 all held, 1 not, 77 cannot be tried here, or
#                      what was begun within RAILSIDE_WEB_MINUTES held and the rest was not
set -eu

RAILSIDE_WEB_BEGAN=$(date +%s) # the build counts
export RAILSIDE_WEB_BEGAN
root=$(cd "$(dirname "$0")/../.." && pwd)
place=$root/.build/web-test
for tool in emcc node npm python3; do
    command -v $tool >/dev/null 2>&1 || {
        echo "web: needs $tool (app/setup/packages.sh all)"
        exit 77
    }
done
browser=${RAILSIDE_CHROMIUM:-/usr/bin/chromium}
[ -x "$browser" ] || {
    echo "web: needs Chromium at $browser (app/setup/packages.sh all)"
    exit 77
}
sh "$root/app/setup/sources.sh" web >/dev/null || true
[ -f "$root/.build/sources/sqlite/sqlite3.c" ] || {
    echo "web: SQLite's source could not be fetched (app/setup/sources.sh web)"
    exit 77
}
mkdir -p "$place"
if [ ! -d "$place/node_modules/playwright-core" ]; then
    npm install --no-audit --no-fund --silent --prefix "$place" playwright-core@1.49.1 || {
        echo "web: playwright-core could not be had from npm's registry"
        exit 77
    }
fi
sh "$root/app/setup/web.sh"
[ -x "$root/.build/release/app/railside" ] || sh "$root/app/setup/build.sh" release railside -DRAILSIDE_TESTS=ON

# node looks for modules beside the files that want them: the tests run as copies.
rm -rf "$place/tests"
mkdir -p "$place/tests"
cp "$root"/tests/web/*.mjs "$root"/tests/web/*.py "$place/tests/"
exec node "$place/tests/web_test.mjs" "$root" "$@"
