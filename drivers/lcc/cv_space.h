// CVs of the engine behind a train node, as a memory space that is read and written by datagrams.
#pragma once

#include <boost/asio/awaitable.hpp>
#include <cstdint>
#include <optional>
#include <vector>

#include "drivers/lcc/node.h"
#include "tuning/rig.h"

namespace lapwright::lcc {

/// How a station's replies are to be read; the documents leave room.
struct CvHabits {
  /// A reply that says "failed" for want of the decoder's feedback means: sent, unconfirmed. So answers an open
  /// implementation (errors 0x2001 and 0x2030) for every decoder that does not answer.
  bool unconfirmed_is_sent = true;
  /// A separate reply that says "written" comes of the decoder's own answer. Where a station says so of every write,
  /// set it to false. A mere acknowledgement, without a separate reply, is never taken for the decoder's word.
  bool reply_confirms = true;
  Duration reply_within = std::chrono::seconds(5);  ///< where the station states no time of its own
};

/// Space 0xF8: Train Control Technical Note 4.3.3, Memory Configuration Standard 4.4-4.9, Datagram Transport Standard.
class CvSpace {
 public:
  CvSpace(Node& node, CvHabits habits) : node_(node), habits_(habits) {}

  /// Operations mode. @throws RigFault  the station refuses, or does not answer
  boost::asio::awaitable<CvWriteReply> write(NodeId train, int cv, std::uint8_t value);
  /// Where the station writes no single bits the byte is read, changed and written, unless it is so already.
  boost::asio::awaitable<CvWriteReply> write_bit(NodeId train, int cv, int bit, bool value);
  /// Empty: the decoder does not answer.
  boost::asio::awaitable<std::optional<std::uint8_t>> read(NodeId train, int cv);
  [[nodiscard]] bool busy() const { return busy_; }
  /// To be told of every message: notices replies that come too late.
  void hear(const Message& message);

 private:
  using Bytes = std::vector<std::uint8_t>;
  struct Outcome {
    bool replied = false;     ///< by a datagram of its own
    std::uint16_t error = 0;  ///< of the reply or the rejection; 0: none
    Bytes data;               ///< of the reply
  };
  /// An access that stayed unanswered. Replies bear no number: the same one is not asked for again while its reply may
  /// still come, or that reply would be taken for the next one's.
  struct Owed {
    NodeId train;
    Bytes asked;
    int opening = 0;  ///< of the link
    Instant until{};
  };
  boost::asio::awaitable<void> nothing_owed(NodeId train, const Bytes& request);
  boost::asio::awaitable<Outcome> exchange(NodeId train, Bytes request);
  boost::asio::awaitable<Outcome> exchange_once(NodeId train, const Bytes& request);
  [[nodiscard]] static bool says_no_feedback(const Outcome& outcome);
  [[nodiscard]] CvWriteReply judge(const Outcome& outcome, const std::string& what) const;

  Node& node_;
  CvHabits habits_;
  bool busy_ = false;  ///< one datagram at a time
  std::vector<Owed> owed_;
};

}  // namespace lapwright::lcc
