// A shift played to its end on the virtual clock.
#pragma once

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/io_context.hpp>
#include <exception>
#include <optional>
#include <stdexcept>
#include <utility>

#include "daemon/shift.h"
#include "drivers/virtual_clock.h"

namespace lapwright {

/// @param clock  the one that `means` refers to. @throws std::runtime_error  it does not end within `limit_s`; and
/// whatever ended the shift
inline ShiftResult played_shift(const Shift& shift, const ShiftMeans& means, VirtualClock& clock, double limit_s) {
  boost::asio::io_context context;
  std::optional<ShiftResult> outcome;
  std::exception_ptr failure;
  boost::asio::co_spawn(context, run_shift(shift, means), [&](const std::exception_ptr& thrown, ShiftResult result) {
    failure = thrown;
    if (!thrown) outcome = std::move(result);
  });
  clock.run(context, seconds(limit_s));
  if (failure) std::rethrow_exception(failure);
  if (!outcome) throw std::runtime_error("the shift does not end");
  return std::move(*outcome);
}

}  // namespace lapwright
