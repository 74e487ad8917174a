#include "drivers/safety/guarded_rig.h"

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/test/unit_test.hpp>
#include <deque>
#include <vector>

#include "drivers/virtual_clock.h"
#include "tuning/rig_fault.h"

using namespace lapwright;
namespace asio = boost::asio;

namespace {

/// Rig and track power in one, noting what reaches them.
class FakeRig final : public Rig, public TrackPower {
 public:
  explicit FakeRig(Clock& clock) : clock_(clock) {}
  asio::awaitable<void> drive(ThrottleCommand command) override {
    if (lost) throw RigFault("station does not answer");
    calls.push_back("drive " + std::to_string(command.step));
    co_return;
  }
  asio::awaitable<void> halt() override {
    if (silent_s > 0) co_await clock_.sleep_for(seconds(silent_s));
    calls.push_back("halt");
    if (lost) throw RigFault("station does not answer");
    co_return;
  }
  asio::awaitable<CvWriteReply> write_cv(int cv, std::uint8_t value) override {
    calls.push_back("CV" + std::to_string(cv) + "=" + std::to_string(value));
    co_return CvWriteReply::silent;
  }
  asio::awaitable<CvWriteReply> write_cv_bit(int cv, int, bool) override {
    calls.push_back("bit of CV" + std::to_string(cv));
    co_return CvWriteReply::silent;
  }
  asio::awaitable<std::optional<std::uint8_t>> read_cv(int) override { co_return std::nullopt; }
  asio::awaitable<std::optional<GateEdge>> next_edge(Instant deadline) override {
    if (to_come.empty() || to_come.front().heard > deadline) {
      co_await clock_.sleep_until(deadline);
      co_return std::nullopt;
    }
    const GateEdge first = to_come.front();
    co_await clock_.sleep_until(first.heard);
    to_come.pop_front();
    co_return first;
  }
  [[nodiscard]] std::optional<double> track_current_mA() const override { return current_mA; }
  asio::awaitable<void> set_power(bool on) override {
    calls.push_back(on ? "on" : "off");
    co_return;
  }

  void send_halt() override { calls.emplace_back("send halt"); }
  void cut() override {
    calls.emplace_back("cut");
    cut_at = clock_.now();
  }
  [[nodiscard]] std::string why_lost() const override { return why; }

  std::vector<std::string> calls;
  std::optional<double> current_mA;
  std::deque<GateEdge> to_come;
  bool lost = false;
  std::string why;      ///< the engine can't be commanded any more
  double silent_s = 0;  ///< until the station confirms a halt
  std::optional<Instant> cut_at;

 private:
  Clock& clock_;
};

struct GuardedBench {
  VirtualClock clock;
  FakeRig rig{clock};
  GuardLimits limits;

