// Every limit that the configuration can set stands in the README, by its key.
#include <boost/test/unit_test.hpp>
#include <fstream>
#include <iterator>
#include <regex>
#include <set>
#include <string>

namespace lapwright {
namespace {

std::string text_in(const std::string& name) {
  std::ifstream in(std::string(LAPWRIGHT_SOURCES "/") + name);
  return {std::istreambuf_iterator<char>(in), {}};
}

/// What is asked of the section "limits" while it is read.
std::set<std::string> keys_of_limits() {
  static const std::regex asked(
      R"re(\b\w+\.(?:number|maybe_number|integer|flag|texts|section_or_defaults)\(\s*"(\w+)")re");
  const std::string source = text_in("daemon/limits_setup.cpp");
  std::set<std::string> keys;
  for (std::sregex_iterator each(source.begin(), source.end(), asked), end; each != end; ++each) {
    keys.insert(each->str(1));
  }
  return keys;
}

}  // namespace

BOOST_AUTO_TEST_SUITE(readme_limits)

BOOST_AUTO_TEST_CASE(every_limit_is_told) {
  const std::set<std::string> keys = keys_of_limits();
  BOOST_TEST(keys.size() > 20U);
  for (const char* known : {"peak_mA", "writes_per_cv", "retry", "stall_share", "accept_no_current_sensor"}) {
    BOOST_TEST(keys.contains(known), known);
  }
  const std::string readme = text_in("README.md");
  for (const std::string& key : keys) {
    const bool told =
        readme.find("`" + key + "`") != std::string::npos || readme.find("\"" + key + "\"") != std::string::npos;
    BOOST_TEST(told, key << " is not in the README");
  }
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
