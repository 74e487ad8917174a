// What the guard sees by itself, whatever the procedure does: current, edges, and how late the computer lets it look.
#include <algorithm>
#include <boost/asio/detached.hpp>

#include "tests/unit/guarded_bench.h"

using namespace lapwright;

namespace {

/// Time as a computer that is busy with other things lets one see it.
class JumpingClock final : public Clock {
 public:
  explicit JumpingClock(VirtualClock& clock) : clock_(clock) {}
  [[nodiscard]] Instant now() const override { return clock_.now() + jumped; }
  asio::awaitable<bool> sleep_on(asio::steady_timer& alarm, Instant deadline) override {
    return clock_.sleep_on(alarm, deadline - jumped);
  }
  Duration jumped{};

 private:
  VirtualClock& clock_;
};

}  // namespace

BOOST_FIXTURE_TEST_SUITE(guarded_senses, GuardedBench)

BOOST_AUTO_TEST_CASE(a_computer_that_is_late_makes_the_track_dead) {
  for (const double late_s : {0.09, 0.12}) {
    JumpingClock busy(clock);
    GuardLimits usual;
    usual.accept_no_current_sensor = true;
    GuardedRig guard(rig, rig, busy, usual);
    asio::io_context context;
    const auto rethrow = [](const std::exception_ptr& failure) {
      if (failure) std::rethrow_exception(failure);
    };
    const auto script = [&]() -> asio::awaitable<void> {
      co_await guard.power_up();
      co_await clock.sleep_for(seconds(1));
      busy.jumped += seconds(late_s);
      co_await clock.sleep_for(seconds(1));
      stop = guard.stopped();
      co_await guard.make_safe();
    };
    asio::co_spawn(context, guard.watch(), rethrow);
    asio::co_spawn(context, script(), rethrow);
    BOOST_TEST((clock.run(context, seconds(3600)) == VirtualClock::Outcome::finished));
    BOOST_TEST(stop.has_value() == (late_s > 0.1));
  }
  BOOST_TEST(code(stop->reason) == "host-late");
}

BOOST_AUTO_TEST_CASE(a_guard_that_ends_by_a_fault_leaves_nothing_running) {
  GuardLimits usual;
  usual.accept_no_current_sensor = true;
  GuardedRig guard(rig, rig, clock, usual);
  std::exception_ptr fault;
  asio::io_context context;
  const auto script = [&]() -> asio::awaitable<void> {
    std::vector<std::string> met;
    co_await guard.power_up();
    co_await try_drive(guard, met, 5);
    rig.broken = true;
    co_await clock.sleep_for(seconds(1));
  };
  asio::co_spawn(context, guard.watch(), [&](const std::exception_ptr& failure) { fault = failure; });
  asio::co_spawn(context, script(), asio::detached);
  BOOST_TEST((clock.run(context, seconds(3600)) == VirtualClock::Outcome::finished));
  BOOST_REQUIRE(fault);
  BOOST_CHECK_THROW(std::rethrow_exception(fault), std::logic_error);
  BOOST_TEST(guard.safe());
  BOOST_TEST(code(guard.stopped()->reason) == "own-fault");
  BOOST_TEST(rig.calls.back() == "off");
}

// Parking a silent station takes seconds; a short circuit meanwhile must not wait for that.
BOOST_AUTO_TEST_CASE(nothing_that_waits_keeps_the_guard_from_looking) {
  rig.current_mA = 0;
  rig.silent_s = 9;
  limits.running.caps = {{"of one engine in one job", 3, 3}};
  Instant shorted_at{};
  run([&](GuardedRig& guard, std::vector<std::string>& met) -> asio::awaitable<void> {
    co_await guard.power_up();
    co_await try_drive(guard, met, 5);
    co_await clock.sleep_for(seconds(4));  // the cap on running time has struck; the halt is not confirmed yet
    rig.current_mA = 2600;
    shorted_at = clock.now();
    co_await clock.sleep_for(seconds(20));
  });
  BOOST_REQUIRE(rig.cut_at.has_value());
  BOOST_TEST(in_seconds(*rig.cut_at - shorted_at) < 0.33);  // 0.3 s above the peak
}

