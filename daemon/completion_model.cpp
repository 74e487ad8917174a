#include "daemon/completion_model.h"

#include <CLI/CLI.hpp>
#include <algorithm>

namespace lapwright {
namespace {

/// Shells show one line.
std::string first_line(const std::string& text) { return text.substr(0, text.find('\n')); }

std::vector<std::string> cut_at_commas(const std::string& text) {
  std::vector<std::string> words;
  for (std::size_t from = 0; from <= text.size();) {
    const std::size_t to = std::min(text.find(',', from), text.size());
    words.push_back(text.substr(from, to - from));
    from = to + 1;
  }
  return words;
}

/// CLI11 tells what an argument is by the name of its type alone: "FILE", or "SHELL:{bash,zsh}" of CLI::IsMember.
CompletedValue completed_value(const CLI::Option& option) {
  const std::string type = option.get_type_name();
  const std::size_t opens = type.find('{');
  const std::size_t closes = type.find('}', opens == std::string::npos ? 0 : opens);
  if (opens != std::string::npos && closes != std::string::npos) {
    return {CompletedValue::Kind::words, cut_at_commas(type.substr(opens + 1, closes - opens - 1))};
  }
  const std::string word = type.substr(0, type.find(':'));
  if (word == "FILE" || word == "PATH") return {CompletedValue::Kind::file, {}};
  if (word == "FOLDER") return {CompletedValue::Kind::folder, {}};
  return {};
}

CompletedOption completed_option(const CLI::Option& option) {
  CompletedOption made;
  for (const std::string& name : option.get_snames()) made.names.push_back("-" + name);
  for (const std::string& name : option.get_lnames()) made.names.push_back("--" + name);
  made.help = first_line(option.get_description());
  made.takes_value = option.get_items_expected_max() > 0;
  made.value = completed_value(option);
  return made;
}

void add_options(const CLI::App& app, CompletedCommand& command) {
  for (const CLI::Option* option : app.get_options()) {
    if (option->get_group().empty()) continue;
    if (option->nonpositional()) command.options.push_back(completed_option(*option));
    if (!option->get_positional()) continue;
    command.places.push_back(completed_value(*option));
    command.last_place_repeats = option->get_items_expected_max() > 1;
  }
}

void add_commands(const CLI::App& app, const std::string& path, std::vector<CompletedCommand>& all) {
  const std::size_t at = all.size();
  all.push_back({path, app.get_name(), first_line(app.get_description()), {}, {}, {}, false});
  add_options(app, all[at]);
  for (const CLI::App* below : app.get_subcommands(std::function<bool(const CLI::App*)>())) {
    if (below->get_name().empty()) {  // a group of options, not a command
      add_options(*below, all[at]);
      continue;
    }
    if (below->get_group().empty()) continue;
    all[at].below.push_back(path + " " + below->get_name());
    add_commands(*below, all[at].below.back(), all);
  }
}

}  // namespace

std::vector<CompletedCommand> completed_commands(const CLI::App& root) {
  std::vector<CompletedCommand> all;
  add_commands(root, root.get_name(), all);
  return all;
}

}  // namespace lapwright
