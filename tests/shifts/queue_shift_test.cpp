// A shift and its queue: engines that come onto the loop by hand, that are taken off the queue, that join it late.
#include <boost/test/unit_test.hpp>

#include "drivers/settings/errors.h"
#include "tests/shifts/wall_clock.h"

namespace lapwright::shifts {
namespace {

/// Does something when the diary gets a line that ends so.
class Helper final : public WallDiary {
 public:
  using WallDiary::WallDiary;
  void waits(const std::string& why) override {
    WallDiary::waits(why);
    if (!why.empty()) last_wait = why;
    if (!why.empty() && on_wait) on_wait();
  }
  void engine_begins(const Job& job, int number, int of) override {
    WallDiary::engine_begins(job, number, of);
    if (on_begin) on_begin(job);
  }
  void not_begun(const std::string& engine, const std::string& why) override {
    lines.push_back(engine + " is left out: " + why);
  }
  std::function<void()> on_wait;
  std::function<void(const Job&)> on_begin;
  std::string last_wait;
};

struct Queued : WallClock {
  Queued() : helper(calendar), jobs(plan_shift(configuration)), book(journal, calendar) {
    jobs.resize(2);
    shift.emplace(Shift{configuration.railway, planner_among(jobs), configuration.limits, hours, configuration.reports,
                        configuration.leave, true});
  }
  void later(double after_s, std::function<void()> what) {
    boost::asio::co_spawn(context, act(after_s, std::move(what)), [](const std::exception_ptr& failure) {
      if (failure) std::rethrow_exception(failure);
    });
  }
  boost::asio::awaitable<void> act(double after_s, std::function<void()> what) {
    co_await clock.sleep_for(seconds(after_s));
    what();
  }
  Helper helper;
  std::vector<Job> jobs;
  ShiftBook book;
  HandOver by_hand;
  std::optional<Shift> shift;
};

}  // namespace

BOOST_FIXTURE_TEST_SUITE(queued, Queued)

BOOST_AUTO_TEST_CASE(the_next_engine_waits_for_a_person, *boost::unit_test::precondition(soon_over)) {
  hand_over = &by_hand;
  book.take_up(jobs);
  helper.on_wait = [&] {
    later(100,
          [&] { BOOST_TEST(by_hand.ready("Fellbeck no. 7") == "Tarn Lady no. 3 is waited for, not Fellbeck no. 7"); });
    later(3600, [&] { BOOST_TEST(by_hand.ready("").empty()); });
  };
  const ShiftResult result = run(*shift, book, helper);
  BOOST_REQUIRE(result.turns.size() == 2U);
  BOOST_REQUIRE(helper.lines.size() == 5U);
  BOOST_TEST(helper.lines[0].ends_with("Fellbeck no. 7 begins"));  // the first one stands there
  BOOST_TEST(helper.lines[2].ends_with("waits"));
  BOOST_TEST(helper.last_wait.find("waiting for Tarn Lady no. 3 on the loop") == 0);
  BOOST_TEST(helper.lines[3].ends_with("Tarn Lady no. 3 begins"));
  BOOST_TEST(book.queue().on_track == "Tarn Lady no. 3");
  BOOST_TEST(by_hand.awaited().empty());
  BOOST_TEST(by_hand.ready("") == "no engine is waited for");
}

// A work leaves it anywhere on a shuttle, and the next one looks for it before the first gate.
BOOST_AUTO_TEST_CASE(on_a_shuttle_it_is_set_down_for_every_work, *boost::unit_test::precondition(soon_over)) {
  configuration.track.shape = configuration.rig.railway.shape = TrackShape::shuttle;
  jobs = plan_shift(configuration);
  jobs.resize(1);
  jobs.push_back(jobs.front());
  jobs.back().work = Work::check;
  shift->plan = planner_among(jobs);
  hand_over = &by_hand;
  book.take_up(jobs);
  helper.on_wait = [&] { later(60, [&] { BOOST_TEST(by_hand.ready("").empty()); }); };
  const ShiftResult result = run(*shift, book, helper);
  BOOST_TEST(!result.needs_person, result.trouble);
  BOOST_REQUIRE(result.turns.size() == 2U);
  BOOST_TEST(helper.last_wait.find("waiting for Fellbeck no. 7 before the first gate") == 0, helper.last_wait);
  BOOST_REQUIRE(helper.lines.size() == 5U);
  BOOST_TEST(helper.lines[2].ends_with("waits"));
}

// Not even the engine itself has room beyond the gates: nothing is measured, and that is said.
BOOST_AUTO_TEST_CASE(a_check_that_a_shuttle_has_no_room_for) {
  configuration.track.shape = configuration.rig.railway.shape = TrackShape::shuttle;
  jobs = plan_shift(configuration);
  jobs.resize(1);
  jobs.front().work = Work::check;
  jobs.front().order.clear_below_mm = 300;
  shift->plan = planner_among(jobs);
  book.take_up(jobs);
  const ShiftResult result = run(*shift, book, helper);
  BOOST_REQUIRE(result.turns.size() == 1U);
  BOOST_TEST((result.turns[0].result.tune.end == TuneEnd::no_room));
  BOOST_TEST(result.turns[0].result.tune.detail.find("Check it on a loop") != std::string::npos);
  BOOST_TEST(result.turns[0].result.tune.passes == 0);
  BOOST_TEST(result.needs_person);
}

BOOST_AUTO_TEST_CASE(who_is_waited_for_can_be_cancelled, *boost::unit_test::precondition(soon_over)) {
  hand_over = &by_hand;
  book.take_up(jobs);
  helper.on_wait = [&] { later(60, [&] { book.cancel(2, "cancelled by a person"); }); };
  const ShiftResult result = run(*shift, book, helper);
  BOOST_TEST(result.turns.size() == 1U);
  BOOST_TEST(book.ended());
  BOOST_REQUIRE(book.queue().ended.size() == 2U);
  BOOST_TEST(book.queue().ended[1].outcome == "cancelled by a person");
  BOOST_TEST(!result.needs_person);
}

BOOST_AUTO_TEST_CASE(an_engine_under_way_that_is_cancelled_is_brought_to_rest) {
  book.take_up(jobs);
  helper.on_begin = [&](const Job& job) {
    if (title(job.record) != "Fellbeck no. 7") return;
    later(120, [&] {
      BOOST_TEST(!book.move(1, 1));  // it can't be moved
      BOOST_TEST(book.cancel(1, "cancelled by a person"));
      button.stop_job();
    });
  };
  const ShiftResult result = run(*shift, book, helper);
  BOOST_REQUIRE(result.turns.size() == 2U);
  BOOST_TEST(result.turns[0].result.broken_off);
  BOOST_TEST(result.turns[0].result.owed.empty());
  BOOST_TEST(result.turns[0].result.tune.track_s < 200);
  BOOST_TEST(result.turns[1].entry.engine == "Tarn Lady no. 3");
  BOOST_TEST((result.turns[1].result.tune.end == TuneEnd::complete));
  BOOST_TEST(book.queue().ended[0].outcome == "cancelled by a person");
}

BOOST_AUTO_TEST_CASE(a_pause_at_once_is_gone_on_from, *boost::unit_test::precondition(soon_over)) {
  book.take_up(jobs);
  helper.on_begin = [&](const Job&) {
    later(300, [&] {
      book.pause(true);
      button.stop_job();
    });
  };
  const ShiftResult first = run(*shift, book, helper);
  BOOST_REQUIRE(first.turns.size() == 1U);
  BOOST_TEST(first.turns[0].result.broken_off);
  BOOST_TEST(book.queue().waiting.size() == 2U);
  BOOST_TEST(!book.ended());
  helper.on_begin = nullptr;
  BOOST_TEST(run(*shift, book, helper).turns.empty());  // still paused
  book.pause(false);
  const ShiftResult second = run(*shift, book, helper);
  BOOST_REQUIRE(second.turns.size() == 2U);
  BOOST_TEST(second.turns[0].entry.engine == "Fellbeck no. 7");
  BOOST_TEST((second.turns[0].result.tune.end == TuneEnd::complete));
  // In all little more than in one go.
  BOOST_TEST(second.turns[0].result.tune.track_s < 10 * 60);
  BOOST_TEST(book.ended());
}

// On the simulated railway, too, a decoder holds what was written to it when the next work on it begins.
BOOST_AUTO_TEST_CASE(a_check_right_after_a_tune_finds_it_as_tuned, *boost::unit_test::precondition(soon_over)) {
  Job check = jobs[1];
  check.work = Work::check;
  jobs = {jobs[1], check};
  shift->plan = planner_among(jobs);
  book.take_up(jobs);
  const ShiftResult result = run(*shift, book, helper);
  BOOST_REQUIRE(result.turns.size() == 2U);
  BOOST_TEST((result.turns[0].result.tune.end == TuneEnd::complete));
  BOOST_TEST((result.turns[1].result.condition == Condition::as_tuned), result.turns[1].result.told);
  BOOST_TEST(result.turns[1].result.tune.writes == 0);
}

BOOST_AUTO_TEST_CASE(an_engine_whose_files_have_become_wrong_is_left_out, *boost::unit_test::precondition(soon_over)) {
  book.take_up(jobs);
  const Planner usual = shift->plan;
  shift->plan = [&](const QueueEntry& entry) {
    if (entry.number == 1) throw settings::Errors({"fellbeck.json: 3: /scale is missing"});
    return usual(entry);
  };
  const ShiftResult result = run(*shift, book, helper);
  BOOST_TEST(result.needs_person);
  BOOST_REQUIRE(result.turns.size() == 1U);
  BOOST_TEST(helper.lines.at(0) == "Fellbeck no. 7 is left out: fellbeck.json: 3: /scale is missing");
  BOOST_TEST(book.queue().ended[0].outcome == "not begun");
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright::shifts
