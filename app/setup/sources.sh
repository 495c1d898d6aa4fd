#!/bin/sh
# Fetches the two libraries that Debian 12 has too old, as source packages of Debian 13, into .build/sources.
# The mirror is this system's own, the signature is checked by apt, and nothing of the system is changed:
# apt works here with its own lists in .build/apt. Where everything is there already, this does nothing.
#   sources.sh web   also SQLite's own source file, for the page: it comes inside a package of npm's registry, whose
#                    checksum is pinned here.
# Exit status: 0 all there, 1 something could not be had (CMake then fetches it from its home).
set -eu

root=$(cd "$(dirname "$0")/../.." && pwd)
sources=$root/.build/sources
apt=$root/.build/apt
suite=trixie

say() { printf 'sources: %s\n' "$*"; }

# Is this header there, and stb_image of at least 2.30?
new_stb() {
    [ -f "$1/stb_image_write.h" ] &&
        sed -n '1s/.*stb_image - v2\.\([0-9]*\).*/\1/p' "$1/stb_image.h" 2>/dev/null |
        { read -r minor && [ "$minor" -ge 30 ]; }
}

# SQLite 3.48.0, as better-sqlite3 carries it.
sqlite_package=better-sqlite3@11.8.1
sqlite_sha256=c6862420e0212739d89ce2bd652cb4e1832c5aea9549fdd88366ed907b763f66
if [ "${1:-}" = web ] && [ ! -f "$sources/sqlite/sqlite3.c" ]; then
    command -v npm >/dev/null 2>&1 || {
        say "npm is not there: SQLite's source cannot be fetched (Debian: npm)"
        exit 1
    }
    rm -rf "$sources/sqlite.part"
    mkdir -p "$sources/sqlite.part"
    say "asking npm for $sqlite_package"
    (cd "$sources/sqlite.part" && npm pack --silent "$sqlite_package" >/dev/null && tar xzf ./*.tgz \
        package/deps/sqlite3/sqlite3.c package/deps/sqlite3/sqlite3.h) || {
        say "$sqlite_package could not be had from npm's registry"
        exit 1
    }
    echo "$sqlite_sha256  $sources/sqlite.part/package/deps/sqlite3/sqlite3.c" | sha256sum -c --quiet - || {
        say "the sqlite3.c in $sqlite_package is not the one that is expected; nothing was taken"
        exit 1
    }
    mkdir -p "$sources/sqlite"
    mv "$sources/sqlite.part/package/deps/sqlite3/sqlite3.h" "$sources/sqlite/"
    mv "$sources/sqlite.part/package/deps/sqlite3/sqlite3.c" "$sources/sqlite/"
    rm -rf "$sources/sqlite.part"
    say "SQLite is in .build/sources/sqlite"
fi

wanted=
[ -f "$sources/imgui/imgui.cpp" ] || wanted="imgui"
new_stb /usr/include/stb || new_stb "$sources/stb" || wanted="$wanted${wanted:+ }libstb"
[ -n "$wanted" ] || exit 0

fail() {
    say "$*"
    say "the build will try to fetch Dear ImGui and stb from their home instead"
    exit 1
}

for tool in apt-get dpkg-source; do
    command -v $tool >/dev/null 2>&1 || fail "no $tool on this system"
done
keyring=
for file in /usr/share/keyrings/debian-archive-keyring.gpg /usr/share/keyrings/debian-archive-keyring.pgp; do
    if [ -z "$keyring" ] && [ -r "$file" ]; then keyring=$file; fi
done
[ -n "$keyring" ] || fail "the package debian-archive-keyring is not installed: no way to check signatures"

# The mirrors apt is set up with: those known to be Debian's main archive, or, before the first
# 'apt-get update' of this system, every address that update would ask.
# shellcheck disable=SC2016  # $(SITE) is apt's own notation
mirrors=$(apt-get indextargets --format '$(ORIGIN)/$(LABEL) $(SITE)' 2>/dev/null |
    sed -n 's|^Debian/Debian ||p' | sort -u)
if [ -z "$mirrors" ]; then
    mirrors=$(apt-get update --print-uris 2>/dev/null |
        sed -n "s|^'\(.*\)/dists/.*InRelease'.*|\1|p" | grep -v -- '-security$' | sort -u) || true
fi
[ -n "$mirrors" ] || fail "apt on this system has no Debian mirror"

mkdir -p "$apt/state/lists/partial" "$apt/cache/archives/partial" "$apt/download" "$sources"
cat >"$apt/apt.conf" <<END
Dir::Etc::SourceList "$apt/sources.list";
Dir::Etc::SourceParts "-";
Dir::State "$apt/state";
Dir::Cache "$apt/cache";
Acquire::Languages "none";
Acquire::Retries "2";
Acquire::AllowInsecureRepositories "false";
Acquire::AllowDowngradeToInsecureRepositories "false";
APT::Get::AllowUnauthenticated "false";
APT::Update::Error-Mode "any";
END
# As root apt gives its downloads to the user _apt, who may not enter this folder.
[ "$(id -u)" != 0 ] || echo 'APT::Sandbox::User "root";' >>"$apt/apt.conf"

own_apt() { LC_ALL=C apt-get -c "$apt/apt.conf" -q "$@"; }

got=
for mirror in $mirrors; do
    say "asking $mirror for $wanted of $suite"
    echo "deb-src [signed-by=$keyring] $mirror $suite main" >"$apt/sources.list"
    # shellcheck disable=SC2086  # a list of words
    if own_apt update >"$apt/log" 2>&1 &&
        (cd "$apt/download" && own_apt source --download-only $wanted) >>"$apt/log" 2>&1; then
        got=yes
        break
    fi
    sed -n 's/^\([EW]: .*\)/sources:   \1/p' "$apt/log"
done
[ -n "$got" ] || fail "no mirror gave the source packages (apt's words are in .build/apt/log)"

# apt has checked the files against the signed index; the .dsc's own signature is its maintainer's.
for package in $wanted; do
    name=${package#lib}
    rm -rf "$apt/unpacked" "${sources:?}/$name"
    dsc=$(find "$apt/download" -name "${package}_*.dsc" | sort | tail -n 1)
    dpkg-source --no-check --no-copy -x "$dsc" "$apt/unpacked" >>"$apt/log" 2>&1 ||
        fail "$dsc does not unpack (see .build/apt/log)"
    mv "$apt/unpacked" "$sources/$name"
    say "$(basename "$dsc" .dsc) is in .build/sources/$name"
done
rm -rf "$apt/state" "$apt/cache" "$apt/download"
