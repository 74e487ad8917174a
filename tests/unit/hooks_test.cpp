// The owner's own commands, as real processes: what they are given, how long they may take, what they can't disturb.
#include "daemon/hooks.h"

#include <fcntl.h>
#include <unistd.h>

#include <algorithm>
#include <boost/asio/steady_timer.hpp>
#include <boost/test/unit_test.hpp>
#include <chrono>
#include <csignal>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>
#include <thread>

#include "tests/temporary_folder.h"

namespace lapwright {
namespace {

namespace asio = boost::asio;
namespace fs = std::filesystem;

/// A folder with scripts, a loop, and what was told.
struct HookBench {
  [[nodiscard]] std::string script(const std::string& name, const std::string& text) const {
    const fs::path file = folder.path() / name;
    std::ofstream(file) << "#!/bin/sh\n" << text;
    fs::permissions(file, fs::perms::owner_all);
    return file.string();
  }
  [[nodiscard]] std::string file(const std::string& name) const { return (folder.path() / name).string(); }
  [[nodiscard]] std::string content(const std::string& name) const {
    std::ostringstream text;
    text << std::ifstream(file(name)).rdbuf();
    return text.str();
  }
  void tell(const std::string& line) { told.push_back(line); }
  [[nodiscard]] std::unique_ptr<Hooks> make(HookSettings settings) {
    return std::make_unique<Hooks>(context, std::move(settings), [this](const std::string& line) { tell(line); });
  }
  [[nodiscard]] bool was_told(const std::string& part) const {
    return std::any_of(told.begin(), told.end(),
                       [&](const std::string& line) { return line.find(part) != std::string::npos; });
  }
  [[nodiscard]] std::string all_told() const {
    std::string text;
    for (const std::string& line : told) text += line + "\n";
    return text;
  }

