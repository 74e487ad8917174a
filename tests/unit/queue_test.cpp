// The queue in the journal, and what people may ask of it.
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/test/unit_test.hpp>

#include "daemon/control_client.h"
#include "daemon/queue_desk.h"
#include "tests/fixed_calendar.h"
#include "tests/temporary_folder.h"

namespace lapwright {
namespace {

struct QueueRoom {
  QueueRoom() {
    std::vector<ShiftEntry> entries = configuration.shift;
    jobs = plan_shift(configuration);
    BOOST_REQUIRE(jobs.size() >= 3U);
    jobs.resize(3);
    configuration.fleet = {entries.begin() + 2, entries.end()};
    configuration.shift = {entries.begin(), entries.begin() + 2};
    list = {jobs[0], jobs[1]};
  }
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
  }
  static std::string order(const ShiftBook& book) {
    std::string text;
    for (const QueueEntry& entry : book.queue().waiting) text += std::to_string(entry.number) + " ";
    return text;
  }
  nlohmann::json ask(ShiftBook& book, const nlohmann::json& request) {
    QueueDesk desk(configuration, book, hand_over, button);
    return desk.answer(request);
  }
  static std::string text(const nlohmann::json& answer) { return answer["text"].get<std::string>(); }

  TemporaryFolder folder;
  RealStorage storage;
  InlineWorker worker;
  FixedCalendar calendar;
  Configuration configuration = load_configuration(LAPWRIGHT_CONFIGS "/demo.json");
  std::vector<Job> jobs;  // three of them
  std::vector<Job> list;  // the first two
  HandOver hand_over;
  StopButton button;
};

}  // namespace

BOOST_FIXTURE_TEST_SUITE(queue, QueueRoom)

BOOST_AUTO_TEST_CASE(order_and_pause_outlive_a_restart) {
  start([&](ShiftBook& book) {
    book.take_up(list);
    BOOST_TEST(book.add(jobs[2], false) == 3);
    BOOST_TEST(book.move(3, 0));
    BOOST_TEST(book.cancel(1, "no time"));
    BOOST_TEST(!book.cancel(1, "no time"));
    BOOST_TEST(!book.move(1, 0));
    book.pause(true);
    book.stands_on_track("Sedge no. 1");
    BOOST_TEST(order(book) == "3 2 ");
  });
  start([&](ShiftBook& book) {
    book.take_up(list);  // what was cancelled is not taken up again
    BOOST_TEST(order(book) == "3 2 ");
    BOOST_TEST(book.queue().paused);
    BOOST_TEST(book.queue().on_track == "Sedge no. 1");
    BOOST_REQUIRE(book.queue().ended.size() == 1U);
    BOOST_TEST(book.queue().ended[0].outcome == "no time");
    BOOST_TEST(book.next()->engine == title(jobs[2].record));
    BOOST_TEST((book.next()->record_file == jobs[2].files.record));
    BOOST_TEST(!book.next()->listed);
  });
}

BOOST_AUTO_TEST_CASE(a_list_that_was_edited_meanwhile_is_followed) {
  start([&](ShiftBook& book) {
    book.take_up(list);
    book.add(jobs[2], false);
  });
  start([&](ShiftBook& book) {
    Job other = jobs[0];
    other.record.name = "Sedge";
    book.take_up({jobs[1], other});
    BOOST_TEST(order(book) == "2 3 4 ");  // the first has left; what a person had added stays
    BOOST_TEST(book.queue().waiting.back().engine == title(other.record));
  });
}

BOOST_AUTO_TEST_CASE(nothing_gets_ahead_of_a_job_under_way) {
  start([&](ShiftBook& book) {
    book.take_up(list);
    const JobBook job = book.job_begins(*book.next(), jobs[0]);
    BOOST_TEST(!book.move(1, 1));
    BOOST_TEST(book.move(2, 0));
    BOOST_TEST(order(book) == "1 2 ");
    book.job_breaks_off(job);
  });
}

BOOST_AUTO_TEST_CASE(a_finished_shift_is_not_begun_again_and_a_new_one_knows_what_stands_on_the_track) {
  start([&](ShiftBook& book) {
    book.take_up(list);
    book.stands_on_track("Sedge no. 1");
    for (const Job& job : list) {
      const QueueEntry entry = *book.next();
      const JobBook begun = book.job_begins(entry, job);
      book.job_ends(entry, job, JobResult{});
    }
    book.end();
  });
  start([&](ShiftBook& book) {
    book.take_up(list);
    BOOST_TEST(book.ended());
    BOOST_TEST(book.add(jobs[2], false) == 3);  // numbers are not used twice
    BOOST_TEST(!book.ended());
    BOOST_TEST(book.queue().on_track == "Sedge no. 1");
    BOOST_TEST(book.queue().ended.empty());
  });
  start([&](ShiftBook& book) {
    book.begin(list);
    BOOST_TEST(order(book) == "4 5 ");
  });
}

