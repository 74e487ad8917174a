// Lines of the trackside protocol as a host writes and reads them, made from PROTOCOL.md alone.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace lapwright::firmware {

/// CRC-16/IBM-3740, bit by bit.
std::uint16_t crc_of(std::string_view text);

/// Adds `*`, CRC and LF.
std::string with_crc(const std::string& text);

/// One line of the board.
struct BoardLine {
  char kind = '?';
  int sequence = 0;
  std::vector<std::string> fields;
  std::uint64_t begun_cycle = 0;  ///< when its first byte was written to the sender
  std::uint64_t ended_cycle = 0;  ///< when its LF was
  std::string text;

  std::uint32_t hex(std::size_t field) const;
  int number(std::size_t field) const;
};

/// Null when it is not as the protocol says, CRC included.
std::optional<BoardLine> read_line(const std::string& text);

struct State {
  std::uint32_t stamp_us = 0;
  int current_mA = 0;
  int peak_mA = 0;
  bool closed = false;
  char fault = '?';
  std::uint8_t blocked = 0;
  std::uint16_t lost = 0;
  int lease_ms = 0;
  int energised_s = 0;
  int bad = 0;
};
State state_of(const BoardLine& line);

}  // namespace lapwright::firmware
