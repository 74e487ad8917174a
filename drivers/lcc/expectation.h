// Waiting for the one message that answers a question.
#pragma once

#include <boost/asio/awaitable.hpp>
#include <deque>
#include <functional>
#include <optional>

#include "drivers/lcc/message.h"

namespace lapwright::lcc {

class Node;

/// Waits for one message; made before the question is sent, so that no answer is missed, and gone with the exchange, so
/// that no late one is taken for the next one's.
class Expectation {
 public:
  using Test = std::function<bool(const Message&)>;
  Expectation(Node& node, Test test);
  ~Expectation();
  Expectation(const Expectation&) = delete;
  Expectation& operator=(const Expectation&) = delete;

  /// The next message that passed; empty when none did by then. @throws RigFault  the bus was lost meanwhile
  boost::asio::awaitable<std::optional<Message>> next(Instant deadline);

 private:
  friend class Node;
  Node& node_;
  int opening_;  ///< of the link, in which the question was sent
  Test test_;
  std::deque<Message> met_;
};

}  // namespace lapwright::lcc
