// Every exit code of the program, provoked as an owner would provoke it, by the program itself.
#include "daemon/exit_codes.h"

#include <unistd.h>

#include <boost/test/unit_test.hpp>
#include <fstream>
#include <iterator>

#include "tests/service/process.h"
#include "tests/temporary_folder.h"

namespace lapwright {
namespace {

namespace fs = std::filesystem;
constexpr double run_limit_s = 30;

/// A folder with the configurations, and what the program said there.
struct Desk {
  Desk() { fs::copy(LAPWRIGHT_CONFIGS, folder / "configs", fs::copy_options::recursive); }
  int run(const std::vector<std::string>& words) { return run(LAPWRIGHT_PROGRAMS "/lapwright", words); }
  int run(const fs::path& program, const std::vector<std::string>& words) {
    const fs::path output = folder / ("said" + std::to_string(++runs_));
    Process process(program, words, output);
    const std::optional<int> status = process.wait(run_limit_s);
    said = process.output();
    BOOST_REQUIRE_MESSAGE(status.has_value(), "it does not end: " << said);
    return *status;
  }
  /// Under bash, which can set limits; $0 is the program.
  int run_by(const std::string& command, const std::vector<std::string>& words) {
    std::vector<std::string> all = {"-c", command, LAPWRIGHT_PROGRAMS "/lapwright"};
    all.insert(all.end(), words.begin(), words.end());
    return run("/bin/bash", all);
  }
  void replace(const std::string& name, const std::string& from, const std::string& to) const {
    std::ifstream in(file(name));
    std::string text((std::istreambuf_iterator<char>(in)), std::istreambuf_iterator<char>());
    const std::size_t at = text.find(from);
    BOOST_REQUIRE(at != std::string::npos);
    std::ofstream(file(name)) << text.replace(at, from.size(), to);
  }
  [[nodiscard]] std::string file(const std::string& name) const { return (folder / "configs" / name).string(); }
  [[nodiscard]] bool tells(const std::string& part) const { return said.find(part) != std::string::npos; }

  TemporaryFolder own;
  const fs::path folder = own.path();
  std::string said;

