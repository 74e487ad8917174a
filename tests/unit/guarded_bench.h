// A guard before a rig that notes what reaches it, and scripts that ask for things meanwhile.
#pragma once

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/test/unit_test.hpp>
#include <functional>
#include <string>
#include <vector>

#include "drivers/safety/guarded_rig.h"
#include "drivers/virtual_clock.h"
#include "tests/unit/noting_rig.h"

namespace lapwright {

struct GuardedBench {
  VirtualClock clock;
  NotingRig rig{clock};
  GuardLimits limits;

  /// Runs `script` beside the guard's watch until both have ended. @returns the faults that the script met
  template <class Script>
  std::vector<std::string> run(Script script) {
    limits.accept_no_current_sensor = limits.accept_no_current_sensor || !(must_sense || rig.current_mA);
    GuardedRig guard(rig, rig, clock, limits);
    std::vector<std::string> faults;
    asio::io_context context;
    const auto rethrow = [](const std::exception_ptr& failure) {
      if (failure) std::rethrow_exception(failure);
    };
    asio::co_spawn(context, guard.watch(), rethrow);
    asio::co_spawn(context, script(guard, faults), rethrow);
    BOOST_TEST((clock.run(context, seconds(3600)) == VirtualClock::Outcome::finished));
    stop = guard.stopped();
    troubles = guard.troubles();
    return faults;
  }
  std::optional<Stop> stop;
  std::vector<std::string> troubles;
  bool must_sense = false;  ///< also where the rig has no sensor
};

inline asio::awaitable<void> try_write(GuardedRig& guard, std::vector<std::string>& faults, int cv) {
  try {
    co_await guard.write_cv(cv, 1);
  } catch (const RigFault& fault) {
    faults.emplace_back(fault.what());
  }
}

inline asio::awaitable<void> try_drive(GuardedRig& guard, std::vector<std::string>& faults, int step) {
  const ThrottleCommand command{step, Direction::forward, StepMode::steps28};
  try {
    co_await guard.drive(command);
  } catch (const RigFault& fault) {
    faults.emplace_back(fault.what());
  }
}

inline bool has_part(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

}  // namespace lapwright
