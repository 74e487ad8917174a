# Branches of the safety rules that the unit tests, the guarded nights and the schedules take, each counted in the source:
# bash tests/bench/run.sh coverage. Prints the table of drivers/safety and every branch that was not taken both ways.
# Sourced by run.sh.
install_missing clang llvm
folder=$top/build-coverage
build_only=(unit_tests shifts_tests schedules_tests)
flags="-fprofile-instr-generate -fcoverage-mapping"
build_into "$folder" -DCMAKE_UNITY_BUILD=OFF -DCMAKE_BUILD_TYPE=Debug "-DCMAKE_CXX_FLAGS_DEBUG=-O1" -DCMAKE_CXX_COMPILER=clang++ "-DCMAKE_CXX_FLAGS=$flags" || exit
cd "$folder"
rm -f ./*.profraw
LLVM_PROFILE_FILE=unit.profraw LAPWRIGHT_NOISY_PASSES=4000 tests/unit_tests --report_level=no >/dev/null
LLVM_PROFILE_FILE=shifts.profraw tests/shifts_tests --run_test=guarded --report_level=no >/dev/null
LLVM_PROFILE_FILE=schedules.profraw LAPWRIGHT_SCHEDULES=500 tests/schedules_tests --report_level=no >/dev/null
llvm-profdata merge -o all.profdata ./*.profraw
programs=(tests/unit_tests -object tests/shifts_tests -object tests/schedules_tests)
llvm-cov report "${programs[@]}" -instr-profile=all.profdata -show-branch-summary "$top"/drivers/safety/*.cpp
echo
echo "branches that went one way only:"
one_way=$(llvm-cov export "${programs[@]}" -instr-profile=all.profdata -format=lcov "$top"/drivers/safety/*.cpp 2>/dev/null |
  awk -F: '/^SF:/ { file = $2 } /^BRDA:.*,(0|-)$/ { split($2, at, ","); print file ":" at[1] }' | sort | uniq -c)
echo "${one_way:-none}"
[ -z "$one_way" ]
