// The command station: which packet goes onto the track next, so that the engine keeps its speed and CVs get written.
#pragma once

#include <cstdint>
#include <optional>

#include "drivers/dcc/address.h"
#include "drivers/dcc/packet.h"
#include "tuning/throttle.h"

namespace lapwright::simulated {

/// What the decoder said to a CV access; empty: nothing.
struct CvAnswer {
  std::optional<std::uint8_t> value;
};

/// One engine's packets, one after another. Time enters with `sent`. Rules: S-9.2 §C (an idle packet between two for
/// one decoder), S-9.2.1 §2.3.7.3 (two copies of a write, nothing else for that decoder in between).
class Station {
 public:
  /// @param listens  there is a detector for the decoder's replies (RCN-217): writes are repeated until confirmed
  Station(dcc::VehicleAddress engine, bool listens);

  void drive(ThrottleCommand command);
  void halt();

  [[nodiscard]] bool busy() const { return access_.has_value(); }
  /// Start one CV access; only when not busy, std::logic_error otherwise.
  void write(int cv, std::uint8_t value);
  void write_bit(int cv, int bit, bool value);
  void read(int cv);
  /// The finished access's answer, once.
  [[nodiscard]] std::optional<CvAnswer> take_answer();

  /// The packet to send now.
  [[nodiscard]] dcc::Packet next();
  /// The packet of `next` has left the track at `now_s`, and the decoder answered or not.
  void sent(double now_s, std::optional<std::uint8_t> reply);
  /// Track power failed: what was under way ends without an answer, and the engine is to stand.
  void power_lost();

  [[nodiscard]] ThrottleCommand command() const { return command_; }
  [[nodiscard]] std::uint64_t packets() const { return packets_; }
  [[nodiscard]] std::uint64_t writes() const { return writes_; }

 private:
  struct Access {
    dcc::Packet packet;
    int copies_wanted = 2;
    int copies_sent = 0;
    double limit_s = 0.1;  ///< to wait for an answer after the first copy that counts
    std::optional<double> began_s;
  };
  enum class Sent : std::uint8_t { idle, refresh, access };
  void begin(const Access& access);
  [[nodiscard]] dcc::Packet for_engine(const dcc::Packet& packet, Sent kind);
  [[nodiscard]] dcc::Packet refresh();
  [[nodiscard]] dcc::Packet speed_packet() const;

  [[nodiscard]] bool access_is_due() const;

  dcc::VehicleAddress engine_;
  bool listens_;
  ThrottleCommand command_;
  bool halted_ = false;
  int urgent_copies_ = 0;  ///< of a changed speed, before anything is refreshed in turn
  unsigned turn_ = 0;
  Sent last_ = Sent::idle;
  std::optional<Access> access_;
  std::optional<CvAnswer> answer_;
  std::uint64_t packets_ = 0;
  std::uint64_t writes_ = 0;
};

}  // namespace lapwright::simulated
