// One engine, one seed: every strategy that was asked for, judged.
#pragma once

#include "tests/bench/options.h"
#include "tests/bench/outcome.h"
#include "tests/bench/stage.h"

namespace lapwright::bench {

/// Runs in a process of its own, Lapwright first, so that its peak memory is its own.
[[nodiscard]] RunResult run_experiment(const Options& options, const simulated::EngineDescription& engine,
                                       std::uint64_t seed);

}  // namespace lapwright::bench
