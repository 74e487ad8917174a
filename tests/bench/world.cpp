#include "tests/bench/world.h"

#include <boost/asio/co_spawn.hpp>
#include <exception>
#include <stdexcept>
#include <string>
#include <utility>

namespace lapwright::bench {
namespace asio = boost::asio;

World::World(const Stage& stage) : rig_(stage.railway, stage.engine, clock_, stage.seed) {}

void World::run(asio::awaitable<void> procedure, double limit_s) {
  std::exception_ptr trouble;
  bool done = false;
  asio::co_spawn(context_, rig_.run(), [&trouble](std::exception_ptr error) {
    if (error) trouble = error;
  });
  asio::co_spawn(context_, std::move(procedure), [this, &trouble, &done](std::exception_ptr error) {
    if (error) trouble = error;
    done = true;
    rig_.stop();
  });
  clock_.run(context_, seconds(limit_s));
  if (trouble) std::rethrow_exception(trouble);
  if (!done) {
    throw std::runtime_error("the procedure was not through after " + std::to_string(limit_s) +
                             " s of track time: it waits for what can't happen, or runs away");
  }
}

}  // namespace lapwright::bench