BOOST_AUTO_TEST_CASE(people_add_engines_by_name_or_by_file) {
  start([&](ShiftBook& book) {
    const std::string name = title(jobs[2].record);
    const nlohmann::json named = ask(book, {{"ask", "queue"}, {"do", "add"}, {"engines", {name}}});
    BOOST_TEST(named["done"] == true, text(named));
    BOOST_TEST(text(named) == "added " + name + " as entry 1");
    const nlohmann::json by_stem =
        ask(book, {{"ask", "queue"}, {"do", "add"}, {"engines", {file_stem(jobs[0].record)}}, {"work", "tune"}});
    BOOST_TEST(by_stem["done"] == true, text(by_stem));
    const nlohmann::json by_file = ask(book, {{"ask", "queue"},
                                              {"do", "add"},
                                              {"engines", {jobs[1].files.record.string()}},
                                              {"sheet", jobs[1].files.sheet.string()}});
    BOOST_TEST(by_file["done"] == true, text(by_file));
    BOOST_TEST(order(book) == "1 2 3 ");
    BOOST_TEST(by_file["queue"]["waiting"][2]["engine"] == title(jobs[1].record));
    BOOST_TEST(queue_text(by_file.dump()).find("   3  " + title(jobs[1].record)) != std::string::npos);
  });
}

BOOST_AUTO_TEST_CASE(a_record_that_has_become_wrong_is_in_nobody_elses_way) {
  const std::string name = title(jobs[2].record);
  configuration.shift[0].record = "/nowhere/gone.json";
  start([&](ShiftBook& book) {
    BOOST_TEST(ask(book, {{"do", "add"}, {"engines", {name}}})["done"] == true);
    const nlohmann::json gone = ask(book, {{"do", "add"}, {"engines", {title(jobs[0].record)}}});
    BOOST_TEST(gone["done"] == false);
    BOOST_TEST(text(gone).find("/nowhere/gone.json") != std::string::npos);
  });
}

BOOST_AUTO_TEST_CASE(what_can_not_be_added_says_why_and_adds_nothing) {
  start([&](ShiftBook& book) {
    const nlohmann::json request = {{"ask", "queue"}, {"do", "add"}, {"engines", {title(jobs[0].record), "Nobody"}}};
    const nlohmann::json unknown = ask(book, request);
    BOOST_TEST(unknown["done"] == false);
    BOOST_TEST(text(unknown).find("Nobody: no engine of /shift or /fleet is called so") != std::string::npos);
    const nlohmann::json no_sheet = ask(book, {{"do", "add"}, {"engines", {jobs[0].files.record.string()}}});
    BOOST_TEST(text(no_sheet).find("which target sheet?") != std::string::npos);
    const nlohmann::json no_file =
        ask(book, {{"do", "add"}, {"engines", {"/nowhere/x.json"}}, {"sheet", jobs[0].files.sheet.string()}});
    BOOST_TEST(text(no_file).find("/nowhere/x.json") != std::string::npos);
    BOOST_TEST(ask(book, {{"do", "add"}, {"engines", {3}}})["done"] == false);
    BOOST_TEST(ask(book, {{"do", "add"}})["done"] == false);
    BOOST_TEST(ask(book, {{"do", "add"}, {"engines", {"x"}}, {"work", "polish"}})["done"] == false);
    BOOST_TEST(ask(book, {{"do", "dance"}})["done"] == false);
    BOOST_TEST(ask(book, {{"do", "move"}, {"entry", 7}, {"place", 1}})["done"] == false);
    BOOST_TEST(ask(book, {{"do", "move"}, {"entry", 7}})["done"] == false);
    BOOST_TEST(ask(book, {{"do", "cancel"}, {"entry", "7"}})["done"] == false);
    BOOST_TEST(ask(book, {{"ask", "ready"}})["done"] == false);
    BOOST_TEST(order(book).empty());
  });
}

BOOST_AUTO_TEST_CASE(moves_pauses_and_cancels_are_told) {
  start([&](ShiftBook& book) {
    book.take_up(list);
    BOOST_TEST(ask(book, {{"do", "move"}, {"entry", 2}, {"place", 1}})["done"] == true);
    BOOST_TEST(order(book) == "2 1 ");
    const nlohmann::json paused = ask(book, {{"do", "pause"}});
    BOOST_TEST(paused["queue"]["paused"] == true);
    BOOST_TEST(queue_text(paused.dump()).find("lapwright queue resume") != std::string::npos);
    BOOST_TEST(ask(book, {{"do", "resume"}})["queue"]["paused"] == false);
    hand_over.await_engine("Sedge no. 1");
    const nlohmann::json wrong = ask(book, {{"ask", "ready"}, {"engine", "Rush no. 2"}});
    BOOST_TEST(text(wrong) == "Sedge no. 1 is waited for, not Rush no. 2");
    BOOST_TEST(ask(book, {{"ask", "ready"}, {"engine", "Sedge no. 1"}})["done"] == true);
    BOOST_TEST(ask(book, {{"do", "cancel"}, {"entry", 2}})["done"] == true);
    BOOST_TEST(order(book) == "1 ");
  });
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
