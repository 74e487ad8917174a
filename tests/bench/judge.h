// Holds what a strategy claims against the truth of the decoder that it left behind.
#pragma once

#include "tests/bench/best_settings.h"
#include "tests/bench/outcome.h"

namespace lapwright::bench {

/// What the judge knows of one engine on its track.
struct Bench {
  const std::vector<StepAim>& aims;
  simulated::Truth& truth;
  const TrueCurve& curve;
  LevelLaw law;
  std::array<bool, cv::table_entries> attainable = {};
};

/// Steps that the best settings bring into tolerance in both directions, by the exact truth of their levels.
[[nodiscard]] std::array<bool, cv::table_entries> attainable_steps(const std::vector<StepAim>& aims,
                                                                   simulated::Truth& truth,
                                                                   const simulated::Decoder& decoder,
                                                                   const BestSettings& best);

/// A copy of the decoder on which nothing but table, trims, CV2 and CV5 decides about the speed.
[[nodiscard]] simulated::Decoder plain(const simulated::Decoder& decoder);
/// Puts settings into a decoder and switches its table on.
void install(simulated::Decoder& decoder, const DriveSettings& settings);

[[nodiscard]] Judged judge(const Bench& bench, const simulated::Decoder& decoder, const Outcome& outcome);

}  // namespace lapwright::bench
