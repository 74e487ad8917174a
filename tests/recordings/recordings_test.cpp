// Every recording in cases/ against the real drivers, on the virtual clock.
//
// A case is a folder: traffic.txt, exactly what `--record FILE` writes; asked.txt, what it shows, where it comes from,
// how the drivers are set up and what the program above them asked when; expected.txt, all that must come of it. A
// driver that is changed on purpose changes expected.txt:
//
//     LAPWRIGHT_REWRITE=1 build/tests/recordings_tests && git diff tests/recordings
//
// writes them anew, and the difference is reviewed. How recordings are made stands in recorder.h.
#include <algorithm>
#include <boost/test/data/monomorphic.hpp>
#include <boost/test/data/test_case.hpp>
#include <boost/test/unit_test.hpp>
#include <cstdlib>
#include <fstream>

#include "tests/recordings/difference.h"
#include "tests/recordings/recorder.h"
#include "tests/recordings/replay.h"

namespace lapwright::recordings {
namespace {

constexpr std::size_t least_recordings = 20;

bool wished(const char* variable) { return std::getenv(variable) != nullptr; }

BOOST_AUTO_TEST_SUITE(recordings)

BOOST_DATA_TEST_CASE(replayed, boost::unit_test::data::make(case_names()), name) {
  if (const char* again = std::getenv("LAPWRIGHT_RECORD"); again != nullptr && name == again) record(read_case(name));
  const Case given = read_case(name);
  const Replayed result = replay(given);
  const auto expected = case_folder(name) / "expected.txt";
  if (wished("LAPWRIGHT_REWRITE")) std::ofstream(expected) << text_of(result.protocol);
  const std::string different = difference(lines_of(file_text(expected)), result.protocol);
  BOOST_TEST(different.empty(), "recording " << name << ", expected (-) and got (+):\n" << different);
  BOOST_TEST(result.sent_otherwise.empty(), "recording " << name << ": the drivers send something else now\n"
                                                         << text_of(result.sent_otherwise));
}

BOOST_AUTO_TEST_CASE(each_says_what_it_shows_and_where_it_comes_from) {
  BOOST_TEST(case_names().size() >= least_recordings);
  for (const std::string& name : case_names()) {
    const Case given = read_case(name);
    BOOST_REQUIRE_MESSAGE(given.about.size() >= 2, name << ": asked.txt lacks its head");
    BOOST_TEST(given.about[0].starts_with("# Shows: "), name << ": " << given.about[0]);
    const bool told = std::any_of(given.about.begin(), given.about.end(),
                                  [](const std::string& line) { return line.starts_with("# From: "); });
    BOOST_TEST(told, name << " does not say where it comes from");
    const bool true_recording = !given.ends.empty();
    BOOST_TEST((!true_recording || given.sends_within.has_value()), name << ": what is sent would not be compared");
  }
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace
}  // namespace lapwright::recordings
