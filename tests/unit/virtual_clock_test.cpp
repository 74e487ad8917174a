// The clock that jumps: order, stalls, limits, cancellation.
#include "drivers/virtual_clock.h"

#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/cancellation_signal.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/system/system_error.hpp>
#include <boost/test/unit_test.hpp>
#include <string>

namespace lapwright {
namespace {

namespace asio = boost::asio;

asio::awaitable<void> sleep_and_note(Clock& clock, double at_s, char name, std::string& order) {
  const Instant deadline = Instant{} + seconds(at_s);
  co_await clock.sleep_until(deadline);
  order += name;
}

asio::awaitable<void> tick_forever(Clock& clock, int& ticks) {
  for (;;) {
    co_await clock.sleep_for(std::chrono::seconds(1));
    ++ticks;
  }
}

struct Bench {
  VirtualClock clock;
  asio::io_context context{1};
};

void must_succeed(const std::exception_ptr& error) {
  if (error) std::rethrow_exception(error);
}

}  // namespace

BOOST_AUTO_TEST_SUITE(virtual_clock)

BOOST_AUTO_TEST_CASE(deadlines_in_order_and_equal_ones_first_in_first_out) {
  Bench bench;
  std::string order;
  const std::pair<char, double> sleepers[] = {{'d', 2}, {'a', 1}, {'e', 2}, {'b', 1}, {'f', 2}, {'c', 1}};
  for (const auto& [name, at_s] : sleepers) {
    asio::co_spawn(bench.context, sleep_and_note(bench.clock, at_s, name, order), must_succeed);
  }
  BOOST_TEST((bench.clock.run(bench.context, std::chrono::hours(1)) == VirtualClock::Outcome::finished));
  BOOST_TEST(order == "abcdef");
  BOOST_TEST((bench.clock.now() == Instant{} + std::chrono::seconds(2)));  // not a nanosecond later
}

asio::awaitable<void> note_quiet(VirtualClock& clock, Duration& quiet) {
  co_await clock.sleep_for(std::chrono::seconds(1));
  quiet = clock.quiet_until() - clock.now();
}

BOOST_AUTO_TEST_CASE(quiet_until_the_next_sleeper_or_the_end_of_the_run) {
  Bench bench;
  std::string order;
  Duration quiet{};
  asio::co_spawn(bench.context, note_quiet(bench.clock, quiet), must_succeed);
  asio::co_spawn(bench.context, sleep_and_note(bench.clock, 5, 'a', order), must_succeed);
  bench.clock.run(bench.context, std::chrono::seconds(10));
  BOOST_TEST((quiet == std::chrono::seconds(4)));
  Bench alone;
  asio::co_spawn(alone.context, note_quiet(alone.clock, quiet), must_succeed);
  alone.clock.run(alone.context, std::chrono::seconds(10));
  BOOST_TEST((quiet == std::chrono::seconds(9)));
}

BOOST_AUTO_TEST_CASE(a_deadline_that_has_passed_completes_at_once) {
  Bench bench;
  std::string order;
  asio::co_spawn(bench.context, sleep_and_note(bench.clock, -5, 'a', order), must_succeed);
  bench.clock.run(bench.context, std::chrono::seconds(1));
  BOOST_TEST(order == "a");
  BOOST_TEST((bench.clock.now() == Instant{}));  // time never goes back
}

BOOST_AUTO_TEST_CASE(limit_comes_first) {
  Bench bench;
  int ticks = 0;
  asio::co_spawn(bench.context, tick_forever(bench.clock, ticks), must_succeed);
  const auto limit = std::chrono::milliseconds(3500);
  BOOST_TEST((bench.clock.run(bench.context, limit) == VirtualClock::Outcome::time_is_up));
  BOOST_TEST(ticks == 3);
  BOOST_TEST((bench.clock.now() == Instant{} + limit));
  BOOST_TEST((bench.clock.run(bench.context, limit) == VirtualClock::Outcome::time_is_up));
  BOOST_TEST(ticks == 7);  // it goes on where it was
}

BOOST_AUTO_TEST_CASE(waiting_for_what_cannot_happen_is_a_stall) {
  Bench bench;
  asio::steady_timer never(bench.context, asio::steady_timer::time_point::max());
  never.async_wait([](boost::system::error_code) {});
  BOOST_TEST((bench.clock.run(bench.context, std::chrono::hours(1)) == VirtualClock::Outcome::stalled));
}

BOOST_AUTO_TEST_CASE(nothing_to_do_is_finished) {
  Bench bench;
  BOOST_TEST((bench.clock.run(bench.context, std::chrono::hours(1)) == VirtualClock::Outcome::finished));
  BOOST_TEST((bench.clock.now() == Instant{}));
}

BOOST_AUTO_TEST_CASE(a_cancelled_sleeper_throws_and_leaves_no_deadline) {
  Bench bench;
  asio::cancellation_signal cancel;
  std::string order;
  std::exception_ptr end;
  asio::co_spawn(bench.context, sleep_and_note(bench.clock, 100, 'x', order),
                 asio::bind_cancellation_slot(cancel.slot(), [&](const std::exception_ptr& error) { end = error; }));
  bench.clock.run(bench.context, std::chrono::seconds(1));
  cancel.emit(asio::cancellation_type::terminal);
  BOOST_TEST((bench.clock.run(bench.context, std::chrono::seconds(1)) == VirtualClock::Outcome::finished));
  BOOST_TEST(order.empty());
  BOOST_REQUIRE(end);
  BOOST_CHECK_THROW(std::rethrow_exception(end), boost::system::system_error);
  BOOST_TEST((bench.clock.now() < Instant{} + std::chrono::seconds(3)));  // the cancelled deadline is gone
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
