// What the README shows of a rehearsal is what the program prints: every line of its example, in order.
#include <boost/test/unit_test.hpp>
#include <fstream>
#include <sstream>

#include "daemon/exit_codes.h"
#include "tests/service/process.h"
#include "tests/temporary_folder.h"

namespace lapwright {
namespace {

std::string text_of(const std::filesystem::path& file) {
  std::ifstream in(file);
  std::stringstream text;
  text << in.rdbuf();
  return text.str();
}

/// The lines of the README that are indented as code, from the one that begins so to the next that is not.
std::vector<std::string> example(const std::string& readme, const std::string& begins) {
  std::vector<std::string> lines;
  std::istringstream in(readme);
  for (std::string line; std::getline(in, line);) {
    const bool code = line.empty() || line.starts_with("    ");
    if (lines.empty() && !line.starts_with("    " + begins)) continue;
    if (!code) break;
    const std::string shown = line.empty() ? line : line.substr(4);
    if (shown.find("…") == std::string::npos) lines.push_back(shown);
  }
  return lines;
}

void check_in_order(const std::vector<std::string>& lines, const std::string& printed) {
  BOOST_REQUIRE(lines.size() > 10U);
  std::size_t from = 0;
  for (const std::string& line : lines) {
    if (line.empty()) continue;
    const std::size_t at = printed.find(line + "\n", from);
    BOOST_REQUIRE_MESSAGE(at != std::string::npos, "the README shows \"" << line << "\", the program prints:\n"
                                                                         << printed);
    from = at;
  }
}

}  // namespace

BOOST_AUTO_TEST_SUITE(readme)

BOOST_AUTO_TEST_CASE(shows_what_a_rehearsal_prints) {
  const TemporaryFolder folder;
  const std::string readme = text_of(LAPWRIGHT_SOURCES "/README.md");
  const std::vector<std::string> arguments = {"rehearse", LAPWRIGHT_CONFIGS "/demo.json", "--output",
                                              folder.path().string()};
  Process rehearsal(LAPWRIGHT_PROGRAMS "/lapwright", arguments, folder.path() / "printed");
  BOOST_TEST(rehearsal.wait(60).value() == exit_ok, rehearsal.output());
  check_in_order(example(readme, "engine 1 of 3:"), rehearsal.output());
  check_in_order(example(readme, "Quillmoor & Tarn Light Railway"), text_of(folder.path() / "fellbeck_7.txt"));
  for (const char* page : {"fellbeck_7.html", "morning-page.html"}) {
    BOOST_TEST(readme.find(page) != std::string::npos, page);
    BOOST_TEST(text_of(folder.path() / page).ends_with("</html>\n"), page);
  }
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
