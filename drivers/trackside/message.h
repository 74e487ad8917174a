// What the trackside board says, line by line, as typed values (PROTOCOL.md).
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <variant>

#include "drivers/safety/stop_reason.h"
#include "drivers/trackside/line.h"

namespace lapwright::trackside {

struct Hello {
  int version = 0;  ///< of the protocol
  std::string firmware;
  std::string serial;          ///< the board's own number
  std::uint16_t settings = 0;  ///< their check sum
  std::uint16_t epoch = 0;     ///< count of boots
  char cause = '?';            ///< of the boot: p power, e reset pin, b brown-out, w watchdog
};

struct Setting {
  std::string name;
  std::string value;
};

struct Edge {
  int gate = 0;  ///< 1 … 8
  bool blocked = false;
  std::uint32_t stamp_us = 0;
  std::uint16_t lost = 0;  ///< edges lost on the board since its boot
};

struct State {
  std::uint32_t stamp_us = 0;
  int current_mA = 0;  ///< mean since the last state
  int peak_mA = 0;
  bool relay_closed = false;
  char fault = '-';
  std::uint8_t blocked_gates = 0;  ///< bit 0: gate 1
  std::uint16_t lost = 0;
  int lease_ms = 0;
  int energised_s = 0;
  int bad_lines = 0;
};

struct Answer {
  std::uint8_t of = 0;  ///< the host line's sequence number
  std::string result;
  std::uint32_t stamp_us = 0;
};

using Message = std::variant<Hello, Setting, Edge, State, Answer>;

/// Empty: the line says nothing that this version of the protocol knows.
[[nodiscard]] std::optional<Message> understood(const Line& line);

/// A sentence for people: "current above the trip".
[[nodiscard]] std::string describe_fault(char fault);

/// What that fault is to the guard of a running engine.
[[nodiscard]] StopReason stop_reason(char fault);

}  // namespace lapwright::trackside
