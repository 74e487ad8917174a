// Where gate edges come from: the trackside board, or events on the command bus.
#pragma once

#include <boost/asio/awaitable.hpp>
#include <optional>

#include "tuning/rig.h"

namespace lapwright {

class EdgeSource {
 public:
  virtual ~EdgeSource() = default;
  /// The next edge in the order of its stamps; empty when none came before `deadline`. @throws RigFault
  virtual boost::asio::awaitable<std::optional<GateEdge>> next_edge(Instant deadline) = 0;
};

}  // namespace lapwright
