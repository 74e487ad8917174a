#include "drivers/settings/wording.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <cstdio>
#include <limits>
#include <utility>
#include <vector>

namespace lapwright::settings {
namespace {

unsigned code(char byte) { return static_cast<unsigned char>(byte); }

/// Also those of Unicode's second block, which terminals obey: U+0080 … U+009F.
bool is_control(std::string_view character) {
  const unsigned last = code(character.back());
  if (character.size() == 1) return last < 0x20 || last == 0x7F;
  return character.size() == 2 && character.front() == '\xC2' && last < 0xA0;
}

std::string escaped(const char* format, char byte) {
  std::array<char, 8> text{};
  std::snprintf(text.data(), text.size(), format, code(byte));
  return text.data();
}

}  // namespace

std::size_t character_size(std::string_view text) {
  const unsigned first = code(text.front());
  if (first < 0x80) return 1;
  const std::size_t size = first < 0xC2 ? 0 : first < 0xE0 ? 2 : first < 0xF0 ? 3 : first < 0xF5 ? 4 : 0;
  if (size == 0 || text.size() < size) return 0;
  for (const char byte : text.substr(1, size - 1)) {
    if ((code(byte) & 0xC0U) != 0x80U) return 0;
  }
  const unsigned second = code(text[1]);
  const bool overlong = (first == 0xE0 && second < 0xA0) || (first == 0xF0 && second < 0x90);
  const bool no_character = (first == 0xED && second > 0x9F) || (first == 0xF4 && second > 0x8F);
  return overlong || no_character ? 0 : size;
}

std::string_view beginning(std::string_view text, std::size_t bytes) {
  if (text.size() <= bytes) return text;
  const auto continues = [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) == 0x80U; };
  while (bytes > 0 && continues(text[bytes])) --bytes;
  return text.substr(0, bytes);
}

std::string one_line(std::string_view text) {
  std::string out;
  while (!text.empty()) {
    const std::size_t size = character_size(text);
    const std::string_view character = text.substr(0, std::max<std::size_t>(size, 1));
    if (size == 0) {
      out += escaped("\\x%02X", character.front());
    } else if (is_control(character)) {
      out += escaped("\\u%04x", character.back());
    } else {
      out += character;
    }
    text.remove_prefix(character.size());
  }
  return out;
}

std::string in_quotes(std::string_view text) {
  constexpr std::size_t longest = 60;
  std::string out = "\"";
  for (const char c : beginning(text, longest)) {
    if (c == '"' || c == '\\') out += '\\';
    out += c;
  }
  return one_line(out) + (text.size() > longest ? "…\"" : "\"");
}

std::string plain(double value) {
  std::array<char, 64> buffer{};
  const double size = std::abs(value);
  const bool fixed = size == 0 || (size >= 1e-5 && size < 1e12);
  const auto result = std::to_chars(buffer.data(), buffer.data() + buffer.size(), value,
                                    fixed ? std::chars_format::fixed : std::chars_format::scientific);
  return {buffer.data(), result.ptr};
}

std::string shown(const Node& node) {
  switch (node.kind) {
    case Node::Kind::null:
      return "null";
    case Node::Kind::boolean:
      return node.flag ? "true" : "false";
    case Node::Kind::integer:
    case Node::Kind::number:
      return node.text.size() <= 60 ? node.text : node.text.substr(0, 60) + "…";
    case Node::Kind::text:
      return in_quotes(node.text);
    case Node::Kind::list:
      return "a list";
    case Node::Kind::object:
      return "an object";
  }
  return {};
}

std::string unit_of(std::string_view key) {
  // Longer endings first: the unit is the longest that fits.
  constexpr std::array<std::pair<std::string_view, std::string_view>, 22> units{{
      {"_mm_s2", "mm/s²"}, {"_mm_s", "mm/s"}, {"_per_s", "per second"},
      {"_mph", "mph"},     {"_kmh", "km/h"},  {"_mm", "mm"},
      {"_ms", "ms"},       {"_us", "µs"},     {"_min", "min"},
      {"_h", "h"},         {"_s", "s"},       {"_mA", "mA"},
      {"_mV", "mV"},       {"_A", "A"},       {"_V", "V"},
      {"_Hz", "Hz"},       {"_degC", "°C"},   {"_bytes", "bytes"},
      {"_N", "N"},         {"_g", "g"},       {"_m", "m"},
      {"_baud", "baud"},
  }};
  for (const auto& [ending, unit] : units) {
    if (key.ends_with(ending)) return std::string(unit);
  }
  return {};
}

std::string range_text(double min, double max, std::string_view unit) {
  const bool low = min > std::numeric_limits<double>::lowest();
  const bool high = max < std::numeric_limits<double>::max();
  std::string text;
  if (low && high) text = plain(min) + " … " + plain(max);
  if (low && !high) text = "at least " + plain(min);
  if (!low && high) text = "at most " + plain(max);
  if (!text.empty() && !unit.empty()) text += " " + std::string(unit);
  return text;
}

std::string pointer_step(std::string_view key) {
  std::string out = "/";
  for (const char c : beginning(key, 100)) {
    if (c == '~') {
      out += "~0";
    } else if (c == '/') {
      out += "~1";
    } else {
      out += static_cast<unsigned char>(c) < 0x20 ? '?' : c;
    }
  }
  return out;
}

int edit_distance(std::string_view from, std::string_view to) {
  from = from.substr(0, 64);
  to = to.substr(0, 64);
  std::vector<std::vector<int>> cost(from.size() + 1, std::vector<int>(to.size() + 1));
  for (std::size_t i = 0; i <= from.size(); ++i) cost[i][0] = static_cast<int>(i);
  for (std::size_t j = 0; j <= to.size(); ++j) cost[0][j] = static_cast<int>(j);
  for (std::size_t i = 1; i <= from.size(); ++i) {
    for (std::size_t j = 1; j <= to.size(); ++j) {
      const int change = cost[i - 1][j - 1] + (from[i - 1] == to[j - 1] ? 0 : 1);
      cost[i][j] = std::min({cost[i - 1][j] + 1, cost[i][j - 1] + 1, change});
      if (i > 1 && j > 1 && from[i - 1] == to[j - 2] && from[i - 2] == to[j - 1]) {
        cost[i][j] = std::min(cost[i][j], cost[i - 2][j - 2] + 1);
      }
    }
  }
  return cost[from.size()][to.size()];
}

std::optional<std::string> nearest(std::string_view word, const std::set<std::string, std::less<>>& known) {
  std::optional<std::string> best;
  int best_distance = std::numeric_limits<int>::max();
  for (const std::string& candidate : known) {
    const int distance = edit_distance(word, candidate);
    if (distance < best_distance && 2 * distance < static_cast<int>(std::max(candidate.size(), word.size()))) {
      best = candidate;
      best_distance = distance;
    }
  }
  return best;
}

}  // namespace lapwright::settings
