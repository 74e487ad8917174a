// The manual pages and the README know every command, option and exit code that the program has.
#include <CLI/CLI.hpp>
#include <boost/test/unit_test.hpp>
#include <fstream>
#include <iterator>
#include <regex>

#include "daemon/command_tree.h"
#include "daemon/completion_model.h"

namespace lapwright {
namespace {

std::string text_at(const std::string& file) {
  std::ifstream in(file);
  BOOST_REQUIRE_MESSAGE(in.good(), "can't read " << file);
  return {std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>()};
}

/// A page of configs/man as it reads, but still with its macros: no fonts, no escaped hyphens.
std::string manual(const std::string& name) {
  const std::string source = text_at(LAPWRIGHT_CONFIGS "/man/" + name);
  const std::string plain = std::regex_replace(source, std::regex(R"(\\f[BIR])"), "");
  return std::regex_replace(plain, std::regex(R"(\\-)"), "-");
}

/// What stands under a heading; empty: there is no such heading.
std::string under(const std::string& page, const std::string& heading) {
  const std::size_t at = page.find("\n" + heading + "\n");
  if (at == std::string::npos) return {};
  const std::size_t from = at + heading.size() + 2;
  const bool inner = heading.starts_with(".SS");
  const std::size_t end = std::min(page.find("\n.SH", from), inner ? page.find("\n.SS", from) : std::string::npos);
  return page.substr(from, end == std::string::npos ? end : end - from);
}

bool has_word(const std::string& text, const std::string& word) {
  return std::regex_search(text, std::regex("(^|[^-a-z])" + word + "($|[^-a-z])"));
}

void check_options(const CompletedCommand& command, const std::string& section, const std::string& page) {
  for (const CompletedOption& option : command.options) {
    for (const std::string& name : option.names) {
      const bool help = name == "-h" || name == "--help";
      BOOST_TEST(has_word(help ? page : section, name), command.path << ": the manual says nothing of " << name);
    }
  }
}

/// Names and numbers of daemon/exit_codes.h.
std::vector<std::pair<std::string, std::string>> exit_codes() {
  const std::string header = text_at(LAPWRIGHT_SOURCES "/daemon/exit_codes.h");
  const std::regex code(R"((exit_\w+) = (\d+),)");
  std::vector<std::pair<std::string, std::string>> codes;
  for (std::sregex_iterator at(header.begin(), header.end(), code), end; at != end; ++at) {
    codes.emplace_back((*at)[1], (*at)[2]);
  }
  return codes;
}

}  // namespace

BOOST_AUTO_TEST_SUITE(man_pages)

BOOST_AUTO_TEST_CASE(every_command_has_its_part_with_every_option) {
  Wishes wishes;
  const auto tree = command_tree(CalledAs::lapwright, wishes);
  const std::string page = manual("lapwright.1");
  const std::string synopsis = under(page, ".SH SYNOPSIS");
  for (const CompletedCommand& command : completed_commands(*tree)) {
    if (!command.below.empty()) continue;
    const std::string section = under(page, ".SS " + command.path);
    BOOST_TEST(!section.empty(), "lapwright.1 has no part \"" << command.path << "\"");
    BOOST_TEST(("\n" + synopsis).find("\n" + command.path) != std::string::npos,
               command.path << " is not in the synopsis");
    check_options(command, section, page);
  }
}

BOOST_AUTO_TEST_CASE(parts_of_commands_that_are_no_more_are_taken_out) {
  Wishes wishes;
  const auto tree = command_tree(CalledAs::lapwright, wishes);
  std::string paths = "\n";
  for (const CompletedCommand& command : completed_commands(*tree)) paths += command.path + "\n";
  const std::string page = manual("lapwright.1");
  const std::regex heading(R"(\n\.SS (lapwright .*))");
  for (std::sregex_iterator at(page.begin(), page.end(), heading), end; at != end; ++at) {
    BOOST_TEST(paths.find("\n" + (*at)[1].str() + "\n") != std::string::npos, (*at)[1].str() << " is no command");
  }
}

BOOST_AUTO_TEST_CASE(the_service_has_every_option) {
  Wishes wishes;
  const auto tree = command_tree(CalledAs::lapwrightd, wishes);
  const std::string page = manual("lapwrightd.8");
  check_options(completed_commands(*tree).at(0), under(page, ".SH OPTIONS"), page);
}

BOOST_AUTO_TEST_CASE(every_exit_code_is_told) {
  const auto codes = exit_codes();
  BOOST_TEST(codes.size() >= 11U);
  const std::string readme = text_at(LAPWRIGHT_SOURCES "/README.md");
  const std::size_t at = readme.find("Exit codes: ");
  BOOST_REQUIRE(at != std::string::npos);
  const std::string paragraph = readme.substr(at, readme.find("\n\n", at) - at);
  for (const auto& [name, number] : codes) {
    BOOST_TEST(std::regex_search(paragraph, std::regex("[:;]\\s" + number + " ")), "the README does not tell " << name);
    for (const char* file : {"lapwright.1", "lapwrightd.8"}) {
      const std::string section = under(manual(file), ".SH EXIT STATUS");
      BOOST_TEST(section.find(".B " + number + "\n") != std::string::npos, file << " does not tell " << name);
    }
  }
}

BOOST_AUTO_TEST_CASE(both_tell_what_nobody_may_overlook) {
  for (const char* file : {"lapwright.1", "lapwrightd.8"}) {
    const std::string page = manual(file);
    for (const char* heading : {"SYNOPSIS", "DESCRIPTION", "FILES", "ENVIRONMENT", "EXAMPLES"}) {
      BOOST_TEST(!under(page, ".SH " + std::string(heading)).empty(), file << " lacks " << heading);
    }
    const std::string cautions = under(page, ".SH CAUTIONS");
    for (const char* word :
         {"emergency stop by any standard", "in series with the supply", "electrical codes", "makers' instructions"}) {
      BOOST_TEST(cautions.find(word) != std::string::npos, file << " does not warn: " << word);
    }
  }
  const std::string cautions = under(manual("lapwrightd.8"), ".SH CAUTIONS");
  for (const char* word : {"Fuse", "Supervise", "Heat", "Fire"}) {
    BOOST_TEST(cautions.find(word) != std::string::npos, "lapwrightd.8 does not warn: " << word);
  }
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
