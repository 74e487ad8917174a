// The way between a staging track and the loop, under a guard of its own: before an engine's work, and after it.
#pragma once

#include <exception>
#include <optional>
#include <string>
#include <vector>

#include "daemon/engine_turn.h"
#include "tuning/staging_run.h"

namespace lapwright {

/// How long a way home may take: kept from every cap on running, and of the allowed hours. Measured in tests/yard.
inline constexpr double way_home_s = 600;

enum class StagingLeg : std::uint8_t { out, home };

struct StagingEnd {
  StagingRun run;
  std::optional<Stop> stop;           ///< why the guard stopped it
  bool broken_off = false;            ///< by a person or a signal
  bool left_dead = true;              ///< power was seen to be off at its end
  std::vector<std::string> troubles;  ///< of making it dead
  std::exception_ptr fault;           ///< of the program itself
};

/// The loop must be free, or the engine on it. An engine of which nobody knows where it is has tripped. Writes no CV.
/// @param job  with its place; an engine whose decoder may have been reset is called at the factory's address as well
/// @throws RigFault  it can't be taken
boost::asio::awaitable<StagingEnd> run_staging(const Job& job, StagingLeg leg, TurnMeans means);

/// As the result of the job that it did not come to.
[[nodiscard]] JobResult not_come_out(const Job& job, const StagingEnd& end);

}  // namespace lapwright
