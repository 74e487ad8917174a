// The simulated trackside board's end of the line: speaks the board's protocol as the firmware does.
#pragma once

#include <cstdint>
#include <functional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "tuning/clock.h"

namespace lapwright::simulated {

/// What the board says of itself, and its limits; the settings are told in the protocol's order.
struct BoardIdentity {
  std::string serial = "QT-0001";
  std::string firmware = "sim";
  std::vector<std::pair<std::string, std::string>> settings;  ///< names and values as on the line
  double trip_mA = 2000;
  Duration lease = std::chrono::milliseconds(400);
  Duration energised = std::chrono::seconds(3600);
};

/// Shares nothing with the host's driver but the form of a line. No I/O: bytes go to `say`, the relay to `relay`.
class BoardEnd {
 public:
  using Say = std::function<void(std::string_view)>;
  using Relay = std::function<void(bool closed)>;
  BoardEnd(BoardIdentity identity, Clock& clock, Say say, Relay relay);

  /// A reset for the reason `cause` (p, e, b or w): relay open, a new epoch, the hello.
  void boot(char cause);
  void hear(std::string_view bytes);
  /// @param gate  1 … 8  @param age  how long ago the beam changed
  void edge(int gate, bool blocked, Duration age);
  /// One sample of the track's current.
  void sample(double current_mA);
  void press_button(bool pressed);
  /// What time brings: lease, longest time, the state line every 100 ms. Call at least every 10 ms.
  void tick();
  [[nodiscard]] bool relay_closed() const { return closed_; }
  [[nodiscard]] int epoch() const { return epoch_; }

 private:
  void hear_line(std::string_view text);
  void obey(char kind, std::string_view argument, std::uint8_t sequence);
  [[nodiscard]] std::string_view close();
  [[nodiscard]] std::string_view clear();
  void trip(char fault);
  void switch_relay(bool closed);
  void say(char kind, const std::string& fields);
  void say_hello();
  void say_state();
  [[nodiscard]] std::uint32_t stamp(Instant at) const;

  BoardIdentity identity_;
  Clock& clock_;
  Say say_;
  Relay relay_;
  int epoch_ = 0;
  char cause_ = 'p';  ///< of the last boot
  std::uint8_t sequence_ = 0;
  std::string unfinished_;
  bool overrun_ = false;
  int bad_lines_ = 0;
  Instant booted_{};
  Instant lease_until_{};
  Instant closed_since_{};
  Instant state_due_{};
  bool closed_ = false;
  char fault_ = '-';
  bool button_ = false;
  unsigned blocked_ = 0;
  double current_mA_ = 0, sum_mA_ = 0, peak_mA_ = 0;
  int samples_ = 0;
  int samples_over_ = 0;
};

}  // namespace lapwright::simulated
