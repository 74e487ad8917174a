// A whole shift with a calendar of its own on the virtual clock, for tests of what happens between the engines. Times
// of day are UTC here.
#pragma once

#include <boost/asio/co_spawn.hpp>
#include <boost/test/unit_test.hpp>
#include <cstdlib>
#include <optional>
#include <string>
#include <vector>

#include "daemon/configuration.h"
#include "daemon/shift.h"
#include "daemon/simulated_stand.h"
#include "tests/shifts/guarded_night.h"
#include "tests/temporary_folder.h"

namespace lapwright::shifts {

inline boost::test_tools::assertion_result soon_over(boost::unit_test::test_unit_id) { return !slow_run(); }

/// Notes when engines begin and end, and what the shift waits for.
class WallDiary : public ShiftObserver {
 public:
  explicit WallDiary(const Calendar& calendar) : calendar_(calendar) {}
  void engine_begins(const Job& job, int, int) override { note(title(job.record) + " begins"); }
  void engine_ends(const Job& job, const JobResult& result) override {
    note(title(job.record) + " ends: " + (result.stop ? std::string(code(result.stop->reason)) : "no stop"));
  }
  void waits(const std::string& why) override {
    if (!why.empty()) note("waits");
  }
  void phase(const std::string&) override {}
  void pass(int, Direction, double) override {}
  void settled(const CellResult&) override {}
  void progress(int, int) override {}
  std::vector<std::string> lines;

 private:
  void note(const std::string& what) { lines.push_back(time_text(calendar_.now()).substr(8, 8) + " " + what); }
  const Calendar& calendar_;
};

struct WallClock {
  WallClock() {
    ::setenv("TZ", "UTC0", 1);
    ::tzset();
    configuration.reports = folder.path() / "reports";
  }
  ShiftResult run(std::size_t engines) { return run(engines, diary); }
  ShiftResult run(std::size_t engines, ShiftObserver& observer) {
    std::vector<Job> jobs = plan_shift(configuration);
    jobs.resize(engines);
    const Shift shift{configuration.railway, planner_among(jobs), configuration.limits, hours, configuration.reports};
    ShiftBook book(journal, calendar);
    book.take_up(jobs);
    return run(shift, book, observer);
  }
  ShiftResult run(const Shift& shift, ShiftBook& book, ShiftObserver& observer) {
    const ShiftMeans means{stand, clock, calendar, memory, book, button, observer, hand_over, set_down};
    std::optional<ShiftResult> outcome;
    context.restart();
    boost::asio::co_spawn(context, run_shift(shift, means), [&](const std::exception_ptr& failure, ShiftResult result) {
      if (failure) std::rethrow_exception(failure);
      outcome = std::move(result);
    });
    BOOST_REQUIRE((clock.run(context, seconds(7 * 86400)) == VirtualClock::Outcome::finished));
    return outcome.value();
  }

  TemporaryFolder folder;
  Configuration configuration = load_configuration(LAPWRIGHT_CONFIGS "/demo.json");
  VirtualClock clock;
  VirtualCalendar calendar{clock, 1'795'132'800 + 21 * 3600 + 50 * 60};  // 2026-11-20, 21:50
  AllowedHours hours;
  SimulatedStand stand{configuration.rig, clock};
  RealStorage storage;
  ShiftMemory memory{storage, folder.path() / "state", calendar, RunningCaps{}, RetryRule{}};
  InlineWorker worker;
  Journal journal{storage, worker, folder.path() / "state" / "journal", calendar};
  StopButton button;
  WallDiary diary{calendar};
  HandOver* hand_over = nullptr;
  bool set_down = false;  ///< a person has just done so, and cleared
  boost::asio::io_context context;
};

}  // namespace lapwright::shifts
