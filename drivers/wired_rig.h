// A rig on real wires: a command station, gates, and the trackside board where there is one, as one.
#pragma once

#include "drivers/edge_source.h"
#include "drivers/safety/guarded_rig.h"
#include "drivers/station.h"
#include "drivers/trackside/board.h"

namespace lapwright {

class WiredRig final : public Rig, public TrackPower {
 public:
  /// All outlive it. @param board  null: neither relay nor current sensor; the station alone switches power
  WiredRig(Station& station, EdgeSource& gates, trackside::Board* board)
      : station_(station), gates_(gates), board_(board) {}
  /// Both outlive it. Without them there are no routes.
  void use_routes(const TurnoutRoutes& routes, Clock& clock) {
    routes_ = &routes;
    clock_ = &clock;
  }

  boost::asio::awaitable<void> drive(ThrottleCommand command) override { return station_.drive(command); }
  boost::asio::awaitable<void> halt() override { return station_.halt(); }
  boost::asio::awaitable<CvWriteReply> write_cv(int cv, std::uint8_t value) override {
    return station_.write_cv(cv, value);
  }
  boost::asio::awaitable<CvWriteReply> write_cv_bit(int cv, int bit, bool value) override {
    return station_.write_cv_bit(cv, bit, value);
  }
  boost::asio::awaitable<std::optional<std::uint8_t>> read_cv(int cv) override { return station_.read_cv(cv); }
  boost::asio::awaitable<std::optional<GateEdge>> next_edge(Instant deadline) override {
    return gates_.next_edge(deadline);
  }
  boost::asio::awaitable<void> set_route(int route) override;
  [[nodiscard]] std::optional<double> track_current_mA() const override {
    return board_ != nullptr ? board_->track_current_mA() : std::nullopt;
  }
  /// On: the station first, the relay last. Off: the relay first; one of the two is enough to make the track dead.
  /// @throws RigFault  on: either failed; off: neither is known to be off
  boost::asio::awaitable<void> set_power(bool on) override;
  void send_halt() override { station_.send_halt(); }
  void cut() override;
  void vouch() override {
    if (board_ != nullptr) board_->vouch();
  }
  [[nodiscard]] std::optional<Stop> lost() const override;
  [[nodiscard]] bool tells() const override { return board_ != nullptr || station_.tells_power(); }
  [[nodiscard]] std::optional<double> left_s() const override {
    return board_ != nullptr ? board_->left_s() : std::nullopt;
  }

 private:
  boost::asio::awaitable<void> switch_off();

  Station& station_;
  EdgeSource& gates_;
  trackside::Board* board_;
  const TurnoutRoutes* routes_ = nullptr;
  Clock* clock_ = nullptr;
};

}  // namespace lapwright
