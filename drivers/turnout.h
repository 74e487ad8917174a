// Orders to turnouts, as the configuration describes them, and the routes that they make up.
#pragma once

#include <cstdint>
#include <variant>
#include <vector>

#include "drivers/dcc/accessory.h"
#include "tuning/clock.h"

namespace lapwright {

/// An output of an accessory decoder, or what the station's own bus calls it: an LCC event ID.
using TurnoutOrder = std::variant<dcc::BasicAccessory, std::uint64_t>;

/// What there is to send for each route, in this order. Route 0 closes the test track.
struct TurnoutRoutes {
  std::vector<std::vector<TurnoutOrder>> orders;
  Duration settling = std::chrono::milliseconds(1500);  ///< from the last order until the points lie
};

}  // namespace lapwright
