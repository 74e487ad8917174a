// The command line: what is typed becomes wishes, and nothing runs.
#include "daemon/command_tree.h"

#include <CLI/CLI.hpp>
#include <boost/test/unit_test.hpp>

using namespace lapwright;

namespace {

Wishes wishes_of(const std::string& line, CalledAs name = CalledAs::lapwright) {
  Wishes wishes;
  command_tree(name, wishes)->parse(line);
  return wishes;
}

}  // namespace

BOOST_AUTO_TEST_SUITE(command_tree_parses)

BOOST_AUTO_TEST_CASE(each_command_with_its_options) {
  const Wishes rehearse = wishes_of("rehearse night.json --seed 7 --output pages");
  BOOST_TEST((rehearse.command == Command::rehearse));
  BOOST_TEST(rehearse.config == "night.json");
  BOOST_TEST(rehearse.seed.value() == 7U);
  BOOST_TEST(rehearse.output == "pages");
  BOOST_TEST((wishes_of("config check night.json").command == Command::config_check));
  BOOST_TEST((wishes_of("config show night.json").command == Command::config_show));
  BOOST_TEST((wishes_of("export night.json --json").command == Command::export_passes));
  BOOST_TEST(wishes_of("status --json --socket s").json);
  BOOST_TEST((wishes_of("watch").command == Command::watch));
  BOOST_TEST((wishes_of("doctor").command == Command::doctor));
  BOOST_TEST((wishes_of("halt --socket s").command == Command::halt));
  BOOST_TEST((wishes_of("clear").command == Command::clear));
}

BOOST_AUTO_TEST_CASE(the_service_by_both_names) {
  for (const Wishes& wishes : {wishes_of("serve --config night.json --once --record t"),
                               wishes_of("--config night.json --once --record t", CalledAs::lapwrightd)}) {
    BOOST_TEST((wishes.command == Command::serve));
    BOOST_TEST(wishes.configs == std::vector<std::string>{"night.json"}, boost::test_tools::per_element());
    BOOST_TEST(wishes.once);
    BOOST_TEST(wishes.record == "t");
  }
  const std::vector<std::string> loops = {"west.json", "east.json"};
  for (const char* line : {"--config west.json --config east.json --once", "west.json east.json"}) {
    BOOST_TEST(wishes_of(line, CalledAs::lapwrightd).configs == loops, boost::test_tools::per_element());
  }
}

BOOST_AUTO_TEST_CASE(what_is_not_understood) {
  for (const char* line : {"", "config", "config check", "show-config night.json", "tune", "halt now", "status --loud",
                           "rehearse night.json --seed much"}) {
    BOOST_CHECK_THROW(wishes_of(line), CLI::ParseError);
  }
  BOOST_CHECK_THROW(wishes_of("--socket s", CalledAs::lapwrightd), CLI::ParseError);
}

BOOST_AUTO_TEST_SUITE_END()
