// One scripted rig for tests of the tuning core: an ideal engine on an ideal track, and a decoder that does as told.
#pragma once

#include <deque>
#include <functional>
#include <map>
#include <vector>

#include "tuning/rig.h"

namespace lapwright {

/// The engine takes up a new speed after `lag_s`, without inertia. Gates see a closed body of `length_mm`.
class FakeRig : public Rig {
 public:
  explicit FakeRig(Clock& clock) : clock_(clock), moved_at_(clock.now()) {}

  // The script.
  std::vector<double> gates_mm = {1000, 1150};
  double length_mm = 180;
  double loop_mm = 0;                                           ///< 0: a straight track
  double lag_s = 0;                                             ///< from a command to the new speed
  std::function<double(ThrottleCommand)> speed_mm_s = {};       ///< unsigned
  std::function<bool(const GateEdge&)> loses = {};              ///< edges that never arrive
  std::function<CvWriteReply(int, std::uint8_t)> answers = {};  ///< to a write; silent where empty
  double write_s = 0;                                           ///< that a CV write takes

  // What happened.
  std::vector<ThrottleCommand> commands;
  std::vector<std::pair<int, int>> writes;  ///< CV and value, in order, those that the decoder refused included
  std::map<int, std::uint8_t> cvs;
  double lowest_mm = 1e9;  ///< of the engine's forward end
  double highest_mm = -1e9;

  void put_at(double forward_end_mm);
  [[nodiscard]] double position_mm();

  boost::asio::awaitable<void> drive(ThrottleCommand command) override;
  boost::asio::awaitable<void> halt() override;
  boost::asio::awaitable<CvWriteReply> write_cv(int cv, std::uint8_t value) override;
  boost::asio::awaitable<CvWriteReply> write_cv_bit(int cv, int bit, bool value) override;
  boost::asio::awaitable<std::optional<std::uint8_t>> read_cv(int cv) override;
  boost::asio::awaitable<std::optional<GateEdge>> next_edge(Instant deadline) override;
  [[nodiscard]] std::optional<double> track_current_mA() const override { return std::nullopt; }

 private:
  struct Change {
    Instant at;
    double velocity_mm_s;
  };
  struct Crossing {
    double distance_mm;
    GateEdge edge;
  };
  void advance_to(Instant now);
  void glide_to(Instant when);
  [[nodiscard]] std::optional<Crossing> next_crossing() const;

  Clock& clock_;
  Instant moved_at_;
  double at_mm_ = 0;  ///< of the forward end, counted on over laps
  double velocity_mm_s_ = 0;
  std::deque<Change> changes_;
  std::deque<GateEdge> edges_;
};

}  // namespace lapwright
