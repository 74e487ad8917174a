// The shift in the journal: what a restart finds done, broken off and owed.
#include "daemon/shift_book.h"

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/test/unit_test.hpp>

#include "tests/temporary_folder.h"
#include "tests/unit/daemon_samples.h"

namespace lapwright {
namespace {

class RisingCalendar final : public Calendar {
 public:
  [[nodiscard]] std::time_t now() const override { return at; }
  std::time_t at = 1'795'000'000;
};

struct Bookshelf {
  TemporaryFolder folder;
  RealStorage storage;
  InlineWorker worker;
  RisingCalendar calendar;
  std::vector<Job> jobs = {samples::job(), other_job()};

  static Job other_job() {
    Job job = samples::job();
    job.record.name = "Sedge";
    return job;
  }
  /// What another start of the service does with the files. @param use  of the book, before it is killed
  template <class Use>
  void start(Use use) {
    Journal journal(storage, worker, folder.path(), calendar);
    ShiftBook book(journal, calendar);
    use(book);
    boost::asio::io_context context;
    boost::asio::co_spawn(context, journal.flush(), [](const std::exception_ptr& failure) {
      if (failure) std::rethrow_exception(failure);
    });
    context.run();
    calendar.at += 1000;
  }
  static QueueEntry entry(const ShiftBook& book, const Job& job) {
    for (const QueueEntry& each : book.queue().waiting) {
      if (each.mark == mark_of(job)) return each;
    }
    BOOST_FAIL(title(job.record) << " does not wait");
    return {};
  }
  static JobBook begins(ShiftBook& book, const Job& job) { return book.job_begins(entry(book, job), job); }
  static void ends(ShiftBook& book, const Job& job) { book.job_ends(entry(book, job), job, samples::result()); }
  static Heard pass(double at_s) {
    return {at_s, Passed{5, Direction::forward, 20, {PassTrouble::none, 3.5, 0.1, 0, 1}, 2}};
  }
};

}  // namespace

BOOST_FIXTURE_TEST_SUITE(shift_book, Bookshelf)

BOOST_AUTO_TEST_CASE(what_was_done_stays_done_and_what_was_broken_off_goes_on) {
  start([&](ShiftBook& book) {
    book.take_up(jobs);
    BOOST_TEST(book.queue().waiting.size() == 2U);
    JobBook first = begins(book, jobs[0]);
    first.heard(pass(1));
    book.job_breaks_off(first);
    ends(book, jobs[0]);
    JobBook second = begins(book, jobs[1]);
    second.owed(3, 28);
    second.sending(3, 0);
    second.sent(3, 0, CvWriteReply::confirmed);
    second.heard(pass(7));
    calendar.at += 50;
    second.heard(pass(8));
  });
  start([&](ShiftBook& book) {
    book.take_up(jobs);
    BOOST_REQUIRE(book.queue().ended.size() == 1U);
    BOOST_TEST(book.queue().ended[0].entry.engine == title(jobs[0].record));
    BOOST_TEST(!book.queue().ended[0].needs_person);
    BOOST_REQUIRE(book.next().has_value());
    BOOST_TEST(book.next()->engine == title(jobs[1].record));
    const JobBook again = begins(book, jobs[1]);
    const TuneOrder order = again.order_from_here(jobs[1].order);
    BOOST_REQUIRE(order.before.size() == 2U);
    BOOST_TEST(order.before[1].at_s == 8);
    BOOST_TEST(order.away_s == 1000);  // since it ran last
    // Somebody may have had it in hands: only the debt holds.
    const CvMemory memory = again.memory_from_here();
    BOOST_TEST(memory.written.empty());
    BOOST_TEST((memory.owed == CvValues{{3, 28}}));
    ends(book, jobs[1]);
    book.end();
  });
  start([&](ShiftBook& book) {
    book.take_up(jobs);  // all of it is done
    BOOST_TEST(book.ended());
    BOOST_TEST(!book.next().has_value());
  });
}

// A first command to run is enough: on a shuttle nobody knows then where it stands. Of two passes of a step the faster
// one counts for the guard, of three the last two; one that failed tells no speed.
BOOST_AUTO_TEST_CASE(what_the_guard_is_told_of_a_job_that_was_broken_off) {
  const auto ran = [](int step, double mm_s, PassTrouble trouble = PassTrouble::none) {
    return Heard{1, Passed{step, Direction::reverse, 20, {trouble, mm_s, 0.1, 0, 1}, 2}};
  };
  start([&](ShiftBook& book) {
    book.begin(jobs);
    JobBook first = begins(book, jobs[0]);
    BOOST_TEST(!first.story().ran);
    first.runs();
  });
  start([&](ShiftBook& book) {
    book.take_up(jobs);
    JobBook again = begins(book, jobs[0]);
    BOOST_TEST(again.story().ran);
    BOOST_TEST(again.shown_mm_s().empty());
    for (const Heard& pass :
         {ran(28, 130), ran(28, 60), ran(28, 110), ran(28, 900, PassTrouble::no_exit), ran(5, 20)}) {
      again.heard(pass);
    }
  });
  start([&](ShiftBook& book) {
    book.take_up(jobs);
    const ShownSpeeds shown = begins(book, jobs[0]).shown_mm_s();
    BOOST_TEST((shown == ShownSpeeds{{{5, Direction::reverse}, 20}, {{28, Direction::reverse}, 110}}));
  });
}

// Left out after a trip: no other work on it begins, whoever comes next has to be set down, and a restart knows that.
BOOST_AUTO_TEST_CASE(who_is_left_out_has_no_other_turn) {
  start([&](ShiftBook& book) {
    book.begin(jobs);
    Job check = jobs[0];
    check.work = Work::check;
    book.add(check, false);
    book.stands_on_track(title(jobs[0].record));
    static_cast<void>(begins(book, jobs[0]));
    book.job_ends(entry(book, jobs[0]), jobs[0], samples::result(), true);
    book.leave_out(title(jobs[0].record));
  });
  start([&](ShiftBook& book) {
    book.take_up(jobs);
    BOOST_TEST(book.queue().left_out == 1);
    BOOST_REQUIRE(book.queue().waiting.size() == 1U);
    BOOST_TEST(book.next()->engine == title(jobs[1].record));
    BOOST_REQUIRE(book.queue().ended.size() == 2U);
    BOOST_TEST(book.queue().ended[1].outcome == "not begun");
    BOOST_TEST(book.queue().ended[1].needs_person);
    BOOST_TEST(book.queue().on_track != title(jobs[0].record));
    BOOST_TEST(!book.queue().on_track.empty());
    book.begin(jobs);
    BOOST_TEST(book.queue().left_out == 0);
  });
}

BOOST_AUTO_TEST_CASE(an_order_that_was_changed_begins_anew_and_the_debt_stays) {
  start([&](ShiftBook& book) {
    book.begin(jobs);
    JobBook first = begins(book, jobs[0]);
    first.owed(3, 28);
    first.heard(pass(1));
  });
  jobs[0].order.confidence = 0.9;
  start([&](ShiftBook& book) {
    BOOST_TEST(!book.was_broken_off(jobs[0]));
    book.take_up(jobs);
    const JobBook anew = begins(book, jobs[0]);
    BOOST_TEST(anew.order_from_here(jobs[0].order).before.empty());
    BOOST_TEST((anew.memory_from_here().owed == CvValues{{3, 28}}));
  });
}

BOOST_AUTO_TEST_CASE(debts_go_from_shift_to_shift_until_they_are_paid) {
  start([&](ShiftBook& book) {
    book.begin(jobs);
    JobBook first = begins(book, jobs[0]);
    first.owed(3, 28);
    first.owed(4, 20);
    first.paid(4);
    book.job_breaks_off(first);
    ends(book, jobs[0]);
    book.end();
  });
  const std::vector<Job> others = {jobs[1]};
  for (int shifts = 0; shifts < 2; ++shifts) {
    start([&](ShiftBook& book) {
      book.begin(others);
      JobBook other = begins(book, others[0]);
      BOOST_TEST(other.memory_from_here().owed.empty());
      book.job_breaks_off(other);
      ends(book, others[0]);
      book.end();
    });
  }
  start([&](ShiftBook& book) {
    book.begin(jobs);
    JobBook first = begins(book, jobs[0]);
    BOOST_TEST((first.memory_from_here().owed == CvValues{{3, 28}}));
    first.paid(3);
    book.job_breaks_off(first);
    ends(book, jobs[0]);
  });
  start([&](ShiftBook& book) {
    book.begin(jobs);
    BOOST_TEST(begins(book, jobs[0]).memory_from_here().owed.empty());
  });
}

BOOST_AUTO_TEST_CASE(a_verdict_is_noted_once_until_it_is_withdrawn) {
  CellResult cell;
  cell.step = 5;
  cell.verdict = Verdict::proved;
  const auto verdicts = [&] {
    Journal journal(storage, worker, folder.path(), calendar);
    int count = 0;
    for (const Record& record : journal.open()) count += record.at("kind") == "verdict" ? 1 : 0;
    return count;
  };
  start([&](ShiftBook& book) {
    book.begin(jobs);
    JobBook first = begins(book, jobs[0]);
    first.settled(cell);
    first.settled(cell);
    book.job_breaks_off(first);
  });
  BOOST_TEST(verdicts() == 1);
  start([&](ShiftBook& book) {
    JobBook again = begins(book, jobs[0]);
    again.settled(cell);
    again.withdrawn(cell);
    again.withdrawn(cell);
    again.settled(cell);
    again.recalled({{{5, Direction::forward}, cell}});
    again.recalled({});  // a crash kept the withdrawal from the journal
    again.settled(cell);
  });
  BOOST_TEST(verdicts() == 3);
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
