#include "drivers/settings/values.h"

#include <charconv>
#include <limits>

#include "drivers/settings/wording.h"

namespace lapwright::settings {
namespace {

/// An int's own limits are no bounds that anybody asked for.
Range as_range(const IntRange& range) {
  Range out{.help = range.help};
  if (range.min != std::numeric_limits<int>::min()) out.min = range.min;
  if (range.max != std::numeric_limits<int>::max()) out.max = range.max;
  return out;
}

std::string wanted(const Range& range, std::string_view unit, std::string_view kind) {
  const std::string bounds = range_text(range.min, range.max, unit);
  std::string text(range.help.empty() ? kind : range.help);
  if (!bounds.empty()) return text + " (" + bounds + ")";
  return unit.empty() || !range.help.empty() ? text : text + " of " + std::string(unit);
}

void refuse_type(const Place& place, Node& node, std::string_view kind, const std::string& remedy) {
  node.items.clear();  // nobody reads them now, and that is not another mistake
  place.state.complain(node.line, place.pointer, shown(node) + " is not " + std::string(kind) + "; give " + remedy);
}

void refuse_range(const Place& place, const Node& node, const Range& range, std::string_view kind) {
  place.state.complain(node.line, place.pointer,
                       shown(node) + " is out of range " + range_text(range.min, range.max, place.unit) + "; give " +
                           std::string(range.help.empty() ? kind : range.help) + " within it");
}

void note(const Place& place, std::string value) {
  place.state.effective.push_back({place.pointer, std::move(value), false});
}

}  // namespace

std::string wanted(const Range& range, std::string_view unit) { return wanted(range, unit, "a number"); }
std::string wanted(const IntRange& range, std::string_view unit) {
  return wanted(as_range(range), unit, "a whole number");
}

std::optional<double> checked_number(const Place& place, Node& node, const Range& range) {
  if (node.kind != Node::Kind::integer && node.kind != Node::Kind::number) {
    refuse_type(place, node, "a number", wanted(range, place.unit));
    return std::nullopt;
  }
  if (!(node.number >= range.min && node.number <= range.max)) {
    refuse_range(place, node, range, "a number");
    return std::nullopt;
  }
  note(place, plain(node.number));
  return node.number;
}

std::optional<int> checked_integer(const Place& place, Node& node, const IntRange& range) {
  if (node.kind != Node::Kind::integer) {
    refuse_type(place, node, "a whole number", wanted(range, place.unit));
    return std::nullopt;
  }
  if (node.whole < range.min || node.whole > range.max) {
    refuse_range(place, node, {static_cast<double>(range.min), static_cast<double>(range.max), range.help},
                 "a whole number");
    return std::nullopt;
  }
  note(place, std::to_string(node.whole));
  return static_cast<int>(node.whole);
}

std::optional<bool> checked_flag(const Place& place, Node& node) {
  if (node.kind != Node::Kind::boolean) {
    refuse_type(place, node, "true or false", "true or false, without quotes");
    return std::nullopt;
  }
  note(place, node.flag ? "true" : "false");
  return node.flag;
}

std::optional<std::string> checked_text(const Place& place, Node& node, std::string_view help) {
  const std::string wish(help.empty() ? "a text" : help);
  if (node.kind != Node::Kind::text) {
    refuse_type(place, node, "a text", wish + ", in double quotes");
    return std::nullopt;
  }
  if (node.text.empty()) {
    place.state.complain(node.line, place.pointer, "\"\" is empty; give " + wish + ", or leave the key out");
    return std::nullopt;
  }
  note(place, in_quotes(node.text));
  return node.text;
}

bool checked_kind(const Place& place, Node& node, Node::Kind kind, std::string_view help) {
  if (node.kind == kind) return true;
  const bool list = kind == Node::Kind::list;
  std::string wish(list ? "a list in [ ]" : "an object in { }");
  if (!help.empty()) wish = std::string(help) + ", " + wish;
  refuse_type(place, node, list ? "a list" : "an object", wish);
  return false;
}

std::optional<int> checked_key(const Place& place, const Node& node, const KeyRule& rule) {
  const std::string_view key = node.key;
  if (key.starts_with(rule.prefix)) {
    const std::string_view digits = key.substr(rule.prefix.size());
    int value = 0;
    const auto [end, error] = std::from_chars(digits.data(), digits.data() + digits.size(), value);
    // Comparing the texts keeps "03", "+3" and "3x" from becoming a second way to say 3.
    if (error == std::errc() && std::to_string(value) == digits && value >= rule.min && value <= rule.max) return value;
    static_cast<void>(end);
  }
  const std::string prefix(rule.prefix);
  place.state.complain(node.line, place.pointer,
                       "the key " + in_quotes(key) + " is not one of \"" + prefix + std::to_string(rule.min) +
                           "\" … \"" + prefix + std::to_string(rule.max) + "\"; write " +
                           (prefix.empty() ? "" : prefix + " and ") + "the number without leading zeros");
  return std::nullopt;
}

}  // namespace lapwright::settings
