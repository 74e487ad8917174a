// What the guard makes of a track that is to be dead: it believes the current, waits for nobody, and asks again.
#include <algorithm>
#include <boost/asio/detached.hpp>
#include <boost/asio/this_coro.hpp>

#include "tests/unit/guarded_bench.h"

using namespace lapwright;

namespace {

struct DeadBench : GuardedBench {
  asio::awaitable<void> current_falls(double after_s) {
    co_await clock.sleep_for(seconds(after_s));
    rig.current_mA = 0;
  }
  asio::awaitable<void> somebody_stops(GuardedRig& guard, double after_s) {
    co_await clock.sleep_for(seconds(after_s));
    Stop asked{StopReason::asked, "somebody asked"};
    guard.stop(std::move(asked));
  }
};

}  // namespace

BOOST_FIXTURE_TEST_SUITE(guarded_dead, DeadBench)

BOOST_AUTO_TEST_CASE(power_that_is_off_and_a_current_that_flows_are_a_trouble) {
  rig.current_mA = 0;
  run([&](GuardedRig& guard, std::vector<std::string>&) -> asio::awaitable<void> {
    co_await guard.power_up();
    rig.current_mA = 80;
    rig.welded = true;
    co_await guard.make_safe();
    BOOST_TEST(!guard.safe());
    co_await clock.sleep_for(seconds(1.2));
    BOOST_TEST(!guard.safe());
    rig.current_mA = 4;  // somebody switched the supply off
    co_await clock.sleep_for(seconds(2));
    BOOST_TEST(guard.safe());
  });
  BOOST_TEST(troubles.size() == 1U);
  BOOST_TEST(has_part(troubles.at(0), "the track still draws 80 mA. Switch the supply off by hand"), troubles.at(0));
}

BOOST_AUTO_TEST_CASE(a_current_that_falls_a_moment_later_is_none) {
  rig.current_mA = 0;
  run([&](GuardedRig& guard, std::vector<std::string>&) -> asio::awaitable<void> {
    co_await guard.power_up();
    rig.current_mA = 80;
    rig.welded = true;
    const auto executor = co_await boost::asio::this_coro::executor;
    boost::asio::co_spawn(executor, current_falls(0.2), boost::asio::detached);
    co_await guard.make_safe();
    BOOST_TEST(guard.safe());
  });
  BOOST_TEST(troubles.empty());
}

// A station that says nothing for seconds: the relay must not wait for it, whatever the job ends by.
BOOST_AUTO_TEST_CASE(a_silent_station_delays_no_end) {
  run([&](GuardedRig& guard, std::vector<std::string>& met) -> asio::awaitable<void> {
    co_await guard.power_up();
    co_await try_drive(guard, met, 5);
    rig.silent_s = 3;
    const Instant asked = clock.now();
    co_await guard.make_safe();
    BOOST_REQUIRE(rig.cut_at.has_value());
    BOOST_TEST(in_seconds(*rig.cut_at - asked) < 0.32);
  });
}

// An answer that comes after the track went dead tells nothing of the decoder.
BOOST_AUTO_TEST_CASE(a_write_into_a_dead_track_has_not_happened) {
  const auto faults = run([&](GuardedRig& guard, std::vector<std::string>& met) -> asio::awaitable<void> {
    co_await guard.power_up();
    rig.write_s = 0.5;
    const auto executor = co_await boost::asio::this_coro::executor;
    boost::asio::co_spawn(executor, somebody_stops(guard, 0.2), boost::asio::detached);
    co_await try_write(guard, met, 3);
    co_await guard.make_safe();
  });
  BOOST_TEST(faults == (std::vector<std::string>{"somebody asked"}), boost::test_tools::per_element());
}

BOOST_AUTO_TEST_CASE(a_write_that_the_rig_was_lost_under_has_not_happened) {
  const auto faults = run([&](GuardedRig& guard, std::vector<std::string>& met) -> asio::awaitable<void> {
    co_await guard.power_up();
    rig.gone = Stop{StopReason::rig_lost, "the board was reset"};
    co_await try_write(guard, met, 3);
    co_await guard.make_safe();
  });
  BOOST_TEST(faults == (std::vector<std::string>{"the board was reset"}), boost::test_tools::per_element());
  BOOST_TEST(code(stop->reason) == "rig-lost");
}

