#!/bin/sh
# Builds and runs the benchmarks, and beside them the same operating points in ngspice where that is
# installed: times in microseconds, and the ratio within this run.
#   tests/bench/run.sh [circuit|working|record|frames]
set -eu

root=$(cd "$(dirname "$0")/../.." && pwd)
which=${1:-all}
out=$root/.build/bench
mkdir -p "$out"

# As both commands build it.
build() { sh "$root/app/setup/build.sh" release "$1" -DRAILSIDE_TESTS=ON -DRAILSIDE_UNITY=ON; }
say() { printf 'bench: %s\n' "$*"; }

sh "$root/app/setup/packages.sh" test
if [ "$which" = frames ]; then
    sh "$root/app/setup/sources.sh" || true
    build frames_bench
    build railside-decoder
    export RAILSIDE_DECODER="$root/.build/release/app/railside-decoder"
    for job in demo heavy; do "$root/.build/release/tests/bench/frames_bench" "$job"; done
    exit 0
fi
if ! dpkg-query -W libbenchmark-dev >/dev/null 2>&1; then
    say "Google Benchmark is missing: apt-get install libbenchmark-dev"
    exit 1
fi
sh "$root/app/setup/sources.sh" || true

run() {
    build "$1_bench"
    "$root/.build/release/tests/bench/$1_bench" --benchmark_out="$out/$1.json" --benchmark_out_format=json
}

nanoseconds() { date +%s%N; }

# simulate FILE COUNT: the same netlist with COUNT operating points in one ngspice.
simulate() {
    folder=$(dirname "$1")
    awk -v count="$2" '
        /^\.control/ { skip = 1; print ".control\nrepeat " count "\nop\nend\nquit\n.endc"; next }
        /^\.endc/ { skip = 0; next }
        !skip { print }' "$1" >"$out/timed.cir"
    (cd "$folder" && ngspice -b "$out/timed.cir" >"$out/timed.log" 2>&1) || true
}

case $which in
    all | circuit) run circuit ;;
esac
case $which in
    all | working) run working ;;
esac
case $which in
    all | record)
        build railside
        make_bench() { # JOBS PHOTOS
            [ -d "$out/jobs_$1" ] && return
            rm -rf "$out/making"
            "$root/.build/release/app/railside" generate --bench "$out/making" --jobs "$1" --photos "$2"
            mv "$out/making" "$out/jobs_$1"
        }
        make_bench 1000 20000
        make_bench 10000 0
        export RAILSIDE_BENCH_1000="$out/jobs_1000" RAILSIDE_BENCH_10000="$out/jobs_10000"
        export RAILSIDE_DECODER="$root/.build/release/app/railside-decoder"
        run record
        ;;
esac
case $which in
    working | record) exit 0 ;;
esac

if ! command -v ngspice >/dev/null 2>&1; then
    say "ngspice is not installed, so there is nothing to compare with"
    exit 0
fi
printf '\n%-10s %14s %14s %14s %14s %10s %10s\n' netlist "ngspice run" "its solve" "ours, cold" "ours, warm" "run/cold" "solve/cold"
for name in a_ef2 b2_dual c_quasi f_lowp; do
    file=$root/tests/data/netlists/$name.cir
    begin=$(nanoseconds)
    simulate "$file" 1
    once=$(($(nanoseconds) - begin))
    begin=$(nanoseconds)
    simulate "$file" 501
    many=$(($(nanoseconds) - begin))
    awk -v name="$name" -v once="$once" -v many="$many" '
        $1 == "\"name\":" { gsub(/[",]/, "", $2); seen = $2 }
        $1 == "\"cpu_time\":" && seen ~ "/" name "$" { gsub(/,/, "", $2); split(seen, part, "/"); time[part[1]] = $2 }
        END {
            run = once / 1000; solve = (many - once) / 500 / 1000
            printf "%-10s %11.0f us %11.1f us %11.1f us %11.1f us %10.0f %10.1f\n", name, run, solve, time["cold"], time["warm"], run / time["cold"], solve / time["cold"]
        }' "$out/circuit.json"
done
