// Measurements for other programs: RFC 4180 (CSV), and JSON that is the journals' own.
#include "daemon/export.h"

#include <boost/test/unit_test.hpp>
#include <sstream>

#include "daemon/store/heard_record.h"
#include "tests/temporary_folder.h"

namespace lapwright {
namespace {

std::string journal_text(const std::vector<Record>& records) {
  std::string text = journal_line({{"schema", "lapwright journal"}, {"version", 1}});
  int number = 0;
  for (const Record& record : records) {
    Record whole = {{"seq", ++number}, {"at", "2026-11-27 02:14:09 +0100"}};
    whole.update(record);
    text += journal_line(whole);
  }
  return text;
}

struct TwoShifts {
  TwoShifts() {
    const Passed good{17, Direction::reverse, 99.5, {PassTrouble::none, 87.25, 0.5, 0, 12.5}, 13};
    const Passed bad{2, Direction::forward, 12, {PassTrouble::no_exit, 0, 0, 0, 0}, 20};
    storage.make_folder(folder.path());
    storage.write(folder.path() / "0001-2026-11-26.jsonl",
                  journal_text({{{"kind", "job"}, {"engine", "Tarn \"Lady\", no. 3"}, {"sheet", "Slow freight"}},
                                heard_record(Heard{1, good})}));
    storage.write(folder.path() / "0002-2026-11-27.jsonl",
                  journal_text({{{"kind", "job"}, {"engine", "Bracken"}, {"sheet", "Yard"}},
                                {{"kind", "found"}, {"cv", 3}, {"value", 28}},
                                heard_record(Heard{2, bad})}) +
                      "{\"torn");
    storage.write(folder.path() / "0002-2026-11-27.jsonl.torn", "of no interest");
  }
  TemporaryFolder folder;
  RealStorage storage;
};

}  // namespace

BOOST_FIXTURE_TEST_SUITE(exported, TwoShifts)

BOOST_AUTO_TEST_CASE(passes_as_rfc_4180_has_them) {
  const std::string csv = passes_csv(all_shifts(storage, folder.path()));
  std::vector<std::string> lines;
  std::istringstream in(csv);
  for (std::string line; std::getline(in, line);) lines.push_back(line);
  BOOST_REQUIRE(lines.size() == 3U);
  BOOST_TEST(lines[0].find("shift,number,at,engine") == 0U);
  BOOST_TEST(lines[1] ==
             "0001-2026-11-26.jsonl,2,2026-11-27 02:14:09 +0100,\"Tarn \"\"Lady\"\", no. 3\",Slow freight,17,reverse,"
             "99.5,87.25,0.5,0,12.5,none\r");
  BOOST_TEST(lines[2] == "0002-2026-11-27.jsonl,3,2026-11-27 02:14:09 +0100,Bracken,Yard,2,forward,12,,,,,no_exit\r");
}

BOOST_AUTO_TEST_CASE(everything_as_json) {
  const Record all = Record::parse(records_json(all_shifts(storage, folder.path())));
  BOOST_REQUIRE(all["shifts"].size() == 2U);
  BOOST_TEST(all["shifts"][0]["file"] == "0001-2026-11-26.jsonl");
  BOOST_TEST(all["shifts"][0]["records"].size() == 2U);
  BOOST_TEST(all["shifts"][1]["records"][1]["value"] == 28);
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
