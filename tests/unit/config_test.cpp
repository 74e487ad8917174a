// The configuration: what is read, what is missing, and what is told of mistakes.
#include <boost/test/unit_test.hpp>
#include <filesystem>
#include <fstream>

#include "daemon/configuration.h"
#include "daemon/order.h"
#include "drivers/settings/errors.h"
#include "tests/temporary_folder.h"

using namespace lapwright;
namespace fs = std::filesystem;

namespace {

constexpr const char* good = R"({
  "name": "Quillmoor & Tarn Light Railway",
  "rig": {"kind": "simulated", "seed": 5, "railway": {}, "engines": ["fellbeck.json"]},
  "track": {
    "shape": "loop", "length_mm": 6000,
    "gates": [{"name": "west", "position_mm": 1000, "position_error_mm": 0.3},
              {"name": "east", "position_mm": 1150, "position_error_mm": 0.4}]
  },
  "shift": [{"record": "record.json", "sheet": "sheet.json"}]
})";
constexpr const char* record =
    R"({"name": "Fellbeck", "road_number": "7", "scale": "HO", "address": {"short": 7}, "cvs": {"CV3": 28}})";
constexpr const char* sheet = R"({"name": "Slow freight", "unit": "mph", "steps28": {"1": 1.0, "28": 18.0}})";

struct Folder {
  Folder() {
    put("fellbeck.json", R"({"name": "Fellbeck", "address": 7})");
    put("record.json", record);
    put("sheet.json", sheet);
  }
  void put(const std::string& name, const std::string& text) const { std::ofstream(path / name) << text; }
  [[nodiscard]] Configuration load(const std::string& text) const {
    put("rig.json", text);
    return load_configuration(path / "rig.json");
  }
  /// The mistakes in the good configuration when `from` is replaced by `to`.
  [[nodiscard]] std::string mistakes(const std::string& from, const std::string& to) const {
    std::string text = good;
    const std::size_t at = text.find(from);
    BOOST_REQUIRE(at != std::string::npos);
    text.replace(at, from.size(), to);
    try {
      (void)plan_shift(load(text));
    } catch (const settings::Errors& errors) {
      return errors.what();
    }
    return "";
  }
  TemporaryFolder own;
  const fs::path path = own.path();
};

std::string text_of(const LinkAddress& address) { return lapwright::text(address); }

bool has(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

}  // namespace

BOOST_FIXTURE_TEST_SUITE(config, Folder)

BOOST_AUTO_TEST_CASE(a_good_one) {
  const Configuration loaded = load(good);
  BOOST_TEST(loaded.rig.seed == 5u);
  BOOST_TEST(loaded.rig.engines.at(0).name == "Fellbeck");
  BOOST_TEST(loaded.reports == path / "reports");
  BOOST_TEST(loaded.limits.writes_per_cv == 60);
  BOOST_TEST(loaded.caps.job_s == 4 * 3600);
  BOOST_TEST(loaded.hours.always());
  BOOST_TEST(loaded.retry.causes.empty());
  BOOST_TEST(has(loaded.effective, "/track/length_mm = 6000\n"));
  BOOST_TEST(has(loaded.effective, "/limits/writes_per_cv = 60  (default)\n"));
  const std::vector<Job> jobs = plan_shift(loaded);
  const TuneOrder& order = jobs.at(0).order;
  BOOST_TEST(order.aims.size() == 28u);
  // A mile is 5280 ft of 304.8 mm (exact by definition): 18 smph in 1:87.1 are 92.387 mm/s.
  BOOST_TEST(order.aims.back().speed_mm_s == 18 * 5280 * 304.8 / 3600 / 87.1, boost::test_tools::tolerance(1e-12));
  BOOST_TEST(order.trap.base_mm == 150);
  BOOST_TEST(order.trap.base_error_mm == 0.5, boost::test_tools::tolerance(1e-12));
  BOOST_TEST(order.known_cvs.at(3) == 28);
}

