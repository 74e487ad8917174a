// The scripts for completion, one function for each shell.
#pragma once

#include <string>
#include <vector>

#include "daemon/completion_model.h"

namespace lapwright {

struct CompletedPrograms {
  std::vector<std::string> names;
  std::string function;  ///< what the scripts' functions are named after: letters, digits and '_'
  std::vector<CompletedCommand> commands;
};

/// All three walk over the words that stand before the cursor: a subcommand's name leads deeper, an option may take the
/// next word, everything else is counted. What may follow then is looked up by the command and that count.
[[nodiscard]] std::string bash_script(const CompletedPrograms& programs);
[[nodiscard]] std::string zsh_script(const CompletedPrograms& programs);
[[nodiscard]] std::string fish_script(const CompletedPrograms& programs);

/// "files", "folders", "words a b c" or "none", as the scripts call them.
[[nodiscard]] std::string wanted_word(const CompletedValue& value);
/// For bash and zsh, whatever the text holds.
[[nodiscard]] std::string in_shell_quotes(const std::string& text);

}  // namespace lapwright
