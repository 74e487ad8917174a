#include "tests/firmware/board_line.h"

#include <cstdio>
#include <sstream>
#include <stdexcept>

namespace lapwright::firmware {

std::uint16_t crc_of(std::string_view text) {
  unsigned crc = 0xFFFF;
  for (const char character : text) {
    for (int bit = 7; bit >= 0; --bit) {
      const bool in = ((static_cast<unsigned char>(character) >> bit) & 1) != 0;
      const bool out = (crc & 0x8000U) != 0;
      crc = (crc << 1) & 0xFFFFU;
      if (in != out) crc ^= 0x1021U;
    }
  }
  return static_cast<std::uint16_t>(crc);
}

std::string with_crc(const std::string& text) {
  char end[8];
  std::snprintf(end, sizeof end, "*%04X\n", static_cast<unsigned>(crc_of(text)));
  return text + end;
}

std::uint32_t BoardLine::hex(std::size_t field) const {
  return static_cast<std::uint32_t>(std::stoul(fields.at(field), nullptr, 16));
}

int BoardLine::number(std::size_t field) const { return std::stoi(fields.at(field)); }

std::optional<BoardLine> read_line(const std::string& text) {
  if (text.size() < 10 || text.size() > 80 || text.back() != '\n') return std::nullopt;
  const std::string body = text.substr(0, text.size() - 6);
  if (with_crc(body) != text || body[1] != ' ' || body[0] < 'a' || body[0] > 'z') return std::nullopt;
  if (body.find_first_not_of("0123456789ABCDEF", 2) < 4) return std::nullopt;
  BoardLine line;
  line.kind = body[0];
  line.sequence = std::stoi(body.substr(2, 2), nullptr, 16);
  line.text = body;
  if (body.size() > 4) {
    if (body[4] != ' ' || body.back() == ' ' || body.find("  ") != std::string::npos) return std::nullopt;
    std::istringstream words(body.substr(5));
    for (std::string word; words >> word;) line.fields.push_back(word);
  }
  return line;
}

State state_of(const BoardLine& line) {
  if (line.kind != 's' || line.fields.size() != 10) throw std::runtime_error("not a state line: " + line.text);
  State state;
  state.stamp_us = line.hex(0);
  state.current_mA = line.number(1);
  state.peak_mA = line.number(2);
  state.closed = line.fields[3] == "1";
  state.fault = line.fields[4].at(0);
  state.blocked = static_cast<std::uint8_t>(line.hex(5));
  state.lost = static_cast<std::uint16_t>(line.hex(6));
  state.lease_ms = line.number(7);
  state.energised_s = line.number(8);
  state.bad = line.number(9);
  return state;
}

}  // namespace lapwright::firmware