  /// Runs `script` beside the guard's watch until both have ended. @returns the faults that the script met
  template <class Script>
  std::vector<std::string> run(Script script) {
    limits.accept_no_current_sensor = limits.accept_no_current_sensor || !(must_sense || rig.current_mA);
    GuardedRig guard(rig, rig, clock, limits);
    std::vector<std::string> faults;
    asio::io_context context;
    const auto rethrow = [](const std::exception_ptr& failure) {
      if (failure) std::rethrow_exception(failure);
    };
    asio::co_spawn(context, guard.watch(), rethrow);
    asio::co_spawn(context, script(guard, faults), rethrow);
    BOOST_TEST((clock.run(context, seconds(3600)) == VirtualClock::Outcome::finished));
    stop = guard.stopped();
    troubles = guard.troubles();
    return faults;
  }
  std::optional<Stop> stop;
  std::vector<std::string> troubles;
  bool must_sense = false;  ///< also where the rig has no sensor
};

asio::awaitable<void> try_write(GuardedRig& guard, std::vector<std::string>& faults, int cv) {
  try {
    co_await guard.write_cv(cv, 1);
  } catch (const RigFault& fault) {
    faults.emplace_back(fault.what());
  }
}

asio::awaitable<void> try_drive(GuardedRig& guard, std::vector<std::string>& faults, int step) {
  const ThrottleCommand command{step, Direction::forward, StepMode::steps28};
  try {
    co_await guard.drive(command);
  } catch (const RigFault& fault) {
    faults.emplace_back(fault.what());
  }
}

bool has(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

}  // namespace

BOOST_FIXTURE_TEST_SUITE(guarded_rig, GuardedBench)

// NMRA S-9.2.2: CV1, 7, 8, 17 and 18 hold address and reset, CV15/16 the decoder lock, CV31/32 the page of indexed CVs.
BOOST_AUTO_TEST_CASE(forbidden_cvs_are_vetoed_and_stop_nothing) {
  const auto faults = run([](GuardedRig& guard, std::vector<std::string>& met) -> asio::awaitable<void> {
    for (const int cv : {1, 7, 8, 15, 16, 17, 18, 31, 32, 30, 96}) co_await try_write(guard, met, cv);
    for (const int cv : {2, 3, 4, 5, 6, 19, 23, 24, 29, 65, 66, 67, 94, 95}) co_await try_write(guard, met, cv);
    co_await guard.make_safe();
  });
  BOOST_TEST(faults.size() == 11u);
  BOOST_TEST(has(faults.front(), "CV1 is not among the CVs"));
  BOOST_TEST(rig.calls.size() == 14u + 2u);
  BOOST_TEST(!stop.has_value());
}

BOOST_AUTO_TEST_CASE(writes_of_one_cv_are_capped) {
  limits.writes_per_cv = 3;
  const auto faults = run([](GuardedRig& guard, std::vector<std::string>& met) -> asio::awaitable<void> {
    for (int i = 0; i < 5; ++i) co_await try_write(guard, met, 67);
    co_await try_write(guard, met, 68);
    co_await guard.make_safe();
  });
  BOOST_TEST(faults.size() == 2u);
  BOOST_TEST(has(faults.front(), "CV67 was written 3 times in this job, the limit is 3"));
}

BOOST_AUTO_TEST_CASE(over_current_makes_the_track_dead) {
  rig.current_mA = 0;
  const auto faults = run([&](GuardedRig& guard, std::vector<std::string>& met) -> asio::awaitable<void> {
    co_await guard.power_up();
    rig.current_mA = 2600;
    co_await try_drive(guard, met, 5);
    co_await clock.sleep_for(seconds(0.15));
    co_await try_drive(guard, met, 6);
    co_await clock.sleep_for(seconds(0.5));
    co_await try_drive(guard, met, 7);
    co_await try_write(guard, met, 3);
  });
  BOOST_TEST(rig.calls == (std::vector<std::string>{"on", "drive 5", "drive 6", "send halt", "cut", "halt", "off"}),
             boost::test_tools::per_element());
  BOOST_TEST(faults.size() == 2u);
  BOOST_REQUIRE(stop.has_value());
  BOOST_TEST(code(stop->reason) == "over-current");
  BOOST_TEST(has(stop->sentence, "2600 mA, the limit is 2000 mA"));
}

BOOST_AUTO_TEST_CASE(mean_current_of_a_minute) {
  rig.current_mA = 1200;  // below the peak: 50 s of it make the mean of a minute 1000 mA
  double stopped_after_s = 0;
  run([&](GuardedRig& guard, std::vector<std::string>&) -> asio::awaitable<void> {
    const Instant began = clock.now();
    while (!guard.safe()) co_await clock.sleep_for(seconds(0.1));
    stopped_after_s = in_seconds(clock.now() - began);
  });
  BOOST_REQUIRE(stop.has_value());
  BOOST_TEST(code(stop->reason) == "mean-current");
  BOOST_TEST(stopped_after_s == 50, boost::test_tools::tolerance(0.01));
}

BOOST_AUTO_TEST_CASE(the_first_reason_stays_and_the_severest_action_counts) {
  const auto faults = run([&](GuardedRig& guard, std::vector<std::string>& met) -> asio::awaitable<void> {
    Stop first{StopReason::running_time, "ran long enough"};
    guard.stop(std::move(first));
    co_await clock.sleep_for(seconds(0.2));
    co_await try_drive(guard, met, 1);
    co_await try_write(guard, met, 3);  // parked: what is owed can still be written back
    Stop second{StopReason::asked, "somebody asked"};
    guard.stop(std::move(second));
    co_await clock.sleep_for(seconds(0.2));
    co_await try_write(guard, met, 4);
  });
  BOOST_TEST(rig.calls == (std::vector<std::string>{"halt", "CV3=1", "send halt", "cut", "halt", "off"}),
             boost::test_tools::per_element());
  BOOST_TEST(faults == (std::vector<std::string>{"ran long enough", "ran long enough"}),
             boost::test_tools::per_element());
  BOOST_TEST(code(stop->reason) == "running-time");
}

BOOST_AUTO_TEST_CASE(running_time_is_capped) {
  limits.running_s = 100;
  const auto faults = run([&](GuardedRig& guard, std::vector<std::string>& met) -> asio::awaitable<void> {
    co_await try_drive(guard, met, 5);
    co_await clock.sleep_for(seconds(90));
    co_await try_drive(guard, met, 0);
    co_await clock.sleep_for(seconds(90));
    co_await try_drive(guard, met, 5);
    co_await clock.sleep_for(seconds(9));
    co_await try_drive(guard, met, 6);
    co_await clock.sleep_for(seconds(2));
    co_await try_drive(guard, met, 7);
    co_await guard.make_safe();
  });
  BOOST_TEST(faults.size() == 1u);
  BOOST_TEST(has(faults.front(), "the limit is 100 s"));
}

BOOST_AUTO_TEST_CASE(a_stop_reaches_who_waits_for_an_edge) {
  const auto faults = run([&](GuardedRig& guard, std::vector<std::string>& met) -> asio::awaitable<void> {
    Stop asked{StopReason::asked, "somebody asked"};
    guard.stop(std::move(asked));
    const Instant late = clock.now() + seconds(1000);
    try {
      co_await guard.next_edge(late);
    } catch (const RigFault& fault) {
      met.emplace_back(fault.what());
    }
  });
  BOOST_TEST(faults.size() == 1u);
  BOOST_TEST(in_seconds(clock.now().time_since_epoch()) < 1);
}

BOOST_AUTO_TEST_CASE(making_safe_is_idempotent_and_never_throws) {
  rig.lost = true;
  run([&](GuardedRig& guard, std::vector<std::string>& met) -> asio::awaitable<void> {
    co_await try_drive(guard, met, 5);
    co_await guard.make_safe();
    co_await guard.make_safe();
    co_await guard.make_safe();
  });
  BOOST_TEST(rig.calls == (std::vector<std::string>{"send halt", "cut", "halt", "off"}),
             boost::test_tools::per_element());
  BOOST_TEST(code(stop->reason) == "rig-lost");
  BOOST_TEST(troubles.size() == 1u);
}

// The procedure waits for the gates and asks nothing of the station: the guard has to look by itself.
BOOST_AUTO_TEST_CASE(a_rig_that_is_lost_while_nobody_asks_is_made_dead) {
  Instant lost_at{};
  run([&](GuardedRig& guard, std::vector<std::string>& met) -> asio::awaitable<void> {
    rig.why = "not connected yet";  // before power is on that is no fault
    co_await clock.sleep_for(seconds(1));
    rig.why.clear();
    co_await guard.power_up();
    co_await try_drive(guard, met, 5);
    co_await clock.sleep_for(seconds(1));
    BOOST_TEST(!guard.stopped());
    rig.why = "the station's link is down: hang-up";
    lost_at = clock.now();
    co_await clock.sleep_for(seconds(1));
  });
  BOOST_REQUIRE(stop.has_value());
  BOOST_TEST(code(stop->reason) == "rig-lost");
  BOOST_TEST(stop->sentence == "the station's link is down: hang-up");
  BOOST_REQUIRE(rig.cut_at.has_value());
  BOOST_TEST(in_seconds(*rig.cut_at - lost_at) <= 0.06);
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
  BOOST_TEST(has(run(power_up).front(), "/limits/accept_no_current_sensor"));
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
  BOOST_TEST(has(faults.front(), "250 mA though its power is off. Look whether the relay is welded"));
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

// A silent station confirms nothing for seconds: power must not wait for it. 50 ms: issue 4, "people".
BOOST_AUTO_TEST_CASE(a_silent_station_does_not_delay_the_cut) {
  rig.silent_s = 9;
  Instant asked_at{};
  run([&](GuardedRig& guard, std::vector<std::string>& met) -> asio::awaitable<void> {
    co_await try_drive(guard, met, 5);
    asked_at = clock.now();
    Stop asked{StopReason::asked, "somebody asked"};
    guard.stop(std::move(asked));
    BOOST_TEST(rig.calls.back() == "send halt");
    co_await guard.make_safe();
  });
  BOOST_REQUIRE(rig.cut_at.has_value());
  BOOST_TEST(in_seconds(*rig.cut_at - asked_at) < 0.05);
  BOOST_TEST(in_seconds(*rig.cut_at - asked_at) >= 0.015);  // the emergency stop goes before it
}

BOOST_AUTO_TEST_CASE(a_short_circuit_is_cut_at_once_and_an_orderly_end_is_not) {
  run([&](GuardedRig& guard, std::vector<std::string>& met) -> asio::awaitable<void> {
    co_await try_drive(guard, met, 5);
    Stop shorted{StopReason::over_current, "a short circuit"};
    guard.stop(std::move(shorted));
    BOOST_TEST(rig.calls.back() == "cut");
    co_await guard.make_safe();
  });
  rig.calls.clear();
  run([&](GuardedRig& guard, std::vector<std::string>& met) -> asio::awaitable<void> {
    co_await try_drive(guard, met, 5);
    co_await guard.make_safe();
  });
  BOOST_TEST(rig.calls == (std::vector<std::string>{"drive 5", "halt", "off"}), boost::test_tools::per_element());
}

BOOST_AUTO_TEST_SUITE_END()
