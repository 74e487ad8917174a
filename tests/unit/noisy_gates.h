// An ideal engine past gates that flash, flicker with the room's light and chatter: made for counting wrong speeds.
#pragma once

#include <array>
#include <vector>

#include "drivers/simulated/random.h"
#include "tuning/rig.h"

namespace lapwright {

/// Takes up a commanded speed at once, on a straight track without end. A gate tells what its beam sees, and while it
/// is disturbed whatever it likes: a flash of under a millisecond, the 100 Hz of a lamp on the mains, a slow flicker.
/// Invented data; that sensors do all three is common practice, no source.
class NoisyGates final : public Rig {
 public:
  NoisyGates(Clock& clock, std::uint64_t seed);

  /// Parts of the engine behind its forward end, mm: from, to.
  std::vector<std::pair<double, double>> parts_mm = {{0, 180}};
  double true_share = 1;    ///< of what the step is thought to run at
  double quiet_mean_s = 0;  ///< between two disturbances of a gate; 0: there are none
  std::uint64_t edges = 0;  ///< given
  std::uint64_t disturbances = 0;

  void put_at(double forward_end_mm) { at_mm_ = forward_end_mm; }

  boost::asio::awaitable<void> drive(ThrottleCommand command) override;
  boost::asio::awaitable<void> halt() override { co_return; }
  boost::asio::awaitable<CvWriteReply> write_cv(int, std::uint8_t) override { co_return CvWriteReply::silent; }
  boost::asio::awaitable<CvWriteReply> write_cv_bit(int, int, bool) override { co_return CvWriteReply::silent; }
  boost::asio::awaitable<std::optional<std::uint8_t>> read_cv(int) override { co_return std::nullopt; }
  boost::asio::awaitable<std::optional<GateEdge>> next_edge(Instant deadline) override;
  [[nodiscard]] std::optional<double> track_current_mA() const override { return std::nullopt; }

  static constexpr std::array<double, 2> gates_mm = {1000, 1150};
  static constexpr double per_step_mm_s = 5;

 private:
  struct Beam {
    bool told = false;  ///< blocked, as the gate said last
    bool disturbed = false;
    bool tells = false;     ///< blocked, while it is disturbed
    Instant next_toggle{};  ///< or the next disturbance
    Instant calm_at{};
    Duration least{}, most{};  ///< of one state
  };
  void move_to(Instant now);
  void toggle(Beam& beam, bool seen);
  [[nodiscard]] bool sees(std::size_t gate) const;
  [[nodiscard]] Instant next_crossing() const;

  Clock& clock_;
  simulated::Random luck_;
  std::array<Beam, 2> beams_;
  Instant moved_at_;
  double at_mm_ = 0;
  double velocity_mm_s_ = 0;
};

}  // namespace lapwright
