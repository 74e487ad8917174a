// From JSON text to nodes that know their lines; duplicate keys, deep nesting and broken syntax are mistakes.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "drivers/settings/node.h"

namespace lapwright::settings {

inline constexpr int depth_limit = 32;

/// Strict JSON (RFC 8259), without comments. A duplicate key is added to `complaints` and its first value kept.
/// @param name  what to call the text in messages, usually the file name
/// @throws Errors  where the text is no JSON, with line and column, or is nested deeper than `depth_limit`
[[nodiscard]] Node parse_nodes(std::string_view text, const std::string& name, std::vector<Complaint>& complaints);

}  // namespace lapwright::settings
