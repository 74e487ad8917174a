// A program's commands as a shell has to know them in order to complete them.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "daemon/cli_app.h"

namespace lapwright {

/// What may stand where a value is wanted.
struct CompletedValue {
  enum class Kind : std::uint8_t { anything, file, folder, words };
  Kind kind = Kind::anything;
  std::vector<std::string> words;
};

struct CompletedOption {
  std::vector<std::string> names;  ///< with their dashes
  std::string help;
  bool takes_value = false;
  CompletedValue value;
};

struct CompletedCommand {
  std::string path;  ///< all words that lead to it: "lapwright config check"
  std::string name;  ///< the last of them
  std::string help;
  std::vector<std::string> below;  ///< paths of its subcommands
  std::vector<CompletedOption> options;
  std::vector<CompletedValue> places;  ///< arguments without a name, in order
  bool last_place_repeats = false;
};

/// The program's root first, every command before those below it. What is hidden from the help is left out.
[[nodiscard]] std::vector<CompletedCommand> completed_commands(const CLI::App& root);

}  // namespace lapwright
