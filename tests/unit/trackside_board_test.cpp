// The host's side of the trackside board, against the simulated board, over a wire in virtual time.
#include <boost/test/unit_test.hpp>

#include "tests/unit/board_bench.h"

namespace asio = boost::asio;
using namespace lapwright;
using namespace lapwright::trackside;

namespace {

bool has(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

}  // namespace

BOOST_FIXTURE_TEST_SUITE(trackside_board, BoardBench)

BOOST_AUTO_TEST_CASE(a_good_board_is_recognised_closed_kept_closed_and_opened) {
  run([](BoardBench& bench) -> asio::awaitable<void> {
    co_await bench.pass(0.3);
    BOOST_TEST(bench.board.trouble() == "");
    const std::string closing = co_await bench.try_power(true);
    BOOST_TEST(closing == "");
    co_await bench.pass(60);
    BOOST_TEST(bench.end.relay_closed());
    const std::string opening = co_await bench.try_power(false);
    BOOST_TEST(opening == "");
    BOOST_TEST(!bench.end.relay_closed());
    BOOST_TEST(bench.openings.size() == 1u);
  });
}

BOOST_AUTO_TEST_CASE(a_host_that_stops_renewing_loses_the_track_within_the_lease) {
  run([](BoardBench& bench) -> asio::awaitable<void> {
    co_await bench.pass(0.3);
    co_await bench.board.set_power(true);
    co_await bench.pass(1);
    bench.deaf = true;
    const Instant deafened = bench.clock.now();
    co_await bench.pass(1);
    BOOST_REQUIRE(bench.openings.size() == 1u);
    BOOST_TEST(in_seconds(bench.openings[0] - deafened) <= 0.402);
    BOOST_TEST(in_seconds(bench.openings[0] - deafened) >= 0.29);  // the last renewal was at most 0.1 s old
    const std::string edge = co_await bench.try_edge(0.1);
    BOOST_TEST(has(edge, "lease ran out"));
    BOOST_TEST(has(bench.given_up, "did not answer"));
  });
}

// A loop that turns and serves the line, while the guard that should look at the track hangs.
BOOST_AUTO_TEST_CASE(a_guard_that_hangs_loses_the_track_within_the_lease) {
  run([](BoardBench& bench) -> asio::awaitable<void> {
    co_await bench.pass(0.3);
    co_await bench.board.set_power(true);
    co_await bench.pass(1);
    BOOST_TEST(bench.end.relay_closed());
    bench.guarded = false;
    const Instant hung = bench.clock.now();
    co_await bench.pass(2);
    BOOST_REQUIRE(bench.openings.size() == 1u);
    BOOST_TEST(in_seconds(bench.openings[0] - hung) <= 0.46);
    BOOST_REQUIRE(bench.board.lost().has_value());
    BOOST_TEST((bench.board.lost()->reason == StopReason::rig_lost));
    BOOST_TEST(has(bench.board.lost()->sentence, "lease ran out"));
    BOOST_TEST(bench.given_up == "");  // the talk goes on
    const std::string again = co_await bench.try_power(true);
    BOOST_TEST(again == "");
  });
}

BOOST_AUTO_TEST_CASE(another_board_or_other_settings_are_never_energised) {
  const auto refused = [](const BoardIdentity& other) {
    BoardBench bench(other);
    std::string why;
    bench.run([&why](BoardBench& inside) -> asio::awaitable<void> {
      co_await inside.pass(0.5);
      why = co_await inside.try_power(true);
      BOOST_TEST(!inside.end.relay_closed());
    });
    return why;
  };
  BoardIdentity other = identity();
  other.serial = "QT-0002";
  BOOST_TEST(has(refused(other), "number QT-0002, the configuration wants QT-0001"));
  other = identity();
  other.settings[1].second = "2500";
  BOOST_TEST(has(refused(other), "trip_mA is 2500, the configuration wants 2000"));
  other = identity();
  other.settings.erase(other.settings.begin() + 1);
  BOOST_TEST(has(refused(other), "has not told its setting trip_mA"));
}

// The bound of half a second to a dead track rests on it, whatever the configuration asks of the board.
BOOST_AUTO_TEST_CASE(a_board_whose_lease_is_longer_than_it_may_be_is_not_energised) {
  BoardIdentity slow = identity();
  slow.lease = std::chrono::milliseconds(900);
  BoardBench bench(slow);
  bench.run([](BoardBench& inside) -> asio::awaitable<void> {
    co_await inside.pass(0.5);
    const std::string first = co_await inside.try_power(true);
    co_await inside.pass(0.2);
    BOOST_TEST(has(inside.board.trouble(), "the board's lease is 9"), first << inside.board.trouble());
    const std::string again = co_await inside.try_power(true);
    BOOST_TEST(has(again, "may be 400 at most"), again);
    BOOST_TEST(!inside.end.relay_closed());
  });
}

BOOST_AUTO_TEST_CASE(over_current_is_told_latches_and_is_not_cleared_by_the_host) {
  run([](BoardBench& bench) -> asio::awaitable<void> {
    co_await bench.pass(0.3);
    co_await bench.board.set_power(true);
    bench.end.sample(2500);
    bench.end.sample(2500);
    BOOST_TEST(!bench.end.relay_closed());
    co_await bench.pass(0.05);
    const std::string edge = co_await bench.try_edge(0.1);
    BOOST_TEST(has(edge, "above the board's trip"));
    BOOST_REQUIRE(bench.board.lost().has_value());
    BOOST_TEST((bench.board.lost()->reason == StopReason::over_current));
    bench.end.sample(100);
    const std::string again = co_await bench.try_power(true);
    BOOST_TEST(has(again, "press the board's reset"));
    bench.end.boot('e');
    co_await bench.pass(0.3);
    const std::string after_reset = co_await bench.try_power(true);
    BOOST_TEST(after_reset == "");
  });
}

// What a rule may forget is what it names; the rest waits for a person.
BOOST_AUTO_TEST_CASE(a_fault_that_no_rule_names_is_left_for_a_person) {
  run([](BoardBench& bench) -> asio::awaitable<void> {
    co_await bench.pass(0.3);
    co_await bench.board.set_power(true);
    bench.end.sample(2500);
    bench.end.sample(2500);
    bench.end.sample(100);
    co_await bench.pass(0.2);
    std::string refusal;
    try {
      co_await bench.board.clear_fault(StopReason::rig_lost);
    } catch (const RigFault& fault) {
      refusal = fault.what();
    }
    BOOST_TEST(has(refusal, "waits for a person: the current was above"));
    const std::string still = co_await bench.try_power(true);
    BOOST_TEST(has(still, "latched a fault"));
    co_await bench.board.clear_fault(StopReason::over_current);
    const std::string after = co_await bench.try_power(true);
    BOOST_TEST(after == "");
  });
}

BOOST_AUTO_TEST_CASE(each_fault_of_the_board_is_a_stop_of_its_own_kind) {
  const std::vector<std::pair<char, StopReason>> kinds = {{'c', StopReason::over_current}, {'b', StopReason::asked},
                                                          {'s', StopReason::no_sensor},    {'t', StopReason::energised},
                                                          {'l', StopReason::rig_lost},     {'w', StopReason::rig_lost},
                                                          {'h', StopReason::rig_lost}};
  for (const auto& [letter, reason] : kinds) BOOST_TEST((trackside::stop_reason(letter) == reason), letter);
}

BOOST_AUTO_TEST_CASE(a_reset_board_stays_dead_until_power_is_asked_for_anew) {
  run([](BoardBench& bench) -> asio::awaitable<void> {
    co_await bench.pass(0.3);
    co_await bench.board.set_power(true);
    bench.end.boot('w');
    co_await bench.pass(5);
    BOOST_TEST(!bench.end.relay_closed());
    const std::string edge = co_await bench.try_edge(0.1);
    BOOST_TEST(edge != "edge");
    BOOST_TEST(edge != "none");
  });
}

BOOST_AUTO_TEST_CASE(a_board_that_is_reset_while_it_is_told_to_close_is_not_closed) {
  run([](BoardBench& bench) -> asio::awaitable<void> {
    co_await bench.pass(0.3);
    bench.reset_soon = true;
    const std::string why = co_await bench.try_power(true);
    BOOST_TEST(has(why, "the board was reset"));
    co_await bench.pass(1);
    BOOST_TEST(bench.power_lines == 0);
    const std::string again = co_await bench.try_power(true);
    BOOST_TEST(again == "");
  });
}

BOOST_AUTO_TEST_CASE(power_taken_back_while_the_relay_is_told_to_close_stays_off) {
  run([](BoardBench& bench) -> asio::awaitable<void> {
    co_await bench.pass(0.3);
    bench.cut_soon = true;
    const std::string why = co_await bench.try_power(true);
    BOOST_TEST(has(why, "the power was switched off, while its relay was being closed"));
    co_await bench.pass(1);
    BOOST_TEST(bench.power_lines == 0);
  });
}

BOOST_AUTO_TEST_CASE(a_lost_link_never_energises_by_itself) {
  run([](BoardBench& bench) -> asio::awaitable<void> {
    co_await bench.pass(0.3);
    co_await bench.board.set_power(true);
    co_await bench.pass(0.5);
    bench.lose();
    const std::string edge = co_await bench.try_edge(0.1);
    BOOST_TEST(has(edge, "unplugged"));
    co_await bench.pass(1);
    BOOST_TEST(!bench.end.relay_closed());
    const Instant before = bench.clock.now();
    const std::string opening = co_await bench.try_power(false);
    BOOST_TEST(opening == "");  // by the lease, which is over
    BOOST_TEST(in_seconds(bench.clock.now() - before) >= 0.4);
    bench.open();
    co_await bench.pass(2);
    BOOST_TEST(!bench.end.relay_closed());
    const std::string closing = co_await bench.try_power(true);
    BOOST_TEST(closing == "");
  });
}

BOOST_AUTO_TEST_CASE(edges_get_the_tracks_numbers_an_epoch_and_true_times) {
  run([](BoardBench& bench) -> asio::awaitable<void> {
    co_await bench.pass(0.3);
    bench.end.edge(3, true, Duration{});
    bench.end.edge(2, true, Duration{});  // no gate of this track
    co_await bench.pass(2);
    bench.end.edge(1, false, Duration{});
    const Instant soon = bench.clock.now() + seconds(0.1);
    const auto first = co_await bench.board.next_edge(soon);
    const auto second = co_await bench.board.next_edge(soon);
    const auto third = co_await bench.board.next_edge(soon);
    BOOST_REQUIRE(first.has_value());
    BOOST_REQUIRE(second.has_value());
    BOOST_TEST(!third.has_value());
    BOOST_TEST(first->gate == 1);
    BOOST_TEST(first->blocked);
    BOOST_TEST(second->gate == 0);
    BOOST_TEST(!second->blocked);
    BOOST_TEST(first->epoch == second->epoch);
    BOOST_TEST(second->counter_us - first->counter_us == 2000000u);
    bench.end.boot('p');
    co_await bench.pass(0.3);
    bench.end.edge(1, true, Duration{});
    const auto later = co_await bench.board.next_edge(bench.clock.now() + seconds(0.1));
    BOOST_REQUIRE(later.has_value());
    BOOST_TEST(later->epoch != first->epoch);
  });
}

BOOST_AUTO_TEST_CASE(current_grows_old) {
  run([](BoardBench& bench) -> asio::awaitable<void> {
    bench.end.sample(321);
    co_await bench.pass(0.15);
    BOOST_TEST(bench.board.track_current_mA().value_or(-1) == 321);
    bench.dumb = true;
    co_await bench.pass(0.35);
    BOOST_TEST(!bench.board.track_current_mA().has_value());
  });
}

BOOST_AUTO_TEST_CASE(a_relay_that_is_not_confirmed_open_is_cut_and_reported) {
  run([](BoardBench& bench) -> asio::awaitable<void> {
    co_await bench.pass(0.3);
    co_await bench.board.set_power(true);
    bench.dumb = true;  // it obeys, but nobody hears of it
    const std::string opening = co_await bench.try_power(false);
    BOOST_TEST(has(opening, "did not open; switch the supply off by hand"));
    BOOST_TEST(!bench.end.relay_closed());
  });
}

BOOST_AUTO_TEST_CASE(a_link_full_of_nonsense_is_given_up) {
  run([](BoardBench& bench) -> asio::awaitable<void> {
    co_await bench.pass(0.3);
    for (int line = 0; line < 25; ++line) bench.to_host += "nonsense\n";
    co_await bench.pass(0.01);
    BOOST_TEST(has(bench.given_up, "check the baud rate"));
    BOOST_CHECK_NO_THROW(bench.board.cut());  // the lease does it
  });
}

BOOST_AUTO_TEST_SUITE_END()
