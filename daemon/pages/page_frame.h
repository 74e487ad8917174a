// The frame of every page: one HTML file that needs nothing from outside, set like a workshop's paper.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace lapwright {

/// The whole document, well-formed as XML too. It follows the reader's light or dark and prints on A4.
/// @param title  plain text @param body  markup
[[nodiscard]] std::string framed_page(std::string_view title, std::string_view body);

/// "<h2>…</h2>" and what stands below it, kept together in print where that is short. @param name  plain text
[[nodiscard]] std::string page_section(std::string_view name, std::string_view body);

/// An unordered list. @param items  plain text
[[nodiscard]] std::string page_list(const std::vector<std::string>& items);

/// A list of names and what is said of each. @param pairs  plain text
[[nodiscard]] std::string page_facts(const std::vector<std::pair<std::string, std::string>>& pairs);

}  // namespace lapwright
