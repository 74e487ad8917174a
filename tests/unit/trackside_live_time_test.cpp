// How long a board keeps its relay closed in one go: it tells, and the host counts down with it.
#include "tests/unit/board_bench.h"

namespace lapwright::trackside {

BOOST_AUTO_TEST_SUITE(trackside_live_time)

BOOST_AUTO_TEST_CASE(is_what_the_board_tells_less_what_is_over) {
  BoardIdentity told = identity();
  told.energised = std::chrono::seconds(90);
  told.settings.emplace_back("energised_s", "90");
  BoardBench bench(told);
  bench.run([](BoardBench& inside) -> asio::awaitable<void> {
    co_await inside.pass(0.5);
    BOOST_TEST(!inside.board.left_s());  // nothing is live
    co_await inside.board.set_power(true);
    co_await inside.pass(0.3);
    BOOST_TEST(inside.board.left_s().value_or(0) == 90);
    co_await inside.pass(60);
    BOOST_TEST(inside.board.left_s().value_or(0) == 30);
    co_await inside.pass(40);
    BOOST_TEST(!inside.end.relay_closed());
    BOOST_TEST(!inside.board.left_s());
  });
}

BOOST_AUTO_TEST_CASE(is_not_known_of_a_board_that_tells_none) {
  for (const char* nonsense : {"", "soon", "90s"}) {
    BoardIdentity told = identity();
    if (*nonsense != '\0') told.settings.emplace_back("energised_s", nonsense);
    BoardBench bench(told);
    bench.run([](BoardBench& inside) -> asio::awaitable<void> {
      co_await inside.pass(0.5);
      co_await inside.board.set_power(true);
      co_await inside.pass(0.3);
      BOOST_TEST(!inside.board.left_s());
    });
  }
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright::trackside
