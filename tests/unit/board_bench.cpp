#include "tests/unit/board_bench.h"

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/io_context.hpp>

namespace lapwright::trackside {

asio::awaitable<void> BoardBench::wire() {
  while (!over) {
    if (!deaf) end.hear(std::exchange(to_board, std::string()));
    end.tick();
    if (guarded) board.vouch();
    if (std::exchange(reset_soon, false)) end.boot('e');
    if (std::exchange(cut_soon, false)) board.cut();
    if (up && !to_host.empty() && !dumb) board.received(std::exchange(to_host, std::string()), clock.now());
    co_await clock.sleep_for(std::chrono::milliseconds(1));
  }
}

void BoardBench::run(Script script) {
  asio::io_context context;
  const auto rethrow = [](const std::exception_ptr& failure) {
    if (failure) std::rethrow_exception(failure);
  };
  end.boot('p');
  open();
  asio::co_spawn(context, wire(), rethrow);
  asio::co_spawn(context, board.run(), rethrow);
  asio::co_spawn(context, play(std::move(script)), rethrow);
  BOOST_TEST((clock.run(context, seconds(3600)) == VirtualClock::Outcome::finished));
}

asio::awaitable<std::string> BoardBench::try_power(bool on) {
  try {
    co_await board.set_power(on);
  } catch (const RigFault& fault) {
    co_return fault.what();
  }
  co_return std::string();
}

asio::awaitable<std::string> BoardBench::try_edge(double wait_s) {
  try {
    const auto edge = co_await board.next_edge(clock.now() + seconds(wait_s));
    co_return edge ? "edge" : "none";
  } catch (const RigFault& fault) {
    co_return fault.what();
  }
}

}  // namespace lapwright::trackside