  TemporaryFolder folder;
  asio::io_context context;
  std::vector<std::string> told;
};

/// A zombie that nobody has waited for yet does not run any more.
bool runs(const std::string& id) {
  std::ifstream in("/proc/" + id + "/stat");
  std::string text((std::istreambuf_iterator<char>(in)), std::istreambuf_iterator<char>());
  const std::size_t name_ends = text.rfind(')');
  return name_ends != std::string::npos && text.at(name_ends + 2) != 'Z';
}

/// A process that was killed is gone when the system has got round to it: on a loaded machine that takes a moment.
bool is_gone(const std::string& id) {
  for (int glance = 0; glance < 500 && runs(id); ++glance) std::this_thread::sleep_for(std::chrono::milliseconds(10));
  return !runs(id);
}

}  // namespace

BOOST_FIXTURE_TEST_SUITE(hooks, HookBench)

BOOST_AUTO_TEST_CASE(one_document_arrives_and_the_arguments_as_they_are) {
  const std::string program = script("take", "cat >\"$1\"; printf '%s' \"$2\" >\"$1.second\"\n");
  const auto hooks = make({{program, file("got"), "$HOME; two  words"}, {}, 30});
  const nlohmann::json document = {{"event", "engine"}, {"title", "Fellbeck no. 7 \"Old Bess\"\n"}, {"proved", 28}};
  hooks->finished(document);
  hooks->tripped(document);  // there is no such hook
  context.run();
  BOOST_TEST(nlohmann::json::parse(content("got")) == document);
  BOOST_TEST(content("got").ends_with("}\n"));
  BOOST_TEST(content("got.second") == "$HOME; two  words");
  BOOST_TEST(told.empty(), all_told());
}

BOOST_AUTO_TEST_CASE(a_slow_one_is_killed_with_all_that_it_started) {
  const std::string program = script("slow", "sleep 100 & echo $! >\"$1\"; echo $$ >\"$1.self\"; echo begun; wait\n");
  const auto hooks = make({{program, file("child")}, {}, 0.4});
  int looks = 0;  // of a loop that has other work to do
  asio::steady_timer glance(context);
  std::function<void()> look = [&] {
    glance.expires_after(std::chrono::milliseconds(10));
    glance.async_wait([&](const boost::system::error_code&) {
      if (++looks < 30) look();
    });
  };
  look();
  hooks->finished({});
  context.run_for(std::chrono::milliseconds(350));
  BOOST_TEST(looks >= 15);
  BOOST_TEST(told.empty());
  context.run();
  BOOST_TEST(was_told("hook on_finish (" + program + "): it still ran after 0.4 s and was killed"), all_told());
  BOOST_TEST(was_told("it said: begun"), all_told());
  std::string child = content("child"), self = content("child.self");
  child.pop_back();
  self.pop_back();
  BOOST_TEST(is_gone(child));
  BOOST_TEST(is_gone(self));
}

BOOST_AUTO_TEST_CASE(what_one_leaves_behind_ends_with_it) {
  const auto hooks = make({{script("leaves", "sleep 100 & echo $! >\"$1\"\n"), file("child")}, {}, 30});
  hooks->finished({});
  context.run();
  BOOST_TEST(told.empty(), all_told());
  std::string child = content("child");
  child.pop_back();
  BOOST_TEST(is_gone(child));
}

BOOST_AUTO_TEST_CASE(failures_are_told_and_nothing_else) {
  const auto failing =
      make({{script("fails", "echo no bell; echo here >&2; exit 3\n")}, {script("dies", "kill -9 $$")}, 30});
  failing->finished({});
  failing->tripped({});
  context.run();
  BOOST_TEST(was_told("it said: no bell / here"), all_told());
  BOOST_TEST(was_told("(" + file("fails") + "): it ended with status 3"), all_told());
  BOOST_TEST(was_told("hook on_trip (" + file("dies") + "): a signal ended it: Killed"), all_told());
}

BOOST_AUTO_TEST_CASE(a_program_that_is_not_there_or_is_none) {
  std::ofstream(file("text")) << "no program";
  const auto hooks = make({{file("missing")}, {file("text")}, 30});
  hooks->finished({});
  hooks->tripped({});
  context.run();
  BOOST_TEST(was_told(file("missing") + "): it can't be started: No such file or directory"), all_told());
  BOOST_TEST(was_told(file("text") + "): it can't be started: Permission denied"), all_told());
}

BOOST_AUTO_TEST_CASE(many_at_once_are_bounded_and_the_oldest_dropped) {
  const auto hooks = make({{script("count", "cat >>\"$1\"\n"), file("got")}, {}, 30});
  for (int number = 1; number <= 12; ++number) hooks->finished({{"n", number}});
  context.run();
  std::string expected;
  for (const int number : {1, 5, 6, 7, 8, 9, 10, 11, 12}) expected += "{\"n\":" + std::to_string(number) + "}\n";
  BOOST_TEST(content("got") == expected);
  BOOST_TEST(told.size() == 3U, all_told());
  BOOST_TEST(was_told("8 wait already; the oldest is dropped"), all_told());
}

BOOST_AUTO_TEST_CASE(a_trip_goes_ahead_and_is_dropped_last) {
  const std::string program = script("order", "cat >>\"$1\"\n");
  const auto hooks = make({{program, file("got")}, {program, file("got")}, 30});
  for (int number = 1; number <= 9; ++number) hooks->finished(number);
  for (const char* trip : {"first", "second"}) hooks->tripped(trip);
  context.run();
  BOOST_TEST(content("got") == "1\n\"first\"\n\"second\"\n4\n5\n6\n7\n8\n9\n");
}

BOOST_AUTO_TEST_CASE(much_output_keeps_nobody_waiting_and_little_of_it_is_told) {
  const auto hooks = make({{script("talks", "yes 'all right' | head -c 300000\n")}, {}, 30});
  hooks->finished({});
  context.run();
  BOOST_REQUIRE(told.size() == 1U);
  BOOST_TEST(told[0].find("it said: all right / all right / ") != std::string::npos);
  BOOST_TEST(told[0].size() < 2 * most_said_bytes);
}

BOOST_AUTO_TEST_CASE(neither_descriptors_nor_signals_are_inherited) {
  const int open_one = ::fcntl(0, F_DUPFD, 57);  // stays open over exec
  BOOST_REQUIRE(open_one >= 57);
  sigset_t blocked, before;
  sigemptyset(&blocked);
  sigaddset(&blocked, SIGUSR1);
  ::pthread_sigmask(SIG_BLOCK, &blocked, &before);
  const auto ignored = ::signal(SIGPIPE, SIG_IGN);
  const auto hooks = make({{script("looks",
                                   "ls /proc/self/fd >\"$1\"\n"
                                   "grep -E '^Sig(Blk|Ign)' /proc/self/status >>\"$1\"\n"
                                   "cut -d' ' -f1,5 /proc/$$/stat >\"$1.group\"\n"),
                            file("got")},
                           {},
                           30});
  hooks->finished({});
  context.run();
  ::signal(SIGPIPE, ignored);
  ::pthread_sigmask(SIG_SETMASK, &before, nullptr);
  ::close(open_one);
  BOOST_TEST(told.empty(), all_told());
  const std::string got = content("got");
  BOOST_TEST(got.starts_with("0\n1\n2\n3\nSigBlk:\t0000000000000000\nSigIgn:\t"), got);  // 3: ls itself
  // Two of the library's own, 32 and 33, are none of ours.
  BOOST_TEST((std::stoull(got.substr(got.rfind('\t')), nullptr, 16) & 0x7fffffffU) == 0U, got);
  std::istringstream numbers(content("got.group"));
  int self = 0, group = -1;
  numbers >> self >> group;
  BOOST_TEST(self == group);
}

BOOST_AUTO_TEST_CASE(at_the_end_what_waits_is_still_told) {
  const auto hooks = make({{script("quick", "cat >>\"$1\"\n"), file("got")}, {}, 30});
  hooks->finished(1);
  hooks->finished(2);
  bool done = false;
  hooks->stop([&] { done = true; });
  hooks->finished(3);
  BOOST_TEST(!done);
  context.run();
  BOOST_TEST(done);
  BOOST_TEST(content("got") == "1\n2\n");
}

BOOST_AUTO_TEST_CASE(the_end_waits_two_seconds_and_no_longer) {
  const auto hooks = make({{script("sleeps", "echo $$ >\"$1\"; exec sleep 100\n"), file("self")}, {}, 30});
  hooks->finished(1);
  hooks->finished(2);
  hooks->stop();
  context.run_for(std::chrono::seconds(20));
  BOOST_TEST(context.stopped());
  BOOST_TEST(was_told("it was killed because the service ends"), all_told());
  BOOST_TEST(was_told("1 still wait and are dropped"), all_told());
  std::string self = content("self");
  self.pop_back();
  BOOST_TEST(is_gone(self));
}

BOOST_AUTO_TEST_CASE(without_a_hook_the_end_is_at_once) {
  const auto hooks = make({});
  hooks->finished(1);
  bool done = false;
  hooks->stop([&] { done = true; });
  BOOST_TEST(done);
}

BOOST_AUTO_TEST_CASE(whoever_goes_away_kills_what_runs) {
  {
    const auto hooks = make({{script("sleeps", "echo $$ >\"$1\"; exec sleep 100\n"), file("self")}, {}, 30});
    hooks->finished(1);
    for (int look = 0; look < 500 && content("self").empty(); ++look) ::usleep(10'000);
  }
  std::string self = content("self");
  BOOST_REQUIRE(!self.empty());
  self.pop_back();
  BOOST_TEST(is_gone(self));
  context.run();  // what was still on its way finds nobody
  BOOST_TEST(told.empty());
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
