// What the tests make a host do: close the relay, keep the lease, count.
#pragma once

#include "tests/firmware/virtual_board.h"

namespace lapwright::firmware {

inline const std::string release_elf = LAPWRIGHT_FIRMWARE_FOLDER "/firmware.elf";
/// With the X line, trip_us 2000, energised_s 3, and a counter that wraps 40 s after the boot.
inline const std::string test_elf = LAPWRIGHT_FIRMWARE_FOLDER "/firmware_test.elf";

/// After the hello, its settings and the first state line.
inline void boot(VirtualBoard& board) { board.run_us(150'000); }

/// Whether the relay is closed now.
inline bool energise(VirtualBoard& board) {
  return board.ask('L') == "ok" && board.ask('P', "1") == "ok" && board.relay_closed();
}

/// Renews the lease every 100 ms for so long.
inline void run_leased_ms(VirtualBoard& board, int span_ms) {
  for (int passed_ms = 0; passed_ms < span_ms; passed_ms += 100) {
    board.send_line('L');
    board.run_us(100'000);
  }
}

inline double ms_between(std::uint64_t from_cycle, std::uint64_t to_cycle) {
  return (static_cast<double>(to_cycle) - static_cast<double>(from_cycle)) / 16e3;
}

/// A stamp less what the board's counter was at this cycle, in microseconds; begins_us is the counter's first value.
inline double stamp_error_us(const VirtualBoard& board, std::uint32_t stamp_us, std::uint64_t cycle,
                             std::uint32_t begins_us = 0) {
  const auto since_start = cycle - board.counter_start_cycle;
  const auto whole_us = begins_us + static_cast<std::uint32_t>(since_start / cycles_per_us);
  const double rest_us = static_cast<double>(since_start % cycles_per_us) / static_cast<double>(cycles_per_us);
  return static_cast<double>(static_cast<std::int32_t>(stamp_us - whole_us)) - rest_us;
}

}  // namespace lapwright::firmware
