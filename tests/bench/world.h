// One engine on one simulated railway with a clock of its own: a procedure runs in it from the first packet to its end.
#pragma once

#include <boost/asio/awaitable.hpp>
#include <boost/asio/io_context.hpp>

#include "drivers/simulated/simulated_rig.h"
#include "drivers/virtual_clock.h"
#include "tests/bench/stage.h"

namespace lapwright::bench {

/// Of track time, for one engine of any strategy but those that work by hand.
inline constexpr double limit_s = 24 * 3600;
inline constexpr double patient_limit_s = 200 * 3600;  ///< for those

class World {
 public:
  explicit World(const Stage& stage);
  /// Runs the procedure to its end and stops the railway; once. @throws what the procedure throws, and
  /// std::runtime_error when it is not through within `limit_s` of track time
  void run(boost::asio::awaitable<void> procedure, double limit_s);

  [[nodiscard]] simulated::SimulatedRig& rig() { return rig_; }
  [[nodiscard]] VirtualClock& clock() { return clock_; }
  [[nodiscard]] double now_s() const { return in_seconds(clock_.now().time_since_epoch()); }

 private:
  VirtualClock clock_;
  boost::asio::io_context context_{1};
  simulated::SimulatedRig rig_;
};

}  // namespace lapwright::bench
