#include "drivers/safety/guarded_rig.h"

#include "tests/unit/guarded_bench.h"

using namespace lapwright;

BOOST_FIXTURE_TEST_SUITE(guarded_rig, GuardedBench)

// NMRA S-9.2.2: CV1, 7, 8, 17 and 18 hold address and reset, CV15/16 the decoder lock, CV31/32 the page of indexed CVs.
BOOST_AUTO_TEST_CASE(forbidden_cvs_are_vetoed_and_stop_nothing) {
  const auto faults = run([](GuardedRig& guard, std::vector<std::string>& met) -> asio::awaitable<void> {
    for (const int cv : {1, 7, 8, 15, 16, 17, 18, 31, 32, 30, 96}) co_await try_write(guard, met, cv);
    for (const int cv : {2, 3, 4, 5, 6, 19, 23, 24, 29, 65, 66, 67, 94, 95}) co_await try_write(guard, met, cv);
    co_await guard.make_safe();
  });
  BOOST_TEST(faults.size() == 11u);
  BOOST_TEST(has_part(faults.front(), "CV1 is not among the CVs"));
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
  BOOST_TEST(has_part(faults.front(), "CV67 was written 3 times in this job, the limit is 3"));
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
  BOOST_TEST(has_part(stop->sentence, "2600 mA, the limit is 2000 mA"));
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
  limits.running.caps = {{"of one engine in one job", 100, 100}};
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
  BOOST_TEST(has_part(faults.front(), "of one engine in one job is used up, 100 s"));
}

BOOST_AUTO_TEST_CASE(before_the_feed_opens_by_itself_the_job_ends_in_good_order) {
  rig.opens_at = clock.now() + seconds(300);
  const auto faults = run([&](GuardedRig& guard, std::vector<std::string>& met) -> asio::awaitable<void> {
    co_await guard.power_up();
    co_await try_drive(guard, met, 5);
    co_await clock.sleep_for(seconds(239));
    co_await try_drive(guard, met, 6);
    BOOST_TEST(met.empty());
    co_await clock.sleep_for(seconds(1.5));
    co_await try_drive(guard, met, 7);
    co_await try_write(guard, met, 3);  // what the decoder lent
    co_await guard.make_safe();
  });
  BOOST_REQUIRE(faults.size() == 1u);
  BOOST_TEST(has_part(faults.front(), "60 s are left (its setting energised_s)"));
  BOOST_TEST(code(stop->reason) == "running-time");
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
  rig.mute = true;
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

BOOST_AUTO_TEST_CASE(gates_that_can_not_be_heard_stop_who_runs) {
  run([&](GuardedRig& guard, std::vector<std::string>& met) -> asio::awaitable<void> {
    rig.deaf = "the gates' link is down";
    co_await clock.sleep_for(seconds(1));
    BOOST_TEST(!guard.stopped().has_value());  // before power is on that is no fault
    rig.deaf.clear();
    co_await guard.power_up();
    co_await try_drive(guard, met, 5);
    co_await clock.sleep_for(seconds(1));
    BOOST_TEST(!guard.stopped().has_value());
    rig.deaf = "the gates' link broke";
    co_await clock.sleep_for(seconds(1));
  });
  BOOST_REQUIRE(stop.has_value());
  BOOST_TEST(code(stop->reason) == "rig-lost");
  BOOST_TEST(has_part(stop->sentence, "the gates' link broke"), stop->sentence);
}

// At the end of a job nothing is pressing: the station has 300 ms to confirm that the engine is halted.
BOOST_AUTO_TEST_CASE(at_the_end_a_station_is_waited_for_and_not_for_long) {
  for (const double takes_s : {0.2, 0.295, 0.4}) {
    rig.silent_s = takes_s;
    rig.calls.clear();
    Instant asked{};
    run([&](GuardedRig& guard, std::vector<std::string>& met) -> asio::awaitable<void> {
      co_await guard.power_up();
      co_await try_drive(guard, met, 5);
      co_await clock.sleep_for(seconds(5));
      asked = clock.now();
      co_await guard.make_safe();
    });
    const bool waited_for = takes_s < 0.3;
    const std::vector<std::string> in_order = {"on", "drive 5", "halt", "off"};
    const std::vector<std::string> cut_first = {"on", "drive 5", "cut", "halt", "off"};
    BOOST_TEST(rig.calls == (waited_for ? in_order : cut_first), boost::test_tools::per_element());
    if (!waited_for) BOOST_TEST(in_seconds(rig.cut_at.value() - asked) == 0.3, boost::test_tools::tolerance(0.05));
    BOOST_TEST(!stop.has_value());
  }
}

// The track was seen dead just before the guard looks whether it has to be cut, and the guard's end comes after that.
BOOST_AUTO_TEST_CASE(what_is_dead_is_not_cut) {
  run([&](GuardedRig& guard, std::vector<std::string>& met) -> asio::awaitable<void> {
    co_await guard.power_up();
    co_await try_drive(guard, met, 5);
    co_await clock.sleep_for(seconds(1));
    rig.silent_s = 0.004;
    Stop enough{StopReason::running_time, "ran long enough"};
    guard.stop(std::move(enough));
    co_await clock.sleep_for(seconds(1));
    rig.silent_s = 0.297;
    co_await guard.make_safe();
  });
  BOOST_TEST(rig.calls == (std::vector<std::string>{"on", "drive 5", "halt", "halt", "off"}),
             boost::test_tools::per_element());
}

// The procedure waits for the gates and asks nothing of the station: the guard has to look by itself.
BOOST_AUTO_TEST_CASE(a_rig_that_is_lost_while_nobody_asks_is_made_dead) {
  Instant lost_at{};
  run([&](GuardedRig& guard, std::vector<std::string>& met) -> asio::awaitable<void> {
    rig.gone = Stop{StopReason::rig_lost, "not connected yet"};  // before power is on that is no fault
    co_await clock.sleep_for(seconds(1));
    rig.gone.reset();
    co_await guard.power_up();
    co_await try_drive(guard, met, 5);
    co_await clock.sleep_for(seconds(1));
    BOOST_TEST(!guard.stopped());
    rig.gone = Stop{StopReason::rig_lost, "the station's link is down: hang-up"};
    lost_at = clock.now();
    co_await clock.sleep_for(seconds(1));
  });
  BOOST_REQUIRE(stop.has_value());
  BOOST_TEST(code(stop->reason) == "rig-lost");
  BOOST_TEST(stop->sentence == "the station's link is down: hang-up");
  BOOST_REQUIRE(rig.cut_at.has_value());
  BOOST_TEST(in_seconds(*rig.cut_at - lost_at) <= 0.06);
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
