// The replay itself: that it reads what `--record` writes, refuses what it can't read, and shows where two texts
// differ.
#include <algorithm>
#include <boost/test/unit_test.hpp>

#include "drivers/links/traffic_log.h"
#include "drivers/virtual_clock.h"
#include "tests/recordings/difference.h"
#include "tests/recordings/replay.h"
#include "tests/temporary_folder.h"

namespace lapwright::recordings {
namespace {

using Lines = std::vector<std::string>;

Case of(const std::string& asked, const std::string& traffic) {
  Case result;
  read_asked(asked, result);
  result.traffic = read_traffic(traffic);
  return result;
}

BOOST_AUTO_TEST_SUITE(reading)

BOOST_AUTO_TEST_CASE(what_record_writes_is_read) {
  const TemporaryFolder folder;
  const auto file = folder.path() / "traffic.txt";
  VirtualClock clock;
  std::string all;
  for (int byte = 0; byte < 256; ++byte) all += static_cast<char>(byte);
  {
    TrafficLog log(file, clock);
    log.opened("board", "/dev/ttyACM0");
    log.came("board", all);
    log.went("station", ":X10702DD8N;\n");
    log.lost("board", "silent for 1000 ms");
  }
  const std::vector<Traffic> traffic = read_traffic(file_text(file));
  BOOST_TEST_REQUIRE(traffic.size() == 4u);
  BOOST_TEST(traffic[0].mark == '+');
  BOOST_TEST(traffic[0].bytes == "/dev/ttyACM0");
  BOOST_TEST(traffic[1].bytes == all);
  BOOST_TEST(traffic[2].link == "station");
  BOOST_TEST(traffic[2].bytes == ":X10702DD8N;\n");
  BOOST_TEST(traffic[3].mark == '-');
  BOOST_TEST(traffic[3].bytes == "silent for 1000 ms");
}

BOOST_AUTO_TEST_CASE(what_can_not_be_read_is_told_with_its_line) {
  const auto complaint = [](const auto& read) -> std::string {
    try {
      read();
    } catch (const std::runtime_error& mistake) {
      return mistake.what();
    }
    return "";
  };
  for (const char* wrong : {"1.0 board", "1.0 board ? x", "x board < y", "1.0 board < \\q", "-1.0 board < x", "1.0"}) {
    const std::string said = complaint([wrong] { (void)read_traffic(std::string("0.5 board < x\n") + wrong + "\n"); });
    BOOST_TEST(said.starts_with("traffic.txt:2: "), wrong << " gave \"" << said << '"');
  }
  BOOST_TEST(complaint([] { (void)read_traffic("2.0 board < x\n1.0 board < y\n"); }).find("backwards") !=
             std::string::npos);
  for (const char* wrong : {"with board colour red", "with station reply_confirms perhaps", "now", "soon relay on"}) {
    Case into;
    const std::string said = complaint([&] { read_asked(std::string("# Shows: it\n") + wrong + "\n1.0 end\n", into); });
    BOOST_TEST(said.starts_with("asked.txt:2: "), wrong << " gave \"" << said << '"');
  }
  Case endless;
  BOOST_TEST(complaint([&] { read_asked("with board\n", endless); }).find("ends") != std::string::npos);
}

BOOST_AUTO_TEST_CASE(a_difference_shows_what_is_missing_and_what_is_new) {
  const Lines wanted = {"a", "b", "c", "d", "e", "f", "g"};
  BOOST_TEST(difference(wanted, wanted) == "");
  BOOST_TEST(difference(wanted, {"a", "b", "c", "d", "e", "F", "g"}) == "    ...\n    d\n    e\n  - f\n  + F\n    g\n");
  BOOST_TEST(difference({}, {"x"}) == "  + x\n");
  BOOST_TEST(difference({"x"}, {}) == "  - x\n");
}

// Of a true recording every line that went out is compared, with its time.
BOOST_AUTO_TEST_CASE(what_is_sent_otherwise_is_found) {
  const std::string opening = "0.000000 board + /dev/ttyACM0\n";
  const auto otherwise = [&](const std::string& sent, const std::string& end) {
    return replay(of("with board\nsends within 0.01\n" + end + " end\n", opening + sent)).sent_otherwise;
  };
  BOOST_TEST(otherwise("0.000000 board > I 00*AC2B\\n\n", "0.05").empty());
  BOOST_TEST(otherwise("0.009000 board > I 00*AC2B\\n\n", "0.05").empty());
  BOOST_TEST(otherwise("0.020000 board > I 00*AC2B\\n\n", "0.05").size() == 2u);
  BOOST_TEST(otherwise("0.000000 board > I 00*AC2C\\n\n", "0.05").size() == 2u);
  BOOST_TEST(otherwise("", "0.05").size() == 2u);
  BOOST_TEST(otherwise("0.000000 board > I 00*AC2B\\n\n", "0.15").size() == 2u);  // it asks again, the recording ends
  BOOST_TEST(otherwise("0.000000 board > I 00*AC2B\\n\n0.040000 board > L 01*004F\\n\n", "0.05").size() == 2u);
}

BOOST_AUTO_TEST_CASE(a_request_without_a_result_is_told) {
  const Replayed result =
      replay(of("with station\n0.1 take 3 short\n0.5 end\n", "0.000000 station + 127.0.0.1:12021\n"));
  const auto open =
      std::count(result.protocol.begin(), result.protocol.end(), "0.500000 no result so far: take 3 short");
  BOOST_TEST(open == 1);
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace
}  // namespace lapwright::recordings
