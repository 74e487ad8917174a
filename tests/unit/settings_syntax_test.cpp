#include <boost/test/unit_test.hpp>
#include <random>

#include "drivers/settings/parser.h"
#include "drivers/settings/reader.h"
#include "drivers/settings/wording.h"

using namespace lapwright::settings;

namespace {

std::string syntax_error(std::string_view text) {
  try {
    static_cast<void>(parse(text, "rig.json"));
  } catch (const Errors& errors) {
    return errors.what();
  }
  return "";
}

std::string nested(int depth) {
  return "{\"a\": " + std::string(static_cast<std::size_t>(depth) - 1, '[') +
         std::string(static_cast<std::size_t>(depth) - 1, ']') + "}";
}

}  // namespace

BOOST_AUTO_TEST_SUITE(settings_syntax)

BOOST_AUTO_TEST_CASE(broken_json_names_line_and_column) {
  BOOST_TEST(syntax_error("{\n  \"a\": 1,\n}").starts_with("rig.json:3:1: this is not JSON: "));
  BOOST_TEST(syntax_error("{\"a\": 1e999}").starts_with("rig.json:1:11: this is not JSON: number overflow"));
  BOOST_TEST(syntax_error("{\"a\":\n NaN}").starts_with("rig.json:2:2: this is not JSON: "));
  BOOST_TEST(syntax_error("").starts_with("rig.json:1:1: this is not JSON: "));
  for (const auto* text : {"{\"a\": Infinity}", "{\"a\": -Infinity}", "{'a': 1}", "{\"a\": 1} {}", "{\"a\": 01}",
                           "{\"a\": +1}", "{\"a\": 1.}", "{// no\n}", "{\"a\": \"\xff\"}", "{\"a\" 1}", "nul"}) {
    BOOST_TEST(syntax_error(text).find("this is not JSON") != std::string::npos, text);
  }
  BOOST_TEST(syntax_error("[1]") == "rig.json:1: a list is not an object; put the settings in { }");
}

BOOST_AUTO_TEST_CASE(nesting_has_a_limit) {
  BOOST_TEST(syntax_error(nested(depth_limit)).empty());
  BOOST_TEST(syntax_error(nested(depth_limit + 1)).find("nested deeper than 32 levels") != std::string::npos);
  BOOST_TEST(syntax_error(nested(1'000'000)).find("nested deeper than 32 levels") != std::string::npos);
}

BOOST_AUTO_TEST_CASE(lines_of_all_kinds_of_values) {
  std::vector<Complaint> complaints;
  const Node root = parse_nodes(
      "{\"a\"\n:\n1\n,\"b\":2\n,\n\"c\":[\n3.5,\n-4\n,true],\"d\"\r\n:\n\"x\",\"e\":{\n\"f\":null}}", "x", complaints);
  BOOST_REQUIRE(root.items.size() == 5);
  BOOST_TEST(root.items[0].line == 3);
  BOOST_TEST(root.items[1].line == 4);
  BOOST_TEST(root.items[2].line == 6);
  BOOST_TEST(root.items[2].items[0].line == 7);
  BOOST_TEST(root.items[2].items[1].line == 8);
  BOOST_TEST(root.items[2].items[2].line == 9);
  BOOST_TEST(root.items[3].line == 11);
  BOOST_TEST(root.items[4].line == 11);
  BOOST_TEST(root.items[4].items[0].line == 12);
  BOOST_TEST(complaints.empty());
}

BOOST_AUTO_TEST_CASE(damaged_text_gives_errors_and_nothing_else) {
  const std::string whole =
      "{\"name\": \"Tarn\\u00e9\", \"a\": {\"b\": [1, 2.5e3, -7, true, null, {\"c\": \"\\\\\"}]}}\n";
  std::mt19937 random(7);
  std::uniform_int_distribution<std::size_t> place(0, whole.size() - 1);
  std::uniform_int_distribution<int> byte(0, 255);
  for (int run = 0; run < 3000; ++run) {
    std::string text = whole;
    for (int n = run % 4; n >= 0; --n) text[place(random)] = static_cast<char>(byte(random));
    if (run % 3 == 0) text.resize(place(random));
    try {
      Document document = parse(text, "rig.json");
      document.root().section("a").numbers("b");
      document.finish();
    } catch (const Errors& errors) {
      BOOST_TEST(errors.lines().front().starts_with("rig.json:"));
    }
  }
}

BOOST_AUTO_TEST_CASE(a_flood_of_mistakes_is_cut) {
  std::string text = "{\"k0\": 0";
  for (int i = 1; i < 500; ++i) text += ",\n\"k" + std::to_string(i) + "\": 0";
  Document document = parse(text + "}", "rig.json");
  document.root().maybe_flag("none");
  BOOST_CHECK_EXCEPTION(document.finish(), Errors, [](const Errors& errors) {
    return errors.lines().size() == 51 &&
           errors.lines().back() == "rig.json: and 450 more mistakes; correct these first";
  });
}

BOOST_AUTO_TEST_CASE(mistakes_are_one_line_of_utf8) {
  BOOST_TEST(one_line("Ω µ … 𝄞 \"\\") == "Ω µ … 𝄞 \"\\");
  BOOST_TEST(one_line("a\nb\x7F") == "a\\u000ab\\u007f");
  BOOST_TEST(one_line("\xC2\x9B"
                      "31m") == "\\u009b31m");  // a terminal would take it for the beginning of a command
  BOOST_TEST(one_line("\xFF\xC3") == "\\xFF\\xC3");
  BOOST_TEST(one_line("\xC0\xAF") == "\\xC0\\xAF");                    // overlong
  BOOST_TEST(one_line("\xE0\x80\xAF") == "\\xE0\\x80\\xAF");           // overlong
  BOOST_TEST(one_line("\xED\xA0\x80") == "\\xED\\xA0\\x80");           // a surrogate
  BOOST_TEST(one_line("\xF4\x90\x80\x80") == "\\xF4\\x90\\x80\\x80");  // beyond U+10FFFF
  const Errors errors({"first\nforged", "second\xE9"});
  BOOST_TEST(errors.what() == std::string("first\\u000aforged\nsecond\\xE9"));
  BOOST_TEST(syntax_error("{\"Ω\xFF\": 1}").find("Ω\\xFF") != std::string::npos);
}

BOOST_AUTO_TEST_CASE(wording) {
  BOOST_TEST(edit_distance("lenght", "length") == 1);
  BOOST_TEST(edit_distance("", "abc") == 3);
  BOOST_TEST(edit_distance("kitten", "sitting") == 3);
  BOOST_TEST(unit_of("speed_mm_s") == "mm/s");
  BOOST_TEST(unit_of("position_mm") == "mm");
  BOOST_TEST(unit_of("quiet_s") == "s");
  BOOST_TEST(unit_of("limit_mA") == "mA");
  BOOST_TEST(unit_of("name") == "");
  BOOST_TEST(plain(100000) == "100000");
  BOOST_TEST(plain(0.00005) == "0.00005");
  BOOST_TEST(plain(-0.1) == "-0.1");
  BOOST_TEST(in_quotes("a\"\n") == "\"a\\\"\\u000a\"");
  BOOST_TEST(in_quotes(std::string(59, 'x') + "\u00e9y") == "\"" + std::string(59, 'x') + "…\"");
  BOOST_TEST(pointer_step("a/b~c") == "/a~1b~0c");
  BOOST_TEST(pointer_step(std::string(99, 'x') + "\u00e9") == "/" + std::string(99, 'x'));
}

BOOST_AUTO_TEST_SUITE_END()
