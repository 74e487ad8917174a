// A rig and its track power in one that notes what reaches it, for tests of the guard.
#pragma once

#include <deque>
#include <optional>
#include <stdexcept>
#include <string>
#include <vector>

#include "drivers/safety/track_power.h"
#include "tuning/rig.h"
#include "tuning/rig_fault.h"

namespace lapwright {

namespace asio = boost::asio;

class NotingRig final : public Rig, public TrackPower {
 public:
  explicit NotingRig(Clock& clock) : clock_(clock) {}
  asio::awaitable<void> drive(ThrottleCommand command) override {
    return note("drive " + std::to_string(command.step));
  }
  asio::awaitable<void> halt() override {
    if (silent_s > 0) co_await clock_.sleep_for(seconds(silent_s));
    calls.push_back("halt");
    if (mute) throw RigFault("station does not answer");
    co_return;
  }
  asio::awaitable<CvWriteReply> write_cv(int cv, std::uint8_t value) override {
    if (write_s > 0) co_await clock_.sleep_for(seconds(write_s));
    calls.push_back("CV" + std::to_string(cv) + "=" + std::to_string(value));
    co_return CvWriteReply::silent;
  }
  asio::awaitable<CvWriteReply> write_cv_bit(int cv, int, bool) override {
    calls.push_back("bit of CV" + std::to_string(cv));
    co_return CvWriteReply::silent;
  }
  asio::awaitable<std::optional<std::uint8_t>> read_cv(int) override { co_return std::nullopt; }
  asio::awaitable<void> set_route(int route) override { return note("route " + std::to_string(route)); }
  asio::awaitable<std::optional<GateEdge>> next_edge(Instant deadline) override {
    if (!deaf.empty()) throw RigFault(deaf);
    if (to_come.empty() || to_come.front().heard > deadline) {
      co_await clock_.sleep_until(deadline);
      co_return std::nullopt;
    }
    const GateEdge first = to_come.front();
    co_await clock_.sleep_until(first.heard);
    to_come.pop_front();
    co_return first;
  }
  [[nodiscard]] std::optional<double> track_current_mA() const override { return current_mA; }
  asio::awaitable<void> set_power(bool on) override {
    calls.push_back(on ? "on" : "off");
    if (!on) fall();
    co_return;
  }

  void send_halt() override { calls.emplace_back("send halt"); }
  void cut() override {
    calls.emplace_back("cut");
    fall();
    cut_at = clock_.now();
  }
  void vouch() override { ++vouched; }
  [[nodiscard]] std::optional<Stop> lost() const override {
    if (broken) throw std::logic_error("a fault of the program");
    return gone;
  }
  [[nodiscard]] bool tells() const override { return !silent; }
  [[nodiscard]] std::optional<double> left_s() const override {
    return opens_at ? std::optional(in_seconds(*opens_at - clock_.now())) : std::nullopt;
  }

  std::vector<std::string> calls;
  std::optional<double> current_mA;
  std::deque<GateEdge> to_come;
  bool welded = false;                ///< the current does not fall with the power
  bool silent = false;                ///< nobody tells whether power is off
  bool mute = false, broken = false;  ///< the station does not answer; asked what was lost, it throws
  int vouched = 0;
  std::string deaf;                         ///< why the gates can't be heard
  std::optional<Stop> gone;                 ///< why the engine can't be commanded any more
  double write_s = 0;                       ///< that a CV write takes
  double silent_s = 0;                      ///< until the station confirms a halt
  std::optional<Instant> cut_at, opens_at;  ///< opens: by itself

 private:
  asio::awaitable<void> note(std::string call) {
    if (mute) throw RigFault("station does not answer");
    calls.push_back(std::move(call));
    co_return;
  }
  void fall() {
    if (current_mA && !welded) current_mA = 0;
  }
  Clock& clock_;
};

}  // namespace lapwright