// However the configuration is named: its folder is not gone into twice.
BOOST_AUTO_TEST_CASE(the_state_folder_is_beside_the_configuration) {
  const std::filesystem::path whole = load(good).state;
  BOOST_TEST(whole.parent_path() == path / "state");
  const std::filesystem::path here = std::filesystem::current_path();
  std::filesystem::current_path(path.parent_path());
  const std::filesystem::path by_relative_name =
      load_configuration(path.filename() / (whole.filename().string() + ".json")).state;
  std::filesystem::current_path(here);
  BOOST_TEST(by_relative_name == path.filename() / "state" / whole.filename());
}

BOOST_AUTO_TEST_CASE(how_sure_and_how_patient_a_tune_is) {
  std::string text = good;
  text.insert(text.rfind('}'), R"(, "proof": {"confidence": 0.99, "patience": 4})");
  const Configuration loaded = load(text);
  const TuneOrder order = plan_shift(loaded).at(0).order;
  BOOST_TEST(order.confidence == 0.99);
  BOOST_TEST(order.patience == 4);
  BOOST_TEST(has(mistakes("\"shift\"", "\"proof\": {\"confidence\": 95}, \"shift\""), "/proof/confidence: 95"));
}

BOOST_AUTO_TEST_CASE(when_engines_may_run_and_what_follows_a_trip) {
  std::string text = good;
  text.insert(text.rfind('}'), R"(, "hours": [{"from": "22:00", "to": "06:30"}], "state": "kept",
    "limits": {"continuous_s": 900, "running_s": 1000, "day_running_s": 2000, "shift_running_s": 3000, "stall_s": 12,
               "retry": {"causes": ["rig-lost", "host-late"], "times": 3, "after_s": 60},
               "leave_out": {"causes": ["stalled", "over-current"], "engines": 2}})");
  const Configuration loaded = load(text);
  BOOST_TEST(loaded.hours.text() == "22:00-06:30");
  BOOST_TEST(loaded.state == path / "kept");
  BOOST_TEST(loaded.limits.running.continuous_s == 900);
  BOOST_TEST(loaded.limits.running.rest_s == 600);
  BOOST_TEST(loaded.limits.motion.stall.within_s == 12);
  BOOST_TEST(loaded.caps.job_s == 1000);
  BOOST_TEST(loaded.caps.day_s == 2000);
  BOOST_TEST(loaded.caps.shift_s == 3000);
  BOOST_TEST(loaded.retry.causes.size() == 2u);
  BOOST_TEST(loaded.retry.times == 3);
  BOOST_TEST(loaded.leave.causes == (std::set<std::string>{"over-current", "stalled"}),
             boost::test_tools::per_element());
  BOOST_TEST(loaded.leave.engines == 2);
  BOOST_TEST(has(mistakes("\"shift\"", "\"hours\": [{\"from\": \"22.00\", \"to\": \"06:30\"}], \"shift\""),
                 "/hours/0/from: \"22.00\" is no time of day"));
  // What a person asked for is never begun anew by itself.
  const std::string asked = R"("limits": {"retry": {"causes": ["stop-asked"]}}, "shift")";
  BOOST_TEST(has(mistakes("\"shift\"", asked), "\"stop-asked\" always waits for a person"));
  // Nor does a trip that the next engine would meet as well let the shift go on.
  const std::string of_rig = R"("limits": {"leave_out": {"causes": ["rig-lost"]}}, "shift")";
  BOOST_TEST(has(mistakes("\"shift\"", of_rig), "\"rig-lost\" says nothing of the engine alone; these do: over-cur"));
}

