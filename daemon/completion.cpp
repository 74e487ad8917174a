#include "daemon/completion.h"

#include <CLI/CLI.hpp>
#include <algorithm>
#include <cctype>
#include <stdexcept>

#include "daemon/completion_scripts.h"

namespace lapwright {
namespace {

std::string function_name(std::string text) {
  std::replace_if(
      text.begin(), text.end(), [](unsigned char letter) { return std::isalnum(letter) == 0; }, '_');
  return "_" + text;
}

}  // namespace

Shell shell_named(std::string_view name) {
  if (name == "bash") return Shell::bash;
  if (name == "zsh") return Shell::zsh;
  if (name == "fish") return Shell::fish;
  throw std::invalid_argument("no script is known for the shell \"" + std::string(name) + "\"");
}

std::string completion_script(Shell shell, const std::vector<const CLI::App*>& programs) {
  CompletedPrograms made;
  for (const CLI::App* program : programs) {
    made.names.push_back(program->get_name());
    const std::vector<CompletedCommand> commands = completed_commands(*program);
    made.commands.insert(made.commands.end(), commands.begin(), commands.end());
  }
  made.function = function_name(made.names.at(0));
  switch (shell) {
    case Shell::bash:
      return bash_script(made);
    case Shell::zsh:
      return zsh_script(made);
    case Shell::fish:
      break;
  }
  return fish_script(made);
}

std::string wanted_word(const CompletedValue& value) {
  switch (value.kind) {
    case CompletedValue::Kind::file:
      return "files";
    case CompletedValue::Kind::folder:
      return "folders";
    case CompletedValue::Kind::words: {
      std::string words = "words";
      for (const std::string& word : value.words) words += " " + word;
      return words;
    }
    case CompletedValue::Kind::anything:
      break;
  }
  return "none";
}

std::string in_shell_quotes(const std::string& text) {
  std::string quoted = "'";
  for (const char letter : text) {
    if (letter == '\'') {
      quoted += "'\\''";
    } else {
      quoted += letter;
    }
  }
  return quoted + "'";
}

}  // namespace lapwright
