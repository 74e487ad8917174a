// The one gate in front of the hardware: whatever a procedure asks for passes it, and it alone makes the track dead.
#pragma once

#include <deque>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "drivers/bell.h"
#include "drivers/safety/guard_limits.h"
#include "drivers/safety/stop_reason.h"
#include "drivers/safety/track_power.h"
#include "tuning/rig.h"

namespace lapwright {

/// One job's rig. A stop latches with its first reason: operations throw RigFault from then on, the engine is halted
/// and, as the reason demands, the track made dead. A CV that is not allowed is vetoed, and a turnout under an engine.
class GuardedRig final : public Rig {
 public:
  GuardedRig(Rig& rig, TrackPower& power, Clock& clock, GuardLimits limits);

  /// Makes the track live, if the current sensor reads and says that it is dead. @throws RigFault  it stays dead
  boost::asio::awaitable<void> power_up();
  /// To be spawned beside the procedure: sees current, edges and time before it does, and carries out stops. Ends once
  /// the track is dead, or when cutting it failed ten times.
  boost::asio::awaitable<void> watch();
  /// Latches, and sends the emergency stop; after a short circuit power goes off with it, otherwise 20 ms later, so
  /// that engines with a buffer of their own hear the stop. `watch` does the rest, or `make_safe`.
  void stop(Stop stop);
  /// Halts the engine and lets nobody drive it again; CVs can still be written back. Never throws.
  boost::asio::awaitable<void> park();
  /// Halts, then switches track power off. Can be called again and again. Never throws.
  boost::asio::awaitable<void> make_safe();

  [[nodiscard]] const std::optional<Stop>& stopped() const { return stop_; }
  [[nodiscard]] bool safe() const { return safe_; }
  [[nodiscard]] bool seen_safe() const { return safe_ && power_.tells(); }
  [[nodiscard]] bool awake() const;  ///< false: it hangs, and what it should see goes unseen
  [[nodiscard]] bool has_current_sensor() const { return has_current_sensor_; }
  [[nodiscard]] std::string place() const { return motion_.place(); }                  ///< by the last gate
  [[nodiscard]] double running_s() const { return running_.running_s(clock_.now()); }  ///< of the engine, in this job
  [[nodiscard]] double tired_s() const { return running_.tired_s(clock_.now()); }      ///< of running on end
  /// What went wrong while stopping, for people: "track power could not be switched off: …".
  [[nodiscard]] const std::vector<std::string>& troubles() const { return troubles_; }

  boost::asio::awaitable<void> drive(ThrottleCommand command) override;
  boost::asio::awaitable<void> halt() override;
  boost::asio::awaitable<CvWriteReply> write_cv(int cv, std::uint8_t value) override;
  boost::asio::awaitable<CvWriteReply> write_cv_bit(int cv, int bit, bool value) override;
  boost::asio::awaitable<std::optional<std::uint8_t>> read_cv(int cv) override;
  boost::asio::awaitable<void> set_route(int route) override;
  boost::asio::awaitable<std::optional<GateEdge>> next_edge(Instant deadline) override;
  [[nodiscard]] double rest_due_s() override { return running_.rest_due_s(clock_.now()); }
  [[nodiscard]] std::optional<double> track_current_mA() const override { return rig_.track_current_mA(); }

 private:
  void check(StopAction barrier) const;
  [[nodiscard]] bool at_work() const { return powered_ && !closed_; }
  void check_write(int cv);
  void check_arrived() const;
  void lose(const std::string& why);
  void look();
  void look_at_current();
  void look_at_host();
  void hear(const GateEdge& edge);
  void heed(std::optional<Stop> found);
  boost::asio::awaitable<void> carry_out();
  boost::asio::awaitable<void> look_out();
  boost::asio::awaitable<void> listen();
  boost::asio::awaitable<void> prove_sensor();
  boost::asio::awaitable<void> cut();
  boost::asio::awaitable<void> make_rest();
  [[nodiscard]] Evidence gathered() const;
  boost::asio::awaitable<void> try_halt();
  boost::asio::awaitable<void> try_power_off();
  boost::asio::awaitable<void> see_it_dead();

  Rig& rig_;
  TrackPower& power_;
  Clock& clock_;
  GuardLimits limits_;
  CurrentWatch current_;
  MotionWatch motion_;
  RunningWatch running_;
  std::deque<GateEdge> edges_;  ///< that the procedure has not fetched
  Bell bell_;                   ///< rung by edges and stops
  std::map<int, int> writes_;
  std::optional<Stop> stop_;
  std::vector<std::string> troubles_;
  Instant current_read_{}, look_due_{}, closed_at_{}, dead_at_{}, looked_;
  Duration slept_;                        ///< the machine, up to the last look
  StopAction action_ = StopAction::none;  ///< the most severe one that was demanded
  int at_it_ = 0;                         ///< so many are making it safe just now
  bool has_current_sensor_ = false, powered_ = false, parked_ = false, rests_ = false;  ///< rests: nobody saw to it
  bool closed_ = false, cut_ = false, safe_ = false, watched_ = false;  ///< see `make_safe`, `stop`, `watch`
};

}  // namespace lapwright
