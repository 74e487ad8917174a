// One stretch of time in which the track lives under a guard, and the way out of it that holds whatever its end is.
#pragma once

#include <boost/asio/awaitable.hpp>
#include <exception>

#include "daemon/job_keeper.h"
#include "daemon/shift_observer.h"
#include "daemon/stop_button.h"

namespace lapwright {

/// What it goes on with; all outlive it.
struct SessionMeans {
  GuardedRig& guard;
  Clock& clock;
  StopButton& button;
  ShiftObserver& observer;
  JobKeeper& keeper;
};

struct SessionEnd {
  std::exception_ptr fault;  ///< of the program itself
  bool broken_off = false;   ///< by a person or a signal
};

/// Does `work`, which is to power up first, with guard and keeper beside it; parks the engine; does `settle` if the
/// track still lives; and makes it dead. The guard knows how it ended. Throws nothing.
boost::asio::awaitable<SessionEnd> run_guarded(SessionMeans means, boost::asio::awaitable<void> work,
                                               boost::asio::awaitable<void> settle);

}  // namespace lapwright
