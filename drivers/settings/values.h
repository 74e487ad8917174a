// Checks of single JSON values: right type, within range, or a complaint that says what to give instead.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "drivers/settings/rules.h"
#include "drivers/settings/state.h"

namespace lapwright::settings {

/// Where a value stands; `unit` is what its key's ending says.
struct Place {
  State& state;
  std::string pointer;
  std::string unit;
};

/// Each notes the value as used and returns it, or complains and returns nothing.
std::optional<double> checked_number(const Place& place, Node& node, const Range& range);
std::optional<int> checked_integer(const Place& place, Node& node, const IntRange& range);
std::optional<bool> checked_flag(const Place& place, Node& node);
std::optional<std::string> checked_text(const Place& place, Node& node, std::string_view help);
/// An object or a list, as `kind` says.
bool checked_kind(const Place& place, Node& node, Node::Kind kind, std::string_view help);
/// The number in a key such as "CV3", without leading zeros.
std::optional<int> checked_key(const Place& place, const Node& node, const KeyRule& rule);

/// What to give: "the loop's length (100 … 100000 mm)".
[[nodiscard]] std::string wanted(const Range& range, std::string_view unit);
[[nodiscard]] std::string wanted(const IntRange& range, std::string_view unit);

}  // namespace lapwright::settings
