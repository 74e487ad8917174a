// Completion for zsh.
#include <spdlog/fmt/fmt.h>

#include "daemon/completion_scripts.h"

namespace lapwright {
namespace {

constexpr std::string_view zsh_head = R"sh(#compdef {0}
# Completion for zsh, printed by "{1} completion zsh".

# What an option has to be followed by.
{2}_value() {{
  case "$1" in
)sh";

constexpr std::string_view zsh_before_walk = R"sh(  esac
}}

{0}() {{
  local command="${{words[1]:t}}" wants="" place=0 word i
  local -a offers
  case "$command" in ({1}) ;; (*) command="{2}" ;; esac # an alias
  for ((i = 2; i < CURRENT; i++)); do
    word="${{words[i]}}"
    if [[ -n $wants ]]; then
      wants=""
      continue
    fi
    case "$command $word" in
)sh";

constexpr std::string_view zsh_before_options = R"sh(      (*)
        {0}_value "$command $word"
        [[ $word == -* ]] || place=$((place + 1))
        ;;
    esac
  done
  if [[ -z $wants && $PREFIX == --*=* ]]; then
    {0}_value "$command ${{PREFIX%%=*}}"
    compset -P '*='
  fi
  if [[ -z $wants && $PREFIX == -* ]]; then
    case "$command" in
)sh";

constexpr std::string_view zsh_before_places = R"sh(    esac
    _describe -o option offers
    return
  fi
  if [[ -z $wants ]]; then
    case "$command $place" in
)sh";

constexpr std::string_view zsh_tail = R"sh(    esac
  fi
  case "$wants" in
    (files) _files ;;
    (folders) _files -/ ;;
    (offers) _describe command offers ;;
    (words*) compadd -- ${{=wants#words}} ;;
  esac
}}

# Found on the path for functions it is called at once; sourced it only says what it is for.
if [[ ${{funcstack[1]}} == {0} ]]; then
  {0} "$@"
else
  compdef {0} {1}
fi
)sh";

/// One line of those that _describe shows.
std::string zsh_offer(std::string name, const std::string& help) {
  for (std::size_t at = 0; (at = name.find(':', at)) != std::string::npos; at += 2) name.insert(at, "\\");
  return " " + in_shell_quotes(name + ":" + help);
}

const CompletedCommand& command_at(const CompletedPrograms& programs, const std::string& path) {
  for (const CompletedCommand& command : programs.commands) {
    if (command.path == path) return command;
  }
  return programs.commands.front();
}

void zsh_values(const CompletedCommand& command, std::string& text) {
  for (const CompletedOption& option : command.options) {
    if (!option.takes_value) continue;
    for (const std::string& name : option.names) {
      text += fmt::format("    (\"{} {}\") wants=\"{}\" ;;\n", command.path, name, wanted_word(option.value));
    }
  }
}

void zsh_options(const CompletedCommand& command, std::string& text) {
  std::string offers;
  for (const CompletedOption& option : command.options) {
    for (const std::string& name : option.names) offers += zsh_offer(name, option.help);
  }
  text += fmt::format("      (\"{}\") offers=({} ) ;;\n", command.path, offers);
}

void zsh_places(const CompletedPrograms& programs, const CompletedCommand& command, std::string& text) {
  if (!command.below.empty()) {
    std::string offers;
    for (const std::string& path : command.below) {
      const CompletedCommand& below = command_at(programs, path);
      offers += zsh_offer(below.name, below.help);
    }
    text += fmt::format("      (\"{} 0\") wants=offers offers=({} ) ;;\n", command.path, offers);
    return;
  }
  for (std::size_t i = 0; i < command.places.size(); ++i) {
    text += fmt::format("      (\"{} {}\") wants=\"{}\" ;;\n", command.path, i, wanted_word(command.places[i]));
  }
  if (!command.last_place_repeats) return;
  text += fmt::format("      (\"{} \"[0-9]*) wants=\"{}\" ;;\n", command.path, wanted_word(command.places.back()));
}

}  // namespace

std::string zsh_script(const CompletedPrograms& programs) {
  const std::string& first = programs.names.front();
  const std::string names = fmt::format("{}", fmt::join(programs.names, " "));
  std::string text = fmt::format(zsh_head, names, first, programs.function);
  for (const CompletedCommand& command : programs.commands) zsh_values(command, text);
  text += fmt::format(zsh_before_walk, programs.function, fmt::join(programs.names, "|"), first);
  for (const CompletedCommand& command : programs.commands) {
    for (const std::string& path : command.below) {
      text += fmt::format("      (\"{0}\") command=\"{0}\" place=0 ;;\n", path);
    }
  }
  text += fmt::format(zsh_before_options, programs.function);
  for (const CompletedCommand& command : programs.commands) zsh_options(command, text);
  text += fmt::format(zsh_before_places);
  for (const CompletedCommand& command : programs.commands) zsh_places(programs, command, text);
  return text + fmt::format(zsh_tail, programs.function, names);
}

}  // namespace lapwright
