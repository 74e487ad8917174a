// Where a run takes place: the simulated railway of a layout, the trap on it, and what an order to tune says.
#pragma once

#include <cstdint>

#include "drivers/simulated/engine_description.h"
#include "drivers/simulated/railway_description.h"
#include "drivers/simulated/truth.h"
#include "tests/bench/options.h"
#include "tuning/tune.h"

namespace lapwright::bench {

struct Stage {
  simulated::EngineDescription engine;
  simulated::RailwayDescription railway;
  Trap trap;
  double clear_below_mm = 1e9;
  double clear_above_mm = 1e9;
  double budget_s = 0;
  double patience = 0;
  std::uint64_t seed = 0;
};

/// The engine is set down cold 400 … 600 mm before the first gate, by the seed.
[[nodiscard]] Stage make_stage(const Options& options, const simulated::EngineDescription& engine, std::uint64_t seed);

/// One scale mile an hour on this engine's rails, in mm/s.
[[nodiscard]] double smph_mm_s(const simulated::EngineDescription& engine);

/// The slow-freight sheet: 1 … 18 smph over 28 steps, tolerance max(0.1 smph, 2 %) (common practice, no source).
[[nodiscard]] std::vector<StepAim> slow_freight(const simulated::EngineDescription& engine);

/// All that the tuner is told: the track, and the CVs that an owner would have in the engine's record. No traits.
[[nodiscard]] TuneOrder make_order(const Stage& stage, const simulated::Decoder& decoder);

/// The piece of track over which truth is defined: between the true places of the trap's gates, or a whole lap.
[[nodiscard]] simulated::Reference reference(const Stage& stage, const simulated::Track& track);

}  // namespace lapwright::bench
