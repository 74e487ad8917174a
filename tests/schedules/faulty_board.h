// The trackside board before the simulated railway, with its faults, and the host's driver of it as far as it matters.
#pragma once

#include <array>
#include <deque>
#include <string>

#include "drivers/simulated/random.h"
#include "drivers/simulated/simulated_rig.h"
#include "tests/schedules/asked.h"
#include "tests/schedules/feed.h"
#include "tests/schedules/host.h"
#include "tests/schedules/troubles.h"

namespace lapwright::schedules {

/// Spawn `pass_edges`, `chatter` and, on the host's side, `keep_alive`; all end with the simulated rig or by `stop`.
class FaultyBoard {
 public:
  FaultyBoard(simulated::SimulatedRig& rig, Feed& feed, VirtualClock& clock, Host& host, const Troubles& troubles,
              const Asked& asked, std::uint64_t seed)
      : rig_(rig), feed_(feed), clock_(clock), host_(host), troubles_(troubles), asked_(asked), luck_(seed) {}

  boost::asio::awaitable<void> pass_edges();
  boost::asio::awaitable<void> chatter();
  boost::asio::awaitable<void> keep_alive();
  void stop();

  // The host's driver.
  boost::asio::awaitable<std::optional<GateEdge>> next_edge(Instant deadline);
  [[nodiscard]] std::optional<double> current_mA() const;
  boost::asio::awaitable<void> set_power(bool on);
  void cut();
  void vouch() { vouched_ = clock_.now(); }
  [[nodiscard]] std::string trouble() const;

  /// Its beam has been clear for a while, as far as the host was told.
  [[nodiscard]] bool gate_is_clear(int gate) const;
  /// Something comes before a gate or leaves it.
  void edge(int gate, bool blocked);
  void begins(const Fault& fault);

  [[nodiscard]] double true_current_mA() const;
  [[nodiscard]] Instant last_edge() const { return last_edge_; }  ///< that the host was told of

 private:
  void give(GateEdge edge);
  [[nodiscard]] bool hears() const { return !troubles_.on(Kind::board_silent) && !troubles_.on(Kind::board_lost); }
  [[nodiscard]] bool speaks() const { return hears() && !troubles_.on(Kind::board_mute); }

  simulated::SimulatedRig& rig_;
  Feed& feed_;
  VirtualClock& clock_;
  Host& host_;
  const Troubles& troubles_;
  const Asked& asked_;
  simulated::Random luck_;
  Bell bell_;  ///< rung by edges and by what the host's driver notices
  std::deque<GateEdge> edges_;
  std::array<std::optional<GateEdge>, 2> last_of_gate_;
  Instant last_edge_{};
  Instant silent_since_{};
  Instant vouched_{};
  int unanswered_ = 0;
  bool leasing_ = false;
  std::string lost_;  ///< latched until power is switched on
  bool stopped_ = false;
};

}  // namespace lapwright::schedules