// The monotonic clock stands still meanwhile: nothing else shows that the engine ran on without anybody watching.
BOOST_AUTO_TEST_CASE(a_machine_that_slept_makes_the_track_dead_when_it_wakes) {
  run([&](GuardedRig& guard, std::vector<std::string>& met) -> asio::awaitable<void> {
    clock.suspend(seconds(3600));  // before anything is live that is no fault
    co_await clock.sleep_for(seconds(0.05));
    co_await guard.power_up();
    co_await try_drive(guard, met, 5);
    co_await clock.sleep_for(seconds(1));
    BOOST_TEST(!guard.stopped().has_value());
    clock.suspend(seconds(7));
    const Instant woken = clock.now();
    co_await clock.sleep_for(seconds(0.1));
    BOOST_REQUIRE(rig.cut_at.has_value());
    BOOST_TEST(in_seconds(*rig.cut_at - woken) < 0.05);
    co_await guard.make_safe();
  });
  BOOST_REQUIRE(stop.has_value());
  BOOST_TEST(code(stop->reason) == "host-late");
  BOOST_TEST(has_part(stop->sentence, "slept for 7 s"));
}

BOOST_AUTO_TEST_CASE(a_short_nap_within_the_limit_is_none) {
  run([&](GuardedRig& guard, std::vector<std::string>&) -> asio::awaitable<void> {
    co_await guard.power_up();
    clock.suspend(seconds(limits.late_s));
    co_await clock.sleep_for(seconds(0.1));
    co_await guard.make_safe();
  });
  BOOST_TEST(!stop.has_value());
}

// What keeps the feed closed hears of every look, and of none once the track has to be dead.
BOOST_AUTO_TEST_CASE(every_look_vouches_for_the_engine_until_a_stop) {
  run([&](GuardedRig& guard, std::vector<std::string>&) -> asio::awaitable<void> {
    co_await guard.power_up();
    const int before = rig.vouched;
    co_await clock.sleep_for(seconds(1));
    BOOST_TEST(rig.vouched - before >= 99);
    BOOST_TEST(guard.awake());
    guard.stop(Stop{StopReason::asked, "somebody asked"});
    const int at_stop = rig.vouched;
    co_await clock.sleep_for(seconds(0.1));
    BOOST_TEST(rig.vouched == at_stop);
    co_await guard.make_safe();
    co_await clock.sleep_for(seconds(5));
    BOOST_TEST(guard.awake());  // there is nothing more to see
  });
}

BOOST_AUTO_TEST_CASE(a_guard_that_does_not_look_is_not_awake) {
  GuardedRig guard(rig, rig, clock, limits);
  BOOST_TEST(guard.awake());
  asio::io_context context;
  const auto a_second = [](VirtualClock& passing) -> asio::awaitable<void> {
    co_await passing.sleep_for(seconds(1.01));
  };
  asio::co_spawn(context, a_second(clock), boost::asio::detached);
  clock.run(context, seconds(2));
  BOOST_TEST(!guard.awake());
}

// The procedure goes on commanding although a rest is due: the guard stands the engine and lets nothing pass meanwhile.
BOOST_AUTO_TEST_CASE(a_rest_that_nobody_sees_to_is_taken_all_the_same) {
  limits.running.continuous_s = 100;
  limits.running.rest_s = 50;
  run([&](GuardedRig& guard, std::vector<std::string>& met) -> asio::awaitable<void> {
    co_await guard.power_up();
    co_await try_drive(guard, met, 5);
    co_await clock.sleep_for(seconds(99));
    BOOST_TEST(guard.rest_due_s() == 0);
    co_await clock.sleep_for(seconds(2));
    BOOST_TEST(guard.rest_due_s() > 49);
    co_await clock.sleep_for(seconds(180));
    BOOST_TEST(rig.calls.back() == "halt");
    const Instant asked = clock.now();
    co_await try_drive(guard, met, 6);
    BOOST_TEST(rig.calls.back() == "drive 6");
    BOOST_TEST(in_seconds(clock.now() - asked) > 48);
    BOOST_TEST(in_seconds(clock.now() - asked) < 52);
    BOOST_TEST(guard.rest_due_s() == 0);
    BOOST_TEST(met.empty());
    co_await guard.make_safe();
  });
  BOOST_TEST(!stop.has_value());
}

// It answers just before the guard would cut without it: nothing is cut then.
BOOST_AUTO_TEST_CASE(a_slow_station_that_answers_in_time_is_not_overtaken) {
  run([&](GuardedRig& guard, std::vector<std::string>&) -> asio::awaitable<void> {
    co_await guard.power_up();
    rig.silent_s = 0.295;
    co_await guard.make_safe();
    co_await clock.sleep_for(seconds(0.5));
  });
  BOOST_TEST(!rig.cut_at.has_value());
  BOOST_TEST(rig.calls.back() == "off");
}

