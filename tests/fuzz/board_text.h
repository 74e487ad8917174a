// Board lines as fuzz inputs hold them: with `*=` where the check sum belongs.
#pragma once

#include <algorithm>
#include <array>
#include <cstdio>
#include <string>
#include <string_view>

#include "drivers/trackside/crc16.h"

namespace lapwright::fuzz {

/// One line without its LF, with the check sum put in.
inline std::string with_sum(std::string_view line) {
  if (!line.ends_with("*=")) return std::string(line);
  line.remove_suffix(2);
  std::string summed(line);
  summed.erase(std::remove(summed.begin(), summed.end(), '\r'), summed.end());  // they are skipped when read
  std::array<char, 8> tail{};
  std::snprintf(tail.data(), tail.size(), "*%04X", static_cast<unsigned>(trackside::crc16(summed)));
  return std::string(line) + tail.data();
}

inline std::string with_sums(std::string_view bytes) {
  std::string result;
  for (std::size_t end = bytes.find('\n'); end != std::string_view::npos; end = bytes.find('\n')) {
    result += with_sum(bytes.substr(0, end)) + '\n';
    bytes.remove_prefix(end + 1);
  }
  return result + with_sum(bytes);
}

inline bool printable(std::string_view text) {
  return std::all_of(text.begin(), text.end(), [](char byte) { return byte >= 0x20 && byte <= 0x7E; });
}

}  // namespace lapwright::fuzz
