// Lines of the trackside board's protocol (PROTOCOL.md): found in a stream of bytes, checked, taken apart, and written.
#pragma once

#include <cstdint>
#include <deque>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace lapwright::trackside {

constexpr std::size_t longest_line = 80;  ///< LF included
constexpr char cut_byte = '\x18';         ///< opens the relay at once, wherever it stands in the stream

struct Line {
  char kind = '?';
  std::uint8_t sequence = 0;
  std::vector<std::string> fields;
  bool operator==(const Line&) const = default;
};

/// With check sum and LF. @param fields  separated by spaces, or empty
[[nodiscard]] std::string written(char kind, std::uint8_t sequence, std::string_view fields = {});

/// What was dropped since the beginning.
struct LineCounts {
  std::uint64_t good = 0;
  std::uint64_t bad = 0;   ///< too long, wrong check sum, unreadable
  std::uint64_t lost = 0;  ///< by gaps in the sequence numbers
};

/// Any bytes, in any pieces. Holds at most one unfinished line; finished ones wait for `next`.
class LineReader {
 public:
  void feed(std::string_view bytes);
  /// The next good line.
  [[nodiscard]] std::optional<Line> next();
  /// Forgets an unfinished line and the sequence: a new conversation begins.
  void begin_anew();
  [[nodiscard]] const LineCounts& counts() const { return counts_; }

 private:
  void end_line();

  std::string unfinished_;
  bool too_long_ = false;
  std::deque<Line> lines_;
  std::optional<std::uint8_t> last_sequence_;
  LineCounts counts_;
};

}  // namespace lapwright::trackside
