// Completion for bash.
#include <spdlog/fmt/fmt.h>

#include "daemon/completion_scripts.h"

namespace lapwright {
namespace {

constexpr std::string_view bash_head = R"sh(# Completion of {0} for bash, printed by "{1} completion bash".
{2}() {{
  local current="${{COMP_WORDS[COMP_CWORD]}}" command="${{COMP_WORDS[0]##*/}}" wants="" place=0 word i
  COMPREPLY=()
  case "$command" in {3}) ;; *) command="{1}" ;; esac # an alias
  for ((i = 1; i < COMP_CWORD; i++)); do
    word="${{COMP_WORDS[i]}}"
    [[ $word == = ]] && continue # bash cuts --option=value into three
    if [[ -n $wants ]]; then
      wants=""
      continue
    fi
    case "$command $word" in
)sh";

constexpr std::string_view bash_before_options = R"sh(      *) [[ $word == -* ]] || place=$((place + 1)) ;;
    esac
  done
  [[ $current == = ]] && current=""
  if [[ -z $wants && $current == -* ]]; then
    case "$command" in
)sh";

constexpr std::string_view bash_before_places = R"sh(    esac
  elif [[ -z $wants ]]; then
    case "$command $place" in
)sh";

constexpr std::string_view bash_tail = R"sh(    esac
  fi
  case "$wants" in
    files | folders) compopt -o filenames 2>/dev/null ;; # outside of a completion it has nothing to act upon
  esac
  case "$wants" in
    files) mapfile -t COMPREPLY < <(compgen -f -- "$current") ;;
    folders) mapfile -t COMPREPLY < <(compgen -d -- "$current") ;;
    words*) mapfile -t COMPREPLY < <(compgen -W "${{wants#words}}" -- "$current") ;;
  esac
}}
complete -F {0} {1}
)sh";

constexpr std::string_view bash_branch = "      \"{}\") wants=\"{}\" ;;\n";

void bash_walk(const CompletedCommand& command, std::string& text) {
  for (const std::string& path : command.below) {
    text += fmt::format("      \"{0}\") command=\"{0}\" place=0 ;;\n", path);
  }
  for (const CompletedOption& option : command.options) {
    if (!option.takes_value) continue;
    for (const std::string& name : option.names) {
      text += fmt::format(bash_branch, command.path + " " + name, wanted_word(option.value));
    }
  }
}

void bash_options(const CompletedCommand& command, std::string& text) {
  std::string words = "words";
  for (const CompletedOption& option : command.options) words += fmt::format(" {}", fmt::join(option.names, " "));
  text += fmt::format(bash_branch, command.path, words);
}

void bash_places(const CompletedCommand& command, std::string& text) {
  if (!command.below.empty()) {
    std::string words = "words";
    for (const std::string& path : command.below) words += path.substr(path.rfind(' '));
    text += fmt::format(bash_branch, command.path + " 0", words);
    return;
  }
  for (std::size_t i = 0; i < command.places.size(); ++i) {
    text += fmt::format(bash_branch, command.path + " " + std::to_string(i), wanted_word(command.places[i]));
  }
  if (!command.last_place_repeats) return;
  text += fmt::format("      \"{} \"[0-9]*) wants=\"{}\" ;;\n", command.path, wanted_word(command.places.back()));
}

}  // namespace

std::string bash_script(const CompletedPrograms& programs) {
  std::string text = fmt::format(bash_head, fmt::join(programs.names, " and "), programs.names.front(),
                                 programs.function, fmt::join(programs.names, " | "));
  for (const CompletedCommand& command : programs.commands) bash_walk(command, text);
  text += fmt::format(bash_before_options);
  for (const CompletedCommand& command : programs.commands) bash_options(command, text);
  text += fmt::format(bash_before_places);
  for (const CompletedCommand& command : programs.commands) bash_places(command, text);
  return text + fmt::format(bash_tail, programs.function, fmt::join(programs.names, " "));
}

}  // namespace lapwright
