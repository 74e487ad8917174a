// Measuring a few steps of an engine without writing anything into its decoder: momentum stays as it is.
#pragma once

#include <boost/asio/awaitable.hpp>
#include <optional>
#include <set>
#include <vector>

#include "tuning/tune.h"

namespace lapwright {

/// Seconds from standing to full speed and back (S-9.2.2: CV3, CV4 × 0.896 s, whatever the number of steps).
inline constexpr double longest_engine_mm = 300;
inline constexpr double settling_s = 0.8;  ///< at an even speed, before it is timed
inline constexpr double turn_lag_s = 0.5;

struct Momentum {
  double gather_s = 0;
  double brake_s = 0;
};

struct InspectionOrder {
  StepMode mode = StepMode::steps28;
  std::vector<StepAim> steps;  ///< to be measured, rising
  double top_mm_s = 0;         ///< of the target sheet's top step
  double top_tolerance_mm_s = 0;
  TestTrack track;
  Trap trap;                    ///< two gates, or laps
  double clear_below_mm = 1e9;  ///< shuttle: see TuneOrder
  double clear_above_mm = 1e9;
  Momentum momentum;
  std::optional<ResponseScales> known;    ///< how unevenly the engine runs, from its latest tune
  std::optional<EarlierSession> earlier;  ///< that tune, where the decoder is thought to be as it left it
  /// Steps that tune had not brought into tolerance: of them it is asked whether they run as it left them.
  std::set<int> as_before_counts;
  double confidence = 0.95;
  double budget_s = 3600;       ///< of track time
  bool all_or_nothing = false;  ///< it ends with the first step that is surely not as it should be
};

/// Whether there is room beyond a shuttle's trap for the engine to gather speed and brake by its momentum at that step.
[[nodiscard]] bool has_room(const InspectionOrder& order, const StepAim& aim);

/// What a tune gives, as far as it is measured: two cells for each step, proved (in tolerance), failed (out of it),
/// marginal (it can't be told) or not measured.
/// From an engine that stands anywhere on a loop, or before the first gate of a shuttle, to one that stands again.
/// @throws RigFault
boost::asio::awaitable<TuneResult> inspect(Rig& rig, Clock& clock, const InspectionOrder& order,
                                           TuneObserver& observer);

}  // namespace lapwright
