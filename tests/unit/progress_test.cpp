#include "daemon/progress.h"

#include <boost/test/unit_test.hpp>

#include "daemon/text_block.h"
#include "tests/unit/daemon_samples.h"

using namespace lapwright;

namespace {

/// What a small tune writes in a style.
std::string shown(TerminalStyle style) {
  std::string text;
  Progress progress(style, [&](std::string_view part) { text += part; });
  const Job job = samples::job();
  const JobResult result = samples::result();
  progress.engine_begins(job, 1, 2);
  progress.phase("measuring the steps");
  progress.progress(0, 4);
  int settled = 0;
  for (const CellResult& cell : result.tune.cells) {
    progress.pass(cell.step, cell.direction, cell.speed_mm_s);
    progress.settled(cell);
    progress.settled(cell);  // told again with the same verdict: no second line
    progress.progress(++settled, 4);
  }
  CellResult changed = result.tune.cells[0];
  changed.verdict = Verdict::marginal;
  progress.settled(changed);
  progress.engine_ends(job, result);
  return text;
}

int count_of(const std::string& text, const std::string& part) {
  int found = 0;
  for (std::size_t at = text.find(part); at != std::string::npos; at = text.find(part, at + 1)) ++found;
  return found;
}

}  // namespace

BOOST_AUTO_TEST_SUITE(progress)

BOOST_AUTO_TEST_CASE(style_from_the_surroundings) {
  const TerminalHints plain{"xterm", "", "en_GB.UTF-8"};
  BOOST_TEST(choose_style(true, 80, plain).live);
  BOOST_TEST(choose_style(true, 80, plain).colour);
  BOOST_TEST(choose_style(true, 80, plain).blocks);
  BOOST_TEST(!choose_style(false, 80, plain).live);
  BOOST_TEST(!choose_style(false, 80, plain).colour);
  BOOST_TEST(!choose_style(true, 80, {"dumb", "", "C"}).live);
  BOOST_TEST(!choose_style(true, 80, {"xterm", "", "C"}).blocks);
  const TerminalStyle without_colour = choose_style(true, 80, {"xterm", "1", "C.utf8"});  // no-color.org
  BOOST_TEST(without_colour.live);
  BOOST_TEST(!without_colour.colour);
}

BOOST_AUTO_TEST_CASE(plain_lines_where_there_is_no_terminal) {
  const std::string expected =
      "engine 1 of 2: Bracken no. 18, sheet \"Two notches\", over the trap west - east, 150.0 mm ±0.3 mm\n"
      "measuring the steps\n"
      "step   4 (notch 1)    2.50 smph   forward  2.48 ±0.05   reverse  2.51 ±0.05   proved\n"
      "step  28 (notch 8)   18.00 smph   forward 17.20 ±0.05   reverse 17.90 ±0.05   best attainable\n"
      "step   4 (notch 1)    2.50 smph   forward  2.48 ±0.05   reverse  2.51 ±0.05   marginal\n"
      "Bracken no. 18: 1 of 2 steps are proved in both directions; 1 is as close as\n"
      "this decoder can come. 21 min 34 s of track time, 131 passes, 212 CV writes.\n";
  BOOST_TEST(shown({false, false, true, 80}) == expected);
}

BOOST_AUTO_TEST_CASE(live_line_with_and_without_colour) {
  const std::string coloured = shown({true, true, true, 80});
  BOOST_TEST(count_of(coloured, "\x1b[32mproved\x1b[0m\n") == 1);
  BOOST_TEST(count_of(coloured, "█") > 0);
  BOOST_TEST(count_of(coloured, "\r\x1b[K") > 4);
  const std::string quiet = shown({true, false, false, 80});
  BOOST_TEST(count_of(quiet, "\x1b[3") == 0);
  BOOST_TEST(count_of(quiet, "[============............] 2/4") > 0);
  BOOST_TEST(count_of(quiet, "2.48 +-0.05") == 2);
  for (const char letter : quiet) BOOST_REQUIRE(static_cast<unsigned char>(letter) < 0x80);
}

BOOST_AUTO_TEST_CASE(the_live_line_never_wraps) {
  const std::string text = shown({true, false, true, 40});
  for (std::size_t at = text.find("\x1b[K"); at != std::string::npos; at = text.find("\x1b[K", at + 1)) {
    const std::size_t end = text.find_first_of("\r\n", at);
    const std::string_view part = std::string_view(text).substr(at + 3, end - at - 3);
    const bool bar = part.find("▕") != std::string_view::npos;
    if (bar) BOOST_TEST(letters(part) < 40);
  }
}

BOOST_AUTO_TEST_SUITE_END()
