#!/bin/sh
# Installs what is missing of the Debian packages (12 and 13) that Railside is built from.
#   packages.sh [run|test|web|all]   run: build and start it; test: and its tests; web: build the page and try it;
#                                    all: everything, with every check
# Asks nothing and takes no network when everything is there.
set -eu

build="g++ cmake ninja-build pkg-config dpkg-dev ca-certificates"
libraries="libsdl2-dev libglfw3-dev libgl-dev libsqlite3-dev libjpeg62-turbo-dev zlib1g-dev
    libv4l-dev nlohmann-json3-dev libfmt-dev libcli11-dev libeigen3-dev libboost-dev fonts-b612
    fonts-dejavu-core"
tests="catch2 librapidcheck-dev xvfb xauth poppler-utils libxml2-utils"
page="emscripten nodejs npm ninja-build cmake dpkg-dev ca-certificates nlohmann-json3-dev libfmt-dev libeigen3-dev
    libboost-dev fonts-b612 fonts-dejavu-core"
browser="chromium"
checks="clang-format clang-tidy clang libclang-rt-dev gettext"

case ${1:-run} in
    run) needed="$build $libraries" ;;
    test) needed="$build $libraries $tests" ;;
    web) needed="$page" ;;
    all) needed="$build $libraries $tests $page $browser $checks" ;;
    *)
        echo "usage: packages.sh [run|test|web|all]" >&2
        exit 2
        ;;
esac

say() { printf 'packages: %s\n' "$*"; }

if ! command -v dpkg-query >/dev/null 2>&1 || ! command -v apt-get >/dev/null 2>&1; then
    say "not a Debian system, so nothing is installed here; what Railside needs, by Debian's names:"
    # shellcheck disable=SC2086  # a list of words
    say " " $needed
    exit 0
fi

# shellcheck disable=SC2086,SC2016  # a list of words; dpkg-query's own notation
there=$(dpkg-query -W -f '${binary:Package} ${db:Status-Status}\n' $needed 2>/dev/null |
    sed -n 's/^\([^ :]*\)\(:[^ ]*\)* installed$/\1/p') || true
missing=
for package in $needed; do
    # node and npm come by other ways as well, which Debian's own would be in conflict with.
    case $package in
        nodejs) ! command -v node >/dev/null 2>&1 || continue ;;
        npm) ! command -v npm >/dev/null 2>&1 || continue ;;
    esac
    case "
$there
" in
        *"
$package
"*) ;;
        *) missing="$missing $package" ;;
    esac
done
[ -n "$missing" ] || exit 0

if [ "$(id -u)" = 0 ]; then
    sudo=
elif command -v sudo >/dev/null 2>&1; then
    sudo=sudo
else
    say "these Debian packages are missing, and only root can install them (there is no sudo here):"
    say "  apt-get install$missing"
    exit 1
fi

log=$(mktemp)
trap 'rm -f "$log"' EXIT
say "installing$missing"

# $sudo and $missing are lists of words.
# shellcheck disable=SC2086
as_root() { $sudo env DEBIAN_FRONTEND=noninteractive LC_ALL=C "$@" >>"$log" 2>&1; }
# shellcheck disable=SC2086
install() { as_root apt-get install -y -q --no-install-recommends $missing; }

# The lists on a new system are empty, and old lists name files that a mirror has dropped.
if ! as_root apt-get update -q; then
    say "apt-get update failed; going on with the lists there are"
fi
if ! install; then
    tail -n 20 "$log"
    say "apt-get could not install:$missing"
    exit 1
fi
say "done"
