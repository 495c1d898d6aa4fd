#!/bin/sh
# Builds Railside with its tests and runs them.
#   tests/run.sh       the tests; ends in ctest's own summary
#   tests/run.sh all   and every other check, with OK or FAIL for each: what CI runs
set -eu

root=$(cd "$(dirname "$0")/.." && pwd)
setup=$root/app/setup
logs=$root/.build/logs
mkdir -p "$logs"

run_tests() {
    tree=$1
    shift
    ctest --test-dir "$root/.build/$tree" --no-tests=error --output-on-failure -j2 "$@"
}

case ${1:-} in
    "")
        sh "$setup/packages.sh" test
        sh "$setup/sources.sh" || true
        sh "$setup/build.sh" release all -DRAILSIDE_TESTS=ON -DRAILSIDE_UNITY=ON
        run_tests release
        exit
        ;;
    all) ;;
    *)
        echo "usage: tests/run.sh [all]" >&2
        exit 2
        ;;
esac

passed=0
failed=0
skipped=0
built=no
began=$(date +%s)

# check NAME COMMAND...: what the command says goes to a log, and is shown, shortened, only if it fails
# (exit status 77: could not be done here).
check() {
    name=$1
    shift
    started=$(date +%s)
    status=0
    echo ".. $name"
    "$@" >"$logs/$name.log" 2>&1 </dev/null || status=$?
    took="$(($(date +%s) - started)) s"
    case $status in
        0)
            grep -E '^[0-9]+% tests passed' "$logs/$name.log" || true
            echo "OK $name ($took)"
            passed=$((passed + 1))
            ;;
        77)
            tail -n 1 "$logs/$name.log"
            echo "SKIP $name"
            skipped=$((skipped + 1))
            return 1
            ;;
        *)
            grep -vE '^ *Start +[0-9]+:|   Passed  ' "$logs/$name.log" | awk '
                NR <= 150 { print; next }
                { last[NR % 50] = $0 }
                END {
                    if (NR > 200) print "[...]"
                    for (i = NR - 49; i <= NR; i++) if (i > 150) print last[i % 50]
                }' || true
            echo "FAIL $name ($took; all of it is in .build/logs/$name.log)"
            failed=$((failed + 1))
            return 1
            ;;
    esac
}

# A leak or an undefined operation anywhere in a test is its failure.
sanitized_tests() {
    ASAN_OPTIONS=${ASAN_OPTIONS:-detect_stack_use_after_return=1} \
        UBSAN_OPTIONS=${UBSAN_OPTIONS:-print_stacktrace=1} run_tests sanitize
}

check packages sh "$setup/packages.sh" all || true
sh "$setup/sources.sh" || true
check format sh "$setup/format.sh" || true
check words sh "$setup/words.sh" check || true
if check build sh "$setup/build.sh" release all -DRAILSIDE_TESTS=ON -DRAILSIDE_UNITY=ON; then
    check walls run_tests release -L walls || true
    check tests run_tests release || true
    built=yes
fi
if check sanitize-build sh "$setup/sanitize.sh" all; then
    check sanitize-tests sanitized_tests || true
fi
# With the same chance each time: what a change broke is to be told from what was there before.
RAILSIDE_FUZZ_SEED=${RAILSIDE_FUZZ_SEED:-1} check fuzz sh "$setup/fuzz.sh" || true
# What follows is kept to the clock: the browser begins no further part after 70 minutes, lint gets what is left of 80.
# What they did not get to is said, and is a check that was skipped.
# in_time NAME UNTIL LEAST: minutes left until then, where at least so many are.
in_time() {
    left=$(($2 - ($(date +%s) - began) / 60))
    [ "$left" -lt "$3" ] || return 0
    echo "$1: no time left"
    echo "SKIP $1"
    skipped=$((skipped + 1))
    return 1
}
if in_time web 70 4; then
    # The thousand touches come last: they are what a short time leaves out.
    RAILSIDE_WEB_MINUTES=${RAILSIDE_WEB_MINUTES:-$left} check web sh "$root/tests/web/run.sh" || true
fi
if [ "$built" = yes ] && in_time lint 80 2; then
    RAILSIDE_LINT_MINUTES=${RAILSIDE_LINT_MINUTES:-$left} check lint sh "$setup/lint.sh" || true
fi

echo "$passed passed, $failed failed, $skipped skipped"
[ "$failed" = 0 ]
