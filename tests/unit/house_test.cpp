// The house rules that a machine can check: file sizes, opening sentences, arrows, purity, names, and co_await
// statements.
#include <boost/test/unit_test.hpp>
#include <filesystem>
#include <map>
#include <regex>
#include <set>

#include "tests/unit/await_scan.h"
#include "tests/unit/source_text.h"

namespace lapwright::house {
namespace {

constexpr std::size_t most_lines = 400;
constexpr std::size_t most_header_lines = 100;

const std::vector<SourceFile>& sources() {
  static const auto files = source_files(LAPWRIGHT_SOURCES, {"tuning", "drivers", "daemon", "tests"});
  return files;
}

bool goes_upwards(const SourceFile& file, const std::string& include) {
  const auto into = [&](const char* folder) { return include.starts_with(std::string(folder) + "/"); };
  if (file.is_in("tests")) return false;
  if (into("tests")) return true;
  if (file.is_in("tuning")) return into("drivers") || into("daemon");
  return file.is_in("drivers") && into("daemon");
}

/// Those of the words that stand in the text.
std::string found_words(std::string_view text, const std::vector<std::string>& words) {
  std::string found;
  for (const std::string& word : words) {
    if (count_word(text, word) > 0) found += " " + word;
  }
  return found;
}

/// The types that a header defines for the whole program, each with its namespace.
std::set<std::string> types_of(const SourceFile& header) {
  static const std::regex space(R"(namespace ([\w:]+) \{)");
  static const std::regex type(R"((?:struct|class|enum class) (\w+)(?: final)?(?: : [^;]*)?(?: \{.*)?)");
  std::set<std::string> types;
  std::string within;
  for (const std::string& line : lines(code_only(header.text))) {
    std::smatch found;
    if (std::regex_match(line, found, space)) within = found.str(1);
    if (std::regex_match(line, found, type)) types.insert(within + "::" + found.str(1));
  }
  return types;
}

BOOST_AUTO_TEST_SUITE(house)

BOOST_AUTO_TEST_CASE(files_are_small) {
  BOOST_TEST(sources().size() > 100U);
  for (const SourceFile& file : sources()) {
    const std::size_t count = lines(file.text).size();
    const std::size_t most = file.is_header() ? most_header_lines : most_lines;
    BOOST_TEST(count <= most, file.name << " has " << count << " lines and may have " << most << "; divide it");
  }
}

BOOST_AUTO_TEST_CASE(headers_say_what_they_are_for) {
  for (const SourceFile& file : sources()) {
    if (!file.is_header()) continue;
    BOOST_TEST(opens_with_a_sentence(file.text), file.name << " does not open with a sentence that says its purpose");
    BOOST_TEST(file.text.find("\n#pragma once\n") != std::string::npos, file.name << " lacks #pragma once");
  }
}

BOOST_AUTO_TEST_CASE(arrows_point_one_way) {
  for (const SourceFile& file : sources()) {
    for (const std::string& include : includes(file.text)) {
      BOOST_TEST(!goes_upwards(file, include), file.name << " includes " << include << ", which stands above it");
      BOOST_TEST(!include.starts_with("."), file.name << ": write " << include << " from the repository root");
    }
  }
}

BOOST_AUTO_TEST_CASE(tuning_is_pure) {
  const std::vector<std::string> forbidden = {"steady_clock::now",
                                              "system_clock",
                                              "high_resolution_clock",
                                              "std::thread",
                                              "std::jthread",
                                              "thread",
                                              "spdlog",
                                              "fstream",
                                              "ifstream",
                                              "ofstream",
                                              "iostream",
                                              "filesystem",
                                              "getenv",
                                              "printf",
                                              "fopen",
                                              "std::cout",
                                              "std::cerr",

                                              "random_device",
                                              "ip::tcp",
                                              "asio::serial_port",
                                              "sys/socket",
                                              "local::stream_protocol",
                                              "unistd"};
  for (const SourceFile& file : sources()) {
    if (!file.is_in("tuning")) continue;
    std::string words = found_words(code_only(file.text), forbidden);
    for (const std::string& include : includes(file.text)) words += found_words(include, forbidden);
    BOOST_TEST(words.empty(), file.name << " mentions" << words << "; tuning only computes");
  }
}

BOOST_AUTO_TEST_CASE(one_place_asks_the_machine_for_the_time) {
  for (const SourceFile& file : sources()) {
    if (file.is_in("tests") || file.name.starts_with("drivers/real_clock.")) continue;
    const std::string words = found_words(code_only(file.text), {"steady_clock::now", "system_clock::now"});
    BOOST_TEST(words.empty(), file.name << " calls" << words << "; take a Clock as argument");
  }
}

// Two classes of one name are undefined as soon as both are linked: the linker keeps either's functions for both.
// Neither compiler says so where no file includes both headers.
BOOST_AUTO_TEST_CASE(a_type_has_one_header) {
  std::map<std::string, std::string> headers;
  for (const SourceFile& file : sources()) {
    if (!file.is_header()) continue;
    for (const std::string& type : types_of(file)) {
      const auto [at, first] = headers.emplace(type, file.name);
      BOOST_TEST(first, file.name << " and " << at->second << " both define " << type);
    }
  }
  BOOST_TEST(headers.size() > 200U);
}

BOOST_AUTO_TEST_CASE(no_statement_that_the_compiler_breaks) {
  for (const SourceFile& file : sources()) {
    for (const Trap& trap : await_traps(file.text)) {
      BOOST_ERROR(file.name << ":" << trap.line << ": " << trap.what << "; give it a named local of its own");
    }
  }
}

BOOST_AUTO_TEST_CASE(nothing_else_lies_at_the_top) {
  const std::set<std::string> allowed = {"CMakeLists.txt", "README.md", "DEVELOPERS.md", "tuning",
                                         "drivers",        "daemon",    "tests",         "configs"};
  for (const auto& entry : std::filesystem::directory_iterator(LAPWRIGHT_SOURCES)) {
    const std::string name = entry.path().filename().string();
    const bool folder_ignored_by_git = entry.is_directory() && (name.starts_with("build") || name == "reports");
    BOOST_TEST((name.starts_with(".") || folder_ignored_by_git || allowed.contains(name)),
               name << " does not belong at the top of the repository");
  }
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace
}  // namespace lapwright::house
