#include "drivers/trackside/line.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <cstdio>
#include <utility>

#include "drivers/trackside/crc16.h"

namespace lapwright::trackside {
namespace {

constexpr std::size_t tail_length = 5;    // "*" and four digits
constexpr std::size_t shortest_text = 4;  // kind, space, two digits

std::optional<unsigned> hex(std::string_view digits) {
  for (const char digit : digits) {
    const bool capital = (digit >= '0' && digit <= '9') || (digit >= 'A' && digit <= 'F');
    if (!capital) return std::nullopt;
  }
  unsigned value = 0;
  const auto [end, error] = std::from_chars(digits.data(), digits.data() + digits.size(), value, 16);
  if (error != std::errc() || end != digits.data() + digits.size()) return std::nullopt;
  return value;
}

std::vector<std::string> split(std::string_view text) {
  std::vector<std::string> fields;
  for (;;) {
    const std::size_t space = text.find(' ');
    fields.emplace_back(text.substr(0, space));
    if (space == std::string_view::npos) return fields;
    text.remove_prefix(space + 1);
  }
}

/// The line without its LF, if it is whole and says what it should.
std::optional<Line> read(std::string_view text) {
  if (text.size() < shortest_text + tail_length) return std::nullopt;
  const std::string_view body = text.substr(0, text.size() - tail_length);
  const std::string_view tail = text.substr(body.size());
  const std::optional<unsigned> sum = hex(tail.substr(1));
  if (tail.front() != '*' || !sum || *sum != crc16(body)) return std::nullopt;
  const std::optional<unsigned> sequence = hex(body.substr(2, 2));
  // It will stand in messages and reports; and "*" begins the check sum, nothing else.
  const auto allowed = [](char byte) { return byte >= 0x20 && byte <= 0x7E && byte != '*'; };
  if (!std::all_of(body.begin(), body.end(), allowed)) return std::nullopt;
  const bool has_fields = body.size() > shortest_text;
  if (body[1] != ' ' || !sequence || (has_fields && body[shortest_text] != ' ')) return std::nullopt;
  Line line;
  line.kind = body.front();
  line.sequence = static_cast<std::uint8_t>(*sequence);
  if (has_fields) line.fields = split(body.substr(shortest_text + 1));
  for (const std::string& field : line.fields) {
    if (field.empty()) return std::nullopt;
  }
  return line;
}

}  // namespace

std::string written(char kind, std::uint8_t sequence, std::string_view fields) {
  std::array<char, 8> digits{};
  std::snprintf(digits.data(), digits.size(), " %02X", static_cast<unsigned>(sequence));
  std::string line(1, kind);
  line += digits.data();
  if (!fields.empty()) line += ' ';
  line += fields;
  std::snprintf(digits.data(), digits.size(), "*%04X\n", static_cast<unsigned>(crc16(line)));
  return line + digits.data();
}

void LineReader::begin_anew() {
  unfinished_.clear();
  too_long_ = false;
  lines_.clear();
  last_sequence_.reset();
}

void LineReader::feed(std::string_view bytes) {
  for (const char byte : bytes) {
    if (byte == '\n') {
      end_line();
    } else if (byte == '\r') {
      continue;
    } else if (unfinished_.size() + 1 >= longest_line) {
      too_long_ = true;
    } else {
      unfinished_ += byte;
    }
  }
}

void LineReader::end_line() {
  const bool whole = !too_long_;
  const std::string text = std::exchange(unfinished_, std::string());
  too_long_ = false;
  if (text.empty() && whole) return;
  std::optional<Line> line = whole ? read(text) : std::nullopt;
  if (!line) {
    ++counts_.bad;
    return;
  }
  ++counts_.good;
  if (last_sequence_) {
    counts_.lost += static_cast<std::uint8_t>(line->sequence - *last_sequence_ - 1);
  }
  last_sequence_ = line->sequence;
  lines_.push_back(std::move(*line));
}

std::optional<Line> LineReader::next() {
  if (lines_.empty()) return std::nullopt;
  std::optional<Line> line = std::move(lines_.front());
  lines_.pop_front();
  return line;
}

}  // namespace lapwright::trackside
