#include "drivers/lcc/cv_space.h"

#include <algorithm>
#include <cstdio>
#include <utility>

#include "drivers/lcc/expectation.h"
#include "drivers/turn.h"
#include "tuning/rig_fault.h"

namespace lapwright::lcc {
namespace asio = boost::asio;
namespace {

// Memory Configuration Standard 4.4-4.9.
constexpr std::uint8_t memory = 0x20, read_code = 0x40, write_code = 0x00, reply_bit = 0x10, failed_bit = 0x08;
constexpr std::uint8_t cv_space = 0xF8;
constexpr std::size_t head = 7;                     // command, address, space
constexpr std::uint8_t single_bit_modifier = 0x10;  // Train Control Technical Note 4.3.3, in address bits 31..24
constexpr int top_cv = 1024;

// Datagram Transport Standard 4.2; Message Network Standard 3.5.5.
constexpr unsigned reply_pending = 0x80, time_mask = 0x0F;
constexpr unsigned class_mask = 0xF000, temporary = 0x2000;
constexpr std::uint16_t no_feedback_to_write = 0x2001, no_feedback_to_read = 0x2030;
constexpr std::uint16_t out_of_bounds = 0x1082, invalid_arguments = 0x1080, not_implemented = 0x1040;

constexpr Duration acknowledged_within = std::chrono::seconds(3);
constexpr Duration longest_pending = std::chrono::seconds(64);
constexpr Duration before_resending = std::chrono::milliseconds(300);
constexpr int tries_at_most = 4;
constexpr Duration late_at_most = std::chrono::seconds(30);  // Memory Configuration Technical Note 2.4.4

std::vector<std::uint8_t> request(std::uint8_t code, int cv, std::uint8_t modifier, std::uint8_t last) {
  if (cv < 1 || cv > top_cv) throw RigFault("CV" + std::to_string(cv) + " does not exist; CVs are 1 to 1024");
  const auto address = static_cast<unsigned>(cv - 1);
  return {memory,   code, modifier, 0, static_cast<std::uint8_t>(address >> 8U), static_cast<std::uint8_t>(address),
          cv_space, last};
}

std::uint16_t word(std::span<const std::uint8_t> bytes) {
  return bytes.size() < 2 ? 0 : static_cast<std::uint16_t>(bytes[0] << 8U | bytes[1]);
}

std::string hex(std::uint16_t value) {
  std::array<char, 8> text{};
  std::snprintf(text.data(), text.size(), "0x%04X", static_cast<unsigned>(value));
  return text.data();
}

/// The reply to this very request: its command with the reply bit, perhaps with the failed bit, and the same address.
bool replies_to(const std::vector<std::uint8_t>& asked, const Message& message) {
  const auto& told = message.content;
  return message.mti == Mti::datagram && told.size() >= head && told[0] == memory &&
         (told[1] & ~failed_bit) == (asked[1] | reply_bit) &&
         std::equal(told.begin() + 2, told.begin() + head, asked.begin() + 2);
}

/// How a station says that it has no address modifiers; the documents name no code for it.
bool has_no_single_bits(std::uint16_t error) {
  return error == out_of_bounds || error == invalid_arguments || (error & 0xFFF0U) == not_implemented;
}

}  // namespace

void CvSpace::hear(const Message& message) {
  const std::optional<NodeId> train = node_.node_of(message.source);
  const auto late = std::find_if(owed_.begin(), owed_.end(), [&](const Owed& owed) {
    return owed.train == train && replies_to(owed.asked, message);
  });
  if (late != owed_.end()) owed_.erase(late);
}

asio::awaitable<void> CvSpace::nothing_owed(NodeId train, const Bytes& asked) {
  for (;;) {
    std::erase_if(owed_, [this](const Owed& owed) {  // a new link has a new alias, which nothing old is sent to
      return owed.opening != node_.openings() || node_.clock().now() >= owed.until;
    });
    const auto same = std::find_if(owed_.begin(), owed_.end(), [&](const Owed& owed) {
      return owed.train == train && std::equal(owed.asked.begin(), owed.asked.begin() + head, asked.begin());
    });
    if (same == owed_.end() || node_.presence() == Presence::link_down) co_return;
    const Instant until = same->until;
    co_await node_.bell().wait_until(node_.clock(), until);
  }
}

asio::awaitable<CvSpace::Outcome> CvSpace::exchange_once(NodeId train, const Bytes& asked) {
  co_await nothing_owed(train, asked);
  while (busy_) co_await node_.bell().wait();
  const Turn turn(busy_, node_.bell());
  Node& node = node_;
  co_await node.reach(train);
  Expectation answers(node_, [train, &node, &asked](const Message& message) {
    if (node.node_of(message.source) != train) return false;
    return message.mti == Mti::datagram_received || message.mti == Mti::datagram_rejected || replies_to(asked, message);
  });
  node_.tell(Mti::datagram, train, asked);
  Instant deadline = node_.clock().now() + acknowledged_within;
  Outcome outcome;
  bool acknowledged = false;
  for (;;) {
    const std::optional<Message> answer = co_await answers.next(deadline);
    if (!answer) {
      owed_.push_back(Owed{train, asked, node.openings(), node.clock().now() + late_at_most});
      throw RigFault("the train node " + train.text() + " did not answer to a CV access in time");
    }
    if (answer->mti == Mti::datagram_rejected) {
      outcome.error = word(answer->content);
      if (outcome.error == 0) outcome.error = 0x1000;  // rejected for a reason that it does not state
      co_return outcome;
    }
    if (answer->mti == Mti::datagram) {
      const std::span<const std::uint8_t> rest = std::span(answer->content).subspan(head);
      outcome.replied = true;
      const bool failed = (answer->content[1] & failed_bit) != 0;
      if (failed) outcome.error = word(rest);
      if (failed && outcome.error == 0) outcome.error = 0x1000;
      outcome.data.assign(rest.begin(), rest.end());
      co_return outcome;
    }
    if (std::exchange(acknowledged, true)) continue;  // once is enough, or a train could put the end off for ever
    const unsigned flags = answer->content.empty() ? 0U : answer->content[0];
    const bool is_read = asked[1] == read_code;
    if ((flags & reply_pending) == 0 && !is_read) co_return outcome;
    const unsigned power = flags & time_mask;
    const Duration stated = std::chrono::seconds(1LL << power);
    deadline = node_.clock().now() + (power == 0 ? habits_.reply_within : std::min(stated, longest_pending));
  }
}

asio::awaitable<CvSpace::Outcome> CvSpace::exchange(NodeId train, Bytes asked) {
  Outcome outcome;
  for (int tries = 0; tries < tries_at_most; ++tries) {
    outcome = co_await exchange_once(train, asked);
    if ((outcome.error & class_mask) != temporary || says_no_feedback(outcome)) co_return outcome;
    co_await node_.clock().sleep_for(before_resending);
  }
  co_return outcome;
}

/// In a reply: the packets were sent. A datagram that was rejected led to nothing, whatever its code.
bool CvSpace::says_no_feedback(const Outcome& outcome) {
  return outcome.replied && (outcome.error == no_feedback_to_write || outcome.error == no_feedback_to_read);
}

CvWriteReply CvSpace::judge(const Outcome& outcome, const std::string& what) const {
  if (outcome.error == 0) {
    return outcome.replied && habits_.reply_confirms ? CvWriteReply::confirmed : CvWriteReply::silent;
  }
  const bool no_feedback = says_no_feedback(outcome);
  if (no_feedback && habits_.unconfirmed_is_sent) return CvWriteReply::silent;
  throw RigFault("the station did not " + what + " (" + hex(outcome.error) + ")" +
                 (no_feedback ? "; where decoders give no feedback, let the configuration say that unconfirmed is sent"
                              : "; see the station's documentation"));
}

asio::awaitable<CvWriteReply> CvSpace::write(NodeId train, int cv, std::uint8_t value) {
  Bytes asked = request(write_code, cv, 0, value);
  const Outcome outcome = co_await exchange(train, std::move(asked));
  co_return judge(outcome, "write CV" + std::to_string(cv));
}

asio::awaitable<CvWriteReply> CvSpace::write_bit(NodeId train, int cv, int bit, bool value) {
  const auto modifier = static_cast<std::uint8_t>(single_bit_modifier + bit);
  Bytes asked = request(write_code, cv, modifier, value ? 1 : 0);
  const Outcome outcome = co_await exchange(train, std::move(asked));
  if (!has_no_single_bits(outcome.error)) co_return judge(outcome, "write a bit of CV" + std::to_string(cv));
  const std::optional<std::uint8_t> held = co_await read(train, cv);
  if (!held) co_return CvWriteReply::unsupported;
  const unsigned mask = 1U << static_cast<unsigned>(bit);
  const auto wanted = static_cast<std::uint8_t>(value ? *held | mask : *held & ~mask);
  if (wanted == *held) co_return CvWriteReply::confirmed;
  const CvWriteReply reply = co_await write(train, cv, wanted);
  co_return reply;
}

asio::awaitable<std::optional<std::uint8_t>> CvSpace::read(NodeId train, int cv) {
  Bytes asked = request(read_code, cv, 0, 1);
  const Outcome outcome = co_await exchange(train, std::move(asked));
  if (says_no_feedback(outcome)) co_return std::nullopt;
  if (outcome.error != 0 || outcome.data.empty()) {
    throw RigFault("the station did not read CV" + std::to_string(cv) + " (" + hex(outcome.error) + ")");
  }
  co_return outcome.data.front();
}

}  // namespace lapwright::lcc
