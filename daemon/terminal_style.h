// What the place that progress is written to can show: a live line, colour, block characters.
#pragma once

#include <string_view>

namespace lapwright {

struct TerminalStyle {
  bool live = false;  ///< one line is rewritten in place
  bool colour = false;
  bool blocks = false;  ///< UTF-8 beyond ASCII
  int columns = 80;
};

/// The variables of the environment, empty where not set.
struct TerminalHints {
  std::string_view term;
  std::string_view no_color;  ///< anything but empty: no colour (no-color.org)
  std::string_view locale;    ///< of LC_ALL, LC_CTYPE and LANG the first that is set
};

[[nodiscard]] TerminalStyle choose_style(bool is_terminal, int columns, const TerminalHints& hints);
/// For a file descriptor, from the real environment.
[[nodiscard]] TerminalStyle style_of(int descriptor);

}  // namespace lapwright
