// LCC messages: put together from CAN frames, and taken apart into them.
#pragma once

#include <cstdint>
#include <deque>
#include <map>
#include <optional>
#include <tuple>
#include <vector>

#include "drivers/lcc/alias.h"
#include "drivers/lcc/gridconnect.h"
#include "drivers/lcc/mti.h"
#include "tuning/clock.h"

namespace lapwright::lcc {

struct Message {
  Mti mti{};
  Alias source = 0;
  Alias destination = 0;  ///< 0: everybody
  std::vector<std::uint8_t> content;
  bool operator==(const Message&) const = default;
};

/// Control frames, local to a segment: CAN Frame Transfer Standard 6.1.
enum class Control : std::uint8_t {
  check_id,
  reserve_id,
  alias_map_definition,
  alias_map_enquiry,
  alias_map_reset,
  other
};
struct ControlFrame {
  Control kind = Control::other;
  Alias source = 0;
  std::optional<NodeId> node;  ///< where the frame names one
};
/// Empty: the frame belongs to a message.
[[nodiscard]] std::optional<ControlFrame> control(const Frame& frame);

/// The frames of a message, in order. @throws std::invalid_argument  content that the type can't carry
[[nodiscard]] std::vector<Frame> frames_of(const Message& message);

/// Puts together what comes in pieces, also when pieces of several senders are mixed. What is not finished is bounded
/// in number, size and time.
class MessageReader {
 public:
  /// A message, if the frame completes one.
  [[nodiscard]] std::optional<Message> take(const Frame& frame, Instant now);
  /// Nothing more comes from there: its alias was given up.
  void forget(Alias source);
  void forget_all() { unfinished_.clear(); }
  [[nodiscard]] std::uint64_t dropped() const { return dropped_; }  ///< frames of messages that never became whole

 private:
  using Key = std::tuple<Alias, Alias, Mti>;
  struct Part {
    std::vector<std::uint8_t> content;
    Instant begun{};
  };
  enum class Piece : std::uint8_t { only, first, last, middle };
  std::optional<Message> add(const Key& key, Piece piece, std::span<const std::uint8_t> bytes, std::size_t most,
                             Instant now);
  void forget_old(Instant now);

  std::map<Key, Part> unfinished_;
  std::uint64_t dropped_ = 0;
};

}  // namespace lapwright::lcc