BOOST_AUTO_TEST_CASE(commands_of_the_owners) {
  const auto with = [&](const std::string& hooks) {
    std::string text = good;
    return text.insert(text.rfind('}'), ", \"hooks\": " + hooks);
  };
  const Configuration loaded =
      load(with(R"({"on_finish": ["bells/night.sh", "a word"], "on_trip": ["/usr/bin/logger"], "limit_s": 5})"));
  BOOST_TEST(loaded.hooks.on_finish == (std::vector<std::string>{(path / "bells/night.sh").string(), "a word"}),
             boost::test_tools::per_element());
  BOOST_TEST(loaded.hooks.on_trip.at(0) == "/usr/bin/logger");
  BOOST_TEST(loaded.hooks.limit_s == 5);
  BOOST_TEST(has(loaded.effective, "/hooks/on_finish/1 = \"a word\"\n"));
  const Configuration without = load(good);
  BOOST_TEST(without.hooks.on_finish.empty());
  BOOST_TEST(has(without.effective, "/hooks/limit_s = 30  (default)\n"));
  const auto wrong = [&](const std::string& hooks) {
    return mistakes("\"shift\"", "\"hooks\": " + hooks + ", \"shift\"");
  };
  BOOST_TEST(has(wrong(R"({"on_finish": []})"), "/hooks/on_finish"));
  BOOST_TEST(has(wrong(R"({"on_finish": ""})"), "/hooks/on_finish"));
  BOOST_TEST(has(wrong(R"({"on_trip": ["", "x"]})"), "/hooks/on_trip/0: \"\" is empty"));
  BOOST_TEST(has(wrong(R"({"on_trip": ["x", "a\u0000b"]})"), "/hooks/on_trip: a word holds"));
  BOOST_TEST(has(wrong(R"({"limit_s": 601})"), "/hooks/limit_s: 601"));
  BOOST_TEST(has(wrong(R"({"on_fire": ["x"]})"), "/hooks/on_fire"));
}

BOOST_AUTO_TEST_CASE(a_rig_on_wires) {
  const std::string simulated = R"({"kind": "simulated", "seed": 5, "railway": {}, "engines": ["fellbeck.json"]})";
  const auto with_rig = [&](const std::string& rig) {
    std::string text = good;
    return text.replace(text.find(simulated), simulated.size(), rig);
  };
  const std::string station = R"("station": {"kind": "lcc", "link": {"host": "localhost", "port": 12021},
      "node_id": "05.01.01.01.22.01", "mph_per_step": 2})";
  const std::string board = R"("board": {"link": {"device": "/dev/board"}, "serial": "QT-0001", "gates": [3, 1],
      "settings": {"gates": "2", "trip_mA": "2000"}})";
  const Configuration loaded = load(with_rig("{\"kind\": \"wired\", " + station + ", " + board + "}"));
  BOOST_REQUIRE(loaded.wires.has_value());
  BOOST_TEST(text_of(loaded.wires->station_link) == "localhost:12021");
  BOOST_TEST(loaded.wires->station.node.id.text() == "05.01.01.01.22.01");
  BOOST_TEST(loaded.wires->station.steps.mph_per_step == 2);
  BOOST_TEST(text_of(loaded.wires->board->link) == "/dev/board");
  BOOST_TEST(loaded.wires->board->wish.gates == (std::vector<int>{3, 1}), boost::test_tools::per_element());
  BOOST_TEST(loaded.wires->board->wish.settings.at(1).second == "2000");
  BOOST_TEST(plan_shift(loaded).size() == 1u);
  const auto wrong = [&](const std::string& rig) {
    try {
      (void)load(with_rig(rig));
    } catch (const settings::Errors& errors) {
      return std::string(errors.what());
    }
    return std::string();
  };
  BOOST_TEST(has(wrong("{\"kind\": \"wired\", " + station + "}"), "nothing reports the gates"));
  const std::string one_gate = R"("gate_events": [{"blocked": "01.01.02.00.00.FB.00.0C", "clear": "nonsense"}])";
  const std::string events = wrong("{\"kind\": \"wired\", " + station + ", " + one_gate + "}");
  BOOST_TEST(has(events, "/rig/gate_events/0/clear: \"nonsense\" is no event ID"));
  BOOST_TEST(has(events, "1 gates are given and the track has 2"));
}

