#include "drivers/links/traffic_log.h"

#include <array>
#include <cstdio>
#include <stdexcept>

namespace lapwright {
namespace {

int digit(char letter) {
  if (letter >= '0' && letter <= '9') return letter - '0';
  if (letter >= 'A' && letter <= 'F') return letter - 'A' + 10;
  throw std::invalid_argument(std::string("'") + letter + "' is no hex digit of an escape");
}

}  // namespace

std::string escaped(std::string_view bytes) {
  std::string result;
  for (const char byte : bytes) {
    const auto value = static_cast<unsigned char>(byte);
    if (byte == '\n') {
      result += "\\n";
    } else if (byte == '\r') {
      result += "\\r";
    } else if (byte == '\\') {
      result += "\\\\";
    } else if (value < 0x20 || value > 0x7E) {
      constexpr std::string_view digits = "0123456789ABCDEF";
      result += "\\x";
      result += digits[value >> 4U];
      result += digits[value & 15U];
    } else {
      result += byte;
    }
  }
  return result;
}

std::string unescaped(std::string_view text) {
  std::string result;
  for (std::size_t at = 0; at < text.size(); ++at) {
    if (text[at] != '\\') {
      result += text[at];
      continue;
    }
    const char kind = ++at < text.size() ? text[at] : '?';
    if (kind == 'n') {
      result += '\n';
    } else if (kind == 'r') {
      result += '\r';
    } else if (kind == '\\') {
      result += '\\';
    } else if (kind == 'x' && at + 2 < text.size()) {
      result += static_cast<char>(16 * digit(text[at + 1]) + digit(text[at + 2]));
      at += 2;
    } else {
      throw std::invalid_argument("an escape can't be read: " + std::string(text));
    }
  }
  return result;
}

TrafficLog::TrafficLog(const std::filesystem::path& file, Clock& clock)
    : clock_(clock), start_(clock.now()), file_(file, std::ios::app) {
  if (!file_) throw std::runtime_error("the recording " + file.string() + " can't be written");
}

void TrafficLog::write(std::string_view link, char mark, std::string_view bytes) {
  std::array<char, 32> stamp{};
  std::snprintf(stamp.data(), stamp.size(), "%.6f", in_seconds(clock_.now() - start_));
  file_ << stamp.data() << ' ' << link << ' ' << mark << ' ' << escaped(bytes) << std::endl;
}

}  // namespace lapwright
