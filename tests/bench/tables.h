// The bench's tables for people: each engine and each group, strategies side by side.
#pragma once

#include <vector>

#include "tests/bench/outcome.h"

namespace lapwright::bench {

/// To the standard output.
void print_tables(const std::vector<RunResult>& runs);
/// False accepts and attainable steps that Lapwright did not prove, one line for each.
void print_misses(const std::vector<RunResult>& runs);

}  // namespace lapwright::bench
