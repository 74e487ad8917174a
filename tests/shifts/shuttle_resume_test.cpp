// A tune on a shuttle that was broken off: a person sets the engine down before the first gate, and it goes on from
// there without coming near the buffers.
#include <boost/test/unit_test.hpp>
#include <cstdlib>
#include <filesystem>
#include <map>

#include "drivers/simulated/random.h"
#include "tests/shifts/guarded_night.h"

namespace lapwright::shifts {
namespace {

constexpr std::time_t till_morning_s = 4 * 3600;
constexpr int breaks = 6;

boost::test_tools::assertion_result by_hand(boost::unit_test::test_unit_id) {
  return std::getenv("LAPWRIGHT_SHUTTLE_SEED") != nullptr;
}

/// @returns virtual seconds that it took after the break
double break_off_and_go_on(const Plan& plan, double at_s, int proved_in_one_go) {
  GuardedNight broken(plan);
  break_off(broken, at_s);
  BOOST_TEST(broken.result().broken_off);
  GuardedNight on(set_down_again(plan, broken));
  on.told = broken.told;
  on.begins += till_morning_s;
  on.run();
  BOOST_TEST(on.reason() == "none", (on.result().stop ? on.result().stop->sentence : ""));
  BOOST_TEST((on.result().tune.end == TuneEnd::complete), on.result().tune.detail);
  BOOST_TEST(on.result().owed.empty());
  BOOST_TEST(on.rig().buffer_hits() == 0U);
  BOOST_TEST(on.proved_again() == 0);
  BOOST_TEST(proved_steps(on.result()) >= proved_in_one_go - 6);
  for (const std::string& remark : on.result().tune.remarks) {
    BOOST_TEST(remark.find("did not fit") == std::string::npos, remark);
  }
  return on.now_s();
}

}  // namespace

BOOST_AUTO_TEST_SUITE(shuttle_resume)

BOOST_AUTO_TEST_CASE(it_goes_on_and_proves_nothing_twice) {
  for (const std::string name : {"carrow_moss", "fellbeck", "ganger"}) {
    for (const std::uint64_t seed : seeds(411, 2)) {
      const Plan plan = shuttle_night(from_shed(name), seed);
      GuardedNight whole(plan);
      whole.run();
      const double length_s = whole.now_s();
      simulated::Random random(seed);
      double spent_s = 0;
      for (int part = 0; part < breaks; ++part) {
        const double at_s = (part + random.uniform()) / breaks * length_s;
        BOOST_TEST_CONTEXT(name << ", seed " << seed << ", broken off after " << at_s << " s") {
          const double after_s = break_off_and_go_on(plan, at_s, proved_steps(whole.result()));
          spent_s += at_s + after_s;
          BOOST_TEST_MESSAGE(name << ", seed " << seed << ": " << length_s << " s in one go; broken off after " << at_s
                                  << " s, " << after_s << " s more");
        }
      }
      BOOST_TEST(spent_s / breaks < 1.25 * length_s);  // begun anew it would be 1.5 times, on average
    }
  }
}

// By hand, over every engine: LAPWRIGHT_SHUTTLE_SEED=N, and the next four. What is stopped has not come to harm.
BOOST_AUTO_TEST_CASE(what_is_stopped_without_need, *boost::unit_test::precondition(by_hand)) {
  const auto first = static_cast<std::uint64_t>(std::atoll(std::getenv("LAPWRIGHT_SHUTTLE_SEED")));
  std::map<std::string, int> in_one_go;
  std::map<std::string, int> after_a_break;
  for (const auto& file : std::filesystem::directory_iterator(LAPWRIGHT_CONFIGS "/engines")) {
    for (std::uint64_t seed = first; seed < first + 5; ++seed) {
      const Plan plan = shuttle_night(from_shed(file.path().stem()), seed);
      GuardedNight whole(plan);
      whole.run();
      ++in_one_go[whole.reason()];
      BOOST_TEST(whole.rig().buffer_hits() == 0U);
      simulated::Random random(seed);
      GuardedNight broken(plan);
      const double at_s = random.uniform() * whole.now_s();
      break_off(broken, at_s);
      GuardedNight on(set_down_again(plan, broken));
      on.told = broken.told;
      on.begins += till_morning_s;
      on.run();
      ++after_a_break[on.reason()];
      BOOST_TEST(on.rig().buffer_hits() == 0U, file.path().stem() << ", seed " << seed << ", after " << at_s << " s");
    }
  }
  for (const auto& [reason, nights] : in_one_go) BOOST_TEST_MESSAGE("in one go, " << reason << ": " << nights);
  for (const auto& [reason, nights] : after_a_break) BOOST_TEST_MESSAGE("after a break, " << reason << ": " << nights);
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright::shifts
