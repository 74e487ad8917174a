// Runs one coroutine to its end under a virtual clock.
#pragma once

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/test/unit_test.hpp>
#include <exception>
#include <utility>

#include "drivers/virtual_clock.h"

namespace lapwright {

/// @throws what the procedure throws. Fails the test when it is not through within an hour.
inline void run_here(VirtualClock& clock, boost::asio::io_context& context, boost::asio::awaitable<void> procedure) {
  std::exception_ptr trouble;
  bool done = false;
  context.restart();
  boost::asio::co_spawn(context, std::move(procedure), [&](const std::exception_ptr& error) {
    trouble = error;
    done = true;
  });
  clock.run(context, std::chrono::hours(1));
  if (trouble) std::rethrow_exception(trouble);
  BOOST_TEST_REQUIRE(done, "the procedure waits for what can't happen");
}

}  // namespace lapwright
