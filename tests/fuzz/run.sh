#!/bin/bash
# Fuzzes every target for so many seconds, one after the other, and prints what came of it: run.sh BUILD SECONDS
# [TARGET...]. Builds nothing. Inputs that cover something new are kept in BUILD/corpus, so that the next run goes on
# from there; findings stand in BUILD/findings, and make the exit code 1. CLAMPFADE_FUZZ_SEED=N draws the same inputs again,
# as far as the seconds allow; else each run draws others.
set -uo pipefail
here=$(cd "$(dirname "$0")" && pwd)
build=$(cd "$1" && pwd)
seconds=$2
shift 2
targets=("$@")
[ $# -gt 0 ] || targets=(scenario trace records readings fit_data history report classroom_json)

bash "$here/seeds.sh" "$build/seeds" || exit 2
export CLAMPFADE_CATALOGUE="$here/../../models/catalogue"
export LSAN_OPTIONS="suppressions=$here/leaks.txt:print_suppressions=0"
mkdir -p "$build/empty"
failed=0
table=$(printf '%-16s %10s %10s %10s  %s' target runs coverage seconds found)
for target in "${targets[@]}"; do
  corpus="$build/corpus/$target"
  findings="$build/findings/$target"
  log="$build/findings/$target.log"
  mkdir -p "$corpus" "$findings"
  folders=("$corpus" "$build/seeds/$target")
  [ -d "$here/found/$target" ] && folders+=("$here/found/$target")
  options=(-max_total_time="$seconds" -rss_limit_mb=2048 -timeout=10 -max_len=20000 -artifact_prefix="$findings/" -print_final_stats=1
    -seed="${CLAMPFADE_FUZZ_SEED:-0}")
  [ "$target" = scenario ] && options+=(-dict="$build/seeds/scenario.dict")
  # A scenario may name files: none is there, where it is read.
  (cd "$build/empty" && "$build/tests/fuzz/fuzz_$target" "${options[@]}" "${folders[@]}") >"$log" 2>&1 || failed=1
  runs=$(grep -oE 'number_of_executed_units: +[0-9]+' "$log" | grep -oE '[0-9]+$')
  coverage=$(grep -oE 'cov: [0-9]+' "$log" | tail -1 | grep -oE '[0-9]+')
  found=$(ls "$findings" | wc -l)
  table+=$(printf '\n%-16s %10s %10s %10s  %s' "$target" "${runs:--}" "${coverage:--}" "$seconds" "$found")
done
echo "$table"
exit $failed
