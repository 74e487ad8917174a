// The rig before the simulated railway, with its faults: what a guard holds in a schedule, as if it were on wires.
#pragma once

#include "daemon/test_stand.h"
#include "tests/schedules/faulty_board.h"

namespace lapwright::schedules {

class FaultyRig final : public Rig, public TrackPower, public Placement {
 public:
  FaultyRig(simulated::SimulatedRig& railway, Feed& feed, FaultyBoard& board, VirtualClock& clock, Host& host,
            const Troubles& troubles, Asked& asked, bool decoder_answers)
      : railway_(railway),
        feed_(feed),
        board_(board),
        clock_(clock),
        host_(host),
        troubles_(troubles),
        asked_(asked),
        decoder_answers_(decoder_answers) {}

  void begins(const Fault& fault);
  void ends(const Fault& fault);

  boost::asio::awaitable<void> drive(ThrottleCommand command) override;
  boost::asio::awaitable<void> halt() override;
  boost::asio::awaitable<CvWriteReply> write_cv(int cv, std::uint8_t value) override;
  boost::asio::awaitable<CvWriteReply> write_cv_bit(int cv, int bit, bool value) override;
  boost::asio::awaitable<std::optional<std::uint8_t>> read_cv(int cv) override;
  boost::asio::awaitable<std::optional<GateEdge>> next_edge(Instant deadline) override {
    return board_.next_edge(deadline);
  }
  [[nodiscard]] std::optional<double> track_current_mA() const override { return board_.current_mA(); }

  boost::asio::awaitable<void> set_power(bool on) override;
  void send_halt() override;
  void cut() override;
  void vouch() override { board_.vouch(); }
  [[nodiscard]] std::optional<Stop> lost() const override;

  [[nodiscard]] Rig& rig() override { return *this; }
  [[nodiscard]] TrackPower& power() override { return *this; }
  boost::asio::awaitable<void> leave() override { co_return; }
  [[nodiscard]] std::vector<std::string> unprotected() const override { return {}; }
  [[nodiscard]] std::optional<std::uint64_t> seed() const override { return std::nullopt; }

 private:
  boost::asio::awaitable<void> reach_station();
  boost::asio::awaitable<void> hear_station();
  boost::asio::awaitable<void> switch_station(bool on);
  [[nodiscard]] bool station_hears() const {
    return !troubles_.on(Kind::station_silent) && !troubles_.on(Kind::station_lost);
  }
  /// @return whether the write goes to the decoder at all
  bool note_write(int cv);
  void note_miss(int cv);
  [[nodiscard]] CvWriteReply missed() const { return decoder_answers_ ? CvWriteReply::refused : CvWriteReply::silent; }

  simulated::SimulatedRig& railway_;
  Feed& feed_;
  FaultyBoard& board_;
  VirtualClock& clock_;
  Host& host_;
  const Troubles& troubles_;
  Asked& asked_;
  bool decoder_answers_;
  Instant silent_since_{};
  std::string lost_;  ///< why the station can't be commanded any more, until power is switched on
};

}  // namespace lapwright::schedules
