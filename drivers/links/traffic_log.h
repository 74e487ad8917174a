// A recording of the traffic of all links, with time stamps: what a bug report consists of.
#pragma once

#include <filesystem>
#include <fstream>
#include <string>
#include <string_view>

#include "tuning/clock.h"

namespace lapwright {

/// Text, one event a line: seconds since the start, the link's name, a mark, and what belongs to it:
///     12.345678 board < s 1F 0A3B2C1D …\n      bytes that came, in C escapes
///     12.346011 board > L 20*5D21\n            bytes that went
///     13.000000 board + /dev/ttyACM0           opened
///     19.500000 board - hang-up                lost, with the reason
class TrafficLog {
 public:
  /// @throws std::runtime_error  the file can't be written
  TrafficLog(const std::filesystem::path& file, Clock& clock);

  void opened(std::string_view link, std::string_view where) { write(link, '+', where); }
  void lost(std::string_view link, std::string_view why) { write(link, '-', why); }
  void came(std::string_view link, std::string_view bytes) { write(link, '<', bytes); }
  void went(std::string_view link, std::string_view bytes) { write(link, '>', bytes); }

 private:
  void write(std::string_view link, char mark, std::string_view bytes);

  Clock& clock_;
  Instant start_;
  std::ofstream file_;
};

/// Printable text for any bytes: \n, \r, \\ and \xHH.
[[nodiscard]] std::string escaped(std::string_view bytes);
/// The bytes again. @throws std::invalid_argument
[[nodiscard]] std::string unescaped(std::string_view text);

}  // namespace lapwright
