// Text for HTML and SVG: whatever a file or a decoder said can stand in a page and means nothing but itself.
#pragma once

#include <string>
#include <string_view>

namespace lapwright {

/// For the text of an element and for an attribute in double or single quotes. Bytes that are no UTF-8, and control
/// characters that XML doesn't allow, become U+FFFD, the replacement character.
[[nodiscard]] std::string in_markup(std::string_view text);

}  // namespace lapwright