BOOST_AUTO_TEST_CASE(without_a_current_sensor_the_track_stays_dead) {
  const auto power_up = [&](GuardedRig& guard, std::vector<std::string>& met) -> asio::awaitable<void> {
    std::string fault = "none";
    try {
      co_await guard.power_up();
    } catch (const RigFault& said) {
      fault = said.what();
    }
    met.push_back(fault);
    co_await guard.make_safe();
  };
  limits.accept_no_current_sensor = true;
  BOOST_TEST(run(power_up).front() == "none");
  limits.accept_no_current_sensor = false;
  must_sense = true;
  rig.calls.clear();
  BOOST_TEST(has_part(run(power_up).front(), "/limits/accept_no_current_sensor"));
  BOOST_TEST(code(stop->reason) == "no-sensor");
  BOOST_TEST(std::count(rig.calls.begin(), rig.calls.end(), "on") == 0);
}

// A welded relay, another feed, or a sensor stuck at some value: all show before the track is made live.
BOOST_AUTO_TEST_CASE(current_through_a_dead_track_keeps_it_dead) {
  rig.current_mA = 250;
  const auto faults = run([&](GuardedRig& guard, std::vector<std::string>& met) -> asio::awaitable<void> {
    try {
      co_await guard.power_up();
    } catch (const RigFault& said) {
      met.emplace_back(said.what());
    }
  });
  BOOST_REQUIRE(faults.size() == 1u);
  BOOST_TEST(has_part(faults.front(), "250 mA though its power is off; look whether the relay is welded"));
  BOOST_TEST(std::count(rig.calls.begin(), rig.calls.end(), "on") == 0);
}

BOOST_AUTO_TEST_CASE(a_sensor_that_falls_silent_stops_the_engine) {
  rig.current_mA = 0;
  Instant gone_at{};
  run([&](GuardedRig& guard, std::vector<std::string>& met) -> asio::awaitable<void> {
    co_await guard.power_up();
    rig.current_mA = 120;
    co_await try_drive(guard, met, 5);
    co_await clock.sleep_for(seconds(5));
    rig.current_mA.reset();
    gone_at = clock.now();
    co_await clock.sleep_for(seconds(5));
  });
  BOOST_REQUIRE(stop.has_value());
  BOOST_TEST(code(stop->reason) == "no-sensor");
  BOOST_TEST(in_seconds(*rig.cut_at - gone_at) < 1.1);
}

// The procedure asks for no edge at all, as one that hangs does.
BOOST_AUTO_TEST_CASE(edges_reach_the_rules_before_the_procedure) {
  limits.motion.track.length_mm = 1000;
  limits.motion.track.gates = {Gate{"west", 400, 0.2}, Gate{"east", 550, 0.2}};
  for (const bool blocked : {true, false}) {
    rig.to_come.push_back(
        GateEdge{1, blocked, blocked ? 20'000'000U : 21'000'000U, 1, Instant{} + seconds(blocked ? 20 : 21)});
  }
  run([&](GuardedRig& guard, std::vector<std::string>& met) -> asio::awaitable<void> {
    co_await guard.power_up();
    co_await try_drive(guard, met, 5);
    co_await clock.sleep_for(seconds(2));
    co_await guard.halt();
    co_await clock.sleep_for(seconds(30));
  });
  BOOST_REQUIRE(stop.has_value());
  BOOST_TEST(code(stop->reason) == "moved-at-rest");
  BOOST_REQUIRE(rig.cut_at.has_value());
  BOOST_TEST(in_seconds(*rig.cut_at - Instant{}) < 20.08);  // 20 ms for bounce, 10 to look, 20 for the engine to hear
}

BOOST_AUTO_TEST_CASE(edges_wait_for_the_procedure_and_keep_their_order) {
  for (unsigned edge = 0; edge < 6; ++edge) {
    rig.to_come.push_back(GateEdge{static_cast<int>(edge % 2), true, edge, 1, Instant{} + seconds(0.1 * (1 + edge))});
  }
  std::vector<unsigned> fetched;
  run([&](GuardedRig& guard, std::vector<std::string>&) -> asio::awaitable<void> {
    co_await clock.sleep_for(seconds(0.35));
    for (;;) {
      const Instant soon = clock.now() + seconds(0.2);
      const std::optional<GateEdge> edge = co_await guard.next_edge(soon);
      if (!edge) break;
      fetched.push_back(edge->counter_us);
    }
    co_await guard.make_safe();
  });
  BOOST_TEST(fetched == (std::vector<unsigned>{0, 1, 2, 3, 4, 5}), boost::test_tools::per_element());
}

BOOST_AUTO_TEST_SUITE_END()