BOOST_AUTO_TEST_CASE(a_sensor_that_need_not_be_there_is_proved_where_it_is) {
  limits.accept_no_current_sensor = true;
  rig.current_mA = 80;
  run([&](GuardedRig& guard, std::vector<std::string>&) -> asio::awaitable<void> {
    try {
      co_await guard.power_up();
    } catch (const RigFault&) {
    }
    co_await guard.make_safe();
  });
  BOOST_REQUIRE(stop.has_value());
  BOOST_TEST(code(stop->reason) == "no-sensor");
}

BOOST_AUTO_TEST_CASE(nobody_drives_a_parked_engine_or_after_the_job) {
  const auto faults = run([&](GuardedRig& guard, std::vector<std::string>& met) -> asio::awaitable<void> {
    co_await guard.power_up();
    co_await guard.park();
    co_await guard.park();
    co_await try_drive(guard, met, 5);
    co_await guard.make_safe();
    co_await try_drive(guard, met, 5);
  });
  BOOST_REQUIRE(faults.size() == 2U);
  BOOST_TEST(has_part(faults[0], "the engine is parked"), faults[0]);
  BOOST_TEST(has_part(faults[1], "the job is over"), faults[1]);
  BOOST_TEST(std::count(rig.calls.begin(), rig.calls.end(), "halt") == 2);  // one of parking, one of the end
}

// Ten thousand edges that nobody fetches are enough: the oldest go.
BOOST_AUTO_TEST_CASE(edges_that_nobody_fetches_are_bounded) {
  for (int k = 0; k < 10'005; ++k) {
    rig.to_come.push_back(GateEdge{0, k % 2 == 0, static_cast<std::uint32_t>(k), 1, Instant{} + seconds(0.001 * k)});
  }
  std::optional<GateEdge> first;
  run([&](GuardedRig& guard, std::vector<std::string>&) -> asio::awaitable<void> {
    co_await clock.sleep_for(seconds(20));
    const Instant now = clock.now();
    first = co_await guard.next_edge(now);
    co_await guard.make_safe();
  });
  BOOST_REQUIRE(first.has_value());
  BOOST_TEST(first->counter_us == 5U);
}

// What the gates and the sensor say after the end is nobody's any more: the engine is lifted off by hand.
BOOST_AUTO_TEST_CASE(after_the_end_nothing_is_judged) {
  limits.motion.track.gates = {Gate{"west", 0, 0.2}};
  limits.motion.track.length_mm = 1000;
  rig.current_mA = 0;
  for (const double at_s : {8.0, 8.5}) {
    rig.to_come.push_back(
        GateEdge{0, at_s < 8.2, static_cast<std::uint32_t>(at_s * 1e6), 1, Instant{} + seconds(at_s)});
  }
  run([&](GuardedRig& guard, std::vector<std::string>&) -> asio::awaitable<void> {
    co_await guard.power_up();
    rig.current_mA = 80;
    rig.welded = true;  // so that the guard goes on
    co_await guard.make_safe();
    co_await clock.sleep_for(seconds(9));
    rig.gone = Stop{StopReason::rig_lost, "gone"};
    co_await clock.sleep_for(seconds(1));
  });
  BOOST_TEST(!stop.has_value());
}

BOOST_AUTO_TEST_CASE(what_an_engine_may_draw_grows_with_its_scale) {
  double before_mA = 0;
  for (const double ratio : {220.0, 160.0, 87.1, 64.0, 48.0, 22.5}) {
    const CurrentLimits usual = usual_limits(ratio);
    BOOST_TEST(usual.peak_mA >= before_mA);
    BOOST_TEST(usual.mean_mA == usual.peak_mA / 2);
    before_mA = usual.peak_mA;
  }
  BOOST_TEST(usual_limits(160).peak_mA == 1000);
  BOOST_TEST(usual_limits(87.1).peak_mA == CurrentLimits{}.peak_mA);
  BOOST_TEST(usual_limits(48).peak_mA == 4000);
}

BOOST_AUTO_TEST_CASE(a_forbidden_write_is_a_defect_and_said_to_be_one) {
  run([&](GuardedRig& guard, std::vector<std::string>& met) -> asio::awaitable<void> {
    co_await guard.power_up();
    co_await try_write(guard, met, 8);
    BOOST_TEST(met.size() == 1U);
    co_await guard.make_safe();
  });
  BOOST_REQUIRE(troubles.size() == 1U);
  BOOST_TEST(has_part(troubles[0], "a defect of this program"), troubles[0]);
  BOOST_TEST(has_part(troubles[0], "CV8"), troubles[0]);
}

BOOST_AUTO_TEST_SUITE_END()
