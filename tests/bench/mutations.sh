# Turns each condition of the safety rules round, one at a time, and asks whether a unit test notices:
# bash tests/bench/run.sh mutations [FILE…]. An "if" is negated, an "and" becomes an "or" and the other way round. Prints
# those that nobody noticed, and how many there were. About ten seconds each; sourced by run.sh.
folder=$top/build-mutations
mkdir -p "$folder/tests" "$folder/changed"
build_only=(drivers asio)
build_into "$folder/build" -DCMAKE_UNITY_BUILD=OFF  # one object for each file, to be replaced
# An optional that is empty, where a turned condition looks into it, has to be noticed, too.
flags=(-std=c++20 -O0 -w -D_GLIBCXX_ASSERTIONS "-I$top" -isystem /usr/include/eigen3 -DBOOST_TEST_DYN_LINK
       -DBOOST_ASIO_NO_DEPRECATED -DBOOST_ASIO_DISABLE_BOOST_COROUTINE -DBOOST_ASIO_SEPARATE_COMPILATION)
tests=(main gate_watch_test motion_watch_test track_end_watch_test travel_rules_test travel_watch_test running_watch_test
       stall_watch_test staging_watch_test guarded_rig_test guarded_senses_test guarded_dead_test guarded_route_test)
newest=$(find "$top/drivers" "$top/tuning" "$top/tests/unit" -name '*.h' -printf '%T@ %p\n' | sort -n | tail -1 | cut -d' ' -f2-)
for test in "${tests[@]}"; do
  [ "$folder/tests/$test.o" -nt "$top/tests/unit/$test.cpp" ] && [ "$folder/tests/$test.o" -nt "$newest" ] && continue
  g++ "${flags[@]}" -c "$top/tests/unit/$test.cpp" -o "$folder/tests/$test.o"
done
libraries=("$folder/build/drivers/libdrivers.a" "$folder/build/tuning/libtuning.a" "$folder/build/libasio.a"
           -lboost_unit_test_framework -lserialport -lpthread)

# noticed OBJECT: whether the tests fail with it in the place of the library's own.
noticed() {
  g++ "${tests[@]/#/$folder/tests/}" "$1" "${libraries[@]}" -o "$folder/program" || return 1
  ! timeout 60 "$folder/program" --report_level=no --log_level=nothing >/dev/null 2>&1
}
tests=("${tests[@]/%/.o}")
if [ $# -gt 0 ]; then files=("$@"); else files=("$top"/drivers/safety/*_watch.cpp "$top"/drivers/safety/guarded_rig.cpp); fi
count=0 missed=0
for file in "${files[@]}"; do
  changed=$folder/changed/$(basename "$file")
  while IFS=: read -r line change; do
    sed -E "${line}${change}" "$file" >"$changed"
    cmp -s "$file" "$changed" && continue
    g++ "${flags[@]}" -c "$changed" -o "$changed.o" 2>/dev/null || continue  # a constexpr, a declaration
    count=$((count + 1))
    noticed "$changed.o" && continue
    missed=$((missed + 1))
    echo "not noticed: $(basename "$file"):$line: $(sed -n "${line}p" "$changed" | sed 's/^ *//')"
  done < <(grep -nE '\bif \(' "$file" | sed -E 's/^([0-9]+):.*/\1:s,\\bif \\((.*)\\)( \\{| return| co_return| throw| continue| stop| [a-z_]+[.(]| [a-z_]+ [+]?=),if (!(\\1))\\2,/'
           grep -nE '&&' "$file" | sed -E 's/^([0-9]+):.*/\1:s,\&\&,||,/'
           grep -nE '\|\|' "$file" | sed -E 's/^([0-9]+):.*/\1:s,\\|\\|,\\\&\\\&,/')
done
echo "$count conditions turned round, $missed of them not noticed"
[ "$count" -gt 0 ] && [ "$missed" -eq 0 ]