 private:
  int runs_ = 0;
};

}  // namespace

BOOST_FIXTURE_TEST_SUITE(exit_codes, Desk)

BOOST_AUTO_TEST_CASE(done) {
  BOOST_TEST(run({"config", "check", file("demo.json")}) == exit_ok);
  BOOST_TEST(said == file("demo.json") + ": 3 engines, 2 sheets: in order\n");
  BOOST_TEST(run({"config", "show", file("demo.json")}) == exit_ok);
  BOOST_TEST(tells("/proof/confidence = 0.95  (default)\n"), said);
  BOOST_TEST(tells("# Fellbeck no. 7: \"Slow freight\""), said);
  BOOST_TEST(run({"--help"}) == exit_ok);
}

BOOST_AUTO_TEST_CASE(an_engine_needs_a_person) {
  replace("records/fellbeck.json", "\"cvs\": {\"CV3\": 28, \"CV4\": 20, ", "\"cvs\": {");
  BOOST_TEST(run({"rehearse", file("night.json"), "--output", (folder / "pages").string()}) == exit_needs_person);
  BOOST_TEST(tells("CV3 can't be read"), said);
}

BOOST_AUTO_TEST_CASE(the_command_line_was_not_understood) {
  BOOST_TEST(run({}) == exit_usage);
  BOOST_TEST(run({"tune"}) == exit_usage);
  BOOST_TEST(run({"config", "show"}) == exit_usage);
  BOOST_TEST(run({"completion", "csh"}) == exit_usage);
  BOOST_TEST(run({"show-config", file("demo.json")}) == exit_usage);
  BOOST_TEST(run(LAPWRIGHT_PROGRAMS "/lapwrightd", {"--once"}) == exit_usage);
}

BOOST_AUTO_TEST_CASE(a_mistake_in_a_record_or_sheet) {
  replace("sheets/slow_freight.json", "\"28\": 18.0", "\"28\": -18.0");
  for (const std::vector<std::string>& words : {std::vector<std::string>{"config", "check", file("demo.json")},
                                                {"config", "show", file("demo.json")},
                                                {"rehearse", file("demo.json")},
                                                {"serve", "--config", file("demo.json")}}) {
    BOOST_TEST(run(words) == exit_bad_data, words.front() << ": " << said);
    BOOST_TEST(tells(file("sheets/slow_freight.json") + ":11: /steps28/28: -18"), said);
  }
}

BOOST_AUTO_TEST_CASE(nobody_answers_at_the_control_socket) {
  for (const char* word : {"status", "watch", "doctor", "halt", "clear"}) {
    BOOST_TEST(run({word, "--socket", (folder / "nobody.sock").string()}) == exit_not_reachable, word);
    BOOST_TEST(tells("nobody.sock"), said);
  }
}

// Hardly to be had otherwise from a program without known faults: the system gives it no descriptor to wait with. Nor
// would a sanitizer get one to look for leaks with. Clang's takes every class for broken where it gets no pipe, which
// is how it asks whether an address can be read: the test is not run there.
#if defined(__clang__)
constexpr bool asks_by_pipe = __has_feature(undefined_behavior_sanitizer);
#else
constexpr bool asks_by_pipe = false;
#endif

BOOST_AUTO_TEST_CASE(a_fault_of_the_program, *boost::unit_test::enable_if<!asks_by_pipe>()) {
  BOOST_TEST(run_by("export ASAN_OPTIONS=detect_leaks=0; for fd in $(ls /proc/self/fd); do [ \"$fd\" -gt 2 ] && eval "
                    "\"exec $fd>&-\"; "
                    "done; ulimit -n 4; exec \"$0\" \"$@\"",
                    {"rehearse", file("night.json")}) == exit_internal,
             said);
  BOOST_TEST(tells("a fault of the program: "), said);
}

BOOST_AUTO_TEST_CASE(a_file_that_can_not_be_made) {
  std::ofstream(folder / "text") << "no folder";
  BOOST_TEST(run({"rehearse", file("night.json"), "--output", (folder / "text" / "pages").string()}) == exit_not_made);
  BOOST_TEST(tells("text/pages can't be made"), said);
}

BOOST_AUTO_TEST_CASE(a_socket_that_can_not_be_had) {
  const std::string socket = (folder / std::string(120, 's')).string();  // sun_path holds 108 bytes
  BOOST_TEST(run({"serve", "--config", file("demo.json"), "--socket", socket}) == exit_io);
  BOOST_TEST(tells(socket), said);
}

/// Root may write everywhere, so for root somebody else runs it: a copy that everybody may read.
BOOST_AUTO_TEST_CASE(a_file_that_its_user_may_not_write) {
  const fs::path program = folder / "lapwright", closed = folder / "closed";
  fs::copy_file(LAPWRIGHT_PROGRAMS "/lapwright", program);
  fs::create_directory(closed);
  const auto mode = [](const fs::path& path, unsigned bits) {
    fs::permissions(path, static_cast<fs::perms>(bits), fs::perm_options::replace);
  };
  for (const auto& entry : fs::recursive_directory_iterator(folder / "configs")) {
    mode(entry, entry.is_directory() ? 0755 : 0644);
  }
  for (const fs::path& path : {folder, folder / "configs", program}) mode(path, 0755);
  mode(closed, 0555);
  std::vector<std::string> words = {program.string(), "rehearse", file("night.json"), "--output",
                                    (closed / "pages").string()};
  const std::vector<std::string> nobody = {"--reuid=65534", "--regid=65534", "--clear-groups"};
  const bool root = ::geteuid() == 0;
  if (root) words.insert(words.begin(), nobody.begin(), nobody.end());
  if (!root) words.erase(words.begin());
  BOOST_TEST(run(root ? fs::path("/usr/bin/setpriv") : program, words) == exit_not_allowed, said);
  BOOST_TEST(tells("closed"), said);
}

BOOST_AUTO_TEST_CASE(a_mistake_in_the_configuration) {
  replace("demo.json", "\"seed\"", "\"sede\"");
  for (const std::vector<std::string>& words : {std::vector<std::string>{"config", "check", file("demo.json")},
                                                {"export", file("demo.json")},
                                                {"serve", "--config", file("demo.json")}}) {
    BOOST_TEST(run(words) == exit_configuration, words.front() << ": " << said);
    BOOST_TEST(tells(file("demo.json") + ":6: /rig/sede: the key \"sede\" is not known here; did you mean \"seed\"?"),
               said);
  }
  BOOST_TEST(run({"rehearse", file("works/bench.json")}) == exit_configuration, said);
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
