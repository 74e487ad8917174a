#include "drivers/lcc/gridconnect.h"

#include <algorithm>
#include <cstdio>
#include <stdexcept>

namespace lapwright::lcc {
namespace {

constexpr std::size_t longest_header = 8;
constexpr std::size_t longest_text = 1 + longest_header + 1 + 16;  // X, header, N, data
constexpr std::uint32_t all_header_bits = 0x1FFFFFFF;

int digit(char letter) {
  if (letter >= '0' && letter <= '9') return letter - '0';
  if (letter >= 'A' && letter <= 'F') return letter - 'A' + 10;
  if (letter >= 'a' && letter <= 'f') return letter - 'a' + 10;
  return -1;
}

bool all_digits(std::string_view text) {
  return std::all_of(text.begin(), text.end(), [](char letter) { return digit(letter) >= 0; });
}

std::uint32_t value(std::string_view digits) {
  std::uint32_t result = 0;
  for (const char letter : digits) result = result << 4U | static_cast<std::uint32_t>(digit(letter));
  return result;
}

bool is_kind(char letter, char kind) { return letter == kind || letter == kind - 'A' + 'a'; }

}  // namespace

Frame make_frame(std::uint32_t header, std::span<const std::uint8_t> data) {
  Frame frame;
  if (data.size() > frame.bytes.size()) throw std::invalid_argument("a CAN frame holds at most 8 bytes");
  frame.header = header & all_header_bits;
  frame.size = static_cast<std::uint8_t>(data.size());
  std::copy(data.begin(), data.end(), frame.bytes.begin());
  return frame;
}

std::string written(const Frame& frame) {
  std::array<char, 16> digits{};
  std::snprintf(digits.data(), digits.size(), ":X%08XN", static_cast<unsigned>(frame.header));
  std::string text = digits.data();
  for (const std::uint8_t byte : frame.data()) {
    std::snprintf(digits.data(), digits.size(), "%02X", static_cast<unsigned>(byte));
    text += digits.data();
  }
  return text + ";\n";
}

void FrameReader::begin_anew() {
  inside_ = false;
  text_.clear();
  frames_.clear();
}

void FrameReader::feed(std::string_view bytes) {
  for (const char byte : bytes) {
    if (byte == ':') {
      if (inside_) ++counts_.bad;
      inside_ = true;
      text_.clear();
    } else if (!inside_) {
      continue;
    } else if (byte == ';') {
      inside_ = false;
      end_frame();
    } else if (text_.size() == longest_text) {
      ++counts_.bad;
      inside_ = false;
    } else {
      text_ += byte;
    }
  }
}

void FrameReader::end_frame() {
  if (text_.empty()) {
    ++counts_.bad;
    return;
  }
  const std::string_view rest = std::string_view(text_).substr(1);
  const std::size_t mark = rest.find_first_of("NnRr");
  const bool marked = mark != std::string_view::npos && mark > 0;
  const bool standard = is_kind(text_.front(), 'S');
  const bool whole = marked && mark <= longest_header && all_digits(rest.substr(0, mark)) &&
                     all_digits(rest.substr(mark + 1)) && (standard || is_kind(text_.front(), 'X'));
  if (!whole) {
    ++counts_.bad;
    return;
  }
  const std::string_view data = rest.substr(mark + 1);
  if (standard || is_kind(rest[mark], 'R')) {
    ++counts_.skipped;
    return;
  }
  const std::uint32_t header = value(rest.substr(0, mark));
  if (data.size() % 2 != 0 || data.size() > 16 || header > all_header_bits) {
    ++counts_.bad;
    return;
  }
  Frame frame;
  frame.header = header;
  for (std::size_t at = 0; at < data.size(); at += 2) {
    frame.bytes[frame.size++] = static_cast<std::uint8_t>(value(data.substr(at, 2)));
  }
  ++counts_.good;
  frames_.push_back(frame);
}

std::optional<Frame> FrameReader::next() {
  if (frames_.empty()) return std::nullopt;
  const Frame frame = frames_.front();
  frames_.pop_front();
  return frame;
}

}  // namespace lapwright::lcc
