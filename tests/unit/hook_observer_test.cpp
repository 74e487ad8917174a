// What the owner's hooks are told of a shift, as the documents that a real command gets.
#include "daemon/hook_observer.h"

#include <boost/test/unit_test.hpp>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>

#include "tests/temporary_folder.h"
#include "tests/unit/daemon_samples.h"

namespace lapwright {
namespace {

class NightCalendar final : public Calendar {
 public:
  [[nodiscard]] std::time_t now() const override { return 1'795'745'649; }
};

struct HookedShift {
  HookedShift() {
    const std::filesystem::path program = folder.path() / "note";
    std::ofstream(program) << "#!/bin/sh\ncat >>\"$1\"\n";
    std::filesystem::permissions(program, std::filesystem::perms::owner_all);
    const std::string notes = (folder.path() / "notes").string();
    const HookSettings settings{{program.string(), notes}, {program.string(), notes}, 30};
    hooks.emplace(context, settings, [](const std::string& line) { BOOST_ERROR(line); });
    observer.emplace(*hooks, "Quillmoor & Tarn Light Railway", "/srv/pages/../reports", calendar);
  }
  /// The documents, in the order of their arrival.
  [[nodiscard]] std::vector<nlohmann::json> told() {
    context.run();
    std::vector<nlohmann::json> documents;
    std::ifstream in(folder.path() / "notes");
    for (std::string line; std::getline(in, line);) documents.push_back(nlohmann::json::parse(line));
    return documents;
  }

  TemporaryFolder folder;
  NightCalendar calendar;
  boost::asio::io_context context;
  std::optional<Hooks> hooks;
  std::optional<HookObserver> observer;
};

}  // namespace

BOOST_FIXTURE_TEST_SUITE(hook_observer, HookedShift)

BOOST_AUTO_TEST_CASE(an_engine_that_ended) {
  observer->engine_begins(samples::job(), 1, 2);
  observer->engine_ends(samples::job(), samples::result());
  const auto documents = told();
  BOOST_REQUIRE(documents.size() == 1U);
  const nlohmann::json& engine = documents[0];
  BOOST_TEST(engine["event"] == "engine");
  BOOST_TEST(engine["railway"] == "Quillmoor & Tarn Light Railway");
  BOOST_TEST(engine["at"] == time_text(calendar.now()));
  BOOST_TEST(engine["title"] == "Bracken no. 18");
  BOOST_TEST(engine["sheet"] == "Two notches");
  BOOST_TEST(engine["proved"] == 1);
  BOOST_TEST(engine["steps"] == 2);
  BOOST_TEST(engine["needs_person"] == false);
  BOOST_TEST(engine["sentence"].get<std::string>().find("1 of 2 steps") == 0U);
  BOOST_TEST(engine["reports"] == nlohmann::json::array({"/srv/reports/bracken_18.json", "/srv/reports/bracken_18.txt",
                                                         "/srv/reports/bracken_18.html"}));
}

BOOST_AUTO_TEST_CASE(one_that_is_gone_on_with_has_not_ended) {
  JobResult broken = samples::result();
  broken.broken_off = true;
  observer->engine_ends(samples::job(), broken);
  JobResult slept = samples::result();
  slept.stop = Stop{StopReason::hours_over, "the allowed hours are over"};
  observer->engine_ends(samples::job(), slept);
  BOOST_TEST(told().empty());
}

BOOST_AUTO_TEST_CASE(a_trip_with_what_was_known) {
  observer->engine_begins(samples::job(), 1, 2);
  observer->stopped(Stop{StopReason::running_time, "it ran for as long as it may"});  // no trip
  observer->stopped(Stop{StopReason::over_current, "2600 mA for 0.3 s; look for a short", {{"current", "2600 mA"}}});
  const auto documents = told();
  BOOST_REQUIRE(documents.size() == 1U);
  BOOST_TEST(documents[0]["event"] == "trip");
  BOOST_TEST(documents[0]["title"] == "Bracken no. 18");
  BOOST_TEST(documents[0]["code"] == std::string(code(StopReason::over_current)));
  BOOST_TEST(documents[0]["sentence"] == "2600 mA for 0.3 s; look for a short");
  BOOST_TEST(documents[0]["evidence"] == nlohmann::json::object({{"current", "2600 mA"}}));
  BOOST_TEST(documents[0]["at"] == time_text(calendar.now()));
}

BOOST_AUTO_TEST_CASE(the_end_of_a_shift) {
  ShiftResult through;
  observer->shift_ends(through, {});
  ShiftResult refused;
  QueueStory one_waits;
  one_waits.waiting.emplace_back();
  refused.needs_person = true;
  refused.trouble = "gate east is blocked";
  observer->shift_ends(refused, one_waits);
  const auto documents = told();
  BOOST_REQUIRE(documents.size() == 2U);
  BOOST_TEST(documents[0]["event"] == "shift");
  BOOST_TEST(documents[0]["through"] == true);
  BOOST_TEST(documents[0]["needs_person"] == false);
  BOOST_TEST(documents[0]["reports"] == nlohmann::json::array({"/srv/reports/morning-page.html"}));
  BOOST_TEST(documents[1]["through"] == false);
  BOOST_TEST(documents[1]["needs_person"] == true);
  BOOST_TEST(documents[1]["trouble"] == "gate east is blocked");
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
