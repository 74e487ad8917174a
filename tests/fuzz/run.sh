#!/usr/bin/env bash
# Fuzzes every target, two at a time: bash tests/fuzz/run.sh [SECONDS each, 30] [TARGET…]. FOLDER=build folder.
# What is found stays in the folder's findings/; the exit code is 1 then, and the commands that show it again are printed.
source "$(dirname "${BASH_SOURCE[0]}")/../../daemon/prepare.sh"
install_missing "${packages[@]}" clang libclang-rt-14-dev
each_s=${1:-30}
shift || true
targets=("$@")
[ ${#targets[@]} -gt 0 ] || for folder in "$top"/tests/fuzz/corpus/*/; do targets+=("$(basename "$folder")"); done

folder=${FOLDER:-$top/build-asan-clang}
build_only=("${targets[@]/#/fuzz_}")
build_into "$folder" "${sanitized[@]}" -DCMAKE_CXX_COMPILER=clang++ -DLAPWRIGHT_FUZZ=ON

findings=$folder/findings
mkdir -p "$findings"
export folder findings top each_s
# An input that takes 25 s hangs: they take milliseconds, and machines are shared. What is new and not a finding goes to $folder/grown.
fuzz() {
  local name=$1 log=$findings/$1.log grown=$folder/grown/$1
  mkdir -p "$grown"
  if "$folder/tests/fuzz/fuzz_$name" -max_total_time="$each_s" -max_len=4096 -timeout=25 -rss_limit_mb=1024 \
    -dict="$top/tests/fuzz/dictionaries/$name" -artifact_prefix="$findings/$name-" -print_final_stats=1 \
    "$grown" "$top/tests/fuzz/corpus/$name" </dev/null >"$log" 2>&1; then
    printf '%-12s %9s inputs  %s\n' "$name" "$(sed -n 's/.*number_of_executed_units: *//p' "$log")" \
      "$(grep -o 'cov: [0-9]* ft: [0-9]*' "$log" | tail -n 1)"
    return 0
  fi
  printf '%s: FOUND\n' "$name"
  grep -m 3 -E 'broken property|ERROR: |runtime error|terminate called|what\(\)' "$log" || tail -n 5 "$log"
  for input in $(sed -n 's/.*Test unit written to //p' "$log"); do
    printf 'again with: %s %s\n' "$folder/tests/fuzz/corpus_$name" "$input"
  done
  return 1
}
export -f fuzz
printf '%s\n' "${targets[@]}" | xargs -P 2 -I '{}' bash -c 'fuzz {}'
