// Text that stands in pages means nothing but itself; and the check of markup that other tests rely on finds mistakes.
#include "daemon/pages/markup.h"

#include <boost/test/unit_test.hpp>

#include "tests/unit/markup_check.h"

using namespace lapwright;

BOOST_AUTO_TEST_SUITE(markup_text)

BOOST_AUTO_TEST_CASE(what_means_something_in_markup_is_escaped) {
  BOOST_TEST(in_markup("<a href=\"x\">'&amp;'") == "&lt;a href=&quot;x&quot;&gt;&#39;&amp;amp;&#39;");
  BOOST_TEST(in_markup("Tarn Lady – 5½ °") == "Tarn Lady – 5½ °");
  BOOST_TEST(in_markup("").empty());
}

// U+FFFD is EF BF BD (Unicode, UTF-8).
BOOST_AUTO_TEST_CASE(what_is_no_utf8_is_replaced) {
  const std::string mark = "\xEF\xBF\xBD";
  BOOST_TEST(in_markup("a\xC3(b") == "a" + mark + "(b");
  BOOST_TEST(in_markup("\xFF") == mark);
  BOOST_TEST(in_markup("\xED\xA0\x80") == mark + mark + mark);  // half of a surrogate pair
  BOOST_TEST(in_markup("\xC0\xBC") == mark + mark);             // '<' in two bytes
  BOOST_TEST(in_markup("ends with \xE2\x82") == "ends with " + mark + mark);
}

// XML 1.0 §2.2.
BOOST_AUTO_TEST_CASE(characters_that_xml_does_not_allow_are_replaced) {
  const std::string mark = "\xEF\xBF\xBD";
  BOOST_TEST(in_markup(std::string("a\0b", 3)) == "a" + mark + "b");
  BOOST_TEST(in_markup("bell\a escape\x1B") == "bell" + mark + " escape" + mark);
  BOOST_TEST(in_markup("\xEF\xBF\xBF") == mark);
  BOOST_TEST(in_markup("tab\tline\n") == "tab\tline\n");
}

BOOST_AUTO_TEST_CASE(the_check_finds_mistakes) {
  BOOST_TEST(markup::flaw("<a x=\"1\"><b/>t &lt; u</a>").empty(), markup::flaw("<a x=\"1\"><b/>t &lt; u</a>"));
  for (const char* bad : {"<a><b></a></b>", "<a>", "</a>", "<a x=1/>", "<a x=\"1\" x=\"2\"/>", "<a>A & B</a>",
                          "<a>&nbsp;</a>", "<a>\xFF</a>", "<a x=\"<\"/>", "<a", "<a>></a>"}) {
    BOOST_TEST(!markup::flaw(bad).empty(), bad);
  }
}

BOOST_AUTO_TEST_SUITE_END()
