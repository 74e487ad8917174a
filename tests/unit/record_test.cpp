#include <algorithm>
#include <boost/test/unit_test.hpp>
#include <nlohmann/json.hpp>
#include <sstream>

#include "daemon/report_files.h"
#include "daemon/report_text.h"
#include "daemon/text_block.h"
#include "daemon/tune_record.h"
#include "daemon/wording.h"
#include "tests/unit/daemon_samples.h"

using namespace lapwright;

BOOST_AUTO_TEST_SUITE(record)

BOOST_AUTO_TEST_CASE(json_by_step) {
  const nlohmann::ordered_json json = record_json("Quillmoor", samples::job(), samples::result());
  BOOST_TEST(json.begin().key() == "schema");
  BOOST_TEST(json["version"] == 1);
  BOOST_TEST(json["outcome"]["end"] == "complete");
  BOOST_TEST(json["outcome"]["needs_person"] == false);
  BOOST_TEST(json["outcome"]["steps"]["proved"] == 1);
  BOOST_TEST(json["work"]["track_s"] == 1294.3);
  BOOST_TEST(json["cvs"]["CV94"] == 240);
  BOOST_TEST(json["traits"]["table_enabled"].is_null());
  BOOST_TEST(json["starts_from_rest"]["forward"] == true);
  BOOST_TEST(json["starts_from_rest"]["reverse"].is_null());
  BOOST_TEST(json["simulated"]["seed"] == 11);
  const auto& top = json["steps"][1];
  BOOST_TEST(top["notch"] == "8");
  BOOST_TEST(top["target"] == 18.0);
  BOOST_TEST(top["verdict"] == "best_attainable");
  BOOST_TEST(top["forward"]["speed"] == 17.2);
  BOOST_TEST(top["forward"]["half_width"] == 0.05);
  BOOST_TEST(top["forward"]["reason"] == "out_of_drive");
  BOOST_TEST(!top["reverse"].contains("reason"));
  BOOST_TEST(json.dump() == record_json("Quillmoor", samples::job(), samples::result()).dump());
}

BOOST_AUTO_TEST_CASE(debts_and_stops_need_a_person) {
  JobResult result = samples::result();
  result.owed = {{3, 28}};
  result.stop = Stop{StopReason::over_current, "too much"};
  const nlohmann::ordered_json json = record_json("Quillmoor", samples::job(), result);
  BOOST_TEST(json["owed"]["CV3"] == 28);
  BOOST_TEST(json["outcome"]["needs_person"] == true);
  BOOST_TEST(json["outcome"]["stop"]["code"] == "over-current");
  BOOST_TEST(report_text("Quillmoor", samples::job(), result).find("Owed: CV3 = 28.") != std::string::npos);
}

BOOST_AUTO_TEST_CASE(text_as_it_is_read) {
  const std::string text = report_text("Quillmoor & Tarn Light Railway", samples::job(), samples::result());
  const std::string head = text.substr(0, text.find("\n  Target sheet"));
  BOOST_TEST(head.find("Bracken no. 18" + std::string(39, ' ') + "HO 1:87.1, short address 18\n") != std::string::npos);
  BOOST_TEST(head.find("1 of 2 steps are proved in both directions; 1 is as close as this decoder can\ncome.\n") !=
             std::string::npos);
  const std::string expected =
      "Speeds in smph\n"
      "\n"
      "  Step Notch     Target       ±   Forward        Reverse        Verdict\n"
      "  ----------------------------------------------------------------------------\n"
      "     4  1          2.50    0.10     2.48 ±0.05     2.51 ±0.05   proved\n"
      "    28  8         18.00    0.36    17.20 ±0.05    17.90 ±0.05   best attainable\n"
      "\n"
      "CVs as the decoder holds them now\n"
      "\n"
      "  CV2 = 0       CV3 = 28      CV66 = 128    CV95 = 120\n"
      "\n"
      "  CV67 = 10\n"
      "  CV68 = 12\n"
      "                                            CV94 = 240\n"
      "\n"
      "Remarks\n"
      "\n"
      "  - Step 28: full drive is too slow: raise the track voltage, or ask for less\n"
      "    speed.\n";
  const std::size_t from = text.find("Speeds in");
  BOOST_REQUIRE(from != std::string::npos);
  BOOST_TEST(text.substr(from, expected.size()) == expected);
}

BOOST_AUTO_TEST_CASE(a_step_that_does_not_start_the_engine_is_told) {
  JobResult result = samples::result();
  BOOST_TEST(report_text("Quillmoor", samples::job(), result).find("from rest") == std::string::npos);
  result.tune.starts = {true, false};
  const std::string text = report_text("Quillmoor", samples::job(), result);
  BOOST_TEST(text.find("The lowest step in reverse keeps the engine moving") != std::string::npos);
  BOOST_TEST(text.find("The lowest step in forward") == std::string::npos);
}

BOOST_AUTO_TEST_CASE(no_line_is_wider_than_the_terminal) {
  JobResult result = samples::result();
  result.tune.remarks = {std::string(30, 'a') + " " + std::string(40, 'b') + " " + std::string(20, 'c')};
  result.troubles = {"the engine could not be halted: a long story of a station that did not answer any more"};
  std::istringstream lines(report_text("Quillmoor", samples::job(), result));
  for (std::string line; std::getline(lines, line);) {
    BOOST_TEST(letters(line) <= text_columns, line);
    BOOST_TEST((line.empty() || line.back() != ' '), line);
  }
}

BOOST_AUTO_TEST_CASE(outcomes_in_words) {
  JobResult result = samples::result();
  VerdictCounts all{28, 28, 0, 0, 0, 0};
  BOOST_TEST(outcome_sentence(result, all) == "All 28 steps are proved in both directions.");
  result.tune.end = TuneEnd::engine_not_found;
  result.tune.detail = "no gate saw the engine move";
  BOOST_TEST(outcome_sentence(result, {}) == "Ended early: no gate saw the engine move. No step was measured.");
  BOOST_TEST(outcome_word(result, {}) == "engine not found");
  BOOST_TEST(duration_text(48.4) == "48 s");
  BOOST_TEST(duration_text(1294.3) == "21 min 34 s");
  BOOST_TEST(duration_text(3840) == "1 h 04 min");
}

BOOST_AUTO_TEST_CASE(file_names) {
  EngineRecord engine;
  engine.name = "Old Quill / \"2\"";
  engine.road_number = "../1";
  BOOST_TEST(file_stem(engine) == "old_quill_2_1");
  engine.name = "…";
  engine.road_number = "";
  BOOST_TEST(file_stem(engine) == "engine_3");
}

BOOST_AUTO_TEST_SUITE_END()
