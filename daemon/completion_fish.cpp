// Completion for fish.
#include <spdlog/fmt/fmt.h>

#include "daemon/completion_scripts.h"

namespace lapwright {
namespace {

constexpr std::string_view fish_head = R"sh(# Completion of {0} for fish, printed by "{1} completion fish".

# The command that was typed so far, and how many of its own arguments.
function _{2}_typed
    set -l words (commandline -opc)
    set -l command (string replace -r '.*/' '' -- $words[1])
    set -e words[1]
    set -l place 0
    set -l value no
    for word in $words
        if test $value = yes
            set value no
            continue
        end
        switch "$command $word"
)sh";

constexpr std::string_view fish_tail = R"sh(            case '*'
                string match -q -- '-*' $word; or set place (math $place + 1)
        end
    end
    echo $command
    echo $place
end

function _{0}_in
    set -l typed (_{0}_typed)
    test "$typed[1]" = "$argv[1]"
end

function _{0}_at
    set -l typed (_{0}_typed)
    test "$typed[1]" = "$argv[1]"; and test $typed[2] $argv[2] $argv[3]
end

)sh";

std::string in_fish_quotes(const std::string& text) {
  std::string quoted = "'";
  for (const char letter : text) {
    if (letter == '\'' || letter == '\\') quoted += '\\';
    quoted += letter;
  }
  return quoted + "'";
}

/// What "complete …" says of a value: no names of files unless they are wanted.
std::string fish_value(const CompletedValue& value) {
  switch (value.kind) {
    case CompletedValue::Kind::file:
      return " -F";
    case CompletedValue::Kind::folder:
      return " -f -a '(__fish_complete_directories)'";
    case CompletedValue::Kind::words:
      return fmt::format(" -f -a {}", in_fish_quotes(fmt::format("{}", fmt::join(value.words, " "))));
    case CompletedValue::Kind::anything:
      break;
  }
  return " -f";
}

void fish_walk(const CompletedCommand& command, std::string& text) {
  for (const std::string& path : command.below) {
    text +=
        fmt::format("            case '{0}'\n                set command '{0}'\n                set place 0\n", path);
  }
  for (const CompletedOption& option : command.options) {
    if (!option.takes_value) continue;
    for (const std::string& name : option.names) {
      text += fmt::format("            case '{} {}'\n                set value yes\n", command.path, name);
    }
  }
}

void fish_options(const std::string& begin, const std::string& function, const CompletedCommand& command,
                  std::string& text) {
  for (const CompletedOption& option : command.options) {
    text += fmt::format("{} -n \"_{}_in '{}'\"", begin, function, command.path);
    for (const std::string& name : option.names) {
      text += name.starts_with("--") ? " -l " + name.substr(2) : " -s " + name.substr(1);
    }
    if (option.takes_value) text += " -r" + fish_value(option.value);
    text += " -d " + in_fish_quotes(option.help) + "\n";
  }
}

void fish_places(const std::string& begin, const std::string& function, const CompletedCommand& command,
                 std::string& text) {
  for (std::size_t i = 0; i < command.places.size(); ++i) {
    const bool rest = command.last_place_repeats && i + 1 == command.places.size();
    text += fmt::format("{} -n \"_{}_at '{}' {} {}\"{}\n", begin, function, command.path, rest ? "-ge" : "-eq", i,
                        fish_value(command.places[i]));
  }
}

}  // namespace

std::string fish_script(const CompletedPrograms& programs) {
  const std::string& function = programs.function;
  std::string text =
      fmt::format(fish_head, fmt::join(programs.names, " and "), programs.names.front(), programs.function);
  for (const CompletedCommand& command : programs.commands) fish_walk(command, text);
  text += fmt::format(fish_tail, function);
  for (const std::string& name : programs.names) text += "complete -c " + name + " -f\n";
  for (const CompletedCommand& command : programs.commands) {
    const std::string begin = "complete -c " + command.path.substr(0, command.path.find(' '));
    const std::size_t above = command.path.rfind(' ');
    if (above != std::string::npos) {
      text += fmt::format("{} -n \"_{}_at '{}' -eq 0\" -a {} -d {}\n", begin, function, command.path.substr(0, above),
                          command.name, in_fish_quotes(command.help));
    }
    fish_options(begin, function, command, text);
    fish_places(begin, function, command, text);
  }
  return text;
}

}  // namespace lapwright
