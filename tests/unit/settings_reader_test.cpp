#include <boost/test/unit_test.hpp>
#include <filesystem>
#include <fstream>

#include "drivers/settings/reader.h"
#include "tests/temporary_folder.h"

using namespace lapwright::settings;

namespace {

/// Reads `text` with `read` and returns the mistakes, one a line.
template <class Read>
std::string mistakes(std::string_view text, Read read) {
  try {
    Document document = parse(text, "rig.json");
    read(document.root());
    document.finish();
  } catch (const Errors& errors) {
    return errors.what();
  }
  return "";
}

enum class Shape { loop, shuttle };

constexpr std::string_view good = R"({
  "name": "Quillmoor test loop",
  "track": {"shape": "shuttle", "length_mm": 6000, "seeds": [1, 2, 3], "curved": true},
  "gates": [{"position_mm": 100}, {"position_mm": 250.5}],
  "cvs": {"CV3": 28, "CV29": 6},
  "spare": 7
})";

}  // namespace

BOOST_AUTO_TEST_SUITE(settings_reader)

BOOST_AUTO_TEST_CASE(typed_values) {
  Document document = parse(good, "rig.json");
  Section root = document.root();
  BOOST_TEST(root.text("name") == "Quillmoor test loop");
  Section track = root.section("track");
  const Shape shape = track.word<Shape>("shape", {{"loop", Shape::loop}, {"shuttle", Shape::shuttle}});
  BOOST_TEST((shape == Shape::shuttle));
  BOOST_TEST(track.number("length_mm", {.min = 100, .max = 100000}) == 6000.0);
  BOOST_TEST(track.integers("seeds", {.min = 1}) == (std::vector<int>{1, 2, 3}), boost::test_tools::per_element());
  BOOST_TEST(track.flag("curved"));
  BOOST_TEST(track.number("quiet_s", {.min = 0}, 0.02) == 0.02);
  std::vector<Section> gates = root.sections("gates", {.min = 2});
  BOOST_REQUIRE(gates.size() == 2);
  BOOST_TEST(gates[0].number("position_mm") == 100.0);
  BOOST_TEST(gates[1].number("position_mm") == 250.5);
  BOOST_TEST(gates[1].pointer() == "/gates/1");
  const std::map<int, int> cvs =
      root.integer_map("cvs", {.prefix = "CV", .min = 1, .max = 1024}, {.min = 0, .max = 255});
  BOOST_TEST((cvs == std::map<int, int>{{3, 28}, {29, 6}}));
  BOOST_TEST(root.maybe_integer("spare").value() == 7);
  BOOST_TEST(!root.maybe_number("nothing"));
  BOOST_TEST(!root.maybe_section("nothing_either"));
  BOOST_TEST(root.section_or_defaults("motor").integer("teeth", {}, 12) == 12);
  BOOST_CHECK_NO_THROW(document.finish());
}

BOOST_AUTO_TEST_CASE(effective_settings) {
  Document document = parse("{\"a_mm\": 5}", "rig.json");
  Section root = document.root();
  root.number("a_mm");
  root.section_or_defaults("deep").number("b_s", {}, 0.25);
  BOOST_TEST(document.effective_text() == "/a_mm = 5\n/deep/b_s = 0.25  (default)\n");
}

BOOST_AUTO_TEST_CASE(range_names_line_pointer_value_and_remedy) {
  const std::string text =
      mistakes("{\n\"track\": {\n \"gates\": [{\"position_mm\": 1},\n {\"position_mm\":\n-3\n}]}}", [](Section root) {
        for (Section gate : root.section("track").sections("gates")) {
          gate.number("position_mm", {.min = 0, .max = 100000, .help = "the gate's distance from the zero mark"});
        }
      });
  BOOST_TEST(text ==
             "rig.json:5: /track/gates/1/position_mm: -3 is out of range 0 … 100000 mm; give the gate's distance from "
             "the zero mark within it");
}

BOOST_AUTO_TEST_CASE(unknown_keys_suggest_the_nearest) {
  const auto read = [](Section root) {
    root.maybe_number("length_mm");
    root.maybe_number("speed_mm_s");
  };
  BOOST_TEST(mistakes("{\"lenght_mm\": 1}", read) ==
             "rig.json:1: /lenght_mm: the key \"lenght_mm\" is not known here; did you mean \"length_mm\"?");
  BOOST_TEST(
      mistakes("{\n\"colour\": {\"deep\": [1]}}", read) ==
      "rig.json:2: /colour: the key \"colour\" is not known here; take it out or use one of: length_mm, speed_mm_s");
}

