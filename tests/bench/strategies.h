// The ways to tune that the bench compares; each runs in a world of its own and leaves its work in the decoder.
#pragma once

#include "tests/bench/outcome.h"
#include "tests/bench/proving.h"
#include "tests/bench/world.h"

namespace lapwright::bench {

/// The tune as it ships, from an unknown decoder to a proved table, momentum put back.
[[nodiscard]] Outcome run_lapwright(World& world, const Stage& stage);

/// The lower bound: the right table is in the decoder already; only the proving passes are made.
[[nodiscard]] Outcome run_oracle(World& world, const Stage& stage, const ProvingPlan& plan);

/// The practice by hand (common practice, no source): ends first, then each step alone, proportional correction, laps.
[[nodiscard]] Outcome run_by_hand(World& world, const Stage& stage);

/// Each step alone, bisected between its neighbours, laps.
[[nodiscard]] Outcome run_bisection(World& world, const Stage& stage);

}  // namespace lapwright::bench
