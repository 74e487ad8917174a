// Trips, people and restarts with real processes: what waits for a person, what goes on by a rule, and how soon a
// signal or a halt has made the rails dead.
#include <boost/test/unit_test.hpp>
#include <chrono>
#include <csignal>
#include <map>
#include <thread>

#include "daemon/exit_codes.h"
#include "tests/faults/benches.h"

namespace lapwright {
namespace {

const std::filesystem::path asking_program = LAPWRIGHT_PROGRAMS "/lapwright";
const std::filesystem::path serving_program = LAPWRIGHT_PROGRAMS "/lapwrightd";

double since_s(std::chrono::steady_clock::time_point began) {
  return std::chrono::duration<double>(std::chrono::steady_clock::now() - began).count();
}

struct People : Benches {
  /// Asks the service as a person does. @return the exit status
  int ask(const std::string& name, const std::string& word) {
    Process client(asking_program, {word, "--socket", file(name + ".sock").string()}, file(name + "-ask.log"));
    const int status = client.wait(10).value();
    said = client.output();
    return status;
  }
  void check_runs(const std::string& name) {
    for (int tries = 0; tries < 3000 && speed_mm_s(name) < 20; ++tries) {
      std::this_thread::sleep_for(std::chrono::milliseconds(10));
    }
    BOOST_TEST(speed_mm_s(name) >= 20, service(name).output());
  }
  void check_dead_within(const std::string& name, double since_s, double bound_s) {
    const std::optional<double> after_s = dead_after_s(name, since_s, bound_s + 5);
    BOOST_REQUIRE_MESSAGE(after_s.has_value(), name << ": the rails stay live\n" << service(name).output());
    BOOST_TEST_MESSAGE(name << ": dead after " << 1000 * *after_s << " ms");
    BOOST_TEST(*after_s <= bound_s, name);
  }
  void allow_tries(const std::string& name, int times, const std::vector<std::string>& causes) {
    nlohmann::json settings = json(name + ".json");
    settings["limits"]["retry"] = {{"causes", causes}, {"times", times}, {"after_s", 1}};
    write(name + ".json", settings);
  }
  std::string said;
};

}  // namespace

BOOST_FIXTURE_TEST_SUITE(people, People)

BOOST_AUTO_TEST_CASE(a_person_clears_what_tripped_once_its_cause_is_gone) {
  start("bench", {"cleared"});
  fault("cleared", "button down");
  BOOST_REQUIRE_MESSAGE(service("cleared").wrote("tripped: ", 15), service("cleared").output());
  BOOST_TEST(ask("cleared", "clear") == exit_needs_person);
  BOOST_TEST(said.find("stop button") != std::string::npos, said);
  BOOST_TEST(ask("cleared", "doctor") == exit_needs_person);
  fault("cleared", "button up");
  BOOST_TEST(ask("cleared", "clear") == exit_ok, said);
  BOOST_TEST(said.find("the shift goes on with Rowan") != std::string::npos, said);
  check_runs("cleared");
}

BOOST_AUTO_TEST_CASE(a_trip_outlives_the_service) {
  start("bench", {"kept"});
  BOOST_TEST(ask("kept", "halt") == exit_ok);
  BOOST_REQUIRE_MESSAGE(service("kept").wrote("tripped: ", 15), service("kept").output());
  service("kept").signal(SIGKILL);
  BOOST_TEST(service("kept").wait(5).has_value());
  start_again("kept");
  BOOST_REQUIRE_MESSAGE(service("kept").wrote("tripped: ", 15), service("kept").output());
  std::this_thread::sleep_for(std::chrono::seconds(3));
  BOOST_TEST(status("kept").find("track dead") != std::string::npos);
  BOOST_TEST(ask("kept", "clear") == exit_ok, said);
  check_runs("kept");
}

BOOST_AUTO_TEST_CASE(a_killed_service_goes_on_where_it_was) {
  start("bench", {"killed"});
  BOOST_REQUIRE_MESSAGE(service("killed").wrote("trying what the decoder obeys", 30), service("killed").output());
  service("killed").signal(SIGKILL);
  BOOST_TEST(service("killed").wait(5).has_value());
  const auto began = std::chrono::steady_clock::now();
  start_again("killed");  // before the board's lease has run out: the track may still be live
  while (ask("killed", "status") != exit_ok && since_s(began) < 10) {
  }
  BOOST_TEST(since_s(began) <= 2.0, "it took " << since_s(began) << " s to load its state and answer");
  BOOST_REQUIRE_MESSAGE(service("killed").wrote("going on from there", 15), service("killed").output());
  const std::string log = service("killed").output();
  BOOST_TEST(log.find("finding the ends") == std::string::npos, log);
  check_runs("killed");
}

BOOST_AUTO_TEST_CASE(a_second_service_is_refused_at_once_and_the_first_one_does_not_notice) {
  start("bench", {"owned"});
  const auto began = std::chrono::steady_clock::now();
  Process second(serving_program, {"--config", wired("owned").string(), "--socket", file("second.sock").string()},
                 file("second.log"));
  const std::optional<int> ended = second.wait(10);
  BOOST_TEST(since_s(began) <= 1.0);
  BOOST_REQUIRE(ended.has_value());
  BOOST_TEST(*ended == exit_in_use, second.output());
  BOOST_TEST(second.output().find("process ") != std::string::npos, second.output());
  check_runs("owned");
}

BOOST_AUTO_TEST_CASE(a_rule_allows_so_many_tries_and_no_more) {
  serve_loops("bench", {"tried"});
  allow_tries("tried", 1, {"rig-lost"});
  start_again("tried");
  check_runs("tried");
  fault("tried", "unplug board 2");
  BOOST_REQUIRE_MESSAGE(service("tried").wrote("a rule of the configuration allows another try", 15),
                        service("tried").output());
  BOOST_REQUIRE_MESSAGE(service("tried").wrote("the shift goes on", 15), service("tried").output());
  check_runs("tried");
  fault("tried", "unplug board 2");
  BOOST_REQUIRE_MESSAGE(service("tried").wrote("tripped: ", 15), service("tried").output());
  BOOST_TEST(status("tried").find("track dead") != std::string::npos);
}

// What was measured before the cable came out is not measured again once it is back.
BOOST_AUTO_TEST_CASE(a_cable_that_is_back_has_cost_no_pass) {
  serve_loops("bench", {"replugged"});
  allow_tries("replugged", 1, {"rig-lost"});
  start_again("replugged");
  BOOST_REQUIRE_MESSAGE(service("replugged").wrote("trying what the decoder obeys", 40), service("replugged").output());
  fault("replugged", "unplug board 2");
  BOOST_REQUIRE_MESSAGE(service("replugged").wrote("going on from there", 20), service("replugged").output());
  const std::string log = service("replugged").output();
  const std::size_t again = log.find("a rule of the configuration allows another try");
  BOOST_REQUIRE(again != std::string::npos);
  BOOST_TEST(log.find("finding the ends", again) == std::string::npos, log);
  BOOST_TEST(log.find("did not fit", again) == std::string::npos, log);
  check_runs("replugged");
}

// Whatever the rules allow: what a person has stopped, or a short circuit, waits for a person, also after a restart.
BOOST_AUTO_TEST_CASE(a_button_or_a_short_is_never_tried_again) {
  serve_loops("bench", {"pressed", "shorted"});
  const std::map<std::string, std::string> causes = {{"pressed", "button down"}, {"shorted", "short on"}};
  const std::map<std::string, std::string> ends = {{"pressed", "button up"}, {"shorted", "short off"}};
  for (const auto& [name, words] : causes) {
    allow_tries(name, 5, {"rig-lost", "host-late", "no-passage", "no-sensor"});
    start_again(name);
  }
  for (const auto& [name, words] : causes) {
    check_runs(name);
    fault(name, words);
    BOOST_REQUIRE_MESSAGE(service(name).wrote("tripped: ", 15), service(name).output());
    BOOST_TEST(service(name).output().find("allows another try") == std::string::npos, service(name).output());
    fault(name, ends.at(name));
    service(name).signal(SIGKILL);
    BOOST_TEST(service(name).wait(5).has_value());
    start_again(name);
  }
  for (const auto& [name, words] : causes) {
    BOOST_REQUIRE_MESSAGE(service(name).wrote("tripped: ", 15), service(name).output());
    std::this_thread::sleep_for(std::chrono::seconds(2));
    BOOST_TEST(status(name).find("track dead") != std::string::npos, status(name));
  }
  BOOST_TEST(ask("pressed", "clear") == exit_ok, said);
  check_runs("pressed");
}

BOOST_AUTO_TEST_CASE(halt_is_heard_while_the_relay_is_tried) {
  serve_loops("bench", {"early"});
  start_again("early");
  BOOST_REQUIRE_MESSAGE(service("early").wrote("engine 1 of 1", 15), service("early").output());
  std::this_thread::sleep_for(std::chrono::milliseconds(600));  // the relay is closed now, to be tried
  BOOST_TEST(ask("early", "halt") == exit_ok);
  const double halted_s = mark("early");
  BOOST_REQUIRE_MESSAGE(service("early").wrote("tripped: ", 15), service("early").output());
  std::this_thread::sleep_for(std::chrono::seconds(2));
  BOOST_TEST(status("early").find("track dead") != std::string::npos);
  BOOST_TEST(rig_output().find("early: track live", rig_output().find("early: told status")) == std::string::npos,
             halted_s << "\n"
                      << rig_output());
  BOOST_TEST(ask("early", "clear") == exit_ok, said);
  check_runs("early");
}

// One asks for an end in good order, two for a dead track at once. The bounds are those of the house.
// No board, and the station hears nothing: nobody can say that the track is dead, so nobody does.
BOOST_AUTO_TEST_CASE(a_halt_that_can_not_be_seen_done_says_so) {
  start("bus", {"unheard"});
  fault("unheard", "mute station");
  BOOST_TEST(ask("unheard", "halt") == exit_needs_person, said);
  BOOST_TEST(said.find("the track is dead") == std::string::npos, said);
  BOOST_TEST(said.find("switch the supply off by hand") != std::string::npos, said);
  BOOST_TEST(status("unheard").find("track live") != std::string::npos, status("unheard"));
}

BOOST_AUTO_TEST_CASE(signals) {
  start("bench", {"once", "twice"});
  double since_s = mark("once");
  service("once").signal(SIGTERM);
  check_dead_within("once", since_s, 10);
  BOOST_TEST(service("once").wait(10).value() == exit_ok, service("once").output());
  BOOST_TEST(report("once")["owed"].empty(), report("once").dump());

  service("twice").signal(SIGTERM);
  BOOST_REQUIRE(service("twice").wrote("SIGTERM: stopping in order", 5));
  since_s = mark("twice");
  service("twice").signal(SIGTERM);
  check_dead_within("twice", since_s, 0.2);
  BOOST_TEST(service("twice").wait(10).has_value());
}

BOOST_AUTO_TEST_CASE(a_station_that_was_switched_off_and_on_waits_for_a_person) {
  start("bench", {"rebooted"});
  const double since_s = fault("rebooted", "unplug station 2");
  check_dead_within("rebooted", since_s, 0.3);
  BOOST_REQUIRE_MESSAGE(service("rebooted").wrote("tripped: ", 15), service("rebooted").output());
  std::this_thread::sleep_for(std::chrono::seconds(4));  // it is there again
  BOOST_TEST(status("rebooted").find("track dead") != std::string::npos, status("rebooted"));
  BOOST_TEST(ask("rebooted", "clear") == exit_ok, said);
  check_runs("rebooted");
}

// Time of day is set while an engine runs, by a library before the program: nothing is measured or watched with it.
BOOST_AUTO_TEST_CASE(a_clock_that_is_set_changes_nothing) {
  serve_loops("bench", {"set"});
  ::setenv("LD_PRELOAD", LAPWRIGHT_SET_CLOCK, 1);
  start_again("set");
  ::unsetenv("LD_PRELOAD");
  check_runs("set");
  std::this_thread::sleep_for(std::chrono::seconds(6));  // it is set an hour on, and two hours back
  BOOST_TEST(service("set").output().find("stopped (") == std::string::npos, service("set").output());
  BOOST_TEST(status("set").find("track live") != std::string::npos, status("set"));
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
