#include "daemon/terminal_style.h"

#include <sys/ioctl.h>
#include <unistd.h>

#include <algorithm>
#include <cstdlib>
#include <string>

namespace lapwright {
namespace {

std::string_view variable(const char* name) {
  const char* value = std::getenv(name);
  return value == nullptr ? std::string_view() : std::string_view(value);
}

bool says_utf8(std::string_view locale) {
  std::string lower(locale);
  std::transform(lower.begin(), lower.end(), lower.begin(), [](char letter) {
    return letter >= 'A' && letter <= 'Z' ? static_cast<char>(letter - 'A' + 'a') : letter;
  });
  return lower.find("utf-8") != std::string::npos || lower.find("utf8") != std::string::npos;
}

}  // namespace

TerminalStyle choose_style(bool is_terminal, int columns, const TerminalHints& hints) {
  TerminalStyle style;
  style.live = is_terminal && hints.term != "dumb" && !hints.term.empty();
  style.colour = style.live && hints.no_color.empty();
  style.blocks = says_utf8(hints.locale);
  style.columns = std::clamp(columns, 40, 200);
  return style;
}

TerminalStyle style_of(int descriptor) {
  winsize size{};
  const bool known = ::ioctl(descriptor, TIOCGWINSZ, &size) == 0 && size.ws_col > 0;
  TerminalHints hints{variable("TERM"), variable("NO_COLOR"), {}};
  for (const char* name : {"LC_ALL", "LC_CTYPE", "LANG"}) {
    if (hints.locale.empty()) hints.locale = variable(name);
  }
  return choose_style(::isatty(descriptor) == 1, known ? size.ws_col : 80, hints);
}

}  // namespace lapwright
