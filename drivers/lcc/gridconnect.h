// CAN frames as ASCII text, the form in which LCC goes over TCP and serial lines: found in a stream of bytes, and
// written.
#pragma once

#include <array>
#include <cstdint>
#include <deque>
#include <optional>
#include <span>
#include <string>
#include <string_view>

namespace lapwright::lcc {

/// One extended CAN data frame.
struct Frame {
  std::uint32_t header = 0;  ///< 29 bits
  std::uint8_t size = 0;     ///< 0 … 8
  std::array<std::uint8_t, 8> bytes{};

  [[nodiscard]] std::span<const std::uint8_t> data() const { return {bytes.data(), size}; }
  [[nodiscard]] std::uint16_t source() const { return header & 0xFFFU; }  ///< alias of the sender
  bool operator==(const Frame&) const = default;
};

/// @param data  at most 8 bytes. @throws std::invalid_argument
[[nodiscard]] Frame make_frame(std::uint32_t header, std::span<const std::uint8_t> data);

/// `:X`, eight hex digits, `N`, the data, `;` and LF, in capitals.
[[nodiscard]] std::string written(const Frame& frame);

struct FrameCounts {
  std::uint64_t good = 0;
  std::uint64_t bad = 0;      ///< begun and not readable
  std::uint64_t skipped = 0;  ///< standard and remote frames, which LCC does not use
};

/// Any bytes, in any pieces. What stands between `;` and the next `:` means nothing, a new `:` begins anew, both cases
/// are read, and headers may be shorter than eight digits. Holds at most one unfinished frame.
class FrameReader {
 public:
  void feed(std::string_view bytes);
  [[nodiscard]] std::optional<Frame> next();
  void begin_anew();
  [[nodiscard]] const FrameCounts& counts() const { return counts_; }

 private:
  void end_frame();

  bool inside_ = false;
  std::string text_;  ///< behind the ':'
  std::deque<Frame> frames_;
  FrameCounts counts_;
};

}  // namespace lapwright::lcc