BOOST_AUTO_TEST_CASE(all_mistakes_at_once_by_line) {
  const std::string text =
      mistakes("{\"a\": \"x\",\n\"b\": 2,\n\"c\": 1.5,\n\"d\": \"lop\",\n\"e\": [1],\n\"g\": null, \"h\": {\"x\": {}}}",
               [](Section root) {
                 root.flag("b");
                 root.integer("c", {.min = 0, .max = 255});
                 root.number("a");
                 root.word<Shape>("d", {{"loop", Shape::loop}, {"shuttle", Shape::shuttle}}, Shape::loop);
                 root.integers("e", {.min = 2, .max = 3});
                 root.text("f_name", {}, "the engine's name");
                 root.text("g");
                 root.number("h");
               });
  BOOST_TEST(text ==
             "rig.json:1: /a: \"x\" is not a number; give a number\n"
             "rig.json:1: \"f_name\" is missing; give the engine's name\n"
             "rig.json:2: /b: 2 is not true or false; give true or false, without quotes\n"
             "rig.json:3: /c: 1.5 is not a whole number; give a whole number (0 … 255)\n"
             "rig.json:4: /d: \"lop\" is not known here; give \"loop\" or \"shuttle\" (did you mean \"loop\"?)\n"
             "rig.json:5: /e: the list has 1 item; give a list in [ ], 2 … 3 items\n"
             "rig.json:6: /g: null is not a text; give a text, in double quotes\n"
             "rig.json:6: /h: an object is not a number; give a number");
}

BOOST_AUTO_TEST_CASE(a_missing_section_is_one_mistake) {
  BOOST_TEST(mistakes("{}", [](Section root) {
               Section track = root.section("track", "the test track");
               track.number("length_mm");
               track.section("deeper").text("name");
               BOOST_TEST(track.sections("gates", {.min = 2}).empty());
             }) == "rig.json:1: \"track\" is missing; give the test track");
}

BOOST_AUTO_TEST_CASE(duplicates_and_odd_map_keys) {
  const auto read = [](Section root) {
    root.maybe_integer("a");
    root.number_map("cvs", {.prefix = "CV", .min = 1, .max = 9}, {});
  };
  BOOST_TEST(mistakes("{\"a\": 1,\n\"cvs\": {\"CV1\": 1, \"CV1\": {\"x\": 1}}}", read) ==
             "rig.json:2: /cvs/CV1: this key stands twice in one object; keep one of them");
  for (const auto* key : {"CV01", "CV0", "CV10", "cv1", "CV+1", "CV1 ", "CV", "1", ""}) {
    const std::string text = mistakes("{\"cvs\": {\"" + std::string(key) + "\": 1}}", read);
    BOOST_TEST(text.find("is not one of \"CV1\" … \"CV9\"; write CV and the number without") != std::string::npos, key);
  }
}

BOOST_AUTO_TEST_CASE(complaints_of_the_caller) {
  BOOST_TEST(
      mistakes("{\"a\": 1,\n\"b\": 2}",
               [](Section root) {
                 const int a = root.integer("a"), b = root.integer("b");
                 BOOST_TEST(root.mistakes() == 0);
                 if (b > a) root.complain("b", "2 is more than a; lower it");
                 root.complain("", "all wrong; start anew");
                 root.complain("none", "not there; add it");
               }) ==
      "rig.json:1: all wrong; start anew\nrig.json:1: not there; add it\nrig.json:2: /b: 2 is more than a; lower it");
}

BOOST_AUTO_TEST_CASE(files) {
  BOOST_CHECK_EXCEPTION(static_cast<void>(load_file("/nonexistent/rig.json")), Errors, [](const Errors& errors) {
    return errors.lines().size() == 1 &&
           errors.lines()[0].starts_with("/nonexistent/rig.json: can't be opened: No such");
  });
  const std::string long_name(300, 'r');
  BOOST_CHECK_EXCEPTION(static_cast<void>(load_file(long_name)), Errors, [&](const Errors& errors) {
    return errors.lines().front().starts_with(long_name + ": can't be opened: ");
  });
  const lapwright::TemporaryFolder folder;
  BOOST_CHECK_THROW(static_cast<void>(load_file(folder.path())), Errors);
  const std::filesystem::path file = folder.path() / "rig.json";
  std::ofstream(file) << "{\"a\": 1}";
  Document document = load_file(file);
  BOOST_TEST(document.root().integer("a") == 1);
  BOOST_TEST(document.name() == file.string());
}

BOOST_AUTO_TEST_SUITE_END()
