// Random faults at random moments, against the real job, guard and tune: whatever happens, the rails are dead in time,
// and nothing is lost. One seed is replayed by `schedules_tests -- --seed N` or LAPWRIGHT_SEED=N; LAPWRIGHT_SCHEDULES=N
// says how many are drawn.
#include <algorithm>
#include <boost/test/unit_test.hpp>
#include <cstdlib>
#include <map>
#include <optional>
#include <string>

#include "tests/schedules/trial.h"

#if defined(__SANITIZE_ADDRESS__)
#define LAPWRIGHT_SLOW_RUN 1
#elif defined(__has_feature)
#if __has_feature(address_sanitizer)
#define LAPWRIGHT_SLOW_RUN 1
#endif
#endif

namespace lapwright::schedules {
namespace {

#ifdef LAPWRIGHT_SLOW_RUN
constexpr std::uint64_t usual_count = 150;
#else
constexpr std::uint64_t usual_count = 3000;  // half a minute; `ctest` asks for 10,000
#endif

std::optional<std::uint64_t> from_environment(const char* name) {
  const char* const text = std::getenv(name);
  if (text == nullptr) return std::nullopt;
  return std::strtoull(text, nullptr, 10);
}

std::optional<std::uint64_t> seed_asked_for() {
  const auto& suite = boost::unit_test::framework::master_test_suite();
  for (int i = 1; i + 1 < suite.argc; ++i) {
    if (std::string(suite.argv[i]) == "--seed") return std::strtoull(suite.argv[i + 1], nullptr, 10);
  }
  return from_environment("LAPWRIGHT_SEED");
}

/// What came of many schedules.
class Tally {
 public:
  void add(const Outcome& outcome) {
    ++endings_[outcome.ended_by];
    passes_ += outcome.passes;
    settled_ += outcome.settled;
    job_s_ += outcome.job_s;
    for (const Demand& demand : outcome.demands) {
      Times& times = times_[name_of(demand.kind)];
      ++times.count;
      times.longest_s = std::max(times.longest_s, demand.took_s);
    }
  }
  void print() const {
    BOOST_TEST_MESSAGE(passes_ << " passes, " << settled_ << " cells settled, " << job_s_ << " s of track time");
    for (const auto& [reason, count] : endings_) BOOST_TEST_MESSAGE("  ended by " << reason << ": " << count);
    for (const auto& [cause, times] : times_) {
      BOOST_TEST_MESSAGE("  dead rails demanded, " << cause << ": " << times.count << ", at the longest "
                                                   << times.longest_s << " s");
    }
  }

 private:
  struct Times {
    int count = 0;
    double longest_s = 0;
  };
  std::map<std::string, int> endings_;
  std::map<std::string, Times> times_;
  long passes_ = 0;
  long settled_ = 0;
  double job_s_ = 0;
};

void play(std::uint64_t seed, Tally& tally) {
  const Schedule schedule = drawn(seed);
  const Outcome outcome = carried_out(schedule);
  tally.add(outcome);
  BOOST_TEST(outcome.complaints.empty());
  for (const std::string& complaint : outcome.complaints) {
    BOOST_ERROR(complaint << "\n  " << in_words(schedule) << "\n    it ended by " << outcome.ended_by << " at "
                          << outcome.job_s << " s, while " << outcome.phase);
  }
}

}  // namespace

BOOST_AUTO_TEST_SUITE(schedules)

BOOST_AUTO_TEST_CASE(at_random) {
  Tally tally;
  if (const auto seed = seed_asked_for()) {
    BOOST_TEST_MESSAGE(in_words(drawn(*seed)));
    play(*seed, tally);
  } else {
    const std::uint64_t count = from_environment("LAPWRIGHT_SCHEDULES").value_or(usual_count);
    for (std::uint64_t each = 1; each <= count; ++each) play(each, tally);
  }
  tally.print();
}

// The way out waits for a station that is silent; it comes back, and the job ends, while a person's halt still waits in
// the guard. That one has to outlive both, which the address sanitizer sees.
BOOST_AUTO_TEST_CASE(halt_while_a_silent_station_comes_back) {
  Tally tally;
  for (int k = 0; k < 40; ++k) {
    Schedule schedule = drawn(1);
    const double silent_s = 3 + 0.11 * k;
    schedule.faults = {Fault{Kind::station_silent, silent_s, 0.6, 0}, Fault{Kind::halt_pressed, silent_s + 0.4, 0, 0}};
    const Outcome outcome = carried_out(schedule);
    tally.add(outcome);
    BOOST_TEST(outcome.complaints.empty());
    for (const std::string& complaint : outcome.complaints) BOOST_ERROR(complaint << "\n  " << in_words(schedule));
  }
  tally.print();
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright::schedules
