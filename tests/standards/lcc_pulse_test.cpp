// A train that is controlled and says nothing: it is asked by Query Speeds (Train Control Standard 4.3, 4.4), which
// every train has to answer, and which keeps its heartbeat content (6.6).
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/this_coro.hpp>

#include "tests/standards/lcc_peer.h"

using namespace lapwright;
using namespace lapwright::lcc;

namespace {

constexpr const char* query_speeds = ":X195EBDD8N0E7A10;";
const ThrottleCommand step_40{40, Direction::forward, StepMode::steps126};

struct Watched : PeerWithTrain<Watched> {
  void falls_silent() { rules.erase(query_speeds); }
  [[nodiscard]] double now_s() const { return in_seconds(clock.now().time_since_epoch()); }
  /// How long until the engine counts as lost; empty: not within that time.
  asio::awaitable<std::optional<double>> lost_within(double limit_s) {
    const double begun_s = now_s();
    while (!station.lost() && now_s() < begun_s + limit_s) co_await pass(0.001);
    if (!station.lost()) co_return std::nullopt;
    co_return now_s() - begun_s;
  }
};

std::string why(const LccStation& station) { return station.lost() ? station.lost()->sentence : ""; }

}  // namespace

BOOST_FIXTURE_TEST_SUITE(lcc_pulse, Watched)

BOOST_AUTO_TEST_CASE(a_train_that_answers_is_asked_now_and_then) {
  work([](Watched& peer) -> asio::awaitable<void> {
    co_await peer.station.drive(step_40);
    const int before = peer.count(query_speeds);
    const std::optional<double> lost = co_await peer.lost_within(8);
    BOOST_TEST(!lost.has_value(), why(peer.station));
    const int asked = peer.count(query_speeds) - before;
    BOOST_TEST(asked >= 28);  // every 0.25 s, and what the answers take
    BOOST_TEST(asked <= 32);
    BOOST_TEST(peer.given_up == "");
  });
}

BOOST_AUTO_TEST_CASE(nobody_is_asked_without_an_engine) {
  run([](Peer& peer) -> asio::awaitable<void> {
    co_await peer.pass(5);
    BOOST_TEST(peer.count(query_speeds) == 0);
    BOOST_TEST(!peer.station.lost());
  });
}

BOOST_AUTO_TEST_CASE(silence_is_a_fault_and_a_dead_link_is_opened_anew) {
  work([](Watched& peer) -> asio::awaitable<void> {
    co_await peer.station.drive(step_40);
    peer.falls_silent();
    const std::optional<double> lost = co_await peer.lost_within(5);
    BOOST_REQUIRE(lost.has_value());
    BOOST_TEST(*lost <= 0.76);
    BOOST_TEST(why(peer.station).find("said nothing of the engine for 750 ms") != std::string::npos);
    BOOST_TEST(peer.given_up == "");  // what stops the engine goes out before the link is closed
    peer.station.send_halt();
    BOOST_TEST(peer.sent.back() == ":X195EBDD8N0E7A02;");
    co_await peer.pass(0.35);
    BOOST_TEST(peer.given_up == why(peer.station));
    const std::string fault = co_await peer.fault_of(peer.station.drive(step_40));
    BOOST_TEST(fault == why(peer.station));
  });
}

BOOST_AUTO_TEST_CASE(a_bus_that_lives_is_kept) {
  work([](Watched& peer) -> asio::awaitable<void> {
    co_await peer.station.drive(step_40);
    peer.falls_silent();
    for (int tenth = 1; tenth < 20; ++tenth)
      peer.later(0.1 * tenth, [&peer] { peer.hear(":X195B4123N0102030405060708;"); });
    const std::optional<double> lost = co_await peer.lost_within(5);
    BOOST_TEST(lost.has_value());
    co_await peer.pass(1);
    BOOST_TEST(peer.given_up == "");
  });
}

// Datagram Transport Standard 6.2, Memory Configuration Standard 4.4: an access may take seconds, and has a deadline of
// its own.
BOOST_AUTO_TEST_CASE(an_access_to_a_cv_may_take_longer) {
  work([](Watched& peer) -> asio::awaitable<void> {
    peer.falls_silent();
    peer.when(read_cv5, {acknowledged});
    peer.later(1.8, [&peer] { peer.hear(":X1ADD8E7AN205000000004F8FF;"); });
    const std::string value = co_await peer.read(5);
    BOOST_TEST(value == "255");
    BOOST_TEST(!peer.station.lost());
    const std::optional<double> lost = co_await peer.lost_within(5);
    BOOST_REQUIRE(lost.has_value());  // afterwards the silence counts again
    BOOST_TEST(*lost >= 0.74);
  });
}

BOOST_AUTO_TEST_CASE(but_not_while_the_engine_runs) {
  work([](Watched& peer) -> asio::awaitable<void> {
    co_await peer.station.drive(step_40);
    peer.falls_silent();
    std::optional<double> lost;
    const auto wait_for_it = [&peer, &lost]() -> asio::awaitable<void> { lost = co_await peer.lost_within(5); };
    const auto executor = co_await asio::this_coro::executor;
    auto waiting = wait_for_it();
    asio::co_spawn(executor, std::move(waiting), asio::detached);
    const std::string value = co_await peer.read(5);  // the datagram is not even acknowledged
    BOOST_TEST(value.find("did not answer to a CV access in time") != std::string::npos, value);
    BOOST_REQUIRE(lost.has_value());
    BOOST_TEST(*lost <= 0.76);
  });
}

BOOST_AUTO_TEST_CASE(one_answer_of_three_is_enough) {
  work([](Watched& peer) -> asio::awaitable<void> {
    const std::vector<std::string> answer = peer.rules.at(query_speeds);
    peer.falls_silent();
    for (int part = 1; part < 8; ++part) {
      peer.later(0.7 * part, [&peer, answer] {
        for (const std::string& frame : answer) peer.hear(frame);
      });
    }
    const std::optional<double> lost = co_await peer.lost_within(5.5);
    BOOST_TEST(!lost.has_value());
  });
}

BOOST_AUTO_TEST_SUITE_END()