BOOST_AUTO_TEST_CASE(mistakes_name_file_line_pointer_value_and_remedy) {
  const std::string length = mistakes("\"length_mm\": 6000", "\"length_mm\": -3");
  BOOST_TEST(has(length, "rig.json:5: /track/length_mm: -3"));
  BOOST_TEST(has(length, "once around the loop"));
  const std::string unknown = mistakes("\"shift\"", "\"sheds\": 1, \"shift\"");
  BOOST_TEST(has(unknown, "rig.json:9: /sheds"));
  const std::string kind = mistakes("\"simulated\"", "\"imaginary\"");
  BOOST_TEST(has(kind, "rig.json:3: /rig/kind"));
  BOOST_TEST(has(kind, "imaginary"));
  BOOST_TEST(has(mistakes("\"east\"", "\"west\""), "/track/gates/1/name: \"west\" names two gates"));
}

BOOST_AUTO_TEST_CASE(all_mistakes_at_once_and_those_of_named_files) {
  put("fellbeck.json", R"({"name": "Fellbeck", "adress": 7})");
  const std::string both = mistakes("\"length_mm\": 6000", "\"length_mm\": \"long\"");
  BOOST_TEST(has(both, "/track/length_mm"));
  BOOST_TEST(has(both, "/rig/engines"));
  BOOST_TEST(has(both, "fellbeck.json:1: /adress"));
}

BOOST_AUTO_TEST_CASE(a_ratio_names_the_scale) {
  for (const auto& [ratio, name] : {std::pair("100", "1:100"), std::pair("87.10", "1:87.1"), std::pair("1", "1:1")}) {
    const std::string text = R"({"name": "Fellbeck", "address": {"short": 7}, "scale": )" + std::string(ratio) + "}";
    BOOST_TEST(parse_record(text, "record").scale.name == name);
  }
}

BOOST_AUTO_TEST_CASE(records_sheets_and_track_have_to_fit) {
  put("record.json", R"({"name": "Fellbeck", "scale": "H00", "address": {"short": 7, "long": 200}})");
  const std::string bad_record = mistakes("rig", "rig");
  BOOST_TEST(has(bad_record, "record.json:1: /scale: \"H00\" is no scale known here"));
  BOOST_TEST(has(bad_record, "give either \"short\" or \"long\""));
  put("record.json", R"({"name": "Fellbeck", "scale": 87.1, "address": {"short": 8}})");
  BOOST_TEST(has(mistakes("rig", "rig"), "no engine of the simulated railway answers to address 8"));
  put("record.json", record);
  BOOST_TEST(has(mistakes("\"loop\"", "\"shuttle\""), "add \"length_mm\" to its record"));
  BOOST_TEST(has(mistakes("\"shift\"", "\"trap\": {\"low_gate\": \"north\"}, \"shift\""), "no gate \"north\""));
}

BOOST_AUTO_TEST_CASE(the_demo_is_good) {
  const Configuration demo = load_configuration(fs::path(LAPWRIGHT_CONFIGS) / "demo.json");
  BOOST_TEST(plan_shift(demo).size() == 3u);
}

BOOST_FIXTURE_TEST_CASE(a_gate_that_guards_an_end_lies_there, Folder) {
  const std::string east = R"({"name": "east", "position_mm": 1150, "position_error_mm": 0.4}])";
  const std::string with_guard = R"({"name": "stop", "position_mm": 1900, "guards_end": true}, )" + east;
  BOOST_TEST(has(mistakes(east, with_guard), "a loop has no end"));
  std::string shuttle = good;
  shuttle.replace(shuttle.find("loop"), 4, "shuttle");
  shuttle.replace(shuttle.find(east), east.size(), with_guard);
  BOOST_TEST(load(shuttle).track.gates[1].guards_end);
  shuttle.replace(shuttle.find("1900"), 4, "1100");
  BOOST_CHECK_EXCEPTION(static_cast<void>(load(shuttle)), settings::Errors, [](const settings::Errors& errors) {
    return has(errors.what(), "gate \"stop\" is to guard an end of the track and lies between others");
  });
}

BOOST_AUTO_TEST_SUITE_END()
