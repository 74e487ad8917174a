// One engine's turn on the track, from the moment it is taken to the dead track behind it. A restore may have to look
// for its decoder at two addresses.
#pragma once

#include <functional>
#include <optional>

#include "daemon/job.h"

namespace lapwright {

inline constexpr int factory_address = 3;  ///< short: NMRA S-9.2.2, CV1

/// What a turn works with; all outlive it.
struct TurnMeans {
  TestStand& stand;
  Clock& clock;
  const Calendar& calendar;
  ShiftMemory& memory;
  StopButton& button;
  ShiftObserver& observer;
  const GuardLimits& limits;
  const AllowedHours& hours;
  JobBook& book;
  const KnownEngine& known;
  const std::function<bool()>& goes_on;  ///< false: somebody has taken its turn away
};

struct TurnResult {
  JobResult job;
  bool again = false;  ///< a rule allows another try
};

/// Empty: its turn was taken away before it began. @throws RigFault  it can't be taken
boost::asio::awaitable<std::optional<TurnResult>> take_turn(const Job& job, TurnMeans means);

}  // namespace lapwright
