#include "daemon/text_block.h"

#include <algorithm>

namespace lapwright {

int letters(std::string_view text) {
  const auto begins = [](char byte) { return (static_cast<unsigned char>(byte) & 0xC0) != 0x80; };
  return static_cast<int>(std::count_if(text.begin(), text.end(), begins));
}

std::string wrapped(std::string_view first, std::string_view text) {
  const auto indent = static_cast<std::size_t>(letters(first));
  std::string result(first);
  int column = static_cast<int>(indent);
  bool line_is_empty = true;
  while (!text.empty()) {
    const std::size_t space = std::min(text.find(' '), text.size());
    const std::string_view next = text.substr(0, space);
    text.remove_prefix(std::min(space + 1, text.size()));
    if (next.empty()) continue;
    if (!line_is_empty && column + 1 + letters(next) > text_columns) {
      result += '\n' + std::string(indent, ' ');
      column = static_cast<int>(indent);
      line_is_empty = true;
    }
    if (!line_is_empty) result += ' ';
    column += letters(next) + (line_is_empty ? 0 : 1);
    result += next;
    line_is_empty = false;
  }
  return result + '\n';
}

}  // namespace lapwright
