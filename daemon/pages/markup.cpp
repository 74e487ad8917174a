#include "daemon/pages/markup.h"

#include <algorithm>

#include "drivers/settings/wording.h"

namespace lapwright {
namespace {

constexpr std::string_view replacement = "\xEF\xBF\xBD";  // U+FFFD

/// XML 1.0 §2.2; its two characters that are none stand at the end of the first plane.
bool xml_allows(std::string_view character) {
  if (character == "\xEF\xBF\xBE" || character == "\xEF\xBF\xBF") return false;
  const auto first = static_cast<unsigned char>(character.front());
  return first >= 0x20 || first == '\t' || first == '\n' || first == '\r';
}

std::string_view reference_for(std::string_view character) {
  switch (character.front()) {
    case '<':
      return "&lt;";
    case '>':
      return "&gt;";
    case '&':
      return "&amp;";
    case '"':
      return "&quot;";
    case '\'':
      return "&#39;";
    default:
      return character;
  }
}

}  // namespace

std::string in_markup(std::string_view text) {
  std::string result;
  result.reserve(text.size());
  while (!text.empty()) {
    const std::size_t size = settings::character_size(text);
    const std::string_view character = text.substr(0, std::max<std::size_t>(size, 1));
    result += size == 0 || !xml_allows(character) ? replacement : reference_for(character);
    text.remove_prefix(character.size());
  }
  return result;
}

}  // namespace lapwright
