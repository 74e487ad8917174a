// Turnouts behind the guard: thrown under no engine, and rules about staging tracks hold for whoever drives. Track and
// times are invented.
#include "tests/unit/guarded_bench.h"

using namespace lapwright;

namespace {

struct Yarded : GuardedBench {
  Yarded() {
    TestTrack& track = limits.motion.track;
    track.length_mm = 6000;
    track.gates = {Gate{"throat", 500, 0.2}, Gate{"west", 1000, 0.2}};
    track.staging = Staging{1, 1, {StagingTrack{1600, Direction::forward}}};
  }
  static asio::awaitable<void> try_route(GuardedRig& guard, std::vector<std::string>& met, int route) {
    try {
      co_await guard.set_route(route);
    } catch (const RigFault& fault) {
      met.emplace_back(fault.what());
    }
  }
  void comes(double s, int gate) {
    const auto counter = static_cast<std::uint32_t>(s * 1e6);
    rig.to_come.push_back(GateEdge{gate, true, counter, 1, clock.now() + seconds(s)});
    rig.to_come.push_back(GateEdge{gate, false, counter + 1'500'000, 1, clock.now() + seconds(s + 1.5)});
  }
};

}  // namespace

BOOST_FIXTURE_TEST_SUITE(guarded_route, Yarded)

BOOST_AUTO_TEST_CASE(turnouts_stay_while_the_engine_runs) {
  const auto faults = run([](GuardedRig& guard, std::vector<std::string>& met) -> asio::awaitable<void> {
    co_await try_route(guard, met, 1);
    co_await try_drive(guard, met, 5);
    co_await try_route(guard, met, 0);
    co_await guard.halt();
    co_await try_route(guard, met, 0);
    co_await guard.make_safe();
    co_await try_route(guard, met, 0);
  });
  BOOST_TEST(rig.calls == (std::vector<std::string>{"route 1", "drive 5", "halt", "halt", "off"}),
             boost::test_tools::per_element());
  BOOST_REQUIRE(faults.size() == 3U);
  BOOST_TEST(has_part(faults[0], "the turnouts were left as they lie: the engine is commanded to run"));
  BOOST_TEST(has_part(faults[1], "has not come to rest yet"));
  BOOST_TEST(has_part(faults[2], "the job is over"));
  BOOST_TEST(!stop.has_value());  // vetoed, and stops nothing
}

BOOST_AUTO_TEST_CASE(a_station_that_sets_no_turnout_is_lost) {
  rig.mute = true;
  const auto faults = run([](GuardedRig& guard, std::vector<std::string>& met) -> asio::awaitable<void> {
    co_await try_route(guard, met, 1);
  });
  BOOST_TEST(faults.size() == 1U);
  BOOST_REQUIRE(stop.has_value());
  BOOST_TEST(code(stop->reason) == "rig-lost");
}

BOOST_AUTO_TEST_CASE(round_the_loop_with_the_turnouts_set) {
  comes(5, 1);
  comes(55, 0);
  run([&](GuardedRig& guard, std::vector<std::string>& met) -> asio::awaitable<void> {
    co_await guard.power_up();
    co_await try_route(guard, met, 1);
    co_await try_drive(guard, met, 5);
    co_await clock.sleep_for(seconds(100));
  });
  BOOST_REQUIRE(stop.has_value());
  BOOST_TEST(code(stop->reason) == "off-route");
  BOOST_TEST(has_part(stop->sentence, "gate throat saw the engine on the loop"));
}

// It comes home past its gate, and nobody stops it: no lap has told how fast it is.
BOOST_AUTO_TEST_CASE(in_towards_the_buffers) {
  comes(5, 1);
  run([&](GuardedRig& guard, std::vector<std::string>& met) -> asio::awaitable<void> {
    co_await guard.power_up();
    co_await try_route(guard, met, 1);
    const ThrottleCommand home{5, Direction::reverse, StepMode::steps28};
    co_await guard.drive(home);
    co_await clock.sleep_for(seconds(100));
  });
  BOOST_REQUIRE(stop.has_value());
  BOOST_TEST(code(stop->reason) == "end-of-track");
}

BOOST_AUTO_TEST_SUITE_END()
